# SPDX-License-Identifier: MIT
"""When a reference is used: it takes hands and touches, as it is searched like any wire.

So it stays out of a plan where it spares no walk, and out of a ring-out too, until that ends with
a wire unidentified. What is in no join spoils no match. The raceway is just touched once to each
group of the first joins: where a wire touches it, it is used from then on.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from typing import TYPE_CHECKING

from wiretrack.ringout.bundle import PLACES, RACEWAY, other_place
from wiretrack.ringout.deductions import Deductions
from wiretrack.ringout.evidence import Evidence
from wiretrack.ringout.first_joins import first_groups
from wiretrack.ringout.fitting import diode_round, fit_round, ohms_groups
from wiretrack.ringout.rounds import one_walk, situation
from wiretrack.ringout.steps import Probe

if TYPE_CHECKING:
    from collections.abc import Collection

    from wiretrack.ringout.action import Action
    from wiretrack.ringout.bundle import Bundle

_NO_WAY = 3  # rounds that stand for none being enough


def without_references(bundle: Bundle) -> Bundle:
    """Return the same bundle, where nothing is known at both places."""
    return replace(bundle, references=())


@lru_cache(maxsize=64)
def begins_with_references(bundle: Bundle) -> bool:
    """Return whether references are used from the first step on, as that spares a walk.

    With a helper it must be the only way, as nobody walks. So they are, too, where contacts are to
    be searched for first: with them as well.
    """
    if not bundle.references or bundle.screen == "first":
        return bool(bundle.references)
    without = _rounds(without_references(bundle))
    return _rounds(bundle) < without and (bundle.crew == 1 or without == _NO_WAY)


def _rounds(bundle: Bundle) -> int:
    """Return how many rounds of joins, each with a walk, identify a sound bundle."""
    known = Deductions(Evidence(bundle))
    place = other_place(bundle.start) if bundle.crew == 2 else bundle.start
    fit = fit_round(known, place)
    if fit is not None:
        return 2 if fit[0] else 1
    if ohms_groups(known, place) or one_walk(known, place) or diode_round(known, place):
        return 1
    return 2 if first_groups(known, place, range(bundle.size)) else _NO_WAY


def could_help(known: Deductions) -> bool:
    """Return whether wires are left that something known at both places could tell apart."""
    each = (situation(known, place) for place in PLACES)
    return any(now.doubtful or now.suspect for now in each)


def next_apart(evidence: Evidence, put_off: Collection[Action]) -> Probe | None:
    """Return the next touch of the raceway, where that isn't used; once to each group of a stage.

    `None` where all of one stage were touched, or nothing is joined to be touched through.
    """
    here = evidence.place
    stage = evidence.stages.get((here, evidence.joins[other_place(here)]))
    if RACEWAY not in evidence.spare or stage is None or stage.is_bare or not stage.touches:
        return None
    touched = evidence.apart.get((here, stage.groups), 0)
    if evidence.joins[here] or any(evidence.fits.values()) or (evidence.apart and not touched):
        return None
    for part in stage.components():
        names = evidence.names(here, part)
        if names and not part & touched:
            touch = Probe(here, (RACEWAY, names[0]))
            if touch not in put_off:
                return touch
    return None
