# SPDX-License-Identifier: MIT
"""The mean number of touches against the true optimum and the information bound; time by hand.

The optimum comes from the exhaustive search in ``optimum.py``, which is written apart from the
planner. The bound is log2(n!): a touch has two outcomes, and n look-alikes have n! arrangements.
It can't be reached: every conductor needs a closed reading of its own. Touches that only search
for conductors touching each other are left out (``screen="none"``). They can't be had within 1.35
times the bound: four look-alikes take 6.0 touches at the optimum, 1.35 times the bound is 6.19, and
no touch less would do. With them, the time is compared with that of a chain done by hand.
"""

from __future__ import annotations

import math
import random
from collections import Counter
from itertools import permutations

import pytest

from tests.drawing import full
from tests.ringout.bundles import arranged
from tests.ringout.many import HOURS
from tests.ringout.optimum import optimum
from tests.ringout.simulation import Wires, by_hand_s, ring_out, seconds
from wiretrack.ringout.screening import OPEN_TOUCHES

# Look-alikes: least mean number of touches, and the sizes of the first joins that allow it.
# Made by ``python -m tests.ringout.optimum 3 4 5 6``; 6 takes some twenty seconds.
OPTIMUM = {
    3: (3.5, (2, 1)),
    4: (6.0, (2, 1, 1)),
    5: (9.0, (2, 2, 1)),
    6: (11 + 4 / 45, (3, 2, 1)),
}
SMALL, LARGE = 1.35, 1.6  # times log2(n!), up to 10 and up to 50 look-alikes
# Three look-alikes can't be had for 1.35 times the bound, 3.49 touches: the true optimum, under
# the rule that closed readings alone must leave one arrangement, is 3.5, and the mean of random
# bundles scatters around it.
TOO_SMALL = {3: 3.5 / math.log2(6) + 0.02}
RUNS = 1000
# The same arrangements every time: the first ten always, 50 with `full`.
LARGE_RUNS = [10, full(1000 if HOURS else 50)]


def bound(count: int) -> float:
    """Return log2(n!)."""
    return math.log2(math.factorial(count))


def mean_touches(count: int, orders: list[tuple[int, ...]], screen: str = "none") -> float:
    """Return the mean number of touches that the planner takes."""
    total = 0
    for order, times in Counter(orders).items():
        bundle, mate = arranged(["BK"] * count, order, screen=screen)
        result = ring_out(Wires(bundle, mate))
        assert {match.near: match.far for match in result.matches} == mate
        assert screen != "none" or not result.screening_probes
        total += result.probes * times
    return total / len(orders)


def random_orders(count: int, runs: int) -> list[tuple[int, ...]]:
    """Return random arrangements, the same ones every time."""
    rng = random.Random(count)
    return [tuple(rng.sample(range(count), count)) for _ in range(runs)]


@pytest.mark.parametrize("count", [3, 4, 5, full(6)])
def test_the_table_of_optima_is_what_the_exhaustive_search_finds(count: int) -> None:
    touches, sizes = optimum(count)
    assert touches == pytest.approx(OPTIMUM[count][0], abs=1e-9)
    assert sizes == OPTIMUM[count][1]


@pytest.mark.parametrize("count", [3, 4, 5, 6])
def test_no_plan_beats_the_optimum(count: int) -> None:
    taken = mean_touches(count, list(permutations(range(count))))
    assert taken >= OPTIMUM[count][0] - 1e-9


@pytest.mark.parametrize("count", [3, 4, 5])
def test_up_to_five_look_alikes_take_the_fewest_touches_there_can_be(count: int) -> None:
    taken = mean_touches(count, list(permutations(range(count))))
    assert taken == pytest.approx(OPTIMUM[count][0], abs=1e-9)


FEW, MANY = (3, 4, 5), (6, 7, 8, 9, 10)  # the mean of a few hundred small ones scatters too much


@pytest.mark.parametrize(
    ("count", "runs"),
    [*((n, RUNS) for n in FEW), *((n, RUNS // 10) for n in MANY), *(full(n, RUNS) for n in MANY)],
)
def test_up_to_ten_look_alikes_take_at_most_1_35_times_the_bound(count: int, runs: int) -> None:
    taken = mean_touches(count, random_orders(count, runs))
    assert taken <= TOO_SMALL.get(count, SMALL) * bound(count)


@pytest.mark.parametrize("count", [11, 15, 20, 25, 30, 35, 40, 45, 50])
@pytest.mark.parametrize("runs", LARGE_RUNS)
def test_up_to_fifty_look_alikes_take_at_most_1_6_times_the_bound(count: int, runs: int) -> None:
    """The mean of 50 bundles each, of 1,000 with ``WIRETRACK_HOURS=1``."""
    taken = mean_touches(count, random_orders(count, runs))
    assert taken <= LARGE * bound(count)


@pytest.mark.parametrize("count", [3, 4, 5, 6, 8, 10, 12, 14, 17, 20, 30, 40, 50, full(60)])
def test_with_the_search_for_contacts_no_bundle_takes_longer_than_by_hand(count: int) -> None:
    taken = 0.0
    for order in random_orders(count, 10):
        bundle, mate = arranged(["BK"] * count, order)
        result = ring_out(Wires(bundle, mate))
        assert {match.near: match.far for match in result.matches} == mate
        taken += seconds(result)
    assert taken / 10 <= by_hand_s(count, OPEN_TOUCHES)
