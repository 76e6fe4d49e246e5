# SPDX-License-Identifier: MIT
"""From a resistance back to a length: by a published table, and there and back."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wiretrack.electrical.resistance import compare_length, expected_resistance, likely_length
from wiretrack.errors import OutOfRangeError


def test_a_shorted_pair_of_1_ohm_ends_at_half_the_length_that_1_ohm_of_wire_has() -> None:
    # By hand: 14 AWG stranded has 3.14 ohm per 1000 ft at 75 °C (NEC chapter 9 table 8), so that
    # 1.00 ohm out and back is 1000 / 3.14 / 2 = 159.2 ft away.
    found = likely_length(1.00 / 2, "14 AWG", 75, "Cu", 7)
    assert found.length_m / 0.3048 == pytest.approx(159.2, abs=0.05)


@given(length_m=st.floats(0.5, 5000), temp_c=st.floats(-40, 90))
def test_the_length_comes_back_from_its_own_resistance(length_m: float, temp_c: float) -> None:
    ohms = expected_resistance("10 AWG", length_m, temp_c, "Cu", 7).ohms
    found = likely_length(ohms, "10 AWG", temp_c, "Cu", 7, u_ohms=ohms * 0.01)
    assert found.length_m == pytest.approx(length_m, rel=1e-9)
    assert found.low_m < length_m < found.high_m


def test_a_conductor_40_percent_longer_than_its_route_is_on_another_one() -> None:
    ohms = expected_resistance("12 AWG", 46 * 1.4, 20, "Cu", 7).ohms
    compared = compare_length(likely_length(ohms, "12 AWG", 20, "Cu", 7, 0.005), 46)
    assert not compared.agrees
    assert compared.length_m / compared.route_m == pytest.approx(1.4)
    assert "40% longer, so it is on another route" in compared.reason
    assert "common practice" in compared.source


def test_a_conductor_far_shorter_than_its_route_is_on_another_one() -> None:
    ohms = expected_resistance("12 AWG", 20, 20, "Cu", 7).ohms
    compared = compare_length(likely_length(ohms, "12 AWG", 20, "Cu", 7, 0.005), 46)
    assert not compared.agrees
    assert "57% shorter" in compared.reason


def test_slack_in_the_boxes_is_allowed_for() -> None:
    ohms = expected_resistance("12 AWG", 48, 20, "Cu", 7).ohms
    assert compare_length(likely_length(ohms, "12 AWG", 20, "Cu", 7, 0.005), 46).agrees


def test_an_uncertain_reading_widens_the_range() -> None:
    sure = likely_length(0.25, "12 AWG", 20, "Cu", 7, 0.001)
    unsure = likely_length(0.25, "12 AWG", 20, "Cu", 7, 0.02)
    assert unsure.low_m < sure.low_m < sure.high_m < unsure.high_m


@pytest.mark.parametrize("ohms", [0, -0.1, float("nan"), float("inf")])
def test_no_length_follows_from_an_impossible_resistance(ohms: float) -> None:
    with pytest.raises(OutOfRangeError):
        likely_length(ohms, "12 AWG", 20, "Cu")


def test_an_impossible_route_is_refused() -> None:
    with pytest.raises(OutOfRangeError, match="Route length is 0 m"):
        compare_length(likely_length(0.2, "12 AWG", 20, "Cu"), 0)
