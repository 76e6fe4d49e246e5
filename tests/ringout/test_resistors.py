# SPDX-License-Identifier: MIT
"""Resistor kits: series values as published, and fitted values that can't be confused."""

from __future__ import annotations

import random
from itertools import combinations, product
from typing import TYPE_CHECKING

import pytest

from tests.drawing import each
from tests.ringout.bundles import arranged
from tests.ringout.simulation import Wires, ring_out, wrong_matches
from wiretrack.encoding import document
from wiretrack.ringout.engine import Ringout
from wiretrack.ringout.ohms import E12, E24, reading_range, tolerance, usable
from wiretrack.ringout.results import Result
from wiretrack.ringout.steps import Fit, Probe

if TYPE_CHECKING:
    from wiretrack.ringout.bundle import Bundle

# IEC 60063:2015, preferred number series (from memory, original not seen). E12 is every second
# value of E24, E6 every second of E12.
PUBLISHED_E6 = (10, 15, 22, 33, 47, 68)
PUBLISHED_E12 = (10, 12, 15, 18, 22, 27, 33, 39, 47, 56, 68, 82)
PUBLISHED_E24 = (
    *(10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30),
    *(33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91),
)
SHARE = {"E6": 0.20, "E12": 0.10, "E24": 0.05}  # the tolerances the series were made for
METER_SHARE = 0.02  # common practice: a hand meter's ohm ranges
MOST_LOOP_OHM = 10.0  # common practice: the longest loop where no length is known


def kit(values: tuple[int, ...]) -> tuple[float, ...]:
    """Return a kit of three decades, 100 Ω to 91 kΩ."""
    return tuple(float(value * 10**k) for k in (1, 2, 3) for value in values)


def test_the_series_are_those_of_iec_60063() -> None:
    assert E12 == PUBLISHED_E12
    assert E24 == PUBLISHED_E24
    assert PUBLISHED_E24[::2] == PUBLISHED_E12
    assert PUBLISHED_E12[::2] == PUBLISHED_E6


@each(product(PUBLISHED_E24, [1, 10, 100, 1000]))
def test_no_value_is_taken_for_closer_than_its_coarsest_series_is_made(
    value: int, decade: int
) -> None:
    coarsest = "E12" if value in PUBLISHED_E12 else "E24"
    assert tolerance(float(value * decade)) >= SHARE[coarsest] - 1e-12


@pytest.mark.parametrize("values", [PUBLISHED_E6, PUBLISHED_E12, PUBLISHED_E24])
@pytest.mark.parametrize("loop_ohm", [0.0, MOST_LOOP_OHM])
def test_no_two_values_used_together_can_read_the_same(
    values: tuple[int, ...], loop_ohm: float
) -> None:
    """Each true value at the edge of its tolerance, read by a meter at the edge of its own."""
    bundle = bundle_with(kit(values))
    chosen = usable(bundle)
    assert len(chosen) >= 6
    for one, two in combinations(sorted(chosen), 2):
        own, other = (0.10 if _decimal(v) in PUBLISHED_E12 else 0.05 for v in (one, two))
        highest = (one * (1 + own) + loop_ohm) * (1 + METER_SHARE)
        lowest = two * (1 - other) * (1 - METER_SHARE)
        assert highest < lowest, (one, two)
        assert highest in reading_range(bundle, (one,))
        assert highest not in reading_range(bundle, (two,))


def _decimal(value_ohm: float) -> int:
    while value_ohm >= 100:
        value_ohm /= 10
    return round(value_ohm)


def bundle_with(values: tuple[float, ...], size: int = 8, seed: int = 0) -> Bundle:
    """Return look-alikes in a metal raceway, to be rung out with a kit."""
    return wires_with(values, size, seed).bundle


def wires_with(values: tuple[float, ...], size: int, seed: int) -> Wires:
    """Return look-alikes in a random arrangement."""
    rng = random.Random(seed)
    order = rng.sample(range(size), size)
    options = {"references": ("raceway",), "resistors": values}
    bundle, mate = arranged(["BK"] * size, order, **options)
    return Wires(bundle, mate, rng=rng)


@pytest.mark.parametrize("seed", range(40))
def test_a_kit_identifies_look_alikes_in_one_walk_and_never_wrongly(seed: int) -> None:
    size = 3 + seed % 6
    wires = wires_with(kit(PUBLISHED_E12), size, seed)
    result = ring_out(wires)
    assert not wrong_matches(wires, result)
    assert not result.unresolved
    assert result.walks == 1


@pytest.mark.parametrize("size", [3, 8, 20])
def test_what_the_plan_fits_is_of_the_kit_and_told_apart(size: int) -> None:
    wires = wires_with(kit(PUBLISHED_E24), size, size)
    ringing, fitted = Ringout(wires.bundle), []
    while not isinstance(step := ringing.next_step(), Result):
        if isinstance(step, Fit):
            fitted.append([one.ohms for one in step.resistors])
        ringing.apply(step, wires.answer(document(step)))
    assert fitted
    for values in fitted:
        assert set(values) <= set(kit(PUBLISHED_E24))
        for one, two in combinations(sorted(set(values)), 2):
            assert two * 0.9 * 0.98 > (one * 1.1 + MOST_LOOP_OHM) * 1.02 or two * 0.95 * 0.98 > (
                one * 1.05 + MOST_LOOP_OHM
            ) * (1 + METER_SHARE)


def test_the_resistor_that_proves_a_match_is_told() -> None:
    wires = wires_with(kit(PUBLISHED_E12), 5, 3)
    ringing = Ringout(wires.bundle)
    read: dict[str, float] = {}
    while not isinstance(step := ringing.next_step(), Result):
        answer = wires.answer(document(step))
        if isinstance(step, Probe) and isinstance(answer["ohms"], float):
            read[next(end for end in step.between if end != "raceway")] = answer["ohms"]
        ringing.apply(step, answer)
    for match in ringing.result().matches:
        told = " ".join(ringing.why(match.near))
        shown = max(read[end] for end in (match.near, match.far) if end in read)
        assert f" read {shown:g} Ω to raceway in the far box" in told
