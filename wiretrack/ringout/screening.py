# SPDX-License-Identifier: MIT
"""Touches between bunches of ends that must not be connected.

A conductor that touches another one could make two groups look like one, and a bad contact
could then cut them apart in the wrong place. So every two components of a stage must have read
open to each other several times before a match rests on them. Bunching whole components lets
one touch stand against many contacts at once: with nothing joined yet, n ends are told apart
by log2(n) touches between halves.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.ringout.masks import bits, lowest, mask_of, union

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.ringout.stage import Stage

Cut = tuple[int, int]  # two bunches of ends, to be touched against each other
LEAST_GAIN = 2  # in a large bundle: bunches that spare fewer touches aren't worth joining
SMALL_BUNDLE = 10  # ends; up to here twisting is reckoned like touching
LOCATE_TOUCHES = 4  # so often is a part of a closed bunch touched before it is given up


def _levels(stage: Stage, components: Sequence[int], depth: int) -> list[list[int]]:
    """Return, per level, which components have at least so many open touches to which.

    Components are numbered as given; ``levels[k][i]`` are those with more than ``k`` touches
    between them and ``i``.
    """
    number = {end: i for i, members in enumerate(components) for end in bits(members)}
    levels = [[0] * len(components) for _ in range(depth)]

    def count(one: int, others: int) -> None:
        for level in range(depth - 1, 0, -1):
            levels[level][one] |= levels[level - 1][one] & others
        levels[0][one] |= others

    for first, second, times in stage.open_pairs():
        one, two = number[first], number[second]
        for _ in range(min(times, depth)):
            count(one, 1 << two)
            count(two, 1 << one)
    for left, right, closed in stage.bunches:
        if not closed:
            ones = mask_of({number[end] for end in bits(left)})
            twos = mask_of({number[end] for end in bits(right)})
            for one in bits(ones):
                count(one, twos)
            for two in bits(twos):
                count(two, ones)
    return levels


def depth_of(stage: Stage, components: Sequence[int]) -> int:
    """Return how many open touches there are at least between any two components; at most 3."""
    depth = 3
    levels = _levels(stage, components, depth)
    whole = (1 << len(components)) - 1
    for level in range(depth):
        if any(whole & ~levels[level][i] & ~(1 << i) for i in range(len(components))):
            return level
    return depth


def next_cut(stage: Stage, components: Sequence[int], need: int, width: int) -> Cut | None:
    """Return two bunches to touch, so that every two components get `need` open touches.

    `width` is the most ends that can be bunched. The bunches hold one end of each component.
    """
    if need <= 0 or len(components) < 2:
        return None
    levels = _levels(stage, components, need)
    whole = (1 << len(components)) - 1
    lacking = [
        [whole & ~levels[level][i] & ~(1 << i) for i in range(len(components))]
        for level in range(need)
    ]
    order = sorted(
        range(len(components)), key=lambda i: (-sum(row[i].bit_count() for row in lacking), i)
    )
    if not any(lacking[-1]):
        return None
    left, right = _split(order, lacking, width)
    few = stage.size <= SMALL_BUNDLE and not stage.is_bare
    if not _worth_joining(left, right, lacking[-1], few=few):
        left, right = _neediest(order, lacking)
    return _ends(components, left), _ends(components, right)


def _worth_joining(left: int, right: int, lacking: Sequence[int], few: bool) -> bool:
    """Return whether one touch between bunches spares enough to twist the bunches for it.

    In a small bundle twisting an end is reckoned like a touch, and the bunches must stand for as
    many pairs as they hold ends; in a large one the touches are what counts (common practice).
    """
    spared = sum((lacking[one] & right).bit_count() for one in bits(left))
    return spared >= (left.bit_count() + right.bit_count() if few else LEAST_GAIN)


def _neediest(order: Sequence[int], lacking: Sequence[Sequence[int]]) -> Cut:
    """Return the two single components that lack most touches."""
    one = next(i for i in order if lacking[-1][i])
    level = next(row for row in lacking if row[one])
    two = next(i for i in order if level[one] >> i & 1)
    return 1 << one, 1 << two


def _split(order: Sequence[int], lacking: Sequence[Sequence[int]], width: int) -> Cut:
    """Return two sets of components with as much lacking between them as can be had simply.

    The component with the clearest side is placed first: where all that lacks can be had with
    one cut, as with the parity of a binary code, that cut is found.
    """
    left, right = 1 << order[0], 0
    lean = {i: 0 for i in order[1:]}  # lacking to the left bunch, less that to the right one
    for row in lacking:
        for i in bits(row[order[0]]):
            lean[i] += 1
    while lean:
        one = max(lean, key=lambda i: abs(lean[i]))
        drawn = lean.pop(one)
        to_right = (drawn >= 0 and right.bit_count() < width) or left.bit_count() >= width
        if to_right and right.bit_count() < width:
            right |= 1 << one
        elif not to_right:
            left |= 1 << one
        else:
            continue
        for row in lacking:
            for i in bits(row[one]):
                if i in lean:
                    lean[i] += -1 if to_right else 1
    useful_left = mask_of(i for i in bits(left) if lacking[-1][i] & right)
    useful_right = mask_of(i for i in bits(right) if lacking[-1][i] & left)
    return useful_left, useful_right


def _ends(components: Sequence[int], chosen: int) -> int:
    return mask_of(lowest(components[i]) for i in bits(chosen))


def locate(stage: Stage) -> Cut | None:
    """Return the next two bunches to touch while looking for a contact between closed bunches.

    The parts get smaller by half each time. `None` if no bunches read closed, if the contact
    is found, or if it doesn't show again.
    """
    unexplained = stage.unexplained()
    if not unexplained:
        return None
    left, right = min(unexplained, key=lambda cut: cut[0].bit_count() + cut[1].bit_count())
    if left.bit_count() == right.bit_count() == 1:
        return _again(stage, [(left, right)])
    if left.bit_count() < right.bit_count():
        left, right = right, left
    members = list(bits(left))
    half = len(members) // 2
    return _again(stage, [(mask_of(members[:half]), right), (mask_of(members[half:]), right)])


def _again(stage: Stage, cuts: Sequence[Cut]) -> Cut | None:
    """Return that of `cuts` which was touched least, unless each was touched often enough."""
    asked = [(_asked(stage, cut), place) for place, cut in enumerate(cuts)]
    times, place = min(asked)
    return cuts[place] if times < LOCATE_TOUCHES else None


def _asked(stage: Stage, cut: Cut) -> int:
    left, right = cut
    if left.bit_count() == right.bit_count() == 1:
        return len(stage.asked(lowest(left), lowest(right)))
    return sum({one, two} == {left, right} for one, two, _ in stage.bunches)


def all_ends(cut: Cut) -> int:
    """Return the ends of both bunches."""
    return union(cut)
