# SPDX-License-Identifier: MIT
"""Voltage readings: the sign proves polarity, and the value must be one the circuit can have."""

from __future__ import annotations

from itertools import product
from typing import Any

import pytest

from wiretrack.electrical.accuracy import meter_of
from wiretrack.electrical.supplies import CircuitFacts
from wiretrack.electrical.voltage import expected_sign, voltage_verdict
from wiretrack.errors import OutOfRangeError
from wiretrack.readings import parse_reading

METER = meter_of("0.5% + 2 digits", "0.1 V")
# Potentials of the poles of an earthed-midpoint system by definition (IEC 60445: L+, M, L-).
POTENTIAL = {"L+": 1, "M": 0, "PE": 0, "L-": -1}


def outcome(
    text: str, function: str | None, against: str | None = None, **facts: Any
) -> tuple[str, str]:
    verdict = voltage_verdict(
        parse_reading("voltage", text),
        CircuitFacts(**facts),
        function,
        against,
        meter=METER,
    )
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
        ("412V", "L+", "L-", "pass"), ("-412V", "L+", "L-", "fail"), ("-412V", "L-", "L+", "pass"),
        ("206V", "L-", "raceway", "fail"), ("-206V", "L+", "PE", "fail"),
        ("-3V", "L+", "L-", "doubt"), ("0.2V", "L+", "L-", "doubt"), ("412V", "L+", "L+", "doubt"),
        ("700V", "L+", "L-", "fail"), ("601V", "L+", "L-", "doubt"), ("OL", "L+", "L-", "doubt"),
        (">600V", "L+", "L-", "doubt"), ("412V", "M", None, "doubt"),
        ("412V", "signal", None, "doubt"),
        # Half of the highest voltage (common practice): below it something feeds it that shouldn't.
        ("301V", "L+", "L-", "pass"), ("290V", "L+", "L-", "doubt"), ("13V", "L+", "L-", "doubt"),
        # What the other lead touched isn't known, nor which point is connected to PE.
        ("412V", "L+", None, "doubt"), ("-412V", "L+", None, "fail"),
        ("-206V", "L-", "PE", "doubt"),
    ],
)  # fmt: skip
@pytest.mark.parametrize("system", ["dc", "dc-battery"])
def test_polarity_of_a_dc_circuit_of_at_most_600_v(
    text: str, function: str, against: str | None, expected: str, system: str
) -> None:
    found, reason = outcome(text, function, against, system=system, max_voltage_v=600)
    assert found == expected, reason


# By definition a midpoint halves the voltage between the poles (IEC 60445: L+, M, L-).
@pytest.mark.parametrize(
    ("text", "function", "against", "expected"),
    [
        ("26V", "L+", "M", "pass"), ("-26V", "L-", "M", "pass"), ("52V", "L+", "M", "fail"),
        ("-26V", "L+", "M", "fail"), ("26V", "L+", "PE", "pass"), ("-26V", "L-", "PE", "pass"),
        ("52V", "L+", "PE", "fail"), ("52V", "L+", "L-", "pass"), ("31V", "L+", "M", "doubt"),
    ],
)  # fmt: skip
def test_a_dc_circuit_of_58_v_with_an_earthed_midpoint_has_half_to_it(
    text: str, function: str, against: str, expected: str
) -> None:
    found, reason = outcome(
        text, function, against, system="dc-battery", max_voltage_v=58, solidly_earthed=True,
        functions=frozenset(("L+", "M", "L-", "PE")),
    )  # fmt: skip
    assert found == expected, reason


def test_without_l_minus_m_is_the_return_and_has_all_of_it() -> None:
    facts = {"system": "dc-battery", "max_voltage_v": 58, "functions": frozenset(("L+", "M"))}
    assert outcome("52V", "L+", "M", **facts)[0] == "pass"


def test_a_wrong_sign_says_what_to_think_of() -> None:
    _, reason = outcome("-412V", "L+", "L-", system="dc-pv")
    assert "reversed or the leads were swapped" in reason


def test_an_unknown_highest_voltage_leaves_the_sign_proved() -> None:
    found, reason = outcome("412V", "L+", "L-", system="dc")
    assert found == "pass"
    assert "highest voltage is unknown" in reason


def test_what_the_other_lead_touched_is_asked_for() -> None:
    for system, function in (("dc", "L+"), ("ac-1ph", "L1")):
        _, reason = outcome("52 V", function, system=system, max_voltage_v=58)
        assert "state what the other lead touched" in reason


def test_what_has_no_published_limit_is_a_doubt() -> None:
    assert outcome("12 V", "signal", system="signal")[0] == "doubt"
    assert outcome("12 V", "L1", system=None)[0] == "doubt"
    assert outcome("12 V", None, system="dc")[0] == "doubt"
    assert outcome("231 V", "L1", "N", system="ac-3ph")[0] == "doubt"


def test_an_unknown_meter_is_allowed_3_percent_as_common_practice() -> None:
    facts = CircuitFacts("dc", 600)
    verdict = voltage_verdict(parse_reading("voltage", "610 V"), facts, "L+", "L-")
    assert verdict.outcome == "doubt"
    assert "common practice" in verdict.reason


def test_an_impossible_highest_voltage_is_refused() -> None:
    with pytest.raises(OutOfRangeError):
        outcome("1 V", "L+", system="dc", max_voltage_v=float("nan"))


def test_no_sign_follows_against_a_conductor_of_another_kind() -> None:
    assert expected_sign("L+", "L1") is None
    assert expected_sign("signal", "PE") is None


@pytest.mark.parametrize(
    ("text", "resolution", "figure"),
    [
        ("601 V", "1 V", "2 digits of 1 V"), ("601.0 V", "0.1 V", "0.5 % of the reading"),
        ("590.0 V", "0.1 V", None),
    ],
)  # fmt: skip
def test_a_doubt_about_a_voltage_names_the_figure_of_the_meter_that_leaves_it(
    text: str, resolution: str, figure: str | None
) -> None:
    # By hand at 601 V: 2 digits of 1 V are 2 V, 0.1 % is 0.6 V; 0.5 % is 3 V, 2 digits 0.2 V.
    accuracy = "0.1% + 2 digits" if resolution == "1 V" else "0.5% + 2 digits"
    verdict = voltage_verdict(
        parse_reading("voltage", text), CircuitFacts(system="dc", max_voltage_v=600.0), "L+", "L-",
        meter=meter_of(accuracy, resolution),
    )  # fmt: skip
    assert verdict.outcome == ("doubt" if figure else "pass")
    assert ("mostly from the instrument's" in verdict.reason) is bool(figure)
    assert (figure or "") in verdict.reason
