# SPDX-License-Identifier: MIT
"""The search for contacts between bunches, against brute force and published codes."""

from __future__ import annotations

import random
from itertools import combinations

import pytest

from tests.drawing import each
from wiretrack.ringout.masks import mask_of
from wiretrack.ringout.screening import coded_cuts, exposed_to

# Most words of so many binary digits that differ in four places or more: Best, Brouwer,
# MacWilliams, Odlyzko and Sloane, "Bounds for Binary Codes of Length Less Than 25", IEEE Trans.
# Inf. Theory 24, 1978, Table I. Original not seen; from memory.
MOST_WORDS = {4: 2, 5: 2, 6: 4, 7: 8, 8: 16, 9: 20, 10: 40, 11: 72}


@pytest.mark.parametrize("count", [2, 3, 4, 5, 7, 8, 9, 16, 17, 33, 64, 201])
def test_four_cuts_part_any_two_ends(count: int) -> None:
    cuts = coded_cuts(count)
    for left, right in cuts:
        assert left
        assert right
        assert left & right == 0
        assert left | right == (1 << count) - 1
    for one, two in combinations(range(count), 2):
        assert sum((left >> one ^ left >> two) & 1 for left, _ in cuts) >= 4


@pytest.mark.parametrize("count", range(2, 17))
def test_up_to_sixteen_ends_no_code_needs_fewer_touches(count: int) -> None:
    fewest = min(digits for digits, words in MOST_WORDS.items() if words >= count)
    assert len(coded_cuts(count)) == fewest


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
