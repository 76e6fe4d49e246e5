# SPDX-License-Identifier: MIT
"""What to fit where: resistors that tell look-alikes apart by one reading each, or a diode.

With as many usable values as look-alikes one walk does it. With fewer, ends share a value in
joined groups, and a second round from the other place tells the members of each group apart:
k values serve k times k look-alikes in two walks.

Joins tell any number of look-alikes apart but two. So a diode is fitted where two are left that
joins can't tell, and where whoever rings out has one. It is tried twice at each place, the second
time the other way round: another diode, or the meter's diode range, may do then.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.ringout import own_ohms
from wiretrack.ringout.bundle import other_place
from wiretrack.ringout.fitted import DiodeStage
from wiretrack.ringout.masks import bits, mask_of, union
from wiretrack.ringout.ohms import usable
from wiretrack.ringout.rounds import MOST_WALKS, next_groups, one_walk, situation
from wiretrack.ringout.steps import Diode, Fit, FitDiode, Fitted, Probe, Tone

if TYPE_CHECKING:
    from wiretrack.ringout.bundle import Place
    from wiretrack.ringout.deductions import Deductions
    from wiretrack.ringout.fitted import Pair
    from wiretrack.ringout.rounds import Groups

MOST_ROUNDS = 2  # with more, joins alone need no more walks
LEAST_HIDDEN = 3  # ends that can be told apart although one of them is an unknown common return


def fit_round(known: Deductions, place: Place) -> tuple[Groups, Fit] | None:
    """Return joins and resistors to put on at `place`, or `None` if the kit doesn't help."""
    if not known.bundle.resistors or known.found.refused:
        return None
    now = situation(known, place)
    if not now.doubtful:
        return None
    common, values = now.doubtful[-1], usable(known.bundle, hidden_common=not now.proven)
    if now.proven:
        common = now.proven[0]
        sharing = _sharing(known, place, now.doubtful, len(values))
    elif len(now.doubtful) < LEAST_HIDDEN or len(values) < len(now.doubtful) - 1:
        return None
    else:
        sharing = [[end] for end in now.doubtful[:-1]]
    if sharing is None:
        return None
    names = known.bundle.names(place)
    groups = tuple(sorted(mask_of(group) for group in sharing if len(group) > 1))
    fitted = zip(sharing, values, strict=False)
    resistors = tuple(Fitted(names[group[0]], value) for group, value in fitted)
    fit = Fit(place, resistors, names[common])
    tried = known.evidence.fitted.get((fit, groups))
    return None if tried and tried.touches else (groups, fit)


def _sharing(
    known: Deductions, place: Place, ends: tuple[int, ...], values: int
) -> list[list[int]] | None:
    """Return which ends share a value, `None` if that doesn't help; the common return is known."""
    classes: dict[int, list[int]] = {}
    for end in ends:
        classes.setdefault(known.found.of[place][end], []).append(end)
    largest = max(len(members) for members in classes.values())
    if values < 2 or values**MOST_ROUNDS < largest:
        return None
    if values < largest and one_walk(known, place):
        return None
    if len(ends) <= values:
        return [[end] for end in ends]
    sharing: list[list[int]] = [[] for _ in range(values)]
    for members in classes.values():
        for i, end in enumerate(members):
            sharing[i % values].append(end)
    too_many = known.bundle.joins == "pairs" and any(len(group) > 2 for group in sharing)
    return None if too_many else [group for group in sharing if group]


def ohms_groups(known: Deductions, place: Place) -> Groups | None:
    """Return joins at the near box after which ohms tell all look-alikes apart in one walk."""
    if not known.bundle.ohms or place != "near" or known.begun or known.bundle.joins == "pairs":
        return None
    now, near, leads = situation(known, place), known.bundle.near, known.bundle.leads_ohm
    for mask in now.classes:
        ohms = [near[end].expected_ohm for end in bits(mask) if end < len(near)]
        if not all(ohms) or not own_ohms.would_tell([one or 0.0 for one in ohms], leads):
            return None
    return tuple(sorted(now.classes)) if now.classes and not now.loose else None


def diode_round(known: Deductions, place: Place) -> FitDiode | None:
    """Return the diode to put on at `place`, or `None` if there is none, or it wouldn't help."""
    if not known.bundle.diode or known.found.refused or known.evidence.walks >= MOST_WALKS:
        return None
    there = other_place(place)
    if any(next_groups(known, one) is not None for one in (place, there)):
        return None
    twins = (ends for ends in situation(known, place).classes if ends.bit_count() == 2)
    pair = tuple(bits(next(twins, 0)))
    if not pair:
        return None
    mates = union(known.found.of[place][end] for end in pair)
    joined = (group & mates for group in known.evidence.joins[there])
    if known.evidence.fits[there] or any(held.bit_count() > 1 for held in joined):
        return None
    whole = all(known.proven(place, end) for end in pair) or all(
        known.proven(there, mate) for mate in bits(mates)
    )
    if not whole and any(stage.touches for stage in known.diodes):
        return None
    first, second = known.evidence.names(place, mask_of(pair))
    for fit in (FitDiode(place, Diode(first, second)), FitDiode(place, Diode(second, first))):
        stage = known.evidence.fitted.get((fit, ()))
        if not isinstance(stage, DiodeStage) or not (stage.touches or stage.checks):
            return fit
    return None


def tone_round(known: Deductions, place: Place) -> Tone | None:
    """Return the tone to put on at `place` where nothing else tells look-alikes apart."""
    if not known.bundle.tone or known.evidence.walks >= MOST_WALKS:
        return None
    rows = known.found.of[place]
    for end in range(known.bundle.size):
        there = rows[end] & ~known.bundle.absent[other_place(place)]
        tone = Tone(place, known.bundle.names(place)[end])
        is_open = end not in known.toned[place] and not known.broken(place, end)
        if there & there - 1 and is_open and tone not in known.evidence.tones:
            return tone
    return None


def check_touch(known: Deductions, place: Place) -> Probe | None:
    """Return the next touch of a diode at its own place, before anybody walks away from it."""
    fit = known.evidence.fits[place]
    away = known.evidence.walked_since_join[place] or known.evidence.fits[other_place(place)]
    if not isinstance(fit, FitDiode) or away:
        return None
    return polar(known, place, known.evidence.diode_stage(fit).next_check())


def useless(known: Deductions, place: Place) -> bool:
    """Return whether the diode at `place` was found not to conduct one way only."""
    fit = known.evidence.fits[place]
    if not isinstance(fit, FitDiode):
        return False
    return known.evidence.diode_stage(fit).check() in ("both ways", "neither way")


def polar(known: Deductions, place: Place, pair: Pair | None) -> Probe | None:
    """Return the touch of two ends with the meter's plus lead on the first."""
    if pair is None:
        return None
    names = known.bundle.names(place)
    one, two = names[pair[0]], names[pair[1]]
    return Probe(place, (one, two), plus=one)


def bridged(known: Deductions) -> bool:
    """Return whether a diode conducted both ways: its two ends are to be touched without it."""
    return any(stage.check() == "both ways" for stage in known.diodes)
