# SPDX-License-Identifier: MIT
"""Contradictions: the fewest readings that can't all be true, and the one to repeat first."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING

from wiretrack.ringout.bundle import PLACES, Place, other_place
from wiretrack.ringout.candidates import propagate
from wiretrack.ringout.fitted import FittedStage
from wiretrack.ringout.knowledge import Knowledge
from wiretrack.ringout.stage import Stage
from wiretrack.ringout.unexplained import CAME_AND_WENT, NOT_CLOSED, came_and_went, not_closed

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.ringout.candidates import AnyStage
    from wiretrack.ringout.facts import Facts
    from wiretrack.ringout.stage import Touch

_EXHAUSTIVE = 3  # sets of up to so many readings are tried one by one
_MOST_TRIED = 3000
_LARGE = 24  # ends; among more of them, each try takes longer, so fewer are made


@dataclass(frozen=True)
class Doubted:
    """A reading in a contradiction; `index` is its place in the log."""

    index: int
    at: Place
    between: tuple[str, str]
    ohms: float | None
    joined: tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class Contradiction:
    """Readings that can't all be true, fewest first, and the one to take again first."""

    readings: tuple[Doubted, ...]
    repeat_first: Doubted
    reason: str


def contradictions(facts: Facts) -> tuple[Contradiction, ...]:
    """Return what contradicts among all readings so far."""
    known = Knowledge(facts)
    found: list[Contradiction] = []
    for stage in known.found.refused:
        found.append(
            _of_fitted(known, stage) if isinstance(stage, FittedStage) else _of(known, stage)
        )
    for stage in (*known.stages, *filter(None, map(facts.bare, PLACES))):
        found += [_alone(known, stage, touch, CAME_AND_WENT) for touch in came_and_went(stage)]
    for stage in known.stages:
        if stage not in known.found.refused:
            found += [_alone(known, stage, touch, NOT_CLOSED) for touch in not_closed(known, stage)]
    return tuple(found)


def _alone(known: Knowledge, stage: Stage, touch: Touch, reason: str) -> Contradiction:
    """Return a contradiction between one reading and all that follows from the others."""
    doubted = _doubted(known, stage, touch)
    return Contradiction((doubted,), doubted, reason)


def _of(known: Knowledge, stage: Stage) -> Contradiction:
    bunch = _bunch_touch(stage)
    if bunch is not None:
        reason = "These bunches read closed, but no two ends of theirs do. Touch them again."
        return _contradiction(known, stage, [bunch], reason)
    closed = _telling(stage)
    others = [s for s in known.stages if s is not stage and s not in known.found.refused]
    context: list[AnyStage] = []
    if _possible(known, stage, closed, []):
        context = list(others)
    core = _smallest(known, stage, closed, context)
    reason = (
        "More ends read closed to each other than were joined: one reading is wrong, two"
        " conductors touch each other, or a join isn't as it was said to be."
    )
    return _contradiction(known, stage, core, reason)


def _of_fitted(known: Knowledge, stage: FittedStage) -> Contradiction:
    odd = stage.odd() or stage.touches
    reason = (
        "The reading fits no resistor: it is wrong, two conductors touch each other,"
        " or another resistor was fitted."
    )
    doubted = tuple(_doubted(known, stage, touch) for touch in odd)
    return Contradiction(doubted, doubted[-1], reason)


def _bunch_touch(stage: Stage) -> Touch | None:
    if not stage.unexplained():
        return None
    closed = [touch for touch in stage.touches if touch.own and touch.verdict == "closed"]
    return closed[-1] if closed else None


def _telling(stage: Stage) -> list[Touch]:
    """Return the latest closed touch of each pair."""
    return [
        [touch for touch in touches if touch.verdict == "closed"][-1]
        for pair, touches in stage.pairs.items()
        if pair not in stage.dropped and any(touch.verdict == "closed" for touch in touches)
    ]


def _possible(
    known: Knowledge, stage: Stage, touches: Sequence[Touch], context: Sequence[AnyStage]
) -> bool:
    """Return whether some arrangement agrees with these readings of a stage."""
    part = Stage(stage.at, stage.size, stage.groups)
    for touch in touches:
        part.add(touch)
    return propagate(known.start.copy(), [*context, part], known.contacts)


def _smallest(
    known: Knowledge, stage: Stage, touches: list[Touch], context: list[AnyStage]
) -> list[Touch]:
    """Return the fewest readings that can't all be true, as far as a bounded search finds."""
    tried, most = 0, _MOST_TRIED * _LARGE**2 // max(_LARGE, stage.size) ** 2
    for size in range(1, _EXHAUSTIVE + 1):
        for chosen in combinations(touches, size):
            tried += 1
            if tried > most:
                break
            if not _possible(known, stage, chosen, context):
                return list(chosen)
    core = list(touches)
    for touch in touches:
        fewer = [other for other in core if other is not touch]
        if not _possible(known, stage, fewer, context):
            core = fewer
    return core


def _contradiction(known: Knowledge, stage: Stage, core: list[Touch], reason: str) -> Contradiction:
    first = min(core, key=lambda touch: (len(stage.asked(*touch.pair)), -touch.index))
    doubted = {touch.index: _doubted(known, stage, touch) for touch in core}
    return Contradiction(tuple(doubted.values()), doubted[first.index], reason)


def _doubted(known: Knowledge, stage: AnyStage, touch: Touch) -> Doubted:
    names = known.bundle.names(touch.at)
    there = other_place(stage.at)
    joined = tuple(known.facts.names(there, group) for group in stage.groups)
    between = (names[touch.ends[0]], names[touch.ends[1]])
    return Doubted(touch.index, touch.at, between, touch.ohms, joined)
