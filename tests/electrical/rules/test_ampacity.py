# SPDX-License-Identifier: MIT
"""Ampacity against the printed tables by hand, and against the heat balance."""

from __future__ import annotations

from itertools import product
from math import sqrt
from typing import TYPE_CHECKING, Any

import pytest

from tests.drawing import each
from wiretrack.electrical.rules.ampacity import ampacity
from wiretrack.electrical.rules.conditions import (
    adjustment_factor,
    ambient_factor,
    table_ampacity,
)
from wiretrack.electrical.rules.load import carrying, load_of
from wiretrack.electrical.rules.protection import next_standard_rating
from wiretrack.electrical.tables import Code, load_table
from wiretrack.errors import OutOfRangeError, TableEntryError
from wiretrack.model.entities import Circuit
from wiretrack.model.parts import SiteFacts

if TYPE_CHECKING:
    from tests.electrical.conftest import Make
    from wiretrack.electrical.runs import Run

DRY: dict[str, Any] = {"wet": False, "ambient_c": 30.0, "length_m": 20.0}


def branch(amperes: float | None = 12, **facts: Any) -> Circuit:
    return Circuit(code="C", system="ac-1ph", max_voltage_v=120, max_current_a=amperes, **facts)


def pair(make: type[Make], size: str, circuit: Circuit, **facts: Any) -> Run:
    wires = [make.wire(size, function, circuit, insulation="THHN") for function in ("L1", "N")]
    return make.run(*wires, **{**DRY, **facts})


# By hand from the printed tables (reprints), at 90 °C: 310.16 has 40 A for 10 AWG, 30 A for 12 AWG,
# 95 A for 4 AWG; 310.15(B)(1) 0.82 up to 50 °C, 0.91 up to 40 °C, 0.76 up to 55 °C; 310.15(C)(1)
# 70 % for nine: 40 x 0.82 = 32.8 A, 30 x 0.70 = 21 A, 95 x 0.91 = 86.45 A, 30 x 0.76 = 22.8 A.
@pytest.mark.parametrize(
    ("size", "ambient_c", "count", "published"),
    [("10 AWG", 48.9, 3, 32.8), ("12 AWG", 30, 9, 21), ("4 AWG", 40, 3, 86.45),
     ("12 AWG", 55, 3, 22.8)],
)  # fmt: skip
def test_corrected_ampacity_is_the_product_of_the_three_tables(
    size: str, ambient_c: float, count: int, published: float
) -> None:
    found = (
        table_ampacity(size, "Cu", 90) * ambient_factor(ambient_c, 90) * adjustment_factor(count)
    )
    assert found == pytest.approx(published, abs=0.005)


# NEC table 310.16, in two reprints, one of the code of 2014 (original not seen).
@pytest.mark.parametrize(
    ("size", "metal", "amperes"),
    [
        ("14 AWG", "Cu", (15, 20, 25)), ("12 AWG", "Cu", (20, 25, 30)),
        ("10 AWG", "Cu", (30, 35, 40)), ("8 AWG", "Cu", (40, 50, 55)),
        ("6 AWG", "Cu", (55, 65, 75)), ("3 AWG", "Cu", (85, 100, 115)),
        ("1/0 AWG", "Cu", (125, 150, 170)), ("4/0 AWG", "Cu", (195, 230, 260)),
        ("500 kcmil", "Cu", (320, 380, 430)), ("6 AWG", "Al", (40, 50, 55)),
        ("4/0 AWG", "Al", (150, 180, 205)), ("500 kcmil", "Al", (260, 310, 350)),
    ],
)  # fmt: skip
def test_table_310_16_is_as_reprints_have_it(
    size: str, metal: str, amperes: tuple[int, int, int]
) -> None:
    assert tuple(table_ampacity(size, metal, rating) for rating in (60, 75, 90)) == amperes


# NEC 310.15(B), equation: factor = sqrt((Tc - Ta') / (Tc - Ta)) with Ta 30 °C; a row holds the
# factor of its upper temperature, to two figures.
@each(product(load_table("nec_310_15_ambient").rows, [60, 75, 90]))
def test_ambient_factors_follow_from_the_heat_balance(row: dict[str, str], rating: int) -> None:
    text, ambient = row[f"factor_{rating}c"], float(row["up_to_c"])
    if text:
        assert float(text) == pytest.approx(sqrt((rating - ambient) / (rating - 30)), abs=0.006)
    else:
        assert ambient >= rating


def test_the_adjustment_is_that_of_table_310_15_c_1() -> None:
    # As an adopted code prints it: 4-6 80, 7-9 70, 10-20 50, 21-30 45, 31-40 40, 41 up 35 %.
    expected = {1: 1, 3: 1, 4: 0.8, 6: 0.8, 7: 0.7, 9: 0.7, 10: 0.5, 20: 0.5, 21: 0.45, 30: 0.45}
    expected |= {31: 0.4, 40: 0.4, 41: 0.35, 200: 0.35}
    assert {count: adjustment_factor(count) for count in expected} == expected


def test_standard_ratings_are_the_next_ones_of_240_6() -> None:
    assert next_standard_rating(36.4) == 40
    assert next_standard_rating(40) == 40
    assert next_standard_rating(801) == 800  # 240.4(C): above 800 A the next lower one
    with pytest.raises(OutOfRangeError):
        next_standard_rating(0)


def test_sizes_the_table_lacks_are_refused_and_metric_ones_never_converted() -> None:
    with pytest.raises(TableEntryError, match="10"):
        table_ampacity("11 AWG", "Cu", 75)
    with pytest.raises(TableEntryError):
        table_ampacity("6 mm2", "Cu", 75)
    with pytest.raises(TableEntryError):
        table_ampacity("18 AWG", "Cu", 60)
    with pytest.raises(OutOfRangeError):
        table_ampacity("10 AWG", "Cu", 105)
    with pytest.raises(OutOfRangeError):
        ambient_factor(120, 90)
    with pytest.raises(OutOfRangeError):
        ambient_factor(float("nan"), 90)


def test_a_lightly_loaded_circuit_passes_with_all_its_figures(make: type[Make]) -> None:
    run = pair(make, "12 AWG", branch(12))
    (finding,) = ampacity(run.wires[0], run, make.nec)
    assert finding.outcome == "pass"
    assert (finding.figure, finding.limit, finding.unit) == (12, 20, "A")
    for part in ("310.16", "310.15(B)(1)", "310.15(C)(1)", "110.14(C)"):
        assert part in finding.source


def test_too_much_current_fails(make: type[Make]) -> None:
    run = pair(make, "12 AWG", branch(31))
    assert ampacity(run.wires[0], run, make.nec)[0].outcome == "fail"


def test_between_60_and_75_degrees_it_depends_on_the_terminals(make: type[Make]) -> None:
    run = pair(make, "12 AWG", branch(22))
    (finding,) = ampacity(run.wires[0], run, make.nec)
    assert finding.outcome == "doubt"
    assert "75 °C" in finding.reason


def test_small_conductors_have_a_largest_overcurrent_device(make: type[Make]) -> None:
    # NEC 240.4(D): 14 AWG 15 A, 12 AWG 20 A, 10 AWG 30 A copper.
    for size, amperes in (("14 AWG", 15), ("12 AWG", 20), ("10 AWG", 30)):
        right = pair(make, size, branch(10, overcurrent_a=amperes))
        assert ampacity(right.wires[0], right, make.nec)[0].outcome == "pass"
        wrong = pair(make, size, branch(10, overcurrent_a=amperes + 5))
        (finding,) = ampacity(wrong.wires[0], wrong, make.nec)
        assert (finding.outcome, finding.figure, finding.limit) == ("fail", amperes + 5, amperes)
        assert "240.4(D)" in finding.source


@pytest.mark.parametrize("edition", [2014, 2017, 2020, 2023])
def test_tables_are_cited_by_the_number_of_the_edition(edition: int, make: type[Make]) -> None:
    run = pair(make, "12 AWG", branch())
    source = ampacity(run.wires[0], run, Code("NEC", edition))[0].source
    assert (f"NEC {edition} table 310.15(B)(16)" in source) is (edition < 2020)
    assert (f"NEC {edition} table 310.16" in source) is (edition >= 2020)


def test_missing_facts_are_doubts_and_named(make: type[Make]) -> None:
    unknown = pair(make, "12 AWG", branch(None))
    assert "current" in ampacity(unknown.wires[0], unknown, make.nec)[0].reason
    cool = pair(make, "12 AWG", branch(12), ambient_c=None)
    (finding,) = ampacity(cool.wires[0], cool, make.nec)
    assert finding.outcome == "doubt"
    assert "ambient temperature" in finding.reason
    wire = make.wire("12 AWG", "L1", branch(12), insulation=None)
    run = make.run(wire, **DRY)
    assert ampacity(wire, run, make.nec)[0].outcome == "pass"  # even as 60 °C insulation
    bare = make.wire("12 AWG", "L1", branch(12), metal=None)
    assert "metal" in ampacity(bare, make.run(bare, **DRY), make.nec)[0].reason
    odd = make.wire("11 AWG", "L1", branch(12))
    assert "no entry '11 AWG" in ampacity(odd, make.run(odd, **DRY), make.nec)[0].reason


def test_the_sites_hottest_day_counts_where_the_raceway_has_none(make: type[Make]) -> None:
    wires = [make.wire("10 AWG", f, branch(12)) for f in ("L1", "N")]
    facts = {**DRY, "ambient_c": None}
    run = make.run(*wires, site=SiteFacts(ambient_max_c=44), **facts)
    (finding,) = ampacity(wires[0], run, make.nec)
    assert "34.8 A with 44 °C" in finding.reason  # 40 A x 0.87


def test_a_conductor_whose_type_must_stay_dry_has_no_rating_when_wet(make: type[Make]) -> None:
    run = pair(make, "12 AWG", branch(12), wet=True)
    (finding,) = ampacity(run.wires[0], run, make.nec)
    assert finding.outcome == "doubt"
    assert "a type for wet places" in finding.reason


def test_neutrals_of_three_phases_protective_and_signal_conductors_do_not_count(
    make: type[Make],
) -> None:
    three = Circuit(code="T", system="ac-3ph")
    wires = [make.wire("12 AWG", f, three) for f in ("L1", "L2", "L3", "N", "PE")]
    signal = make.wire("18 AWG", "signal", Circuit(code="S", system="signal"))
    assert carrying(make.run(*wires, signal)).most == 3
    one = [make.wire("12 AWG", f, Circuit(code="O", system="ac-1ph")) for f in ("L1", "N", "PE")]
    assert carrying(make.run(*one)).most == 2
    assert ampacity(wires[-1], make.run(*wires), make.nec) == []


# NEC 690.8(A)(1) and (B)(1) by hand, 125 % and again 125 % of Isc: 10.25 A gives 12.81 and 16.02 A,
# 8.8 A gives 11.0 and 13.75 A; four strings of 10 A are 40 A before any factor.
@pytest.mark.parametrize(
    ("isc", "strings", "maximum", "minimum"),
    [(10.25, 1, 12.8125, 16.0156), (8.8, 1, 11.0, 13.75), (10, 4, 50, 62.5)],
)
def test_pv_currents_are_those_of_690_8(
    isc: float, strings: int, maximum: float, minimum: float
) -> None:
    circuit = Circuit(code="S", system="dc-pv", module_isc_a=isc, strings_in_parallel=strings)
    load = load_of(circuit, Code("NEC", 2023))
    assert load is not None
    assert load.derated_a == pytest.approx(maximum)
    assert load.plain_a == pytest.approx(minimum, abs=1e-4)


def test_pv_conductors_meet_the_larger_of_the_two_rules(make: type[Make]) -> None:
    # NEC 690.8(B): up to 50 °C the 1.56 governs (0.82 is above 1/1.25), then 1.25 over the factor.
    circuit = Circuit(code="S", system="dc-pv", module_isc_a=16, strings_in_parallel=1)
    wires = [make.wire("10 AWG", f, circuit) for f in ("L+", "L-")]
    cool = make.run(*wires, wet=True, ambient_c=30, length_m=9)
    (before,) = ampacity(wires[0], cool, make.nec)
    assert before.figure == pytest.approx(25)  # 16 x 1.5625
    hot = make.run(*wires, wet=True, ambient_c=75, length_m=9)
    (after,) = ampacity(wires[0], hot, make.nec)
    assert (after.figure, after.limit) == (20, 20)  # 16 x 1.25 against 40 x 0.50
    assert after.outcome == "pass"
    hotter = make.run(*wires, wet=True, ambient_c=76, length_m=9)
    assert ampacity(wires[0], hotter, make.nec)[0].outcome == "fail"


def test_a_stated_pv_current_is_taken_where_module_data_are_missing(make: type[Make]) -> None:
    circuit = Circuit(code="S", system="dc-pv", max_current_a=11)
    load = load_of(circuit, make.nec)
    assert load is not None
    assert load.plain_a == 13.75
    assert load_of(Circuit(code="S", system="dc-pv"), make.nec) is None


def test_too_much_for_the_lowest_rating_is_a_doubt_while_the_type_is_unknown(
    make: type[Make],
) -> None:
    wire = make.wire("12 AWG", "L1", branch(22), insulation=None)
    (finding,) = ampacity(wire, make.run(wire, **DRY), make.nec)
    assert finding.outcome == "doubt"
    assert "unknown: insulation type" in finding.reason
