# SPDX-License-Identifier: MIT
"""No search of a plan runs on, counted by what it looks into; every ring-out comes to its end."""

from __future__ import annotations

import random
from itertools import combinations
from typing import TYPE_CHECKING, Any

import pytest

from tests.drawing import full
from tests.ringout.bundles import arranged, random_wires
from tests.ringout.hard import HardWires, rung_out
from tests.ringout.test_switching import GEAR, with_gear
from wiretrack.encoding import document
from wiretrack.ringout import choice_sets
from wiretrack.ringout.choice_sets import MENDING_WORK, MOST_WORK, distinct_sets
from wiretrack.ringout.engine import Ringout
from wiretrack.ringout.packing import MOST_NODES, Packing
from wiretrack.ringout.planner import MOST_STEPS
from wiretrack.ringout.results import Result
from wiretrack.ringout.screening import MOST_TOUCHES

if TYPE_CHECKING:
    from collections.abc import Callable


@pytest.fixture
def looked_into(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """Return how many ways were looked into so far, by both searches that may branch."""
    count = [0]

    def counted(search: Callable[..., Any]) -> Callable[..., Any]:
        def counting(*given: Any) -> Any:
            count[0] += 1
            return search(*given)

        return counting

    monkeypatch.setattr(choice_sets, "_shares", counted(choice_sets._shares))
    monkeypatch.setattr(Packing, "_place", counted(Packing._place))
    return count


# Of threes at most; such sets exist (27,000 ways are looked into until they are found).
HARD_TO_PART = [2, 1, 1, 1, 3, 3, 1, 2, 3, 1, 2, 3, 1, 3, 1, 2]
# Pairs only, in the midst of 50 conductors.
TO_PAIR = [2, 2, 3, 2, 2, 2, 2, 3, 3, 2, 3, 3, 2, 2, 3]


@pytest.mark.parametrize("work", [100, 5_000])
def test_once_a_search_for_sets_has_spent_its_work_exchanges_find_them(
    looked_into: list[int], work: int
) -> None:
    left = [work]
    found = distinct_sets(HARD_TO_PART, max_size=3, work=left)
    assert looked_into[0] <= work + len(HARD_TO_PART)
    assert -MENDING_WORK < left[0] <= 0
    assert found is not None
    assert [sum(kind in one for one in found) for kind in range(16)] == HARD_TO_PART
    assert len(set(found)) == len(found)
    assert max(map(len, found)) <= 3


# All 26 sets of two and more of five classes: no other choice exists.
EVERY_SET = [15] * 5


@pytest.mark.parametrize(("degrees", "exist"), [(EVERY_SET, True), ([16] * 5, False)])
def test_exchanges_find_the_only_sets_there_are_and_none_where_none_are(
    degrees: list[int], exist: bool
) -> None:
    alone, left = frozenset(1 << kind for kind in range(5)), [1]
    found = distinct_sets(degrees, forbidden=alone, work=left)
    assert left[0] > -MENDING_WORK
    assert (found is not None) == exist
    if found:
        assert {*found} == {one for n in range(2, 6) for one in combinations(range(5), n)}


def test_searches_that_share_their_work_spend_it_together(looked_into: list[int]) -> None:
    work = [5_000]
    for _ in range(3):
        distinct_sets(HARD_TO_PART, max_size=3, work=work)
    assert looked_into[0] <= 5_000 + 6 * len(HARD_TO_PART)


def test_pairs_are_found_without_a_search(looked_into: list[int]) -> None:
    found = distinct_sets(TO_PAIR, max_size=2, work=[100])
    assert found is not None
    assert [sum(kind in one for one in found) for kind in range(len(TO_PAIR))] == TO_PAIR
    assert len(set(found)) == len(found)
    assert {len(one) for one in found} <= {1, 2}
    assert looked_into[0] == 0


def test_a_search_that_is_easy_still_finds_its_sets(looked_into: list[int]) -> None:
    found = distinct_sets([5, 4, 3, 2, 1])
    assert found is not None
    assert [sum(kind in one for one in found) for kind in range(5)] == [5, 4, 3, 2, 1]
    assert len(set(found)) == len(found)
    assert looked_into[0] < 1_000


@pytest.mark.parametrize("seed", [4])
def test_no_step_for_50_conductors_looks_into_more_than_some_ways(
    seed: int, looked_into: list[int]
) -> None:
    wires = random_wires(seed, 50, 50)
    rng = random.Random(seed)
    ringing = Ringout(wires.bundle)
    for _ in range(500):
        if rng.random() < 0.15:
            ringing = with_gear(wires, ringing, rng.choice(list(GEAR)))
        before = looked_into[0]
        step = ringing.next_step()
        assert looked_into[0] - before <= 6 * MOST_WORK + 20 * MOST_NODES
        if isinstance(step, Result):
            break
        ringing.apply(step, wires.answer(document(step)))


@pytest.mark.parametrize(("count", "most"), [(24, 100), full(40, 150)])
def test_no_step_after_faults_looks_for_more_than_some_packings(
    count: int, most: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Before, up to 1,461 in one step with 40 conductors of three colours, two of them open."""
    looked, search = [0], Packing.possible

    def counting(packing: Packing, *given: int) -> bool:
        looked[0] += 1
        return search(packing, *given)

    monkeypatch.setattr(Packing, "possible", counting)
    rng = random.Random(count)
    worn = [str(i % 3) for i in range(count)]
    bundle, mate = arranged(worn, rng.sample(range(count), count))
    wires = HardWires(bundle, mate, rng=rng, broken={"T4", "T9"})
    ringing, longest = Ringout(bundle), 0
    while not isinstance(step := ringing.next_step(), Result):
        ringing.apply(step, wires.answer(document(step)))
        before = looked[0]
        ringing.next_step()
        longest = max(longest, looked[0] - before)
    assert 0 < longest <= most
    assert len(ringing.matched) >= count - 2


def bunches_touching(size: int) -> HardWires:
    """Return a bundle in which the two bunches of the first search touch each other."""
    rng = random.Random(size)
    bundle, mate = arranged(["BK"] * size, rng.sample(range(size), size))
    # Many ends are searched with one bunch before; then comes the first join.
    return HardWires(bundle, mate, rng=rng, bunches=int(size > 8))


@pytest.mark.parametrize("size", [5, 8, 12, 16])
def test_bunches_that_touch_each_other_are_not_touched_without_end(size: int) -> None:
    wires = bunches_touching(size)
    result, _ = rung_out(wires)
    assert max(wires.asked.values()) <= MOST_TOUCHES
    assert {match.near: match.far for match in result.matches} == wires.mate
    assert not any(match.sure for match in result.matches)


@pytest.mark.parametrize("seed", range(8))
def test_a_contact_that_comes_and_goes_ends_with_what_is_known(seed: int) -> None:
    """One touch was asked for more than a thousand times in such a bundle before."""
    rng = random.Random(seed)
    bundle, mate = arranged(["BK"] * 8, rng.sample(range(8), 8))
    wires = HardWires(bundle, mate, rng=rng, shorted=[("T4", "T6")])
    wires.comes_and_goes = [(("near", "T3"), ("near", "T6"), 0.5)]
    result, ringing = rung_out(wires)
    most = max(wires.asked.values())
    assert most <= MOST_TOUCHES
    assert len(ringing.log) < 400
    told = any(f"touched {MOST_TOUCHES} times" in note for note in result.notes)
    assert told == (most == MOST_TOUCHES)
    assert not any(one.sure and mate[one.near] != one.far for one in result.matches)
    assert len(result.unresolved) + 2 * len(result.matches) == 2 * bundle.size


@pytest.mark.parametrize("number", [53, 58])
def test_once_a_wrong_closed_reading_is_taken_back_the_stage_is_judged_anew(number: int) -> None:
    rng = random.Random(8)
    bundle, mate = arranged(["BK"] * 8, rng.sample(range(8), 8), check="never")
    wires = HardWires(bundle, mate, rng=rng, wrong_key=number)
    result, _ = rung_out(wires)
    assert {match.near: match.far for match in result.matches} == mate
    assert result.walks == 2


@pytest.mark.parametrize("size", [40, full(120)])
def test_with_a_helper_an_open_wire_and_two_that_touch_take_no_chain_of_few_pairs(
    size: int,
) -> None:
    """Each of a pair's ends was looked for among all others, one touch each: 120 took 10,158."""
    bundle, mate = arranged(["BK"] * size, random.Random(size).sample(range(size), size), crew=2)
    wires = HardWires(bundle, mate, broken={"T4"}, shorted=[("T3", "T7")])
    ringing = Ringout(bundle)
    while not isinstance(step := ringing.next_step(), Result):
        ringing.apply(step, wires.answer(document(step)))
    assert len(ringing.log) <= MOST_STEPS * size
    assert {m.near for m in step.matches} >= {*mate} - {"T3", "T4", "T7"}
