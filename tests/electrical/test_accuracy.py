# SPDX-License-Identifier: MIT
"""Uncertainty of readings against the worked figures of JCGM 100."""

from __future__ import annotations

from math import sqrt

import pytest

from wiretrack.electrical.accuracy import (
    UNKNOWN_METER,
    Meter,
    combined,
    meter_of,
    parse_accuracy,
    standard_uncertainty,
)
from wiretrack.electrical.quantities import Measured, parse_resistance
from wiretrack.errors import BadInputError, OutOfRangeError, QuantityError
from wiretrack.readings import parse_reading


def reading(number: float, step: float | None = None) -> Measured:
    return Measured(number, "ohm", False, str(number), step)


def test_a_stated_bound_becomes_a_standard_uncertainty_as_in_jcgm_100_4_3_7() -> None:
    # Example of 4.3.7: a bound of 0.40 (of an expansion coefficient) gives u = 0.23.
    meter = Meter(parse_accuracy("0.40%"))
    assert standard_uncertainty(reading(100), meter) == pytest.approx(0.23, abs=0.005)


def test_the_step_of_a_display_adds_0_29_of_itself_as_in_jcgm_100_f_2_2_1() -> None:
    # F.2.2.1: u = 0.29 dx for an indication with step dx.
    meter = Meter(parse_accuracy("0%"), resolution=1.0)
    assert standard_uncertainty(reading(100), meter) == pytest.approx(0.29, abs=0.005)


def test_percent_and_digits_add_up_to_the_bound() -> None:
    accuracy = parse_accuracy("0.5% + 2 digits")
    assert accuracy.half_width(0.30, 0.01) == pytest.approx(0.0015 + 0.02)
    assert accuracy.half_width(0.30, None) is None
    assert parse_accuracy("1%").half_width(200, None) == pytest.approx(2)


@pytest.mark.parametrize(
    ("text", "percent", "digits"),
    [
        ("0.5% + 2 digits", 0.5, 2), ("±(0.5% rdg + 2 dgt)", 0.5, 2), ("1%", 1, 0),
        ("3 digits", 0, 3), ("+/- 0.5 % of reading + 1 count", 0.5, 1), ("2 digits + 1%", 1, 2),
        ("1.5% reading + 5d", 1.5, 5),
    ],
)  # fmt: skip
def test_accuracies_are_read_as_manuals_print_them(text: str, percent: float, digits: int) -> None:
    accuracy = parse_accuracy(text)
    assert (accuracy.percent, accuracy.digits) == (percent, digits)


@pytest.mark.parametrize(
    "text", ["", "good", "1% + 1%", "2 digits + 3 digits", "5", "1 % of range"]
)
def test_what_is_no_accuracy_is_refused(text: str) -> None:
    with pytest.raises(QuantityError, match=r"0.5% \+ 2 digits"):
        parse_accuracy(text)


def test_absurd_accuracy_and_resolution_are_refused() -> None:
    with pytest.raises(OutOfRangeError):
        parse_accuracy("900%")
    with pytest.raises(BadInputError):
        meter_of("1%", "0 ohm")


def test_an_unknown_accuracy_gives_no_uncertainty_rather_than_a_guess() -> None:
    assert standard_uncertainty(reading(1), UNKNOWN_METER) is None
    assert standard_uncertainty(reading(1), Meter(parse_accuracy("1% + 2 digits"))) is None
    assert standard_uncertainty(parse_resistance("OL"), meter_of("1%", "0.01 ohm")) is None


def test_the_step_is_the_meters_then_the_typed_one() -> None:
    meter = meter_of("0.5% + 2 digits", "0.01 ohm")
    assert meter.step_at(parse_resistance("0.3")) == 0.01
    assert meter.step_at(parse_resistance("500M")) == 1e6  # far above its lowest range
    assert UNKNOWN_METER.step_at(parse_resistance("0.30")) == 0.01
    assert meter.step_at(parse_reading("voltage", "400 V")) == 1  # a resolution in ohm says nothing


def test_independent_parts_add_as_squares() -> None:
    # JCGM 100:2008, 5.1.2, equation (10) with all sensitivities 1.
    assert combined(3, 4) == 5
    assert combined(1, 1, 1) == pytest.approx(sqrt(3))
