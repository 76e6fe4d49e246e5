# SPDX-License-Identifier: MIT
"""Sizes: the ASTM formula against two published tables, and what is refused."""

from __future__ import annotations

from math import pi

import pytest

from wiretrack.electrical.sizes import (
    SQUARE_MM_PER_KCMIL,
    as_size,
    awg_area_mm2,
    awg_diameter_mm,
    parse_size,
    standard_sizes,
)
from wiretrack.electrical.tables import load_table
from wiretrack.errors import BadInputError, QuantityError, TableEntryError

# "Lessons in Electric Circuits", an open textbook, solid copper wire table: gauge,
# diameter in inches with half its last digit, area in circular mils with half its last digit.
OPEN_TEXTBOOK = [
    (-3, 0.4600, 5e-5, 211_600, 50), (-2, 0.4096, 5e-5, 167_800, 50),
    (-1, 0.3648, 5e-5, 133_100, 50),
    (0, 0.3249, 5e-5, 105_500, 50), (1, 0.2893, 5e-5, 83_690, 5), (2, 0.2576, 5e-5, 66_370, 6),
    (4, 0.2043, 5e-5, 41_740, 5), (6, 0.1620, 5e-5, 26_250, 5), (8, 0.1285, 5e-5, 16_510, 5),
    (10, 0.1019, 5e-5, 10_380, 5), (12, 0.08081, 5e-6, 6_530, 0.5), (14, 0.06408, 5e-6, 4_107, 0.5),
    (16, 0.05082, 5e-6, 2_583, 0.5), (18, 0.04030, 5e-6, 1_624, 0.5),
    (20, 0.03196, 5e-6, 1_022, 0.5), (22, 0.02535, 5e-6, 642.5, 0.1),
    (24, 0.02010, 5e-6, 404.0, 0.05), (30, 0.01003, 5e-6, 100.5, 0.05),
    (36, 0.005000, 5e-7, 25.00, 0.005), (40, 0.003145, 5e-7, 9.888, 0.0005),
]  # fmt: skip


@pytest.mark.parametrize(("gauge", "inches", "half_in", "cmils", "half_cmil"), OPEN_TEXTBOOK)
def test_the_astm_formula_gives_the_published_diameters_and_areas(
    gauge: int, inches: float, half_in: float, cmils: float, half_cmil: float
) -> None:
    assert awg_diameter_mm(gauge) / 25.4 == pytest.approx(inches, abs=half_in)
    assert awg_area_mm2(gauge) / SQUARE_MM_PER_KCMIL * 1000 == pytest.approx(cmils, abs=half_cmil)


# NEC chapter 9 table 8 prints circular mils (two of its figures are cut, not rounded).
@pytest.mark.parametrize(
    "row", [r for r in load_table("nec_ch9_table8").rows if int(r["circular_mils"]) < 250_000]
)
def test_the_astm_formula_gives_the_circular_mils_of_nec_table_8(row: dict[str, str]) -> None:
    size = parse_size(f"{row['size']} AWG")
    assert size.area_mm2 / SQUARE_MM_PER_KCMIL * 1000 == pytest.approx(
        float(row["circular_mils"]), rel=0.003
    )


def test_both_ends_of_the_gauge_are_those_of_the_standard() -> None:
    # ASTM B258 fixes 0.4600 in for 4/0 and 0.0050 in for 36; the ratio of steps is 92**(1/39).
    assert awg_diameter_mm(-3) == pytest.approx(0.46 * 25.4, rel=1e-12)
    assert awg_diameter_mm(36) == pytest.approx(0.005 * 25.4, rel=1e-12)


def test_250_kcmil_is_the_area_of_250_000_circles_of_a_mil() -> None:
    assert parse_size("250 kcmil").area_mm2 == pytest.approx(250_000 * pi / 4 * 0.0254**2)


@pytest.mark.parametrize(
    ("text", "canonical"),
    [
        ("10 AWG", "10 AWG"), ("10awg", "10 AWG"), ("#10", "10 AWG"), ("# 10 AWG", "10 AWG"),
        ("1/0", "1/0 AWG"), ("00 AWG", "2/0 AWG"), ("0000", "4/0 AWG"), ("0 AWG", "1/0 AWG"),
        ("250 kcmil", "250 kcmil"), ("250 MCM", "250 kcmil"), ("6 mm2", "6 mm2"),
        ("6 mm²", "6 mm2"),
        ("2.5mm2", "2.5 mm2"), ("10.0 mm^2", "10 mm2"), ("4 sqmm", "4 mm2"),
        ("  4   mm2 ", "4 mm2"),
    ],
)  # fmt: skip
def test_sizes_are_read_in_every_spelling_and_written_in_one(text: str, canonical: str) -> None:
    size = parse_size(text)
    assert size.text == canonical
    assert parse_size(size.text) == size
    assert as_size(size) is size


@pytest.mark.parametrize(
    "text", ["", "10", "4", "mm2", "-4 mm2", "nan mm2", "1e9 mm2", "ten AWG", "4 mm"]
)
def test_what_may_be_two_sizes_or_none_is_refused(text: str) -> None:
    with pytest.raises(QuantityError, match="10 AWG, 1/0 AWG, 250 kcmil or 6 mm2"):
        parse_size(text)


@pytest.mark.parametrize(
    ("text", "near"),
    [
        ("7 mm2", ("6 mm2", "10 mm2")), ("0 mm2", ("0.08 mm2",)), ("9999 mm2", ("2500 mm2",)),
        ("255 kcmil", ("250 kcmil", "300 kcmil")), ("5/0 AWG", ("4/0 AWG",)),
        ("60 AWG", ("40 AWG",)),
    ],
)  # fmt: skip
def test_a_size_that_nobody_makes_names_the_nearest_ones(text: str, near: tuple[str, ...]) -> None:
    with pytest.raises(TableEntryError) as caught:
        parse_size(text)
    assert caught.value.nearest == near


def test_standard_sizes_grow_and_name_their_system() -> None:
    for system in ("AWG", "kcmil", "mm2"):
        sizes = standard_sizes(system)
        areas = [size.area_mm2 for size in sizes]
        assert areas == sorted(areas)
        assert all(parse_size(size.text) == size for size in sizes)
    with pytest.raises(BadInputError):
        standard_sizes("SWG")  # type: ignore[arg-type]


def test_a_gauge_beyond_the_standard_is_refused() -> None:
    with pytest.raises(TableEntryError):
        awg_diameter_mm(99)
