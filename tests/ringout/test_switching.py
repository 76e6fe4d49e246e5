# SPDX-License-Identifier: MIT
"""Changing gear or crew in the midst of a ring-out: nothing known is lost, nothing gets wrong."""

from __future__ import annotations

import random
from itertools import permutations
from typing import TYPE_CHECKING, Any

import pytest

from tests.drawing import full, parts
from tests.ringout.bundles import arranged, random_wires, with_random_fault
from tests.ringout.simulation import Wires, switched, wrong_matches
from wiretrack.encoding import document
from wiretrack.ringout.engine import Ringout
from wiretrack.ringout.results import Result

if TYPE_CHECKING:
    from collections.abc import Sequence

KIT = tuple(float(value * 10**k) for k in (1, 2, 3) for value in (10, 15, 22, 33, 47, 68))
ALONE: dict[str, Any] = {"crew": 1, "resistors": (), "diode": False, "joins": "any"}
GEAR: dict[str, dict[str, Any]] = {
    "joins": ALONE,
    "pairs": {**ALONE, "joins": "pairs"},
    "resistors": {**ALONE, "resistors": KIT},
    "helper": {**ALONE, "crew": 2},
    "diode": {**ALONE, "diode": True},
}
EVERY_STEP = [range(0, 16, 3), *(full(range(at, 16, 3)) for at in (1, 2))]  # a third always


def with_gear(wires: Wires, ringing: Ringout, gear: str) -> Ringout:
    """Return the ring-out with other gear, and the simulated crew told of it."""
    ringing = switched(ringing, **GEAR[gear])
    wires.bundle = ringing.bundle
    return ringing


def run(wires: Wires, gears: Sequence[tuple[int, str]]) -> Result:
    """Ring out, changing to each gear after so many steps; check that no match is lost by it."""
    ringing = Ringout(wires.bundle)
    for count in range(3_000):
        for _, gear in [one for one in gears if one[0] == count]:
            before = set(ringing.result().matches)
            ringing = with_gear(wires, ringing, gear)
            assert before <= set(ringing.result().matches)
            assert len(ringing.log) == count
        step = ringing.next_step()
        if isinstance(step, Result):
            return step
        ringing.apply(step, wires.answer(document(step)))
    raise AssertionError("the ring-out doesn't end")


@pytest.mark.parametrize(("first", "second"), list(permutations(GEAR, 2)))
@pytest.mark.parametrize("cuts", EVERY_STEP, ids=str)
def test_any_method_goes_on_with_any_other_at_every_step(
    first: str, second: str, cuts: range
) -> None:
    for cut in cuts:
        options = {"references": ("raceway",), **GEAR[first]}
        bundle, mate = arranged(["BK"] * 5, (3, 0, 4, 1, 2), **options)
        wires = Wires(bundle, mate)
        result = run(wires, [(cut, second)])
        assert {match.near: match.far for match in result.matches} == mate


@pytest.mark.parametrize("cut", range(8))
@pytest.mark.parametrize("gear", ["joins", "helper", "resistors"])
def test_two_look_alikes_wait_for_a_diode_whatever_was_tried_before(gear: str, cut: int) -> None:
    bundle, mate = arranged(["BK"] * 2, (1, 0), **GEAR[gear])
    ringing, wires = Ringout(bundle), Wires(bundle, mate)
    assert isinstance(ringing.next_step(), Result)
    assert run(wires, [(0, "diode")]).walks == 1
    wires = Wires(bundle, mate)
    result = run(wires, [(0, "diode"), (cut, gear), (cut + 1, "diode")])
    assert not wrong_matches(wires, result)


@pytest.mark.parametrize("seeds", parts(60, 300, 120), ids=str)
def test_no_change_of_gear_makes_a_match_wrong(seeds: range) -> None:
    for seed in seeds:
        wires = random_wires(seed, 2, 9, bad_contact=0.02)
        fault = with_random_fault(wires) if seed % 2 else None
        rng = random.Random(seed)
        gears = [(rng.randrange(40), rng.choice(list(GEAR))) for _ in range(rng.randint(1, 4))]
        small = wires.bundle.size == 2 and not wires.bundle.references
        result = run(wires, gears)
        assert not wrong_matches(wires, result), (seed, gears)
        assert fault or small or not result.unresolved, (seed, gears)
