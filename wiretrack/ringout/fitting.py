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

from wiretrack.ringout.bundle import other_place
from wiretrack.ringout.fitted import DiodeStage
from wiretrack.ringout.masks import bits, mask_of
from wiretrack.ringout.ohms import usable
from wiretrack.ringout.rounds import MOST_WALKS, next_groups, one_walk, situation
from wiretrack.ringout.steps import Diode, Fit, FitDiode, Fitted, Probe

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
    if now.proven:
        found = _with_common(known, place, now.proven[0], now.doubtful)
    else:
        found = _with_hidden_common(known, place, now.doubtful)
    if found is None:
        return None
    groups, fit = found
    tried = known.evidence.fitted.get((fit, groups))
    return None if tried and tried.touches else found


def _with_common(
    known: Deductions, place: Place, common: int, ends: tuple[int, ...]
) -> tuple[Groups, Fit] | None:
    values = usable(known.bundle)
    rows = known.found.of[place]
    classes: dict[int, list[int]] = {}
    for end in ends:
        classes.setdefault(rows[end], []).append(end)
    largest = max(len(members) for members in classes.values())
    if len(values) < 2 or len(values) ** MOST_ROUNDS < largest:
        return None
    if len(values) < largest and one_walk(known, place):
        return None
    if len(ends) <= len(values):
        sharing = [[end] for end in ends]
    else:
        sharing = [[] for _ in values]
        for members in classes.values():
            for i, end in enumerate(members):
                sharing[i % len(values)].append(end)
        sharing = [group for group in sharing if group]
    if known.bundle.joins == "pairs" and any(len(group) > 2 for group in sharing):
        return None
    return _step(known, place, sharing, values, common)


def _with_hidden_common(
    known: Deductions, place: Place, ends: tuple[int, ...]
) -> tuple[Groups, Fit] | None:
    values = usable(known.bundle, hidden_common=True)
    if len(ends) < LEAST_HIDDEN or len(values) < len(ends) - 1:
        return None
    return _step(known, place, [[end] for end in ends[:-1]], values, ends[-1])


def _step(
    known: Deductions,
    place: Place,
    sharing: list[list[int]],
    values: tuple[float, ...],
    common: int,
) -> tuple[Groups, Fit]:
    names = known.bundle.names(place)
    groups = tuple(sorted(mask_of(group) for group in sharing if len(group) > 1))
    resistors = tuple(
        Fitted(names[group[0]], value) for group, value in zip(sharing, values, strict=False)
    )
    return groups, Fit(place, resistors, names[common])


def diode_round(known: Deductions, place: Place) -> FitDiode | None:
    """Return the diode to put on at `place`, or `None` if there is none, or it wouldn't help."""
    if not known.bundle.diode or known.found.refused or known.evidence.walks >= MOST_WALKS:
        return None
    if any(next_groups(known, one) is not None for one in (place, other_place(place))):
        return None
    pair = _twins(known, place)
    if pair is None or _connected_there(known, place, pair) or _in_vain(known, place, pair):
        return None
    names = known.bundle.names(place)
    first, second = names[pair[0]], names[pair[1]]
    for fit in (FitDiode(place, Diode(first, second)), FitDiode(place, Diode(second, first))):
        stage = known.evidence.fitted.get((fit, ()))
        if not isinstance(stage, DiodeStage) or not (stage.touches or stage.checks):
            return fit
    return None


def _in_vain(known: Deductions, place: Place, pair: Pair) -> bool:
    """Return whether a diode was tried, and nothing shows that both conductors are whole."""
    mates = known.found.of[place][pair[0]] | known.found.of[place][pair[1]]
    whole = all(known.proven(place, end) for end in pair) or all(
        known.proven(other_place(place), mate) for mate in bits(mates)
    )
    return not whole and any(stage.touches for stage in known.diodes)


def _twins(known: Deductions, place: Place) -> Pair | None:
    """Return two whole ends that can only be each other's, the first such pair."""
    for members in situation(known, place).classes:
        if members.bit_count() == 2:
            first, second = bits(members)
            return first, second
    return None


def _connected_there(known: Deductions, place: Place, pair: Pair) -> bool:
    """Return whether what is joined or fitted at the other place may connect the two ends."""
    if known.evidence.fits[other_place(place)]:
        return True
    mates = known.found.of[place][pair[0]] | known.found.of[place][pair[1]]
    joined = known.evidence.joins[other_place(place)]
    return any((group & mates).bit_count() > 1 for group in joined)


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
