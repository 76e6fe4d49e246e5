# SPDX-License-Identifier: MIT
"""Touches between bunches of ends that must not be connected.

A conductor that touches another one could make two groups look like one, and a bad contact
could then cut them apart in the wrong place. So every two components of a stage must have read
open to each other several times before a match rests on them. Bunching whole components lets
one touch stand against many contacts at once: with nothing joined yet, n ends are told apart
by few more than log2(n) touches between halves: the digits of a code in which any two words
differ in four places [1]_.

What one stage has shown spares touches in the next. A contact between two conductors that were in
different groups of a searched stage would have shown there. So only what that stage held in one
group can touch unnoticed, and a later stage needs its open touches only between components that
such a contact could unite.

.. [1] R. W. Hamming, "Error Detecting and Error Correcting Codes", Bell System Technical
   Journal 29, 1950, pp. 147-160. Original not seen; from memory.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.ringout.masks import bits, lowest, mask_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.ringout.stage import Stage

Cut = tuple[int, int]  # two bunches of ends, to be touched against each other
OPEN_TOUCHES = 4  # so many open touches stand against an unnoticed contact
LEAST_GAIN = 2  # in a large bundle: bunches that spare fewer touches aren't worth joining
SMALL_BUNDLE = 10  # ends; up to here twisting is reckoned like touching
FIRST_ENDS, FIRST_KINDS = 16, 3  # the most of each for a search before the first join
# No touch is asked for more often than this under one set of joins: four open touches stand
# against a contact, and as many again where a closed one contradicted them. What still changes
# then comes and goes, and one touch more would prove nothing.
MOST_TOUCHES = 2 * OPEN_TOUCHES
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


def depth_of(stage: Stage, components: Sequence[int], exposed: Sequence[int] | None = None) -> int:
    """Return how many open touches there are at least between any two components; at most 4.

    `exposed` names, per component, the others that matter; all do without it.
    """
    wanted = _everyone(len(components)) if exposed is None else exposed
    levels = _levels(stage, components, OPEN_TOUCHES)
    for level in range(OPEN_TOUCHES):
        if any(wanted[i] & ~levels[level][i] for i in range(len(components))):
            return level
    return OPEN_TOUCHES


def _everyone(count: int) -> list[int]:
    return [((1 << count) - 1) & ~(1 << i) for i in range(count)]


def exposed_to(components: Sequence[int], blocks: Sequence[int]) -> list[int]:
    """Return, per component, the others with which a contact within a block could confuse it.

    `blocks` are the ends that no other stage has told apart. A contact between two ends of one
    block can have united a component with another if the two hold both ends between them.

    >>> exposed_to([0b0011, 0b0100, 0b1000], [0b0101])
    [2, 1, 0]
    """
    number = {end: i for i, members in enumerate(components) for end in bits(members)}
    exposed = [0] * len(components)
    alone = 0  # components that hold two ends of one block themselves
    for block in blocks:
        held = [number[end] for end in bits(block)]
        touched = mask_of(held)
        for i in held:
            exposed[i] |= touched
            if held.count(i) > 1:
                alone |= 1 << i
    for i in bits(alone):
        exposed[i] = (1 << len(components)) - 1
    return [(one | alone) & ~(1 << i) for i, one in enumerate(exposed)]


def pays_first(ends: int, kinds: int) -> bool:
    """Return whether searching before the first join takes fewer touches than searching later.

    Tried on random bundles: it does where few classes of look-alikes leave many components
    of later stages to be told apart, and not where the touches that identify do so.
    """
    return max(4, 2 * kinds) <= ends <= FIRST_ENDS and kinds <= FIRST_KINDS


def coded_cuts(count: int) -> list[tuple[int, int]]:
    """Return bunches of things numbered below `count`, so that four cuts part any two.

    Each number is written as a word of a shortened Hamming code [1]_ with a digit for the
    parity of all others; a cut is one digit.

    >>> len(coded_cuts(16))
    8
    """
    digits = max(1, (count - 1).bit_length())
    checks = next(r for r in range(2, 10) if (1 << r) - r - 1 >= digits)
    heavy = [word for word in range(1 << checks) if word.bit_count() > 1][:digits]
    masks = [1 << i for i in range(digits)]
    masks += [mask_of(i for i, word in enumerate(heavy) if word >> j & 1) for j in range(checks)]
    masks.append(mask_of(i for i in range(digits) if not heavy[i].bit_count() & 1))
    whole = (1 << count) - 1
    cuts = []
    for mask in masks:
        ones = mask_of(i for i in range(count) if (i & mask).bit_count() & 1)
        if ones:
            cuts.append((ones, whole & ~ones))
    return cuts


def next_cut(
    stage: Stage,
    components: Sequence[int],
    need: int,
    width: int,
    exposed: Sequence[int] | None = None,
) -> Cut | None:
    """Return two bunches to touch, so that every two components get `need` open touches.

    `width` is the most ends that can be bunched. The bunches hold one end of each component.
    `exposed` names, per component, the others that matter; all do without it.
    """
    if need <= 0 or len(components) < 2:
        return None
    levels = _levels(stage, components, need)
    wanted = _everyone(len(components)) if exposed is None else exposed
    lacking = [[all_ & ~there for all_, there in zip(wanted, row, strict=True)] for row in levels]
    order = sorted(
        range(len(components)), key=lambda i: (-sum(row[i].bit_count() for row in lacking), i)
    )
    if not any(lacking[-1]):
        return None
    coded = _next_coded(stage, components, lacking[-1]) if width >= len(components) else None
    if coded is not None:
        return coded
    left, right = _split(order, lacking, width)
    few = stage.size <= SMALL_BUNDLE and not stage.is_bare
    cut = _ends(components, left), _ends(components, right)
    if _worth_joining(left, right, lacking[-1], few=few) and not spent(stage, cut):
        return cut
    return _neediest(stage, components, order, lacking)


def _next_coded(stage: Stage, components: Sequence[int], lacking: Sequence[int]) -> Cut | None:
    if not stage.is_bare:
        return None
    made = {frozenset(sides[:2]) for sides in stage.bunches}
    for left, right in coded_cuts(len(components)):
        cut = (_ends(components, left), _ends(components, right))
        if spent(stage, cut):
            continue
        if frozenset(cut) not in made and any(lacking[i] & right for i in bits(left)):
            return cut
    return None


def _worth_joining(left: int, right: int, lacking: Sequence[int], few: bool) -> bool:
    """Return whether one touch spares enough to twist the bunches for it.

    In a small bundle twisting an end is reckoned like a touch, and the bunches must stand for as
    many pairs as they hold ends; in a large one the touches are what counts (common practice).
    """
    spared = sum((lacking[one] & right).bit_count() for one in bits(left))
    return spared >= (left.bit_count() + right.bit_count() if few else LEAST_GAIN)


def _neediest(
    stage: Stage, components: Sequence[int], order: Sequence[int], lacking: Sequence[Sequence[int]]
) -> Cut | None:
    """Return the two single components that lack most touches, and can be touched once more."""
    for one in order:
        level = next((row for row in lacking if row[one]), None)
        for two in order if level is not None else ():
            if level is not None and level[one] >> two & 1:
                cut = 1 << lowest(components[one]), 1 << lowest(components[two])
                if not spent(stage, cut):
                    return cut
    return None


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
    times, number = min((asked(stage, cut), number) for number, cut in enumerate(cuts))
    return cuts[number] if times < LOCATE_TOUCHES else None


def asked(stage: Stage, cut: Cut) -> int:
    """Return how often two bunches were touched in a stage."""
    left, right = cut
    if left.bit_count() == right.bit_count() == 1:
        return len(stage.asked(lowest(left), lowest(right)))
    return sum({one, two} == {left, right} for one, two, _ in stage.bunches)


def spent(stage: Stage, cut: Cut) -> bool:
    """Return whether two bunches were touched as often as anybody is asked to."""
    return asked(stage, cut) >= MOST_TOUCHES
