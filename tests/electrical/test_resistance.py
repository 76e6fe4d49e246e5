# SPDX-License-Identifier: MIT
"""Resistance: the tables of NEC and IEC against physics, old wire tables and a cable library."""

from __future__ import annotations

import warnings
from math import pi

import pytest

from tests.drawing import each
from wiretrack.electrical import limits
from wiretrack.electrical.resistance import (
    expected_resistance,
    iec_class,
    unit_resistance,
)
from wiretrack.electrical.sizes import awg_area_mm2, parse_size
from wiretrack.electrical.tables import load_table
from wiretrack.encoding import document
from wiretrack.errors import BadInputError, OutOfRangeError, TableEntryError

# NBS Circular 31, 3rd ed., 1914: annealed copper has 1/58 ohm mm2/m and 0.00393 per K at 20 °C.
RHO_CU, ALPHA_CU = 1 / 58, 0.00393
# ASTM B230/B231: EC aluminium has 61.0 % of that conductivity; IEC 60889: 0.00403 per K.
RHO_AL, ALPHA_AL = RHO_CU / 0.61, 0.00403
LAY = 1.02  # ASTM B8: a class B strand is 2 % longer than the conductor
FOOT_M = 0.3048
TABLE_8 = load_table("nec_ch9_table8").rows


def half_digit(text: str) -> float:
    decimals = len(text.partition(".")[2])
    return float(0.5 * 10.0**-decimals)


@pytest.mark.parametrize("row", TABLE_8, ids=lambda r: f"{r['size']} {r['construction']}")
@pytest.mark.parametrize(
    ("column", "rho", "alpha"), [("cu_uncoated", RHO_CU, ALPHA_CU), ("al", RHO_AL, ALPHA_AL)]
)
def test_nec_table_8_follows_from_the_resistivity_of_the_metal(
    row: dict[str, str], column: str, rho: float, alpha: float
) -> None:
    area = float(row["circular_mils"]) / 1e6 * pi / 4 * 25.4**2
    lay = LAY if row["construction"] == "stranded" else 1.0
    physics = rho * (1 + alpha * 55) * lay * 1000 * FOOT_M / area
    assert float(row[column]) == pytest.approx(
        physics, abs=half_digit(row[column]) + 0.007 * physics
    )


# NBS Circular 31, 3rd ed., 1914, table VI: ohm per 1000 ft of solid annealed copper at 20 °C.
@pytest.mark.parametrize(("gauge", "published"), [(10, 0.9989), (12, 1.588), (14, 2.525)])
def test_solid_conductors_of_table_8_agree_with_the_nbs_wire_table(
    gauge: int, published: float
) -> None:
    solid = expected_resistance(f"{gauge} AWG", 304.8, 20, "Cu", strands=1)
    assert solid.ohms == pytest.approx(published, rel=0.006)  # table 8 has three figures at 75 °C
    assert RHO_CU * 304.8 / awg_area_mm2(gauge) == pytest.approx(published, rel=3e-4)


# IEC 60228:2004 annex: factors that bring a resistance to 20 °C (reprint; original not seen).
FACTORS = [
    (5, 1.064), (10, 1.042), (15, 1.020), (20, 1.000), (25, 0.980), (30, 0.962), (35, 0.943),
    (40, 0.926), (45, 0.909), (50, 0.893), (55, 0.877), (60, 0.862), (65, 0.847), (70, 0.833),
    (75, 0.820), (80, 0.806), (85, 0.794), (90, 0.781), (95, 0.769), (100, 0.758),
]  # fmt: skip


@pytest.mark.parametrize(("temp_c", "factor"), FACTORS)
def test_iec_temperature_factors_are_those_of_the_annex(temp_c: float, factor: float) -> None:
    at_20 = unit_resistance("4 mm2", 20, "Cu", 7).ohm_per_km
    at_t = unit_resistance("4 mm2", temp_c, "Cu", 7).ohm_per_km
    assert at_20 / at_t == pytest.approx(factor, abs=0.0006)
    row = load_table("iec60228_temperature").find(temp_c=str(temp_c))
    assert row is None or float(row["factor_to_20"]) == pytest.approx(factor, abs=1e-9)


# The same in the NEC: 0.00323 per K at 75 °C is 0.00393 per K at 20 °C, seen from 75.
def test_nec_temperature_formula_agrees_with_the_definition_of_copper() -> None:
    at_75 = unit_resistance("10 AWG", 75, "Cu", 7).ohm_per_km
    for temp_c in (-20, 0, 20, 50, 90):
        ratio = (1 + ALPHA_CU * (temp_c - 20)) / (1 + ALPHA_CU * 55)
        assert unit_resistance("10 AWG", temp_c, "Cu", 7).ohm_per_km / at_75 == pytest.approx(
            ratio, abs=2e-4
        )


def test_expected_resistance_of_1000_ft_at_75_c_is_the_printed_figure() -> None:
    for row in TABLE_8:
        unit = "kcmil" if row["size"].isdigit() and int(row["size"]) >= 250 else "AWG"
        for metal, column in (("Cu", "cu_uncoated"), ("Al", "al")):
            found = expected_resistance(
                f"{row['size']} {unit}", 304.8, 75, metal, int(row["strands"])
            )
            assert found.ohms == pytest.approx(float(row[column]), rel=1e-9)
            assert found.loop_ohms == pytest.approx(2 * float(row[column]), rel=1e-9)


# IEC 60228:2004 tables 2 and 3, read a second time in other reprints (originals not seen).
SECOND_READING = [
    (1.5, 12.1, 13.3), (2.5, 7.41, 7.98), (4, 4.61, 4.95), (6, 3.08, 3.30), (10, 1.83, 1.91),
    (16, 1.15, 1.21), (25, 0.727, 0.780), (35, 0.524, 0.554), (50, 0.387, 0.386),
    (70, 0.268, 0.272), (95, 0.193, 0.206), (120, 0.153, 0.161), (150, 0.124, 0.129),
    (185, 0.0991, 0.106), (240, 0.0754, 0.0801), (300, 0.0601, 0.0641), (400, 0.0470, 0.0486),
    (500, 0.0366, 0.0384), (630, 0.0283, 0.0287),
]  # fmt: skip


@pytest.mark.parametrize(("area", "class_2", "class_5"), SECOND_READING)
def test_iec_60228_is_as_other_reprints_have_it(
    area: float, class_2: float, class_5: float
) -> None:
    assert unit_resistance(f"{area:g} mm2", 20, "Cu").ohm_per_km == pytest.approx(class_2)
    fine = unit_resistance(f"{area:g} mm2", 20, "Cu", strands=20_000)
    assert fine.ohm_per_km == pytest.approx(class_5)


# pandapower's standard line types hold maxima of IEC 60228 for these cables, to their last digit;
# its other cables are makers' figures: below the maximum, NAYY 4x50 apart (0.642 for 0.641).
EQUAL = {"NA2XS2Y 1x70", "NA2XS2Y 1x120", "NA2XS2Y 1x150", "N2XS(FL)2Y 1x120", "N2XS(FL)2Y 1x185"}
EQUAL |= {"N2XS(FL)2Y 1x240", "N2XS(FL)2Y 1x300"}


# Name, mm2 and Ω/km of the library's cables, as pandapower 3.5 has them.
LIBRARY_CABLES = [
    ("NA2XS2Y 1x95 RM/25 12/20 kV", 95, 0.313),
    ("NA2XS2Y 1x185 RM/25 12/20 kV", 185, 0.161),
    ("NA2XS2Y 1x240 RM/25 12/20 kV", 240, 0.122),
    ("NA2XS2Y 1x95 RM/25 6/10 kV", 95, 0.313),
    ("NA2XS2Y 1x185 RM/25 6/10 kV", 185, 0.161),
    ("NA2XS2Y 1x240 RM/25 6/10 kV", 240, 0.122),
    ("NA2XS2Y 1x150 RM/25 12/20 kV", 150, 0.206),
    ("NA2XS2Y 1x120 RM/25 12/20 kV", 120, 0.253),
    ("NA2XS2Y 1x70 RM/25 12/20 kV", 70, 0.443),
    ("NA2XS2Y 1x150 RM/25 6/10 kV", 150, 0.206),
    ("NA2XS2Y 1x120 RM/25 6/10 kV", 120, 0.253),
    ("NA2XS2Y 1x70 RM/25 6/10 kV", 70, 0.443),
    ("N2XS(FL)2Y 1x120 RM/35 64/110 kV", 120, 0.153),
    ("N2XS(FL)2Y 1x185 RM/35 64/110 kV", 185, 0.099),
    ("N2XS(FL)2Y 1x240 RM/35 64/110 kV", 240, 0.075),
    ("N2XS(FL)2Y 1x300 RM/35 64/110 kV", 300, 0.060),
]


@pytest.mark.full
def test_the_cables_are_those_of_the_library() -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # those of the library's own libraries
        import pandapower  # type: ignore[import-untyped]

    types = pandapower.available_std_types(pandapower.create_empty_network(), "line")
    assert LIBRARY_CABLES == [
        (str(name), float(row["q_mm2"]), float(row["r_ohm_per_km"]))
        for name, row in types.iterrows()
        if str(name).startswith(("NA2X", "N2X"))
    ]


@each(LIBRARY_CABLES)
def test_cables_of_an_open_library_keep_within_iec_60228(
    name: str, area_mm2: float, ohm_per_km: float
) -> None:
    metal = "Cu" if name[1] == "2" else "Al"
    table = unit_resistance(f"{area_mm2:g} mm2", 20, metal).ohm_per_km
    if any(name.startswith(start) for start in EQUAL):
        assert ohm_per_km == pytest.approx(table, abs=0.0005)
    assert 0.95 * table <= ohm_per_km <= table + 0.0005


# Strand counts that a guide to IEC 60228 lists: 7 wires are class 2, these are class 5.
@pytest.mark.parametrize(
    ("area", "strands"),
    [(0.5, 16), (0.75, 24), (1, 32), (1.5, 30), (2.5, 50), (4, 56), (6, 84), (10, 80),
     (16, 128), (25, 200)],
)  # fmt: skip
def test_published_strand_counts_of_class_5_are_taken_for_class_5(
    area: float, strands: int
) -> None:
    assert iec_class(area, strands) == 5
    assert iec_class(area, 7) == 2
    assert iec_class(area, 1) == 1


def test_an_unknown_strand_count_is_said_in_the_source() -> None:
    unknown = expected_resistance("12 AWG", 46, 20, "Cu")
    assert unknown.assumed == ("strand count unknown, stranded assumed",)
    assert unknown.source.endswith(unknown.assumed[0])
    assert expected_resistance("12 AWG", 46, 20, "Cu", 7).assumed == ()
    assert "class 2 assumed" in expected_resistance("4 mm2", 46, 20, "Cu").source


def test_rows_from_memory_say_so_in_the_source() -> None:
    assert "confidence in this row: low" in expected_resistance("600 kcmil", 9, 20, "Cu", 61).source


def test_resistance_falls_as_the_size_grows_in_every_column() -> None:
    for name, key in (("iec60228_class2", "area_mm2"), ("nec_ch9_table8", "circular_mils")):
        rows = [r for r in load_table(name).rows if r.get("construction") != "solid"]
        for column in ("cu_plain", "al") if key == "area_mm2" else ("cu_uncoated", "al"):
            figures = [(float(r[key]), float(r[column])) for r in rows if r[column]]
            assert figures == sorted(figures, key=lambda pair: -pair[1])


@pytest.mark.parametrize(
    ("size", "metal", "strands", "near"),
    [
        ("11 AWG", "Cu", None, ("12 AWG stranded", "10 AWG solid")),
        ("6 AWG", "Cu", 1, ("8 AWG stranded", "6 AWG stranded", "4 AWG stranded")),
        ("6 mm2", "Al", None, ("10 mm2",)),
        ("0.25 mm2", "Cu", None, ("0.5 mm2",)),
        ("1200 mm2", "Cu", 91, ("1000 mm2",)),
    ],
)
def test_a_conductor_that_no_table_holds_names_the_nearest_and_is_not_interpolated(
    size: str, metal: str, strands: int | None, near: tuple[str, ...]
) -> None:
    with pytest.raises(TableEntryError) as caught:
        expected_resistance(size, 10, 20, metal, strands)
    assert caught.value.nearest == near


@pytest.mark.parametrize("length_m", [0, -1, float("nan"), float("inf"), 1e6])
def test_impossible_lengths_are_refused(length_m: float) -> None:
    with pytest.raises(OutOfRangeError, match="above 0 m and at most 100 km"):
        expected_resistance("4 mm2", length_m, 20, "Cu")


@pytest.mark.parametrize("temp_c", [-300, 1000, float("nan"), float("-inf")])
def test_impossible_temperatures_are_refused(temp_c: float) -> None:
    with pytest.raises(OutOfRangeError, match="from -100 to 250 °C"):
        expected_resistance("4 mm2", 10, temp_c, "Cu")


def test_other_metals_and_impossible_strands_are_refused() -> None:
    with pytest.raises(TableEntryError, match="Cu, Al"):
        expected_resistance("4 mm2", 10, 20, "Fe")
    for strands in (0, -7):
        with pytest.raises(BadInputError, match="Count at least 1"):
            expected_resistance("4 mm2", 10, 20, "Cu", strands)


def test_the_document_of_an_expectation_has_the_promised_keys() -> None:
    result = document(expected_resistance(parse_size("4 mm2"), 67, 15, "Cu", 7))
    assert {"ohms", "loop_ohms", "at_c", "source"} <= set(result)
    # 4.61 ohm/km x 0.067 km x (1 - 0.02), by hand from IEC 60228 table 2 and its factor 1.020.
    assert result["ohms"] == pytest.approx(4.61 * 0.067 / 1.0204, rel=1e-3)


@pytest.mark.parametrize("size", ["4 mm2", "10 AWG"])
def test_a_metal_that_a_table_lacks_is_refused_in_words(
    monkeypatch: pytest.MonkeyPatch, size: str
) -> None:
    lacking = limits.Metal("brass", "brass", 0.001, "brass")
    monkeypatch.setitem(limits.METALS, "Al", lacking)
    with pytest.raises(TableEntryError, match="has no entry"):
        unit_resistance.__wrapped__(size, 20.0, "Al", 7)
    assert unit_resistance.__wrapped__(size, 20.0, "Cu", 7).ohm_per_km > 0
