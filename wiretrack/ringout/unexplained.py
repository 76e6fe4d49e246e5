# SPDX-License-Identifier: MIT
"""Readings that other readings contradict, and that nothing found so far explains."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.ringout.masks import bits

if TYPE_CHECKING:
    from collections.abc import Iterator

    from wiretrack.ringout.knowledge import Knowledge
    from wiretrack.ringout.stage import Stage, Touch

CAME_AND_WENT = (
    "They read closed once and open when touched again: a wrong key, a bad contact, or wires that"
    " touch each other now and then."
)
NOT_CLOSED = (
    "Readings say that the two were joined at the other place, but they read open: a wrong key, a"
    " bad contact, or a join that isn't as it was said to be."
)
OPEN_WITHIN = (
    "they read open, but each read closed to the same wire: a wrong key or a bad contact;"
    " touch them again"
)


def came_and_went(stage: Stage) -> Iterator[Touch]:
    """Yield the last touch of each pair that read closed once and then open."""
    for pair in sorted(stage.dropped):
        yield stage.pairs[pair][-1]


def open_within(stage: Stage) -> Iterator[Touch]:
    """Yield the last touch of each pair that reads open although other readings connect it."""
    for pair, touches in sorted(stage.pairs.items()):
        if touches[-1].verdict == "open" and stage.closed(*pair):
            yield touches[-1]


def not_closed(known: Knowledge, stage: Stage) -> Iterator[Touch]:
    """Yield an open touch of every two components that must be of one join, all being whole."""
    split = known.domain_of(stage)
    if split is None:
        return
    components, _, homes = split
    for i, one in enumerate(components):
        for j in range(i):
            two, home = components[j], homes[i]
            sound = _whole(known, stage, one) and _whole(known, stage, two)
            if home == homes[j] and home.bit_count() == 1 and sound:
                touch = _between(stage, one, two)
                if touch is not None:
                    yield touch


def _whole(known: Knowledge, stage: Stage, component: int) -> bool:
    return all(known.proven(stage.at, end) for end in bits(component))


def _between(stage: Stage, one: int, two: int) -> Touch | None:
    """Return the last open touch between two sets of ends."""
    for touch in reversed(stage.touches):
        ends = 1 << touch.ends[0] | 1 << touch.ends[1]
        if not touch.own and touch.verdict == "open" and ends & one and ends & two:
            return touch
    return None
