# SPDX-License-Identifier: MIT
"""A helper with a radio: nobody walks, and joins take less time than a reference held in turn."""

from __future__ import annotations

from fractions import Fraction
from functools import cache
from itertools import combinations
from statistics import fmean

import pytest

from tests.drawing import full, parts
from tests.ringout.bundles import arranged, random_wires, with_random_fault
from tests.ringout.simulation import Wires, ring_out, seconds, wrong_matches
from wiretrack.ringout.screening import OPEN_TOUCHES

BAD_CONTACT = 0.02
TWIST_S, TOUCH_S = 12, 4


@cache
def brute_force_find(share: int, count: int) -> Fraction:
    """Return the mean place of the last of `share` among `count`, over all ways to lie."""
    ways = list(combinations(range(1, count + 1), share))
    return Fraction(sum(max(way) for way in ways), len(ways))


@cache
def in_halves_s(count: int) -> Fraction:
    """Return how long `count` look-alikes take, the reference held to half of them at a time.

    Half are twisted to the reference and taken out; all are touched until that half is found; each
    half is then told apart in the same way.
    """
    if count < 2:
        return Fraction(0)
    half = count // 2
    once = (half + 1) * 2 * TWIST_S + brute_force_find(half, count) * TOUCH_S
    return once + in_halves_s(half) + in_halves_s(count - half)


@pytest.mark.parametrize("count", [4, 6, 8, 9, 12, 14, full(16)])
def test_joins_take_less_time_than_a_reference_held_to_halves(count: int) -> None:
    taken = []
    for seed in range(3):
        order = [
            (5 * i + seed) % count if count % 5 else (3 * i + seed) % count for i in range(count)
        ]
        bundle, mate = arranged(["BK"] * count, order, crew=2, references=("raceway",))
        result = ring_out(Wires(bundle, mate))
        assert {match.near: match.far for match in result.matches} == mate
        assert result.walks == 0
        taken.append(seconds(result))
    pairs = OPEN_TOUCHES * count * (count - 1) / 2 * TOUCH_S
    search = min(pairs, 2 * count * TWIST_S + OPEN_TOUCHES * count * TOUCH_S)
    assert fmean(taken) <= float(in_halves_s(count)) + search


@pytest.mark.parametrize("seeds", parts(40, 400, 90), ids=str)
def test_a_helper_with_faults_and_bad_contacts_never_yields_a_wrong_match(seeds: range) -> None:
    for seed in seeds:
        wires = random_wires(seed, 3, 14, bad_contact=BAD_CONTACT, crew=2)
        fault = with_random_fault(wires) if seed % 2 else None
        result = ring_out(wires)
        assert not wrong_matches(wires, result), seed
        assert fault or not (result.faults or result.unresolved), seed
