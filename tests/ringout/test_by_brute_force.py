# SPDX-License-Identifier: MIT
"""What is reckoned by shortcuts, against the same counted out one by one from its definition."""

from __future__ import annotations

import random
from itertools import combinations
from types import SimpleNamespace
from typing import Any

from tests.drawing import each
from wiretrack.ringout.certainty import _weak_links
from wiretrack.ringout.exchanges import _exchangeable
from wiretrack.ringout.likelihood import Likelihood
from wiretrack.ringout.masks import bits, lowest, mask_of
from wiretrack.ringout.screening import OPEN_TOUCHES, depth_of
from wiretrack.ringout.stage import Stage, Touch
from wiretrack.ringout.waiting import Waiting

SIZE = 9


def touched(rng: random.Random) -> Stage:
    """Return a stage of nine ends in four joins, touched at random, bunches too."""
    stage = Stage("near", SIZE, (0b11, 0b1110000))
    home = [rng.randrange(4) for _ in range(SIZE)]
    for index in range(rng.randrange(60)):
        one, two = sorted(rng.sample(range(SIZE), 2))
        if rng.random() < 0.3:
            bunch = mask_of(end for end in range(SIZE) if end != one and rng.random() < 0.5)
            if bunch.bit_count() > 1:
                ends = (one, lowest(bunch))
                stage.add(Touch(index, "near", ends, (bunch,), "open", None))
        elif not any(touch.verdict == "open" for touch in stage.pairs.get((one, two), ())):
            is_closed = home[one] == home[two] and rng.random() < 0.7
            verdict: Any = "closed" if is_closed else "open"
            stage.add(Touch(index, "near", (one, two), (), verdict, None))
    return stage


def sides(touch: Touch) -> tuple[int, int]:
    """Return all that lies on either side of a touch."""
    one, two = (1 << end for end in touch.ends)
    for bunch in touch.own:
        one, two = (side | (bunch if side & bunch else 0) for side in (one, two))
    return one, two


def reached(pairs: set[tuple[int, int]], start: int) -> int:
    """Return the ends that `pairs` lead to from one."""
    found = 1 << start
    for _ in range(SIZE):
        for one, two in pairs:
            if found >> one & 1 or found >> two & 1:
                found |= 1 << one | 1 << two
    return found


@each(range(60))
def test_a_weak_link_is_a_pair_closed_once_whose_loss_parts_its_component(seed: int) -> None:
    stage = touched(random.Random(seed))
    closed = {
        pair: times
        for pair, touches in stage.pairs.items()
        if pair not in stage.dropped
        and (times := sum(touch.verdict == "closed" for touch in touches))
    }
    expected = set()
    for one, two in (pair for pair, times in closed.items() if times == 1):
        part = reached(closed.keys() - {(one, two)}, one)
        if not part >> two & 1:
            expected.add(((one, two), part, reached(set(closed), one) & ~part))
    assert {(link.pair, link.part, link.rest) for link in _weak_links(stage)} == expected


@each(range(60))
def test_what_read_open_to_a_part_of_a_component_is_counted_from_its_touches(seed: int) -> None:
    stage = touched(random.Random(seed))
    opened = [0] * SIZE
    for touch in stage.touches:
        for one, two in (sides(touch), sides(touch)[::-1]):
            for end in bits(one) if touch.verdict == "open" else ():
                opened[end] |= two
    for touch in (touches[-1] for touches in stage.pairs.values()):
        assert touch.verdict == "open" or not any(
            other.verdict == "open" for other in stage.pairs[touch.pair]
        )
    for whole in stage.components():
        for count in range(1, whole.bit_count()):
            part = mask_of(random.Random(seed).sample(bits(whole), count))
            both = stage.read_open_in_parts(part, whole & ~part)
            for ends, found in zip((part, whole & ~part), both, strict=True):
                assert found == sum(
                    1 << other
                    for other in range(SIZE)
                    if any(opened[end] >> other & 1 for end in bits(ends))
                )


@each(range(400))
def test_ends_may_be_exchanged_where_neither_read_open_to_the_others_component(seed: int) -> None:
    stage = touched(random.Random(seed))
    found = _exchangeable(stage)
    closings = [stage.times_closed(end) for end in range(SIZE)]
    for one, two in combinations(range(SIZE), 2):
        here, there = stage.component(one), stage.component(two)
        may_be = (
            here != there
            and {closings[one], closings[two]} <= {1, 2}
            and not stage.read_open(1 << one) & there & ~(1 << two)
            and not stage.read_open(1 << two) & here & ~(1 << one)
        )
        assert [found[one] >> two & 1, found[two] >> one & 1] == [may_be, may_be]


@each(range(60))
def test_the_depth_of_a_search_is_counted_touch_by_touch(seed: int) -> None:
    stage = touched(random.Random(seed))
    parts = stage.components()
    counts = []
    for one, two in combinations(parts, 2):
        between = [
            touch
            for touch in stage.touches
            if touch.verdict == "open"
            for left, right in [sides(touch)]
            if (left & one and right & two) or (left & two and right & one)
        ]
        counts.append(len(between))
    assert depth_of(stage, parts) == min([*counts, OPEN_TOUCHES])


@each(range(60))
def test_pairs_wait_in_order_of_touches_size_and_number(seed: int) -> None:
    rng = random.Random(seed)
    count = rng.randint(2, 8)
    parts, at = [], 0
    for size in (rng.randint(1, 3) for _ in range(count)):
        parts.append(((1 << size) - 1) << at)
        at += size
    looks = {part: (part.bit_count(), rng.randrange(2)) for part in parts}
    names = sorted(set(looks.values()))
    fits = {frozenset(pair): rng.random() < 0.7 for pair in combinations(names, 2)}
    fits |= {frozenset({name}): rng.random() < 0.7 for name in names}
    waiting = Waiting(
        parts,
        lambda part: names.index(looks[part]),
        lambda one, two: int(fits[frozenset({looks[one], looks[two]})]),
    )
    expected = []
    for number, one in enumerate(parts):
        opens = {other: rng.randint(1, 3) for other in range(number) if rng.random() < 0.4}
        out = mask_of(other for other in range(number) if rng.random() < 0.2)
        waiting.add(number, opens, out)
        for other, two in enumerate(parts[:number]):
            if fits[frozenset({looks[one], looks[two]})] and not out >> other & 1:
                size = min(one.bit_count(), two.bit_count())
                expected.append((opens.get(other, 0), size, number, other))
    while expected:
        first = times, size, number, other = min(expected)
        assert waiting.first() == (times, parts[number], parts[other])
        act = rng.randrange(3)
        expected.remove(first)
        if act == 0:
            waiting.drop_first()
        elif act == 1:
            waiting.drop_alike()
            alike = [one for one in parts if looks[one] == looks[parts[other]]]
            expected = [
                one for one in expected if one[:3] != first[:3] or parts[one[3]] not in alike
            ]
        elif times < OPEN_TOUCHES:
            waiting.put_back_first(times + 1)
            expected.append((times + 1, size, number, other))
        else:
            waiting.drop_first()
    assert waiting.first() is None


@each(range(60))
def test_each_claims_its_group_in_turn(seed: int) -> None:
    rng = random.Random(seed)
    groups, looks = rng.randint(1, 6), rng.randint(1, 6)
    positions = list(range(rng.randint(looks, 10)))
    rng.shuffle(positions)
    alike = {look: sorted(positions[look::looks]) for look in range(looks)}
    room = [rng.randint(1, (1 << groups) - 1) for _ in range(looks)]
    claims, claimed, turn, idle = {}, 0, 0, 0
    look_of = {position: look for look, held in alike.items() for position in held}
    while idle < len(positions):
        left = room[look_of[turn]] & ~claimed
        idle += 1
        if left.bit_count() == 1:
            claims[look_of[turn]] = (turn, left)
            claimed |= left
            idle = 0
        turn = (turn + 1) % len(positions)
    likely = Likelihood.__new__(Likelihood)
    vars(likely).update(_model=SimpleNamespace(room_for=room.__getitem__), _alike=alike)
    assert likely._claimed() == (claims, claimed)
