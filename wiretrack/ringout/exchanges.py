# SPDX-License-Identifier: MIT
"""Two ends that may have been taken for each other, over a contact that comes and goes.

Two joins whose conductors touch now and then read as one while they do. If just then an end of each
read closed for the first time, to the wrong one, then their sizes still fit, and nothing else shows
it. An end that has read open to the other's component too can't belong to it. So what no other
stage tells apart is joined so that few such pairs are left, and those are touched across.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.ringout.masks import bits, lowest, mask_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from wiretrack.ringout.bundle import Place
    from wiretrack.ringout.matching import Matching
    from wiretrack.ringout.probing import Pair
    from wiretrack.ringout.stage import Stage

FEW_ENDS = 13  # conductors, at most: all their ends are touched to each other first


def _matters(known: Matching) -> bool:
    """Return whether contacts are searched for, and not by touching all ends to each other."""
    return known.bundle.screen != "none" and known.bundle.size > FEW_ENDS


def exchangeable(known: Matching, stage: Stage) -> Sequence[int]:
    """Return, per end, those that it may have been exchanged with in a stage, as bits."""
    key, state = ("exchangeable", stage.at, stage.groups), len(stage.touches)
    return known.evidence.remember(key, state, lambda: _exchangeable(stage))


def _exchangeable(stage: Stage) -> list[int]:
    heard = mask_of(end for end in range(stage.size) if 0 < stage.times_closed(end) <= 2)
    parts = stage.components()
    apart = [stage.component(end) for end in range(stage.size)]
    # Which ends read open to two and more of a component, or to one of it; and to which one.
    several, once, by = [0] * len(parts), [0] * len(parts), [0] * stage.size
    for end in bits(heard):
        opened = stage.read_open(1 << end)
        for number, part in enumerate(parts):
            here = opened & part
            if here & here - 1:
                apart[end] |= part
                several[number] |= 1 << end
            elif here:
                apart[end] |= part & ~here
                once[number] |= 1 << end
                by[lowest(here)] |= 1 << end
    for number, part in enumerate(parts):
        for end in bits(part):
            apart[end] |= several[number] | once[number] & ~by[end]
    return [heard & ~apart[end] if heard >> end & 1 else 0 for end in range(stage.size)]


def next_across(known: Matching, stage: Stage, together: Iterable[int]) -> Pair | None:
    """Return the next two ends to touch, so that no two that are `together` may be exchanged.

    `together` are sets of ends that no other stage tells apart. One touch clears up two pairs of
    the same components where it can.
    """
    if not _matters(known) or known.found.refused:
        return None
    others = exchangeable(known, stage)
    pairs = [
        (one, two)
        for group in together
        for one in bits(group)
        for two in bits(others[one] & group >> one << one)
    ]
    for one, two in pairs:
        here, there = stage.component(one), stage.component(two)
        for other, another in pairs:
            if other != one and here >> other & 1 and another != two and there >> another & 1:
                return min(one, another), max(one, another)
            if another != one and here >> another & 1 and other != two and there >> other & 1:
                return min(one, other), max(one, other)
        rest = there & ~(1 << two)
        if rest:
            strongest = stage.weakest(rest, -1)
            return min(one, strongest), max(one, strongest)
    return None


def told_alike(known: Matching, stage: Stage) -> list[int]:
    """Return the sets of ends that are settled, and that no other stage tells apart."""
    alike: dict[int, int] = {}
    rows = known.without(stage).of[stage.at]
    for end, row in enumerate(rows):
        if known.found.settled(stage.at, end) is not None and row & row - 1:
            alike[row] = alike.get(row, 0) | 1 << end
    return [ends for ends in alike.values() if ends & ends - 1]


def deal(
    known: Matching, place: Place, sets: Iterable[Sequence[int]], ends: Iterable[Sequence[int]]
) -> list[int]:
    """Return groups with one end of each class that a set names, each end once.

    Ends that may have been exchanged are kept apart as far as that goes.
    """
    left = [list(members) for members in ends]
    stages = [stage for stage in known.stages if stage.at == place] if _matters(known) else []
    others = exchangeable(known, stages[-1]) if stages else [0] * known.size
    groups = []
    for one in sets:
        group = 0
        for index in one:
            chosen = min(left[index], key=lambda end: (others[end] & group).bit_count())
            left[index].remove(chosen)
            group |= 1 << chosen
        groups.append(group)
    return groups
