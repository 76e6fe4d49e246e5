# SPDX-License-Identifier: MIT
"""Colours by function: NEC 200.6, 210.5, 250.119 and 690.31(B), and IEC 60445."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pytest

from wiretrack.electrical.rules.colour import colour
from wiretrack.electrical.tables import Code
from wiretrack.model.entities import Circuit
from wiretrack.model.parts import End

if TYPE_CHECKING:
    from tests.electrical.conftest import Make
    from wiretrack.electrical.runs import Wire

STRING = Circuit(code="S", system="dc-pv")
EARTHED = Circuit(code="G", system="dc-pv", solidly_earthed=True)
FLOATING = Circuit(code="F", system="dc-pv", solidly_earthed=False)
BATTERY = Circuit(code="B", system="dc-battery", max_voltage_v=96)
LOW = Circuit(code="L", system="dc-battery", max_voltage_v=48)
SIGNAL = Circuit(code="X", system="signal")


# NEC 2023, read in adopted codes: 200.6(A) and (B), 210.5(C)(2), 250.119(A) and (B), 690.31(B).
@pytest.mark.parametrize(
    ("function", "code", "size", "outcome", "section"),
    [
        ("PE", "GN", "12 AWG", "pass", "250.119"), ("PE", "GNYE", "12 AWG", "pass", "250.119"),
        ("PE", "BK", "12 AWG", "fail", "250.119"), ("PE", "BK", "4 AWG", "doubt", "250.119"),
        ("N", "WH", "12 AWG", "pass", "200.6"), ("N", "GY", "12 AWG", "pass", "200.6"),
        ("N", "BKWH", "12 AWG", "pass", "200.6"), ("N", "BU", "12 AWG", "fail", "200.6"),
        ("N", "BK", "4 AWG", "doubt", "200.6"), ("N", "BK", "6 AWG", "fail", "200.6"),
        ("L1", "BK", "12 AWG", "pass", "200.7"), ("L1", "WH", "12 AWG", "fail", "200.7"),
        ("L1", "GN", "12 AWG", "fail", "250.119"), ("L1", "GNYE", "2 AWG", "fail", "250.119"),
    ],
)  # fmt: skip
def test_ac_colours_by_the_nec(
    function: str, code: str, size: str, outcome: str, section: str, make: type[Make]
) -> None:
    (finding,) = colour(make.wire(size, function, colour=code), make.nec)
    assert finding.outcome == outcome, finding.reason
    assert section in finding.source


@pytest.mark.parametrize(
    ("circuit", "function", "code", "outcome"),
    [
        (STRING, "L+", "RD", "pass"), (STRING, "L+", "BK", "pass"), (STRING, "L-", "BK", "pass"),
        (STRING, "L-", "RD", "fail"), (STRING, "L+", "GN", "fail"), (STRING, "L-", "WH", "doubt"),
        (EARTHED, "L-", "WH", "pass"), (FLOATING, "L-", "WH", "fail"),
        (FLOATING, "L+", "GY", "fail"),
        (BATTERY, "L+", "RD", "pass"), (BATTERY, "L-", "BK", "pass"), (BATTERY, "L+", "BK", "fail"),
        (BATTERY, "L-", "RD", "fail"), (BATTERY, "L+", "BU", "doubt"), (LOW, "L+", "BU", "pass"),
    ],
)  # fmt: skip
def test_dc_colours_by_the_nec(
    circuit: Circuit, function: str, code: str, outcome: str, make: type[Make]
) -> None:
    (finding,) = colour(make.wire("10 AWG", function, circuit, colour=code), make.nec)
    assert finding.outcome == outcome, finding.reason


def test_a_red_negative_was_not_yet_forbidden_in_2017(make: type[Make]) -> None:
    wire = make.wire("10 AWG", "L-", STRING, colour="RD")
    assert colour(wire, Code("NEC", 2017))[0].outcome == "pass"
    assert colour(wire, Code("NEC", 2020))[0].outcome == "fail"


def test_green_in_limited_power_cables_is_excepted(make: type[Make]) -> None:
    (finding,) = colour(make.wire("18 AWG", "signal", SIGNAL, colour="GN"), make.nec)
    assert finding.outcome == "doubt"
    (white,) = colour(make.wire("18 AWG", "signal", SIGNAL, colour="WH"), make.nec)
    assert white.outcome == "pass"


def test_a_bare_earthing_conductor_is_right(make: type[Make]) -> None:
    wire = make.wire("8 AWG", "PE", insulation="bare", colour="BN")
    assert colour(wire, make.nec)[0].outcome == "pass"


# IEC 60445: PE green-yellow, N and M blue, lines brown, black, grey preferred; DC from memory.
@pytest.mark.parametrize(
    ("function", "code", "outcome"),
    [
        ("PE", "GNYE", "pass"), ("PE", "GN", "fail"), ("PE", "BK", "fail"), ("PEN", "GNYE", "pass"),
        ("PEN", "BUGNYE", "pass"), ("PEN", "BU", "fail"), ("N", "BU", "pass"), ("N", "BK", "fail"),
        ("M", "BU", "pass"), ("L1", "BN", "pass"), ("L2", "BK", "pass"), ("L3", "GY", "pass"),
        ("L1", "RD", "doubt"), ("L1", "BU", "doubt"), ("L1", "GNYE", "fail"), ("L1", "GN", "doubt"),
        ("L+", "RD", "pass"), ("L-", "WH", "pass"), ("L-", "BK", "doubt"), ("FE", "PK", "pass"),
        ("signal", "WH", "pass"), ("signal", "GNYE", "fail"),
    ],
)  # fmt: skip
def test_colours_by_iec_60445(function: str, code: str, outcome: str, make: type[Make]) -> None:
    (finding,) = colour(make.wire("4 mm2", function, colour=code), make.iec)
    assert finding.outcome == outcome, finding.reason
    assert finding.source.startswith("IEC 60445")


def test_dc_colours_of_the_iec_say_how_unsure_they_are(make: type[Make]) -> None:
    (finding,) = colour(make.wire("4 mm2", "L-", STRING, colour="BK"), make.iec)
    assert finding.source == "IEC 60445 (2021; confidence in these colours: low)"


def test_an_unknown_or_unreadable_colour_is_a_doubt(make: type[Make]) -> None:
    (unknown,) = colour(make.wire("12 AWG", "N"), make.nec)
    assert (unknown.outcome, unknown.reason) == ("doubt", "unknown: colour")
    (odd,) = colour(make.wire("12 AWG", "N", colour="mauve"), make.nec)
    assert odd.outcome == "doubt"
    assert "'mauve' is not a colour" in odd.reason
    assert colour(make.wire("12 AWG", "N"), Code(None)) == []
    assert colour(make.wire("18 AWG", "signal", SIGNAL), make.nec) == []


def test_what_the_nec_does_not_name_is_not_judged(make: type[Make]) -> None:
    assert colour(make.wire("12 AWG", "FE", colour="PK"), make.nec) == []
    (pen,) = colour(make.wire("12 AWG", "PEN", colour="GNYE"), make.nec)
    assert pen.outcome == "doubt"


def taped(make: type[Make], size: str, function: str, colour_code: str, first: str | None,
          second: str | None, circuit: Circuit | None = None, **facts: Any) -> Wire:  # fmt: skip
    wire = make.wire(size, function, circuit, colour=colour_code, **facts)
    ends = (End(enclosure="A", reidentified=first), End(enclosure="B", reidentified=second))
    return replace(
        wire, conductor=replace(wire.conductor, from_end=ends[0], to_end=ends[1])
    )  # fmt: skip


@pytest.mark.parametrize(
    ("size", "function", "insulation", "first", "second", "outcome"),
    # NEC 250.119(A) (2023: (B)) and 200.6: 4 AWG and larger may be marked at both ends, 6 AWG and
    # smaller have their colour along their length (copies of 2017 and 2020).
    [
        ("4 AWG", "PE", "BK", "GN", "GN", "pass"), ("4 AWG", "PE", "BK", "GNYE", "GN", "pass"),
        ("4 AWG", "PE", "BK", "GN", None, "doubt"), ("4 AWG", "PE", "BK", None, None, "doubt"),
        ("4 AWG", "PE", "BK", "GN", "RD", "fail"), ("6 AWG", "PE", "BK", "GN", "GN", "fail"),
        ("4 AWG", "N", "BK", "WH", "WH", "pass"), ("4 AWG", "N", "BK", "WH", "GY", "pass"),
        ("4 AWG", "N", "BK", "WH", None, "doubt"), ("6 AWG", "N", "BK", "WH", "WH", "fail"),
        ("12 AWG", "N", "WH", None, None, "pass"), ("12 AWG", "N", "WH", "RD", "RD", "fail"),
        ("12 AWG", "PE", "GN", "WH", None, "fail"), ("2 AWG", "L1", "BK", "GN", "GN", "fail"),
        ("2 AWG", "L1", "BK", "WH", None, "fail"), ("2 AWG", "L1", "BK", "RD", "RD", "pass"),
    ],
)  # fmt: skip
def test_large_conductors_may_be_identified_at_both_ends(
    size: str, function: str, insulation: str, first: str | None, second: str | None,
    outcome: str, make: type[Make],
) -> None:  # fmt: skip
    (finding,) = colour(taped(make, size, function, insulation, first, second), make.nec)
    assert finding.outcome == outcome, finding.reason
    if outcome == "doubt":
        assert "state reidentified of" in finding.reason
    if insulation == "BK" and function == "PE" and outcome != "fail":
        assert finding.source == "NEC 2023 250.119(B)"


def test_a_white_line_is_right_marked_in_a_cable_and_below_50_volts(make: type[Make]) -> None:
    # NEC 200.7(C)(1) and (B) (copy of 2017).
    branch = Circuit(code="C", system="ac-1ph", max_voltage_v=240)
    low = Circuit(code="C", system="ac-1ph", max_voltage_v=24)
    cases: list[tuple[Circuit, str | None, str | None, str | None, str]] = [
        (branch, "BK", "BK", "2", "pass"), (branch, "BK", "BK", None, "doubt"),
        (branch, "BK", None, "2", "fail"), (branch, None, None, None, "fail"),
        (branch, "BK", "WH", "2", "fail"), (low, None, None, None, "pass"),
    ]  # fmt: skip
    for circuit, first, second, core, outcome in cases:
        wire = taped(make, "12 AWG", "L1", "WH", first, second, circuit, core=core)
        assert colour(wire, make.nec)[0].outcome == outcome, (first, second, core)


def test_polarity_of_direct_current_may_be_marked_at_both_ends_from_4_awg_up(
    make: type[Make],
) -> None:
    # NEC 210.5(C)(2) (copy of 2017): marking tape for 4 AWG and larger.
    battery = Circuit(code="B", system="dc-battery", max_voltage_v=125)
    for size, first, second, outcome in (
        ("4 AWG", "RD", "RD", "pass"), ("4 AWG", "RD", None, "doubt"),
        ("4 AWG", "BK", None, "fail"),
        ("6 AWG", "RD", "RD", "doubt"),
    ):  # fmt: skip
        wire = taped(make, size, "L+", "BU", first, second, battery)
        assert colour(wire, make.nec)[0].outcome == outcome, (size, first, second)


@pytest.mark.parametrize(("edition", "outcome"), [(2014, "doubt"), (2017, "pass"), (2023, "pass")])
def test_polarity_counts_above_50_volts_in_2014_and_60_since(
    edition: int, outcome: str, make: type[Make]
) -> None:
    # NEC 210.5(C)(2): "more than 50 volts" in 2014, "more than 60 volts" in 2017 (reprints).
    battery = Circuit(code="B", system="dc-battery", max_voltage_v=56)
    wire = make.wire("6 AWG", "L+", battery, colour="BU")
    assert colour(wire, Code("NEC", edition))[0].outcome == outcome


def test_the_iec_takes_colours_at_both_ends_but_for_protective_conductors(
    make: type[Make],
) -> None:
    # IEC 60445: neutral blue; green-yellow is for protective conductors alone.
    for function, insulation, first, second, outcome in (
        ("N", "BK", "BU", "BU", "pass"),
        ("N", "BK", "BU", None, "fail"),
        ("N", "BU", "BN", None, "fail"),
        ("L1", "RD", "BN", "BN", "pass"),
        ("L1", "RD", None, None, "doubt"),
        ("PE", "BK", "GNYE", "GNYE", "fail"),
        ("PE", "GNYE", "BN", None, "fail"),
        ("PE", "GNYE", None, None, "pass"),
    ):
        wire = taped(make, "4 mm2", function, insulation, first, second)
        assert colour(wire, make.iec)[0].outcome == outcome, (function, insulation, first, second)
