# SPDX-License-Identifier: MIT
"""Current-carrying capacity by IEC 60364-5-52 against national reprints and the heat balance."""

from __future__ import annotations

from math import sqrt
from typing import TYPE_CHECKING

import pytest

from wiretrack.electrical.rules.ampacity import ampacity
from wiretrack.electrical.rules.ampacity_iec import (
    ambient_factor_iec,
    capacity_b1,
    grouping_factor,
    insulation_material,
)
from wiretrack.errors import BadInputError, OutOfRangeError, TableEntryError
from wiretrack.model.entities import Circuit

if TYPE_CHECKING:
    from tests.electrical.conftest import Make

# IEC 60364-5-52:2009 tables B.52.2 to B.52.5, column B1 (reprints in BS 7671, 17th edition, and in
# another national code; original not seen).
SIZES = (1.5, 2.5, 4, 6, 10, 16, 25, 35, 50, 70, 95, 120)
THREE_PHASE = (15.5, 21, 28, 36, 50, 68, 89, 110, 134, 171, 207, 239)
TWO_PVC = (17.5, 24, 32, 41, 57, 76, 101, 125, 151, 192, 232, 269)
TWO_XLPE = (23, 31, 42, 54, 75, 100, 133, 164, 198, 253, 306, 354)
THREE_XLPE = (20, 28, 37, 48, 66, 88, 117, 144, 175, 222, 269, 312)
PUMP = Circuit(code="P", system="ac-3ph", max_voltage_v=400, max_current_a=20)


@pytest.mark.parametrize(
    ("insulation", "loaded", "amperes", "table"),
    [
        ("PVC", 3, THREE_PHASE, "B.52.4"), ("PVC", 2, TWO_PVC, "B.52.2"),
        ("XLPE", 2, TWO_XLPE, "B.52.3"), ("XLPE", 3, THREE_XLPE, "B.52.5"),
    ],
)  # fmt: skip
def test_copper_in_conduit_is_as_national_reprints_have_it(
    insulation: str, loaded: int, amperes: tuple[float, ...], table: str
) -> None:
    found = [capacity_b1(f"{size:g} mm2", "Cu", insulation, loaded) for size in SIZES]
    assert tuple(amp for amp, _ in found) == amperes
    assert all(f"table {table}" in source for _, source in found)


@pytest.mark.parametrize(("insulation", "limit"), [("PVC", 70), ("XLPE", 90)])
@pytest.mark.parametrize("ambient", [10, 15, 20, 25, 30, 35, 40, 45, 50, 55, 60])
def test_ambient_factors_follow_from_the_heat_balance(
    insulation: str, limit: int, ambient: int
) -> None:
    balance = sqrt((limit - ambient) / (limit - 30))
    assert ambient_factor_iec(ambient, insulation) == pytest.approx(balance, abs=0.006)


def test_between_rows_the_hotter_one_is_taken() -> None:
    assert ambient_factor_iec(36, "PVC") == ambient_factor_iec(40, "PVC") == 0.87
    assert ambient_factor_iec(65, "PVC") == 0.0  # PVC may not be used there


def test_grouping_is_that_of_table_b_52_17() -> None:
    # IEC 60364-5-52:2009 table B.52.17, item 1 (two copies compared; original not seen).
    counts = (1, 2, 3, 4, 5, 6, 7, 8, 9, 12, 16, 20)
    factors = (1, 0.8, 0.7, 0.65, 0.6, 0.57, 0.54, 0.52, 0.5, 0.45, 0.41, 0.38)
    assert tuple(grouping_factor(count) for count in counts) == factors
    assert grouping_factor(10) == 0.45
    with pytest.raises(TableEntryError):
        grouping_factor(21)
    with pytest.raises(OutOfRangeError):
        grouping_factor(0)


@pytest.mark.parametrize(
    ("text", "material"),
    [("H07V-K", "PVC"), ("XHHW-2", "XLPE"), ("N2XY", "XLPE"), ("NYY", "PVC"),
     ("silk", None), (None, None)],
)  # fmt: skip
def test_insulation_is_known_by_its_letters(text: str | None, material: str | None) -> None:
    assert insulation_material(text) == material


@pytest.mark.parametrize(("amperes", "outcome"), [(28, "pass"), (28.1, "fail")])
def test_a_pump_of_4_mm2_may_carry_28_amperes(
    amperes: float, outcome: str, make: type[Make]
) -> None:
    circuit = Circuit(code="P", system="ac-3ph", max_current_a=amperes)
    wires = [make.wire("4 mm2", f, circuit, insulation="H07V-K") for f in ("L1", "L2", "L3")]
    run = make.run(*wires, ambient_c=30)
    (finding,) = ampacity(wires[0], run, make.iec)
    assert (finding.outcome, finding.limit) == (outcome, 28)
    assert "table B.52.4, method B1" in finding.source
    # IEC 60364-4-43, 433.1: the design current must not be above the capacity.
    assert "IEC 60364-4-43 433.1" in finding.source


def test_unknown_insulation_is_taken_as_pvc_and_unknown_ambient_is_a_doubt(
    make: type[Make],
) -> None:
    wire = make.wire("4 mm2", "L1", PUMP, insulation=None)
    (known,) = ampacity(wire, make.run(wire, ambient_c=30), make.iec)
    assert known.outcome == "pass"
    assert "assumed to be PVC" in known.reason
    (unknown,) = ampacity(wire, make.run(wire), make.iec)
    assert unknown.outcome == "doubt"
    assert "ambient temperature" in unknown.reason


def test_sizes_of_another_system_are_a_doubt_that_names_the_sizes_held(make: type[Make]) -> None:
    wire = make.wire("12 AWG", "L1", PUMP)
    (finding,) = ampacity(wire, make.run(wire, ambient_c=30), make.iec)
    assert finding.outcome == "doubt"
    assert "2.5 mm2" in finding.reason
    lost = make.wire("4 mm2", "L1", Circuit(code="P", system="ac-3ph"))
    assert "current" in ampacity(lost, make.run(lost), make.iec)[0].reason


def test_impossible_values_are_refused() -> None:
    with pytest.raises(BadInputError):
        capacity_b1("4 mm2", "Cu", "paper", 3)
    with pytest.raises(TableEntryError):
        capacity_b1("1.5 mm2", "Al", "PVC", 3)
    with pytest.raises(OutOfRangeError):
        ambient_factor_iec(float("nan"), "PVC")
