# SPDX-License-Identifier: MIT
"""Touches between ends that must not be connected: the search for conductors that touch.

A conductor that touches another one could make two groups look like one, and a bad contact
could then cut them apart in the wrong place. So every two components of a stage must have read
open to each other several times before a match rests on them.

Few components are touched two by two. Of many, one end each is twisted into a bunch; then one end
after the other is taken out and touched against the rest, so that one touch stands against many
contacts. Which takes less time is reckoned by what a touch and an end twisted or taken out take.

What one stage has shown spares touches in the next. A contact between two conductors that were in
different groups of a searched stage would have shown there. So only what that stage held in one
group can touch unnoticed, and a later stage needs its open touches only between components that
such a contact could unite.
"""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from wiretrack.ringout.masks import bits, lowest, mask_of, union

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from wiretrack.ringout.stage import Stage

Cut = tuple[int, int]  # two bunches of ends, to be touched against each other
TWIST = 3.0  # touches that twisting an end takes, as `Times` has it
OPEN_TOUCHES = 4  # so many open touches stand against an unnoticed contact
# No touch is asked for more often than this under one set of joins: four open touches stand
# against a contact, and as many again where a closed one contradicted them. What still changes
# then comes and goes, and one touch more would prove nothing.
MOST_TOUCHES = 2 * OPEN_TOUCHES
LOCATE_TOUCHES = 4  # so often is a part of a closed bunch touched before it is given up


def _levels(stage: Stage, components: Sequence[int], depth: int) -> list[list[int]]:
    """Return, per level, which components have at least so many open touches to which.

    Components are numbered as given; ``levels[k][i]`` are those with more than ``k`` touches
    between them and ``i``. What was counted is kept.
    """
    key = tuple(components)
    at = {end: 1 << i for i, members in enumerate(components) for end in bits(members)}
    if key in stage.counted:
        done, levels = stage.counted[key]
        for cut in stage.news[done:]:
            _count_cut(levels, at, cut, 1)
    else:
        levels = _of_pairs(stage, components, at)
        opened = Counter((left, right) for left, right, closed in stage.bunches if not closed)
        for (left, right), times in opened.items():
            _count_cut(levels, at, (left, right), times)
    stage.counted[key] = len(stage.news), levels
    return levels[:depth]


def _of_pairs(stage: Stage, components: Sequence[int], at: Mapping[int, int]) -> list[list[int]]:
    """Return what the touches of two ends each come to, level by level."""
    levels = [[0] * len(components) for _ in range(OPEN_TOUCHES)]
    for i, members in enumerate(components):
        times: dict[int, int] = {}
        for end, more in stage.times_opened(members):
            times[at[end]] = times.get(at[end], 0) + more
        just = [0] * (OPEN_TOUCHES + 1)  # those touched so often, the last one: at least
        for other, count in times.items():
            just[min(count, OPEN_TOUCHES)] |= other
        for level in range(OPEN_TOUCHES):
            levels[level][i] = union(just[level + 1 :])
    return levels


def _count_cut(levels: list[list[int]], at: Mapping[int, int], cut: Cut, times: int) -> None:
    """Count so many open touches more between the components of two bunches.

    `at` is the component that each end is in, as a bit.
    """
    ones, twos = (union(map(at.__getitem__, bits(side))) for side in cut)
    if ones.bit_count() > twos.bit_count():
        ones, twos = twos, ones
    for one in bits(ones):
        for level in range(len(levels) - 1, -1, -1):
            row = levels[level]
            fewer = levels[level - times][one] if level >= times else -1
            gained = fewer & twos & ~row[one]
            if gained:
                row[one] |= gained
                for two in bits(gained):
                    row[two] |= 1 << one


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


def next_cut(
    stage: Stage, components: Sequence[int], need: int, held: int = 0, *, twist: float = TWIST,
    exposed: Sequence[int] | None = None,
) -> Cut | None:  # fmt: skip
    """Return two sides to touch next, so that every two components get `need` open touches.

    One side is an end, the other an end or a bunch, which holds one end of each component that it
    stands for. `held` is the bunch that is twisted here: what is taken out of it leaves the next
    one. To twist an end takes `twist` touches. `exposed` names, per component, the others that
    matter; all do without it.
    """
    if need <= 0 or len(components) < 2:
        return None
    wanted = _everyone(len(components)) if exposed is None else exposed
    lacking = [
        [all_ & ~there for all_, there in zip(wanted, row, strict=True)]
        for row in _levels(stage, components, need)
    ]
    if not any(lacking[-1]):
        return None
    order = sorted(
        range(len(components)), key=lambda i: (-sum(row[i].bit_count() for row in lacking), i)
    )
    bunch = mask_of(i for i in order if components[i] & held)
    if bunch.bit_count() < 2:
        held, bunch = 0, _bunch(order, lacking, twist)
    if bunch:
        ends = held or mask_of(stage.weakest(components[i], -1) for i in bits(bunch))
        cut = _against(stage, components, order, lacking, (bunch, ends))
        if cut is not None:
            return cut
    return _singly(stage, components, order, lacking)


def _bunch(order: Sequence[int], lacking: Sequence[Sequence[int]], twist: float) -> int:
    """Return the components to make a bunch of, so that the search takes least time; 0 for none.

    Each end of a bunch is twisted and taken out once, and then touched as often as is needed; so
    is each component that stays outside. The rest is touched two by two.
    """
    needed = len(lacking)
    touches = [sum(row[i].bit_count() for row in lacking) for i in order]
    inside, times = 0, [(sum(touches) / 2, 0)]
    left = sum(touches) / 2  # between those outside
    reach = 0  # what lacks touches with any inside
    for count, i in enumerate(order, 1):
        inside |= 1 << i
        left -= sum((row[i] & ~inside).bit_count() for row in lacking)
        reach |= lacking[-1][i]
        alone = (reach & ~inside).bit_count()
        if count > 2:
            hands = 2 * (count - (not alone)) * twist
            times.append((hands + (count - 1 + alone) * needed + left, inside))
    return min(times)[1]


def _against(
    stage: Stage, components: Sequence[int], order: Sequence[int],
    lacking: Sequence[Sequence[int]], bunch: Cut,
) -> Cut | None:  # fmt: skip
    """Return an end to touch against a bunch, best one that isn't in it; None if none is lacking.

    `bunch` are its components and its ends. The ends of a component take turns.
    """
    inside, ends = bunch
    outside = [i for i in order if not inside >> i & 1]
    for i in (*outside, *(i for i in order if inside >> i & 1)):
        turn = sum(not row[i] & inside for row in lacking)
        end, rest = 1 << stage.weakest(components[i], turn), ends & ~components[i]
        if lacking[-1][i] & inside and rest and not spent(stage, (end, rest)):
            return end, rest
    return None


def _singly(
    stage: Stage, components: Sequence[int], order: Sequence[int], lacking: Sequence[Sequence[int]]
) -> Cut | None:
    """Return two single components to touch: all of one component's, before the next one's."""
    for one in reversed(order):
        turn = next((turn for turn, row in enumerate(lacking) if row[one]), None)
        for two in order if turn is not None else ():
            if turn is not None and lacking[turn][one] >> two & 1:
                cut = _in_turn(stage, (components[one], components[two]), turn)
                if not spent(stage, cut):
                    return cut
    return None


def _in_turn(stage: Stage, both: Cut, turn: int) -> Cut:
    """Return an end of each of two components: the one that hangs on least, of either in turn."""
    one, two = both
    weak, strong = turn // 2, -1
    turns = (weak, strong) if turn % 2 else (strong, weak)
    return 1 << stage.weakest(one, turns[0]), 1 << stage.weakest(two, turns[1])


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
    return stage.bunches_asked[frozenset(cut)]


def spent(stage: Stage, cut: Cut) -> bool:
    """Return whether two bunches were touched as often as anybody is asked to."""
    return asked(stage, cut) >= MOST_TOUCHES
