# SPDX-License-Identifier: MIT
"""Earthing conductors: present and large enough, by NEC 250.122 and IEC 60364-5-54."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from wiretrack.electrical.rules.earthing import (
    earthing_size,
    protective_area_mm2,
    smallest_earthing,
)
from wiretrack.electrical.runs import Termination
from wiretrack.electrical.tables import Code
from wiretrack.errors import OutOfRangeError, TableEntryError
from wiretrack.model.entities import Circuit
from wiretrack.model.parts import Device

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
    ("line", "size", "rating", "outcome"),
    [
        ("12 AWG", "12 AWG", 20, "pass"),
        ("12 AWG", "14 AWG", 20, "fail"),
        ("6 AWG", "10 AWG", 60, "pass"),
        ("6 AWG", "12 AWG", 60, "fail"),
    ],
)
def test_a_protective_conductor_is_held_against_the_largest_device(
    line: str, size: str, rating: float, outcome: str, make: type[Make]
) -> None:
    small = Circuit(code="D", system="ac-1ph", overcurrent_a=15)
    wires = [
        make.wire(line, "L1", branch(rating)), make.wire(size, "PE", branch(rating)),
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


# NEC 250.122(B) by hand, areas in circular mils of chapter 9 table 8: 250 A on a 300 A device take
# 250 kcmil (255 A at 75 °C); 350 kcmil are 1.4 times that, and 1.4 x 41 740 (4 AWG) is 58 436, so
# 2 AWG (66 360) does and 3 AWG (52 620) doesn't. 12 AWG raised to 10 or 6 AWG raises its PE as far.
@pytest.mark.parametrize(
    ("line", "load", "rating", "earth", "outcome"),
    [
        ("250 kcmil", 250, 300, "4 AWG", "pass"), ("350 kcmil", 250, 300, "2 AWG", "pass"),
        ("350 kcmil", 250, 300, "3 AWG", "fail"), ("350 kcmil", 250, 300, "4 AWG", "fail"),
        ("12 AWG", 16, 20, "12 AWG", "pass"), ("10 AWG", 16, 20, "12 AWG", "fail"),
        ("10 AWG", 16, 20, "10 AWG", "pass"), ("6 AWG", 16, 20, "8 AWG", "fail"),
        ("6 AWG", 16, 20, "6 AWG", "pass"),
    ],
)  # fmt: skip
def test_it_grows_with_conductors_that_are_larger_than_needed(
    line: str, load: float, rating: float, earth: str, outcome: str, make: type[Make]
) -> None:
    of = Circuit(code="C", system="ac-1ph", max_current_a=load, overcurrent_a=rating,
                 continuous=False, motor=False)  # fmt: skip
    wires = [make.wire(size, f, of) for size, f in ((line, "L1"), (line, "N"), (earth, "PE"))]
    (finding,) = earthing_size(make.run(*wires, wet=False, ambient_c=30, length_m=9), make.nec)
    assert finding.outcome == outcome, finding.reason
    if outcome == "fail":
        assert finding.source == "NEC 2023 250.122(B)"
        assert finding.limit is not None


def test_what_corrections_ask_for_is_no_increase_and_pv_is_exempt(make: type[Make]) -> None:
    # Nine conductors at 50 °C: 12 AWG has 30 x 0.82 x 0.7 = 17.2 A, too little for 18 A.
    of = Circuit(code="C", system="ac-1ph", max_current_a=18, overcurrent_a=20, continuous=False)
    others = [
        make.wire("12 AWG", "L1", Circuit(code=f"D{i}", system="ac-1ph", overcurrent_a=15))
        for i in range(7)
    ]
    own = [make.wire(s, f, of) for s, f in (("10 AWG", "L1"), ("10 AWG", "N"), ("12 AWG", "PE"))]
    small = [make.wire("14 AWG", "L1", w.circuit) for w in others]
    crowded = make.run(*own, *small, wet=False, ambient_c=50, length_m=9)
    assert earthing_size(crowded, make.nec)[0].outcome == "pass"
    alone = make.run(*own, wet=False, ambient_c=30, length_m=9)
    assert earthing_size(alone, make.nec)[0].outcome == "fail"
    # NEC 690.45: no increase against voltage drop. A 60 A device takes 10 AWG whatever the lines.
    array = Circuit(code="S", system="dc-pv", max_current_a=42, overcurrent_a=60)
    wires = [make.wire("1 AWG", "L+", array), make.wire("10 AWG", "PE", array)]
    assert earthing_size(make.run(*wires, wet=False), make.nec)[0].outcome == "pass"


# Table 310.16: for a 50 A device 8 AWG does at 75 °C (50 A), at 60 °C (40 A) it takes 6 AWG.
@pytest.mark.parametrize(("marked", "outcome"), [(None, "doubt"), (75, "fail"), (60, "pass")])
def test_what_would_do_may_hang_on_the_terminals(
    marked: float | None, outcome: str, make: type[Make]
) -> None:
    of = Circuit(code="C", system="ac-1ph", max_current_a=38, overcurrent_a=50, continuous=False)
    at = Device(enclosure="A", code="Q1", kind="breaker", termination_rating_c=marked)
    ends = (Termination("A/Q1:2", (at,)),)
    lines = [replace(make.wire("6 AWG", f, of), terminations=ends) for f in ("L1", "N")]
    run = make.run(*lines, make.wire("10 AWG", "PE", of), wet=False, ambient_c=30, length_m=9)
    (finding,) = earthing_size(run, make.nec)
    assert finding.outcome == outcome, finding.reason
    assert ("termination_rating" in finding.reason) == (outcome == "doubt")
    older = earthing_size(run, Code("NEC", 2017))[0]
    assert "qualified person" not in older.reason
