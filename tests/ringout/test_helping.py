# SPDX-License-Identifier: MIT
"""A helper who applies a reference: the touches reckoned, against brute force and whole runs."""

from __future__ import annotations

from fractions import Fraction
from functools import cache
from itertools import combinations, permutations
from statistics import fmean

import pytest

from tests.drawing import parts
from tests.ringout.bundles import arranged, random_wires, with_random_fault
from tests.ringout.simulation import Wires, ring_out, wrong_matches
from wiretrack.encoding import document
from wiretrack.ringout.engine import Ringout
from wiretrack.ringout.results import Result
from wiretrack.ringout.rounds import (
    best_share,
    fewest,
    in_halves,
    one_after_the_other,
    touches_to_find,
)
from wiretrack.ringout.steps import Join

BAD_CONTACT = 0.02


def brute_force_find(share: int, count: int) -> Fraction:
    """Return the mean place of the last of `share` among `count`, over all ways to lie."""
    ways = list(combinations(range(1, count + 1), share))
    return Fraction(sum(max(way) for way in ways), len(ways))


@pytest.mark.parametrize("count", range(2, 11))
def test_the_touches_that_find_a_share_are_those_of_brute_force(count: int) -> None:
    for share in range(1, count):
        assert touches_to_find(share, count) == pytest.approx(float(brute_force_find(share, count)))


@cache
def brute_force_total(count: int, how: str) -> Fraction:
    """Return the mean touches that tell `count` apart, every find reckoned by brute force."""
    if count < 2:
        return Fraction(0)
    shares = {"each": (1,), "halves": (count // 2,), "either": (1, count // 2)}[how]
    return min(
        brute_force_find(k, count) + brute_force_total(k, how) + brute_force_total(count - k, how)
        for k in shares
    )


@pytest.mark.parametrize("count", range(2, 13))
def test_the_better_of_one_after_the_other_and_halves_is_chosen(count: int) -> None:
    assert one_after_the_other(count) == pytest.approx(float(brute_force_total(count, "each")))
    assert in_halves(count) == pytest.approx(float(brute_force_total(count, "halves")))
    assert fewest(count) == pytest.approx(float(brute_force_total(count, "either")))
    share = best_share(count)
    assert share in (1, count // 2)
    cost = brute_force_find(share, count) + sum(
        brute_force_total(part, "either") for part in (share, count - share)
    )
    assert cost == brute_force_total(count, "either")


def exhaustive_optimum(count: int) -> Fraction:
    """Return the fewest mean touches of any strategy whatever, over all of them.

    A touch asks whether an end's conductor is among those that hold the reference now, any of
    them, changed before every touch if need be. Done when the closed answers alone leave one
    arrangement. Nothing is taken from the planner.
    """
    ways = list(permutations(range(count)))
    asked = {
        sum(1 << i for i, way in enumerate(ways) if held >> way[end] & 1)
        for end in range(count)
        for held in range(1, 2**count - 1)
    }

    @cache
    def solve(alive: int, proven: int) -> Fraction:
        if proven.bit_count() == 1:
            return Fraction(0)
        best: Fraction | None = None
        for one in asked:
            yes, no = alive & one, alive & ~one
            if not yes or (not no and proven & one == proven):
                continue
            cost = 1 + Fraction(yes.bit_count(), alive.bit_count()) * solve(yes, proven & one)
            if no:
                cost += Fraction(no.bit_count(), alive.bit_count()) * solve(no, proven)
            best = cost if best is None else min(best, cost)
        assert best is not None
        return best

    whole = (1 << len(ways)) - 1
    return solve(whole, whole)


# The same search for four look-alikes: 517,277 states, minutes; changing what holds the reference
# in the midst of a search saves half a touch in six, and costs a call over the radio each time.
OPTIMUM_OF_FOUR = Fraction(131, 24)


@pytest.mark.parametrize("count", [2, 3])
def test_no_strategy_whatever_does_with_fewer_touches_for_two_and_three(count: int) -> None:
    assert fewest(count) == pytest.approx(float(exhaustive_optimum(count)))


def test_for_four_the_best_strategy_is_less_than_a_tenth_better() -> None:
    assert float(OPTIMUM_OF_FOUR) <= fewest(4) <= 1.1 * float(OPTIMUM_OF_FOUR)


@pytest.mark.parametrize("count", [2, 3, 4, 5])
def test_all_arrangements_rung_out_take_as_many_touches_as_reckoned(count: int) -> None:
    """The mean over every arrangement; one touch more shows that the last conductor is whole."""
    touches = []
    for arrangement in permutations(range(count)):
        options = {"references": ("raceway",), "crew": 2, "screen": "none"}
        bundle, mate = arranged(["BK"] * count, arrangement, **options)
        result = ring_out(Wires(bundle, mate))
        assert {match.near: match.far for match in result.matches} == mate
        assert not result.by_exclusion
        assert result.walks == 0
        touches.append(result.probes)
    assert fmean(touches) == pytest.approx(fewest(count) + 1)


def joined_at_once(count: int) -> list[int]:
    """Return how many look-alikes are joined to the reference, round by round."""
    options = {"references": ("raceway",), "crew": 2, "screen": "none"}
    bundle, mate = arranged(["BK"] * count, range(count), **options)
    wires, ringing, sizes = Wires(bundle, mate), Ringout(bundle), []
    while not isinstance(step := ringing.next_step(), Result):
        if isinstance(step, Join):
            assert len(step.groups) == 1
            assert "raceway" in step.groups[0]
            sizes.append(len(step.groups[0]) - 1)
        ringing.apply(step, wires.answer(document(step)))
    return sizes


def test_up_to_four_go_one_after_the_other_and_more_go_in_halves() -> None:
    assert joined_at_once(4) == [1, 1, 1, 1]
    assert joined_at_once(8)[0] == 4
    assert joined_at_once(16)[0] == 8


@pytest.mark.parametrize("seeds", parts(40, 400, 90), ids=str)
def test_a_helper_with_faults_and_bad_contacts_never_yields_a_wrong_match(seeds: range) -> None:
    for seed in seeds:
        wires = random_wires(seed, 3, 14, bad_contact=BAD_CONTACT, crew=2)
        fault = with_random_fault(wires) if seed % 2 else None
        result = ring_out(wires)
        assert not wrong_matches(wires, result), seed
        assert fault or not (result.faults or result.unresolved), seed
