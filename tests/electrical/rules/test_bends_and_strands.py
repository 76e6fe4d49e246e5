# SPDX-License-Identifier: MIT
"""Bends between pull points, and strands, by the sections of the NEC."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from wiretrack.electrical.rules.fill import bends
from wiretrack.electrical.rules.strands import strands
from wiretrack.electrical.tables import Code, load_table
from wiretrack.model.entities import Circuit

if TYPE_CHECKING:
    from tests.electrical.conftest import Make

# NEC 2023, section .26 of each raceway's article, read in an adopted code: 360 degrees throughout.
SECTIONS = [
    ("IMC", "342.26"), ("RMC", "344.26"), ("FMC", "348.26"), ("LFMC", "350.26"),
    ("PVC-40", "352.26"), ("PVC-80", "352.26"), ("HDPE", "353.26"), ("LFNC", "356.26"),
    ("EMT", "358.26"), ("ENT", "362.26"),
]  # fmt: skip
STRING = Circuit(code="S", system="dc-pv")


@pytest.mark.parametrize(("kind", "section"), SECTIONS)
def test_each_raceway_may_bend_360_degrees_between_boxes(
    kind: str, section: str, make: type[Make]
) -> None:
    for degrees, outcome in (
        (0, "pass"),
        (270, "pass"),
        (360, "pass"),
        (361, "fail"),
        (450, "fail"),
    ):
        (finding,) = bends(make.run(type=kind, bends_deg=degrees), make.nec)
        assert (finding.outcome, finding.limit) == (outcome, 360)
        assert finding.source == f"NEC 2023 {section}"


def test_unknown_bends_are_a_doubt_and_other_routes_have_no_rule(make: type[Make]) -> None:
    (finding,) = bends(make.run(type="EMT"), make.nec)
    assert finding.outcome == "doubt"
    assert "degrees of bend" in finding.reason
    assert bends(make.run(type="cable", bends_deg=999), make.nec) == []
    assert bends(make.run(type="EMT", bends_deg=999), make.iec) == []


# NEC 310.106(C) from 2011 on (reprint; original not seen); 310.3(C) from 2020 (reprint).
@pytest.mark.parametrize(
    ("size", "count", "outcome"),
    [("8 AWG", 1, "fail"), ("8 AWG", 7, "pass"), ("2 AWG", 1, "fail"), ("250 kcmil", 37, "pass")],
)
def test_8_awg_and_larger_must_be_stranded_in_raceways(
    size: str, count: int, outcome: str, make: type[Make]
) -> None:
    (finding,) = strands(make.wire(size, strands=count), make.nec, in_raceway=True)
    assert finding.outcome == outcome
    assert finding.source == "NEC 2023 310.3(C)"
    assert strands(make.wire(size, strands=count), make.nec, in_raceway=False) == []


def test_small_conductors_may_be_solid_and_unknown_counts_are_a_doubt(make: type[Make]) -> None:
    assert strands(make.wire("10 AWG", strands=1), make.nec, in_raceway=True) == []
    (finding,) = strands(make.wire("6 AWG"), make.nec, in_raceway=True)
    assert finding.outcome == "doubt"
    older = strands(make.wire("6 AWG"), Code("NEC", 2014), in_raceway=True)
    assert older[0].source == "NEC 2014 310.106(C)"


# NEC table 690.31(C)(4), found in two adopted codes: 17, 19, 49, 130, 259 strands.
@pytest.mark.parametrize(
    ("size", "least"),
    [
        ("18 AWG", 17), ("16 AWG", 19), ("14 AWG", 19), ("12 AWG", 19), ("10 AWG", 19),
        ("8 AWG", 49),
        ("6 AWG", 49), ("4 AWG", 49), ("2 AWG", 130), ("1 AWG", 259), ("1/0 AWG", 259),
        ("1000 kcmil", 259),
    ],
)  # fmt: skip
def test_tracking_arrays_need_the_strands_of_table_690_31(
    size: str, least: int, make: type[Make]
) -> None:
    for count, outcome in ((least, "pass"), (least - 1, "doubt")):
        wire = make.wire(size, "L+", STRING, strands=count)
        (finding,) = strands(wire, make.nec, in_raceway=False, at_array=True)
        assert (finding.outcome, finding.limit) == (outcome, least)
        assert "moving parts of tracking arrays" in finding.reason
        assert "common practice" in finding.source


@pytest.mark.parametrize(
    ("edition", "place"),
    # Two adopted codes have 690.31(C)(4); of 2014 and 2017 the section was read, not the table.
    [(2014, "690.31"), (2017, "690.31"), (2020, "table 690.31(C)(4)"),
     (2023, "table 690.31(C)(4)")],
)  # fmt: skip
def test_the_strands_of_tracking_arrays_are_cited_as_far_as_was_read(
    edition: int, place: str, make: type[Make]
) -> None:
    wire = make.wire("10 AWG", "L+", STRING, strands=19)
    (finding,) = strands(wire, Code("NEC", edition), in_raceway=False, at_array=True)
    assert finding.source.startswith(f"NEC {edition} {place}; ")


def test_3_awg_is_not_in_the_table_and_the_clause_ends_at_the_array(make: type[Make]) -> None:
    sizes = load_table("nec_690_31_strands").column("size")
    assert "3" not in sizes
    wire = make.wire("3 AWG", "L+", STRING, strands=7)
    assert strands(wire, make.nec, in_raceway=False, at_array=True) == []
    inside = make.wire("10 AWG", "L+", STRING, strands=7)
    assert strands(inside, make.nec, in_raceway=True) == []
    assert strands(inside, make.iec, in_raceway=True, at_array=True) == []
    printed = make.wire("10 AWG", "L+", STRING, strands=7, insulation="PV wire")
    assert strands(printed, make.nec, in_raceway=False)[0].outcome == "doubt"


@pytest.mark.parametrize("insulation", ["bare", "THWN-2"])
@pytest.mark.parametrize("count", [1, 7, None])
def test_an_earthing_conductor_may_be_solid(
    insulation: str, count: int | None, make: type[Make]
) -> None:
    # NEC 250.118: an equipment grounding conductor is solid or stranded, insulated, covered or bare
    # (copies of 2017 and 2020); 310.3(C) excepts what is permitted elsewhere to be solid.
    wire = make.wire("8 AWG", "PE", strands=count, insulation=insulation)
    (finding,) = strands(wire, make.nec, in_raceway=True)
    assert finding.outcome == "pass"
    assert finding.source == "NEC 2023 310.3(C) and 250.118"
    line = make.wire("8 AWG", "L1", strands=1)
    assert strands(line, make.nec, in_raceway=True)[0].outcome == "fail"
