# SPDX-License-Identifier: MIT
"""Voltage readings: the sign proves polarity, and the value must be one the circuit can have."""

from __future__ import annotations

from itertools import product
from math import sqrt

import pytest

from wiretrack.electrical.accuracy import meter_of
from wiretrack.electrical.polarity import expected_sign, voltage_verdict
from wiretrack.electrical.quantities import parse_reading
from wiretrack.errors import OutOfRangeError

METER = meter_of("0.5% + 2 digits", "0.1 V")
# Potentials of the poles of an earthed-midpoint system by definition (IEC 60445: L+, M, L-).
POTENTIAL = {"L+": 1, "M": 0, "PE": 0, "L-": -1}


def outcome(text: str, **facts: object) -> tuple[str, str]:
    verdict = voltage_verdict(parse_reading("voltage", text), meter=METER, **facts)  # type: ignore[arg-type]
    return verdict.outcome, verdict.reason


@pytest.mark.parametrize(("function", "against"), list(product(POTENTIAL, POTENTIAL)))
def test_the_expected_sign_is_that_of_the_difference_of_potentials(
    function: str, against: str
) -> None:
    difference = POTENTIAL[function] - POTENTIAL[against]
    assert expected_sign(function, against) == (difference > 0) - (difference < 0)


@pytest.mark.parametrize(
    ("text", "function", "against", "expected"),
    [
        ("412V", "L+", "L-", "pass"), ("-412V", "L+", "L-", "fail"), ("-206V", "L-", "PE", "pass"),
        ("206V", "L-", "raceway", "fail"), ("412V", "L+", None, "pass"),
        ("-3V", "L+", "L-", "doubt"),
        ("0.2V", "L+", "L-", "doubt"), ("412V", "L+", "L+", "doubt"), ("700V", "L+", "L-", "fail"),
        ("601V", "L+", "L-", "doubt"), ("OL", "L+", "L-", "doubt"), (">600V", "L+", "L-", "doubt"),
        ("412V", "M", None, "doubt"), ("412V", "signal", None, "doubt"),
    ],
)  # fmt: skip
def test_polarity_of_a_dc_circuit_of_at_most_600_v(
    text: str, function: str, against: str | None, expected: str
) -> None:
    found, reason = outcome(
        text, system="dc-pv", function=function, against=against, max_voltage_v=600
    )
    assert found == expected, reason


def test_a_wrong_sign_says_what_to_think_of() -> None:
    _, reason = outcome("-412V", system="dc-pv", function="L+", against="L-")
    assert "reversed or the leads were swapped" in reason


def test_an_unknown_highest_voltage_leaves_the_sign_proved() -> None:
    found, reason = outcome("412V", system="dc", function="L+", against="L-")
    assert found == "pass"
    assert "highest voltage is unknown" in reason


# IEC 60038: supply voltages within 10 % of nominal; line to neutral is 1/√3 of line to line.
@pytest.mark.parametrize(
    ("volts", "system", "against", "expected"),
    [
        (231, "ac-3ph", "N", "pass"), (400, "ac-3ph", "L2", "pass"), (400, "ac-3ph", "N", "fail"),
        (400 / sqrt(3) * 1.10 + 0.1, "ac-3ph", "N", "doubt"), (300, "ac-3ph", "PE", "fail"),
        (180, "ac-3ph", "PE", "fail"), (231, "ac-3ph", None, "doubt"),
        (-231, "ac-3ph", "N", "doubt"),
    ],
)  # fmt: skip
def test_a_line_of_400_v_reads_230_to_neutral_and_400_to_another_line(
    volts: float, system: str, against: str | None, expected: str
) -> None:
    found, reason = outcome(
        f"{volts:.1f} V", system=system, function="L1", against=against, max_voltage_v=400
    )
    assert found == expected, reason


def test_one_phase_may_have_a_midpoint() -> None:
    for text in ("120 V", "240 V"):
        found, _ = outcome(text, system="ac-1ph", function="L1", against="N", max_voltage_v=240)
        assert found == "pass"
    found, _ = outcome("180 V", system="ac-1ph", function="L1", against="N", max_voltage_v=240)
    assert found == "fail"


def test_what_has_no_published_limit_is_a_doubt() -> None:
    assert outcome("12 V", system="signal", function="signal")[0] == "doubt"
    assert outcome("12 V", system=None, function="L1")[0] == "doubt"
    assert outcome("12 V", system="dc", function=None)[0] == "doubt"
    assert outcome("231 V", system="ac-3ph", function="L1", against="N")[0] == "doubt"


def test_an_unknown_meter_is_allowed_3_percent_as_common_practice() -> None:
    verdict = voltage_verdict(
        parse_reading("voltage", "610 V"), system="dc-pv", function="L+", against="L-",
        max_voltage_v=600,
    )  # fmt: skip
    assert verdict.outcome == "doubt"
    assert "common practice" in verdict.reason


def test_an_impossible_highest_voltage_is_refused() -> None:
    with pytest.raises(OutOfRangeError):
        outcome("1 V", system="dc", function="L+", max_voltage_v=float("nan"))


def test_no_sign_follows_against_a_conductor_of_another_kind() -> None:
    assert expected_sign("L+", "L1") is None
    assert expected_sign("signal", "PE") is None
