# SPDX-License-Identifier: MIT
"""When to put a diode over two look-alikes, and what to touch while it is there.

Joins tell any number of look-alikes apart but two. So a diode is fitted where two are left that
joins can't tell, and where whoever rings out has one. It is tried twice at each place, the second
time the other way round: another diode, or the meter's diode range, may do then.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.ringout.bundle import other_place
from wiretrack.ringout.diodes import DiodeStage
from wiretrack.ringout.masks import bits
from wiretrack.ringout.rounds import MOST_WALKS, next_groups, situation
from wiretrack.ringout.steps import FitDiode, Probe

if TYPE_CHECKING:
    from wiretrack.ringout.bundle import Place
    from wiretrack.ringout.fitted import Pair
    from wiretrack.ringout.knowledge import Knowledge


def diode_round(known: Knowledge, place: Place) -> FitDiode | None:
    """Return the diode to put on at `place`, or `None` if there is none, or it wouldn't help."""
    if not known.bundle.diode or known.found.refused or known.facts.walks >= MOST_WALKS:
        return None
    if any(next_groups(known, one) is not None for one in (place, other_place(place))):
        return None
    pair = _twins(known, place)
    if pair is None or _connected_there(known, place, pair) or _in_vain(known, place, pair):
        return None
    names = known.bundle.names(place)
    first, second = names[pair[0]], names[pair[1]]
    for fit in (FitDiode(place, first, second), FitDiode(place, second, first)):
        stage = known.facts.fitted.get((fit, ()))
        if not isinstance(stage, DiodeStage) or not (stage.touches or stage.checks):
            return fit
    return None


def _in_vain(known: Knowledge, place: Place, pair: Pair) -> bool:
    """Return whether a diode was tried, and nothing shows that both conductors are whole."""
    mates = known.found.of[place][pair[0]] | known.found.of[place][pair[1]]
    whole = all(known.proven(place, end) for end in pair) or all(
        known.proven(other_place(place), mate) for mate in bits(mates)
    )
    return not whole and any(stage.touches for stage in known.diodes)


def _twins(known: Knowledge, place: Place) -> Pair | None:
    """Return two whole ends that can only be each other's, the first such pair."""
    for members in situation(known, place).classes:
        if members.bit_count() == 2:
            first, second = bits(members)
            return first, second
    return None


def _connected_there(known: Knowledge, place: Place, pair: Pair) -> bool:
    """Return whether what is joined or fitted at the other place may connect the two ends."""
    if known.facts.fits[other_place(place)]:
        return True
    mates = known.found.of[place][pair[0]] | known.found.of[place][pair[1]]
    joined = known.facts.joins[other_place(place)]
    return any((group & mates).bit_count() > 1 for group in joined)


def check_touch(known: Knowledge, place: Place) -> Probe | None:
    """Return the next touch of a diode at its own place, before anybody walks away from it."""
    fit = known.facts.fits[place]
    away = known.facts.walked_since_join[place] or known.facts.fits[other_place(place)]
    if not isinstance(fit, FitDiode) or away:
        return None
    return polar(known, place, known.facts.diode_stage(fit).next_check())


def useless(known: Knowledge, place: Place) -> bool:
    """Return whether the diode at `place` was found not to conduct one way only."""
    fit = known.facts.fits[place]
    if not isinstance(fit, FitDiode):
        return False
    return known.facts.diode_stage(fit).check() in ("both ways", "neither way")


def polar(known: Knowledge, place: Place, pair: Pair | None) -> Probe | None:
    """Return the touch of two ends with the meter's plus lead on the first."""
    if pair is None:
        return None
    names = known.bundle.names(place)
    one, two = names[pair[0]], names[pair[1]]
    return Probe(place, (one, two), plus=one)


def bridged(known: Knowledge) -> bool:
    """Return whether a diode conducted both ways: its two ends are to be touched without it."""
    return any(stage.check() == "both ways" for stage in known.diodes)
