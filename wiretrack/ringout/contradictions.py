# SPDX-License-Identifier: MIT
"""Contradictions: the fewest readings that can't all be true, and the one to repeat first."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING

from wiretrack.ringout.bundle import PLACES, Place, other_place
from wiretrack.ringout.deductions import Deductions
from wiretrack.ringout.fitted import FittedStage
from wiretrack.ringout.masks import bits, mask_of
from wiretrack.ringout.stage import Stage

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from wiretrack.ringout.candidates import AnyStage
    from wiretrack.ringout.evidence import Evidence
    from wiretrack.ringout.stage import Touch

_EXHAUSTIVE = 3  # sets of up to so many readings are tried one by one
_MOST_TRIED = 3000
_LARGE = 24  # ends; among more of them, each try takes longer, so fewer are made

CAME_AND_WENT = (
    "They read closed once and open when touched again: a wrong key, a bad contact, or wires that"
    " touch each other now and then."
)
NOT_CLOSED = (
    "Readings say that the two were joined at the other place, but they read open: a wrong key, a"
    " bad contact, or a join that isn't as it was said to be."
)


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


def contradictions(evidence: Evidence) -> tuple[Contradiction, ...]:
    """Return what contradicts among all readings so far."""
    known = Deductions(evidence)
    found: list[Contradiction] = []
    for stage in known.found.refused:
        if isinstance(stage, FittedStage):
            found.append(_of_fitted(known, stage))
        elif isinstance(stage, Stage):
            found.append(_of(known, stage))
    for stage in (*known.stages, *filter(None, map(evidence.bare, PLACES))):
        found += [_alone(known, stage, touch, CAME_AND_WENT) for touch in stage.came_and_went()]
    for stage in known.stages:
        if stage not in known.found.refused:
            opened = _not_closed(known, stage)
            found += [_alone(known, stage, touch, NOT_CLOSED) for touch in opened]
    return tuple(found)


def _alone(known: Deductions, stage: Stage, touch: Touch, reason: str) -> Contradiction:
    """Return a contradiction between one reading and all that follows from the others."""
    doubted = _doubted(known, stage, touch)
    return Contradiction((doubted,), doubted, reason)


def _not_closed(known: Deductions, stage: Stage) -> Iterator[Touch]:
    """Yield an open touch of every two components that must be of one join, all being whole."""
    homes = stage.homes(known.found, known.contacts)
    sound = (
        [
            (component, home)
            for component, home in zip(homes[0], homes[2], strict=True)
            if home.bit_count() == 1 and all(known.proven(stage.at, end) for end in bits(component))
        ]
        if homes
        else []
    )
    for i, (one, home) in enumerate(sound):
        for two, other in sound[:i]:
            touch = _open_between(stage, one, two) if home == other else None
            if touch is not None:
                yield touch


def _open_between(stage: Stage, one: int, two: int) -> Touch | None:
    """Return the last open touch between two sets of ends."""
    for touch in reversed(stage.touches):
        ends = mask_of(touch.ends)
        if not touch.own and touch.verdict == "open" and ends & one and ends & two:
            return touch
    return None


def _of(known: Deductions, stage: Stage) -> Contradiction:
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


def _of_fitted(known: Deductions, stage: FittedStage) -> Contradiction:
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
    known: Deductions, stage: Stage, touches: Sequence[Touch], context: Sequence[AnyStage]
) -> bool:
    """Return whether some arrangement agrees with these readings of a stage."""
    part = Stage(stage.at, stage.size, stage.groups)
    for touch in touches:
        part.add(touch)
    return known.start.allows([*context, part], known.contacts)


def _smallest(
    known: Deductions, stage: Stage, touches: list[Touch], context: list[AnyStage]
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


def _contradiction(
    known: Deductions, stage: Stage, core: list[Touch], reason: str
) -> Contradiction:
    first = min(core, key=lambda touch: (len(stage.asked(*touch.pair)), -touch.index))
    doubted = {touch.index: _doubted(known, stage, touch) for touch in core}
    return Contradiction(tuple(doubted.values()), doubted[first.index], reason)


def _doubted(known: Deductions, stage: AnyStage, touch: Touch) -> Doubted:
    names = known.bundle.names(touch.at)
    there = other_place(stage.at)
    joined = tuple(known.evidence.names(there, group) for group in stage.groups)
    between = (names[touch.ends[0]], names[touch.ends[1]])
    return Doubted(touch.index, touch.at, between, touch.ohms, joined)
