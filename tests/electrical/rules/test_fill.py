# SPDX-License-Identifier: MIT
"""Raceway fill against published counts of Annex C, and against the tables of chapter 9 by hand."""

from __future__ import annotations

import csv
from fractions import Fraction
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.drawing import each
from wiretrack.electrical.dimensions import TYPES, Bore, bore_of, parse_trade_size, raceway_type
from wiretrack.electrical.rules.fill import (
    fill_pct,
    raceway_fill,
    raceway_jam,
    rounded,
)
from wiretrack.electrical.tables import load_table
from wiretrack.errors import TableEntryError

if TYPE_CHECKING:
    from tests.electrical.conftest import Make

PUBLISHED = Path(__file__).parents[1] / "published"
TABLES = Path(str(files("wiretrack.electrical"))) / "data"


def read(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8") as lines:
        return list(csv.DictReader(line for line in lines if not line.startswith("#")))


ANNEX_C = read(PUBLISHED / "annex_c.csv")
BORES = read(TABLES / "nec_ch9_table4.csv")
OUTSIDES = read(TABLES / "nec_ch9_table5.csv")
RACEWAYS = sorted({row["raceway"] for row in BORES})


def area_of(insulation: str, size: str, covering: str = "") -> float:
    """The area that table 5 prints, in square inches."""
    (row, *_) = [
        r for r in OUTSIDES
        if insulation in r["insulation"].split() and (r["size"], r["covering"]) == (size, covering)
    ]  # fmt: skip
    return float(row["area_in2"])


def largest_count(area_in2: float, bore: Bore) -> int:
    """Return how many conductors of one size a raceway may hold, by the rule's own percentages."""
    many, two, one = (rounded(fill_pct(n) / 100 * bore.area_in2 / area_in2) for n in (3, 2, 1))
    return many if many >= 3 else 2 if two >= 2 else 1 if one >= 1 else 0


def counted(bore_in2: str, area_in2: str) -> int:
    """Count up while one more is allowed, in exact fractions of the printed areas.

    NEC chapter 9 table 1: 53 % for one, 31 % for two, 40 % for more; by note 7 a fraction of 0.8 of
    a conductor is one more, so that the nth needs room for n - 1/5.
    """
    bore, area = Fraction(bore_in2), Fraction(area_in2)
    share = {1: Fraction(53, 100), 2: Fraction(31, 100)}
    most, n = 0, 1
    while n <= 3 or most == n - 1:
        if (n - Fraction(1, 5)) * area <= share.get(n, Fraction(2, 5)) * bore:
            most = n
        n += 1
    return most


@each(ANNEX_C)
def test_the_count_is_that_of_annex_c(cell: dict[str, str]) -> None:
    area = area_of(cell["insulation"], cell["size"], cell["covering"])
    bore = bore_of(cell["raceway"], cell["trade_size"])
    assert largest_count(area, bore) == int(cell["count"]) - bool(cell["on_edge"])


def test_the_spot_values_of_annex_c_cover_raceways_insulations_and_both_sides_of_the_edge() -> None:
    assert len(ANNEX_C) >= 60
    assert {cell["raceway"] for cell in ANNEX_C} >= {"EMT", "FMC", "IMC", "RMC", "PVC-40", "PVC-80"}
    assert {cell["insulation"] for cell in ANNEX_C} == {"THHN", "TW", "RHH", "XHHW"}
    assert {cell["count"] for cell in ANNEX_C} >= {"0", "1", "2", "3", "364", "608"}
    spare = [
        0.4 * bore_of(cell["raceway"], cell["trade_size"]).area_in2
        / area_of(cell["insulation"], cell["size"], cell["covering"]) % 1
        for cell in ANNEX_C if int(cell["count"]) > 2
    ]  # fmt: skip
    assert sum(0.75 < part < 0.8 for part in spare) >= 5
    assert sum(0.8 <= part < 0.85 for part in spare) >= 5


def test_the_two_counts_on_an_edge_are_one_more_than_the_printed_areas_give() -> None:
    on_edge = [cell for cell in ANNEX_C if cell["on_edge"]]
    assert len(on_edge) == 2
    for cell in on_edge:
        area = area_of(cell["insulation"], cell["size"])
        ratio = 0.4 * bore_of(cell["raceway"], cell["trade_size"]).area_in2 / area
        assert 0.795 < ratio % 1 < 0.8


@pytest.mark.parametrize("raceway", RACEWAYS)
def test_every_count_is_that_of_the_printed_areas_by_hand(raceway: str) -> None:
    bores = [row for row in BORES if row["raceway"] == raceway]
    compared = 0
    for inside in bores:
        bore = bore_of(raceway, inside["trade_size"])
        for outside in OUTSIDES:
            by_hand = counted(inside["area_in2"], outside["area_in2"])
            assert largest_count(float(outside["area_in2"]), bore) == by_hand, (inside, outside)
            compared += 1
    assert compared == len(bores) * len(OUTSIDES) >= 6 * 90


def test_the_percentages_are_those_of_table_1() -> None:
    # NEC chapter 9 table 1 and note 4: 53, 31, 40 %, nipples 60 %.
    assert [fill_pct(n) for n in (1, 2, 3, 30)] == [53, 31, 40, 40]
    assert fill_pct(1, nipple=True) == 60


def test_mixed_conductors_need_the_emt_whose_40_percent_holds_their_areas(make: type[Make]) -> None:
    # Chapter 9 table 5: 3 x 0.0133 + 4 x 0.0211 + 8 x 0.0366 = 0.4171 in2; table 4, 40 %: 0.598 in2
    # of 1-1/4 EMT is enough, 0.346 of 1 EMT isn't.
    wires = [make.wire(size) for size in ["12 AWG"] * 3 + ["10 AWG"] * 4 + ["8 AWG"] * 8]
    (right,) = raceway_fill(make.run(*wires, type="EMT", trade_size="1-1/4"), make.nec)
    assert right.outcome == "pass"
    assert "0.4171 of 1.496 in²" in right.reason
    (wrong,) = raceway_fill(make.run(*wires, type="EMT", trade_size="1", length_m=10), make.nec)
    assert wrong.outcome == "fail"
    assert wrong.figure == pytest.approx(100 * 0.4171 / 0.864, abs=0.01)


def test_mixed_insulation_adds_up_by_the_areas_of_table_5(make: type[Make]) -> None:
    # Chapter 9 table 5: 3 x (0.0133 + 0.0139 + 0.0437 with covering + 0.0590) = 0.3897 in2, and
    # one bare solid 8 AWG by table 8, 0.013 in2: 0.4027 in2.
    kinds = [("12 AWG", "THHN"), ("14 AWG", "THW"), ("10 AWG", "RHH"), ("6 AWG", "XHHW")]
    wires = [make.wire(size, insulation=kind) for size, kind in kinds for _ in range(3)]
    wires.append(make.wire("8 AWG", "PE", insulation="bare", strands=1))
    (finding,) = raceway_fill(make.run(*wires, trade_size="2"), make.nec)
    assert finding.figure == pytest.approx(100 * 0.4027 / 3.408, abs=0.01)


def test_eight_equal_conductors_pass_by_the_round_up_of_note_7(make: type[Make]) -> None:
    # Annex C table C.1: eight 8 AWG THW in 1 EMT, though 8 x 0.0437 in2 is more than 0.346 in2.
    wires = [make.wire("8 AWG", insulation="THW") for _ in range(8)]
    (finding,) = raceway_fill(make.run(*wires, type="EMT", trade_size="1", length_m=10), make.nec)
    assert finding.figure is not None
    assert finding.figure > 40
    assert finding.outcome == "pass"
    assert "note 7" in finding.reason
    (ninth,) = raceway_fill(
        make.run(*wires, wires[0], type="EMT", trade_size="1", length_m=10), make.nec
    )
    assert ninth.outcome == "fail"


def test_a_nipple_may_be_filled_to_60_percent(make: type[Make]) -> None:
    wires = [make.wire("12 AWG") for _ in range(32)]  # 32 x 0.0133 = 0.4256 of 0.887: 48 %
    (short,) = raceway_fill(make.run(*wires, length_m=0.6), make.nec)
    assert (short.outcome, short.limit) == ("pass", 60)
    (long,) = raceway_fill(make.run(*wires, length_m=0.62), make.nec)
    assert (long.outcome, long.limit) == ("fail", 40)
    (unknown,) = raceway_fill(make.run(*wires), make.nec)
    assert unknown.outcome == "doubt"
    assert "at most 24 in" in unknown.reason


def test_pv_wire_needs_its_actual_diameter(make: type[Make]) -> None:
    # Note 5. A diameter of 0.250 in is 0.0491 in2 (pi d2 / 4).
    unknown = [make.wire("10 AWG", "L+", insulation="PV wire") for _ in range(3)]
    (doubt,) = raceway_fill(make.run(*unknown), make.nec)
    assert doubt.outcome == "doubt"
    assert "outside diameter" in doubt.reason
    known = [
        make.wire("10 AWG", "L+", insulation="PV wire", outer_diameter_mm=6.35) for _ in range(3)
    ]
    (finding,) = raceway_fill(make.run(*known), make.nec)
    assert finding.figure == pytest.approx(100 * 3 * 0.0491 / 0.887, abs=0.05)
    assert "note 5" in finding.source


def test_known_conductors_alone_may_be_too_many(make: type[Make]) -> None:
    wires = [make.wire("4 AWG") for _ in range(9)] + [make.wire("10 AWG", insulation=None)]
    (finding,) = raceway_fill(make.run(*wires), make.nec)
    assert finding.outcome == "fail"


def test_missing_facts_of_the_raceway_are_named(make: type[Make]) -> None:
    (finding,) = raceway_fill(make.run(make.wire(), type=None, trade_size=None), make.nec)
    assert finding.outcome == "doubt"
    assert "trade size" in finding.reason
    (vague,) = raceway_fill(make.run(make.wire(), type="PVC"), make.nec)
    assert "PVC-40, PVC-80" in vague.reason
    (odd,) = raceway_fill(make.run(make.wire(), trade_size="7/8"), make.nec)
    assert "no entry '7/8'" in odd.reason


def test_multicore_cables_need_the_cables_diameter(make: type[Make]) -> None:
    (finding,) = raceway_fill(make.run(*[make.wire(core=str(i)) for i in range(24)]), make.nec)
    assert finding.outcome == "doubt"
    assert "multicore" in finding.reason


# NEC chapter 9 note 9: a multiconductor cable counts as one conductor; table 1: 53, 31, 40 %.
@pytest.mark.parametrize(
    ("cables", "limit"),
    [
        (("K1",) * 3, 53.0),
        (("K1", "K1", "K2", "K2"), 31.0),
        (("K1", "K2", "K3"), 40.0),
        (("K1", "K1", None), 53.0),
        ((None, None), 53.0),
    ],
)
def test_each_cable_counts_as_one_conductor(
    make: type[Make], cables: tuple[str | None, ...], limit: float
) -> None:
    cores = [make.wire(core=str(i), cable=cable) for i, cable in enumerate(cables)]
    (finding,) = raceway_fill(make.run(*cores), make.nec)
    assert (finding.outcome, finding.limit) == ("doubt", limit)


def test_a_wire_of_a_named_cable_is_no_single_wire(make: type[Make]) -> None:
    (finding,) = raceway_fill(make.run(make.wire(cable="K1"), make.wire()), make.nec)
    assert (finding.outcome, finding.limit) == ("doubt", 31.0)
    assert "1 of 2 conductors take" in finding.reason


def test_the_iec_sets_no_fill_and_empty_or_open_routes_have_none(make: type[Make]) -> None:
    assert raceway_fill(make.run(make.wire()), make.iec) == []
    assert raceway_fill(make.run(), make.nec) == []
    assert raceway_fill(make.run(make.wire(), type="cable"), make.nec) == []


def test_three_conductors_of_a_third_of_the_bore_may_jam(make: type[Make]) -> None:
    # NEC chapter 9 table 1, informational note 2: 2.8 to 3.2. 1 RMC is 1.063 in and 3 AWG THHN
    # 0.352 in: 3.02 jams; 12 AWG 0.130 in: 8.2 doesn't.
    (jams,) = raceway_jam(make.run(*[make.wire("3 AWG")] * 3), make.nec)
    assert jams.outcome == "doubt"
    assert jams.figure == pytest.approx(1.063 / 0.352, abs=0.001)
    assert "common practice" in jams.source
    (free,) = raceway_jam(make.run(*[make.wire("12 AWG")] * 3), make.nec)
    assert free.outcome == "pass"
    assert raceway_jam(make.run(*[make.wire("3 AWG")] * 4), make.nec) == []
    assert raceway_jam(make.run(make.wire("3 AWG"), *[make.wire("4 AWG")] * 2), make.nec) == []


@pytest.mark.parametrize(
    ("text", "kind"),
    [("EMT", "EMT"), ("rmc", "RMC"), ("PVC sch 80", "PVC-80"), ("PVC Schedule 40", "PVC-40"),
     ("LFNC", "LFNC-B"), ("PVC", None), ("tray", None), (None, None)],
)  # fmt: skip
def test_raceway_types_are_read_as_the_trade_writes_them(
    text: str | None, kind: str | None
) -> None:
    assert raceway_type(text) == kind


@pytest.mark.parametrize(
    ("text", "size"), [("3/4", "3/4"), ('1-1/4"', "1-1/4"), ("1 1/2 in", "1-1/2"), ("2", "2")]
)
def test_trade_sizes_are_read_as_the_trade_writes_them(text: str, size: str) -> None:
    assert parse_trade_size(text) == size


def test_a_raceway_that_table_4_lacks_names_those_it_has() -> None:
    with pytest.raises(TableEntryError, match="LFNC-B 1/2"):
        bore_of("LFNC-B", "4")
    with pytest.raises(TableEntryError, match="1-1/4"):
        parse_trade_size("27")


@each(load_table("nec_ch9_table4").rows)
def test_areas_of_table_4_are_circles_of_its_diameters(row: dict[str, str]) -> None:
    # pi d2 / 4, to the third decimal that the table prints (its own rounding allowed for).
    circle = 3.14159265 * float(row["inside_diameter_in"]) ** 2 / 4
    assert float(row["area_in2"]) == pytest.approx(circle, abs=0.0011)
    assert row["raceway"] in (*TYPES, "ENT older")


@each(load_table("nec_ch9_table5").rows)
def test_areas_of_table_5_are_circles_of_its_diameters(row: dict[str, str]) -> None:
    circle = 3.14159265 * float(row["diameter_in"]) ** 2 / 4
    assert float(row["area_in2"]) == pytest.approx(circle, rel=0.003)


def test_no_conductors_have_no_percentage() -> None:
    with pytest.raises(TableEntryError, match="1, 2, 3"):
        fill_pct(0)
