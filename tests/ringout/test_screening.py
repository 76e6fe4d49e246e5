# SPDX-License-Identifier: MIT
"""The search for contacts, against brute force and against methods done by hand."""

from __future__ import annotations

import random
from itertools import combinations
from typing import TYPE_CHECKING

import pytest

from tests.drawing import each
from wiretrack.ringout.masks import lowest, mask_of
from wiretrack.ringout.screening import depth_of, exposed_to, locate, next_cut
from wiretrack.ringout.stage import Stage, Touch

if TYPE_CHECKING:
    from wiretrack.ringout.ohms import Verdict

HAND, TOUCH = 12, 4  # seconds


def search(count: int, need: int, touching: tuple[int, int] = (-1, -1)) -> tuple[Stage, int, int]:
    """Return a stage searched from its beginning, and the ends handled and touches made.

    Two conductors may touch each other: then the search goes on until they are found.
    """
    stage, held, hands, touches = Stage("near", count, ()), 0, 0, 0
    while (cut := locate(stage) or next_cut(stage, stage.components(), need, held)) is not None:
        bunch = max(cut, key=int.bit_count)
        wanted = bunch if bunch.bit_count() > 1 else 0
        if wanted != held:
            taken_out = held & ~wanted if held & wanted == wanted and wanted else held
            twisted = 0 if wanted and held & wanted == wanted else wanted
            hands += taken_out.bit_count() + twisted.bit_count()
            held = wanted
        one, other = (1 << lowest(side) for side in cut)
        own = (held,) if held else ()
        nets = [cut[0] | (held if cut[0] & held else 0), cut[1] | (held if cut[1] & held else 0)]
        meets = sorted(
            sum(bool(net >> end & 1) << i for i, net in enumerate(nets))
            for end in touching
            if end >= 0
        )
        verdict: Verdict = "closed" if meets == [1, 2] else "open"
        stage.add(Touch(touches, "near", (lowest(one), lowest(other)), own, verdict, None))
        touches += 1
    return stage, hands + held.bit_count(), touches


@pytest.mark.parametrize("need", [1, 4])
@pytest.mark.parametrize("count", [2, 3, 4, 6, 9, 16, 33, 60])
def test_every_two_ends_get_their_open_touches_in_less_time_than_by_hand(
    count: int, need: int
) -> None:
    stage, hands, touches = search(count, need)
    assert depth_of(stage, stage.components()) >= need
    two_by_two = need * count * (count - 1) / 2 * TOUCH
    # All ends twisted into one bunch; each taken out and touched against the rest.
    one_bunch = 2 * count * HAND + need * count * TOUCH
    assert hands * HAND + touches * TOUCH <= min(two_by_two, one_bunch)


@pytest.mark.parametrize(("twist", "bunched"), [(0.5, True), (3, True), (40, False)])
def test_a_bunch_is_made_where_twisting_is_cheap(twist: float, bunched: bool) -> None:
    """12 ends: two by two 264 touches; in one bunch 24 twists and 4 touches an end, less one."""
    stage = Stage("near", 12, ())
    cut = next_cut(stage, stage.components(), 4, twist=twist)
    assert cut is not None
    assert (max(side.bit_count() for side in cut) > 1) == bunched
    assert bunched == (24 * twist + 4 * 11 < 264)


@pytest.mark.parametrize(("count", "need"), [(5, 4), (12, 1), (12, 4), (30, 4)])
def test_any_two_that_touch_are_found(count: int, need: int) -> None:
    for pair in list(combinations(range(count), 2))[:: max(1, count * count // 40)]:
        stage, _, _ = search(count, need, pair)
        assert [c for c in stage.components() if c.bit_count() > 1] == [mask_of(pair)]


@each(range(200))
def test_exposed_are_components_that_hold_two_ends_of_a_block_between_them(seed: int) -> None:
    """Against the definition itself, pair by pair of ends."""
    rng = random.Random(seed)
    size = rng.randint(2, 9)
    named = [rng.randrange(4) for _ in range(size)]
    components = [mask_of(e for e in range(size) if named[e] == n) for n in sorted(set(named))]
    blocks = [
        mask_of(rng.sample(range(size), rng.randint(2, size))) for _ in range(rng.randrange(3))
    ]
    exposed = exposed_to(components, blocks)
    for i, one in enumerate(components):
        for j, other in enumerate(components):
            held = [
                (x, y)
                for x, y in combinations(range(size), 2)
                if (one | other) >> x & 1 and (one | other) >> y & 1
                for block in blocks
                if block >> x & 1 and block >> y & 1
            ]
            assert bool(exposed[i] >> j & 1) == (i != j and bool(held))
