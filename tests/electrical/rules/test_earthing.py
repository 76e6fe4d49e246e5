# SPDX-License-Identifier: MIT
"""Earthing conductors: present and large enough, by NEC 250.122 and IEC 60364-5-54."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from wiretrack.electrical.codes import Code
from wiretrack.electrical.rules.earthing import (
    earthing_size,
    protective_area_mm2,
    smallest_earthing,
)
from wiretrack.errors import OutOfRangeError, TableEntryError
from wiretrack.records import Circuit

if TYPE_CHECKING:
    from tests.electrical.conftest import Make


# NEC table 250.122, as an adopted code prints it (original not seen).
@pytest.mark.parametrize(
    ("amperes", "copper", "aluminium"),
    [
        (15, "14 AWG", "12 AWG"), (16, "12 AWG", "10 AWG"), (20, "12 AWG", "10 AWG"),
        (30, "10 AWG", "8 AWG"), (60, "10 AWG", "8 AWG"), (61, "8 AWG", "6 AWG"),
        (100, "8 AWG", "6 AWG"), (200, "6 AWG", "4 AWG"), (300, "4 AWG", "2 AWG"),
        (400, "3 AWG", "1 AWG"), (800, "1/0 AWG", "3/0 AWG"), (2000, "250 kcmil", "400 kcmil"),
        (4000, "500 kcmil", "750 kcmil"), (6000, "800 kcmil", "1250 kcmil"),
    ],
)  # fmt: skip
def test_the_smallest_conductor_is_that_of_table_250_122(
    amperes: float, copper: str, aluminium: str
) -> None:
    assert smallest_earthing(amperes, "Cu").text == copper
    assert smallest_earthing(amperes, "Al").text == aluminium


# IEC 60364-5-54 table 54.2, which is BS 7671 table 54.7 (reprints; originals not seen).
@pytest.mark.parametrize(
    ("line", "protective"),
    [(1.5, 1.5), (16, 16), (25, 16), (35, 16), (50, 25), (70, 35), (120, 60), (300, 150)],
)
def test_the_least_area_is_that_of_table_54_2(line: float, protective: float) -> None:
    assert protective_area_mm2(line) == protective


@pytest.mark.parametrize("amperes", [0, -5, float("nan")])
def test_impossible_ratings_are_refused(amperes: float) -> None:
    with pytest.raises(OutOfRangeError):
        smallest_earthing(amperes, "Cu")
    with pytest.raises(OutOfRangeError):
        protective_area_mm2(amperes)


def test_beyond_the_table_its_last_row_is_named() -> None:
    with pytest.raises(TableEntryError, match="6000 A"):
        smallest_earthing(6001, "Cu")
    with pytest.raises(TableEntryError):
        smallest_earthing(20, "Fe")


def branch(rating: float | None = 20) -> Circuit:
    return Circuit(code="C", system="ac-1ph", overcurrent_a=rating)


@pytest.mark.parametrize(
    ("size", "rating", "outcome"),
    [
        ("12 AWG", 20, "pass"),
        ("14 AWG", 20, "fail"),
        ("10 AWG", 60, "pass"),
        ("12 AWG", 60, "fail"),
    ],
)
def test_a_protective_conductor_is_held_against_the_largest_device(
    size: str, rating: float, outcome: str, make: type[Make]
) -> None:
    small = Circuit(code="D", system="ac-1ph", overcurrent_a=15)
    wires = [
        make.wire("6 AWG", "L1", branch(rating)), make.wire(size, "PE", branch(rating)),
        make.wire("14 AWG", "L1", small),
    ]  # fmt: skip
    (finding,) = earthing_size(make.run(*wires), make.nec)
    assert finding.outcome == outcome, finding.reason
    assert finding.source == "NEC 2023 table 250.122"


def test_it_need_not_be_larger_than_the_circuit_conductors(make: type[Make]) -> None:
    # NEC 250.122(A): not required to be larger than the circuit conductors, as for motor circuits.
    wires = [make.wire("12 AWG", "L1", branch(60)), make.wire("12 AWG", "PE", branch(60))]
    (finding,) = earthing_size(make.run(*wires), make.nec)
    assert finding.outcome == "pass"
    assert "250.122(A)" in finding.reason


@pytest.mark.parametrize(
    ("facts", "outcome"),
    [
        ({"type": "RMC"}, "pass"), ({"type": "EMT"}, "pass"), ({"type": "IMC"}, "pass"),
        ({"type": "PVC-80"}, "fail"), ({"type": "ENT"}, "fail"), ({"type": None}, "doubt"),
        ({"type": "FMC", "metal": True}, "doubt"), ({"type": "trough", "metal": False}, "fail"),
    ],
)  # fmt: skip
def test_without_a_conductor_it_depends_on_the_raceway(
    facts: dict[str, object], outcome: str, make: type[Make]
) -> None:
    run = make.run(make.wire("12 AWG", "L1", branch()), **facts)  # type: ignore[arg-type]
    (finding,) = earthing_size(run, make.nec)
    assert finding.outcome == outcome, finding.reason
    assert "250.118" in finding.source


def test_unknown_facts_are_named(make: type[Make]) -> None:
    wires = [make.wire("12 AWG", "L1", branch(None)), make.wire("12 AWG", "PE", branch(None))]
    (finding,) = earthing_size(make.run(*wires), make.nec)
    assert finding.reason == "unknown: rating of the overcurrent device of C"
    odd = make.wire("a thick one", "PE", branch())
    (size,) = earthing_size(make.run(make.wire("12 AWG", "L1", branch()), odd), make.nec)
    assert "size of the PE" in size.reason
    bare = make.wire("12 AWG", "PE", branch(), metal=None)
    (metal,) = earthing_size(make.run(make.wire("12 AWG", "L1", branch()), bare), make.nec)
    assert "metal of the PE" in metal.reason


def test_one_unknown_device_among_known_ones_leaves_a_doubt(make: type[Make]) -> None:
    other = Circuit(code="D", system="ac-1ph")
    wires = [
        make.wire("12 AWG", "L1", branch(20)), make.wire("12 AWG", "PE", branch(20)),
        make.wire("12 AWG", "L1", other),
    ]  # fmt: skip
    (finding,) = earthing_size(make.run(*wires), make.nec)
    assert finding.outcome == "doubt"
    assert "overcurrent device of D" in finding.reason


def test_pv_circuits_without_a_device_are_held_to_an_assumed_one(make: type[Make]) -> None:
    # NEC 690.45 with 690.9(B): 1.56 x Isc; 11.2 A x 3 strings makes 52.5 A, so 10 AWG (60 A row).
    array = Circuit(code="S", system="dc-pv", module_isc_a=11.2, strings_in_parallel=3)
    wires = [make.wire("4 AWG", "L+", array), make.wire("10 AWG", "PE", array)]
    (finding,) = earthing_size(make.run(*wires), make.nec)
    assert finding.outcome == "pass"
    assert "52.5 A" in finding.reason


@pytest.mark.parametrize(
    ("line", "earth", "outcome"),
    [("4 mm2", "4 mm2", "pass"), ("4 mm2", "2.5 mm2", "doubt"), ("35 mm2", "16 mm2", "pass")],
)
def test_the_iec_compares_with_the_line_conductor(
    line: str, earth: str, outcome: str, make: type[Make]
) -> None:
    wires = [make.wire(line, "L1", branch()), make.wire(earth, "PE", branch())]
    (finding,) = earthing_size(make.run(*wires), make.iec)
    assert finding.outcome == outcome, finding.reason
    assert finding.source == "IEC 60364-5-54:2011 table 54.2"


def test_the_iec_doubts_other_metals_missing_and_lone_conductors(make: type[Make]) -> None:
    mixed = [make.wire("50 mm2", "L1", branch(), metal="Al"), make.wire("25 mm2", "PE", branch())]
    assert earthing_size(make.run(*mixed), make.iec)[0].outcome == "doubt"
    (absent,) = earthing_size(make.run(make.wire("4 mm2", "L1", branch())), make.iec)
    assert "double insulation" in absent.reason
    (alone,) = earthing_size(make.run(make.wire("4 mm2", "PE", branch())), make.iec)
    assert "size of the lines" in alone.reason


def test_signal_circuits_and_unknown_codes_have_no_rule(make: type[Make]) -> None:
    signal = Circuit(code="S", system="signal")
    assert earthing_size(make.run(make.wire("18 AWG", "signal", signal)), make.nec) == []
    assert earthing_size(make.run(make.wire("12 AWG", "L1", branch())), Code(None)) == []
