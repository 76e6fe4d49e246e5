# SPDX-License-Identifier: MIT
"""Insulation by place, PV inside buildings, and the highest PV voltage in the cold."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from wiretrack.electrical.dimensions import known_types, outside_of
from wiretrack.electrical.rules.insulation_type import (
    cold_factor,
    cold_voltage,
    insulation_types,
    pv_voltage,
)
from wiretrack.electrical.tables import Code, load_table
from wiretrack.errors import OutOfRangeError, TableEntryError
from wiretrack.model.entities import Circuit
from wiretrack.model.parts import SiteFacts

if TYPE_CHECKING:
    from tests.electrical.conftest import Make

STRING = Circuit(code="S", system="dc-pv", max_voltage_v=600)


# What the letters of NEC table 310.4(1) stand for (reprint): W is for wet places, -2 is 90 °C wet
# and dry, THHN and RHH and XHH are for dry ones.
@pytest.mark.parametrize(
    ("types", "wet", "dry_c", "wet_c"),
    [
        ("THHN", "no", "90", ""), ("THWN", "yes", "75", "75"), ("THWN-2", "yes", "90", "90"),
        ("XHHW", "yes", "90", "75"), ("XHHW-2", "yes", "90", "90"), ("RHH", "no", "90", ""),
        ("RHW-2", "yes", "90", "90"), ("USE-2", "yes", "90", "90"), ("THHW", "yes", "90", "75"),
        ("TW", "yes", "60", "60"),
    ],
)  # fmt: skip
def test_the_letters_mean_what_the_trade_says(types: str, wet: str, dry_c: str, wet_c: str) -> None:
    row = load_table("nec_insulation_types").find(type=types)
    assert row is not None
    assert (row["wet"], row["dry_c"], row["wet_c"]) == (wet, dry_c, wet_c)


@pytest.mark.parametrize(
    ("insulation", "wet", "outcome"),
    [
        ("THWN-2", True, "pass"), ("THHN", True, "fail"), ("THHN/THWN-2", True, "pass"),
        ("PV wire", True, "pass"), (None, True, "doubt"), ("silk", True, "doubt"),
        ("THWN-2", None, "pass"), ("THHN", None, "doubt"),
    ],
)  # fmt: skip
def test_a_wet_raceway_needs_insulation_for_wet_places(
    insulation: str | None, wet: bool | None, outcome: str, make: type[Make]
) -> None:
    run = make.run(make.wire("10 AWG", "L1", insulation=insulation), wet=wet)
    (finding,) = insulation_types(run, make.nec)
    assert finding.outcome == outcome, finding.reason
    assert "310.10(C)" in finding.source


def test_dry_raceways_bare_conductors_and_the_iec_ask_for_nothing(make: type[Make]) -> None:
    run = make.run(make.wire("10 AWG", insulation="THHN"), wet=False)
    assert insulation_types(run, make.nec) == []
    bare = make.run(make.wire("10 AWG", "PE", insulation="bare"), wet=True)
    assert insulation_types(bare, make.nec) == []
    assert insulation_types(make.run(make.wire(), wet=True), make.iec) == []


def test_conductors_in_the_sun_outside_a_raceway_must_resist_it(make: type[Make]) -> None:
    facts = {"type": "free air", "sunlight": True, "wet": False}
    (right,) = insulation_types(
        make.run(make.wire("10 AWG", insulation="USE-2"), **facts),  # type: ignore[arg-type]
        make.nec,
    )
    assert right.outcome == "pass"
    (doubt,) = insulation_types(
        make.run(make.wire("10 AWG", insulation="THWN-2"), **facts),  # type: ignore[arg-type]
        make.nec,
    )
    assert "SUNLIGHT RESISTANT" in doubt.reason
    hidden = make.run(make.wire("10 AWG"), type="RMC", sunlight=True, wet=False)
    assert insulation_types(hidden, make.nec) == []


def test_600_volt_insulation_on_a_higher_voltage_is_doubtful(make: type[Make]) -> None:
    high = Circuit(code="H", system="dc-pv", max_voltage_v=1000)
    run = make.run(make.wire("10 AWG", "L+", high), wet=False, indoors=False)
    (finding,) = insulation_types(run, make.nec)
    assert (finding.outcome, finding.figure, finding.limit) == ("doubt", 1000, 600)
    wire = make.wire("10 AWG", "L+", high, insulation="PV wire")
    assert insulation_types(make.run(wire, wet=False, indoors=False), make.nec) == []


# NEC 690.31(G) in 2014 and 2017: metal inside buildings up to the first readily accessible
# disconnect. 690.31(D) from 2020: above 30 V or 8 A, also behind the disconnect.
SMALL = {"max_voltage_v": 30.0, "max_current_a": 8.0}


@pytest.mark.parametrize(
    ("facts", "before", "circuit", "of_2017", "of_2020"),
    [
        ({"type": "EMT", "indoors": True}, True, {}, "pass", "pass"),
        ({"type": "PVC-40", "indoors": True}, True, {}, "fail", "fail"),
        ({"type": "PVC-40", "indoors": True}, False, {}, "pass", "fail"),
        ({"type": "PVC-40", "indoors": True}, None, {}, "doubt", "fail"),
        ({"type": "PVC-40", "indoors": None}, True, {}, "doubt", "doubt"),
        ({"type": "mystery", "indoors": True}, True, {}, "doubt", "doubt"),
        ({"type": "trough", "metal": True, "indoors": True}, True, {}, "pass", "pass"),
        ({"type": "cable", "metal": True, "indoors": True}, True, {}, "pass", "pass"),
        ({"type": "cable", "metal": False, "indoors": True}, True, {}, "fail", "fail"),
        ({"type": "cable", "indoors": True}, True, {}, "doubt", "doubt"),
        ({"type": "PVC-40", "indoors": True}, True, SMALL, "fail", "pass"),
        ({"type": "PVC-40", "indoors": True}, True, {**SMALL, "max_current_a": 8.1}, "fail",
         "fail"),
        ({"type": "PVC-40", "indoors": True}, True, {**SMALL, "max_voltage_v": 31}, "fail",
         "fail"),
        ({"type": "PVC-40", "indoors": True}, True, {**SMALL, "max_voltage_v": None}, "fail",
         "doubt"),
    ],
)  # fmt: skip
def test_pv_inside_buildings_runs_in_metal(
    facts: dict[str, Any], before: bool | None, circuit: dict[str, Any], of_2017: str,
    of_2020: str, make: type[Make],
) -> None:  # fmt: skip
    string = Circuit(code="S", system="dc-pv", **{"max_voltage_v": 600.0, **circuit})
    run = make.run(make.wire("10 AWG", "L+", string), before=before, wet=False, **facts)
    wanted = {2014: of_2017, 2017: of_2017, 2020: of_2020, 2023: of_2020}
    for edition, outcome in wanted.items():
        (finding,) = insulation_types(run, Code("NEC", edition))
        assert finding.outcome == outcome, (edition, finding.reason)
        clause = "690.31(G)" if edition < 2020 else "690.31(D)"
        assert finding.source == f"NEC {edition} {clause}"
    (any_edition,) = insulation_types(run, Code("NEC"))
    same = of_2017 == of_2020
    assert any_edition.outcome == (of_2017 if same else "doubt"), any_edition.reason
    assert ("state edition" in any_edition.reason) is (not same)


# NEC 300.5(B): underground all is wet. 300.9: above ground a raceway is as wet as its place.
@pytest.mark.parametrize(
    ("insulation", "facts", "outcome", "words"),
    [
        ("THHN", {"wet": None, "indoors": False}, "doubt", "lies outdoors"),
        ("THHN", {"wet": True, "indoors": False}, "fail", "300.9"),
        ("THHN/THWN-2", {"wet": None, "indoors": False}, "pass", "THHN/THWN-2"),
        ("THHN", {"wet": None, "type": "trench"}, "fail", "300.5(B)"),
        ("THHN", {"wet": False, "type": "trench"}, "fail", "300.5(B)"),
        ("USE-2", {"wet": None, "type": "trench"}, "pass", "USE-2"),
    ],
)  # fmt: skip
def test_thhn_outdoors_or_underground_is_named(
    insulation: str, facts: dict[str, Any], outcome: str, words: str, make: type[Make]
) -> None:
    run = make.run(make.wire("10 AWG", "L1", insulation=insulation), **facts)
    (finding,) = insulation_types(run, make.nec)
    assert finding.outcome == outcome, finding.reason
    assert words in finding.reason + finding.source
    if outcome == "doubt":
        assert "state wet of W1" in finding.reason


def test_outdoors_pv_may_run_in_any_raceway(make: type[Make]) -> None:
    run = make.run(make.wire("10 AWG", "L+", STRING), type="PVC-80", indoors=False, wet=False)
    assert insulation_types(run, make.nec) == []


def test_several_types_printed_on_a_wire_are_all_read() -> None:
    assert known_types("USE-2 / RHW-2 / RHH") == ("USE-2", "RHW-2", "RHH")
    assert known_types("pv wire") == ("PV wire",)
    assert known_types(None) == ()


def test_compact_and_covered_conductors_have_areas_of_their_own(make: type[Make]) -> None:
    # NEC table 5A: compact 4 AWG XHHW 0.0730; table 5: 10 AWG RHH 0.0437, without covering 0.0333.
    compact = outside_of(make.wire("4 AWG", insulation="compact XHHW-2"))
    covered = outside_of(make.wire("10 AWG", insulation="RHH"))
    uncovered = outside_of(make.wire("10 AWG", insulation="RHH without covering"))
    assert compact is not None
    assert covered is not None
    assert uncovered is not None
    assert (compact.area_in2, covered.area_in2, uncovered.area_in2) == (0.0730, 0.0437, 0.0333)
    assert outside_of(make.wire("6 mm2")) is None
    assert outside_of(make.wire("5 AWG", insulation="bare")) is None


# NEC table 690.7(A), in an adopted code and on a second page.
@pytest.mark.parametrize(
    ("low_c", "factor"),
    [
        (24, 1.02), (20, 1.02), (19, 1.04), (10, 1.06), (5, 1.08), (0, 1.10), (-1, 1.12),
        (-5, 1.12), (-6, 1.14), (-15, 1.16), (-20, 1.18), (-25, 1.20), (-30, 1.21), (-35, 1.23),
        (-40, 1.25), (-10.5, 1.16),
    ],
)  # fmt: skip
def test_the_cold_factor_is_that_of_table_690_7(low_c: float, factor: float) -> None:
    assert cold_factor(low_c) == factor


@pytest.mark.parametrize("low_c", [25, 40, -41])
def test_beyond_the_table_the_modules_coefficient_is_needed(low_c: float) -> None:
    with pytest.raises(TableEntryError, match="24 °C, -40 °C"):
        cold_factor(low_c)


def test_a_coefficient_of_0_13_volts_gives_45_8_volts_3_25_more_at_freezing() -> None:
    # NEC 690.7(A)(1) in a straight line from 25 °C, by hand: 45.8 V + 25 x 0.13 V = 49.05 V.
    cold = cold_voltage(45.8, 1, 0, -0.13 / 45.8 * 100, Code("NEC", 2023))
    assert cold.volts == pytest.approx(49.05, abs=0.005)
    assert cold.source == "NEC 2023 690.7(A)(1)"
    assert cold_voltage(45.8, 1, 0, None, Code("NEC", 2014)).source == "NEC 2014 690.7(A)"


def test_the_iec_takes_a_fixed_factor_without_a_coefficient() -> None:
    # IEC 60364-7-712: 1.2 times Voc without a coefficient (from memory; it says how sure).
    cold = cold_voltage(50, 10, -10, None, Code("IEC"))
    assert cold.volts == pytest.approx(600)
    assert cold.source == "IEC 60364-7-712 (confidence in this factor: low)"


def site(low_c: float | None) -> SiteFacts:
    return SiteFacts(record_low_c=low_c)


def string(**facts: object) -> Circuit:
    known = {"module_voc_v": 50.0, "modules_in_series": 10, "max_voltage_v": 600.0, **facts}
    return Circuit(code="S", system="dc-pv", **known)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("facts", "low_c", "outcome"),
    [
        ({}, -20.0, "pass"),  # 500 V x 1.18 = 590 V
        ({}, -21.0, "pass"),  # 1.20 is 600 V exactly
        ({}, -26.0, "fail"),  # 1.21 is 605 V
        ({"max_voltage_v": None}, -20.0, "doubt"), ({"modules_in_series": None}, -20.0, "doubt"),
        ({}, None, "doubt"), ({}, -50.0, "doubt"), ({"module_voc_pct_per_k": -0.3}, -50.0, "fail"),
    ],
)  # fmt: skip
def test_a_string_of_ten_modules_of_50_volts_in_the_cold(
    facts: dict[str, object], low_c: float | None, outcome: str, make: type[Make]
) -> None:
    (finding,) = pv_voltage(string(**facts), site(low_c), make.nec)
    assert finding.outcome == outcome, finding.reason
    assert finding.unit == "V"


def test_without_module_data_there_is_nothing_to_say(make: type[Make]) -> None:
    assert pv_voltage(string(module_voc_v=None), site(-20), make.nec) == []
    assert pv_voltage(Circuit(code="C", system="dc"), site(-20), make.nec) == []


@pytest.mark.parametrize(("voc", "modules", "low_c", "pct"), [
    (0, 10, 0, None), (50, 0, 0, None), (50, 10, 999, None), (50, 10, 0, 0.3),
    (float("nan"), 1, 0, None),
])  # fmt: skip
def test_impossible_module_data_are_refused(
    voc: float, modules: int, low_c: float, pct: float | None
) -> None:
    with pytest.raises(OutOfRangeError):
        cold_voltage(voc, modules, low_c, pct, Code("NEC", 2023))


def test_what_is_unknown_of_place_and_type_alike_is_left_alone(make: type[Make]) -> None:
    assert insulation_types(make.run(make.wire(insulation=None), wet=None), make.nec) == []
    sunny = make.run(make.wire("10 AWG"), type=None, sunlight=True, wet=False)
    assert insulation_types(sunny, make.nec) == []


# NEC table 310.104(A) of 2017 and table 310.4(1) of 2023 (copies of both, which agree):
# highest temperature in dry and in wet places.
PUBLISHED_TYPES = {
    "TW": ("60", "60"), "THW": ("75", "75"), "THW-2": ("90", "90"), "THHW": ("90", "75"),
    "THHN": ("90", ""), "THWN": ("75", "75"), "THWN-2": ("90", "90"), "XHH": ("90", ""),
    "XHHW": ("90", "75"), "XHHW-2": ("90", "90"), "RHH": ("90", ""), "RHW": ("75", "75"),
    "RHW-2": ("90", "90"), "USE": ("75", "75"), "USE-2": ("90", "90"),
}  # fmt: skip


def test_the_types_are_as_two_editions_print_them_and_pv_wire_is_no_row_of_theirs(
    make: type[Make],
) -> None:
    rows = {row["type"]: row for row in load_table("nec_insulation_types").rows}
    found = {name: (row["dry_c"], row["wet_c"]) for name, row in rows.items() if name != "PV wire"}
    assert found == PUBLISHED_TYPES
    assert all((row["wet"] == "yes") == bool(row["wet_c"]) for row in rows.values())
    wire = make.wire("10 AWG", "L+", insulation="PV wire")
    finding = insulation_types(make.run(wire, wet=True), make.nec)[0]
    assert finding.source.endswith("confidence in the figures of this type: low")
    sure = insulation_types(make.run(make.wire(), wet=True), make.nec)[0]
    assert sure.source == "NEC 2023 310.10(C) and table 310.4(1)"
