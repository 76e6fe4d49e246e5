# SPDX-License-Identifier: MIT
"""What the sun on a roof adds, by edition of the NEC, and what follows for the ampacity."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from wiretrack.electrical.rules.ampacity import ampacity
from wiretrack.electrical.rules.conditions import roof_adder
from wiretrack.electrical.tables import Code
from wiretrack.errors import OutOfRangeError
from wiretrack.model.entities import Circuit, Enclosure

if TYPE_CHECKING:
    from tests.electrical.conftest import Make
    from wiretrack.electrical.findings import Finding

ROOF: dict[str, Any] = {"wet": False, "sunlight": True, "ambient_c": 32.2, "length_m": 9.0}


# NEC table 310.15(B)(3)(c) of 2014: 0 to 1/2 in 33 °C, up to 3 1/2 in 22, up to 12 in 17, up to
# 36 in 14. 310.15(B)(3)(c) of 2017: 33 °C below 7/8 in (23 mm); 310.15(B)(2) of 2020 the same,
# of 2023 below 19 mm (3/4 in). Read in reprints of 2014's table and of the texts since.
@pytest.mark.parametrize(
    ("inches", "of_2014", "of_2017", "of_2020", "of_2023"),
    [
        (0, 33, 33, 33, 33), (0.5, 33, 33, 33, 33), (0.6, 22, 33, 33, 33), (0.74, 22, 33, 33, 33),
        (0.75, 22, 33, 33, 0), (0.87, 22, 33, 33, 0), (0.875, 22, 0, 0, 0), (3.5, 22, 0, 0, 0),
        (3.6, 17, 0, 0, 0), (12, 17, 0, 0, 0), (12.1, 14, 0, 0, 0), (36, 14, 0, 0, 0),
        (36.1, 0, 0, 0, 0),
    ],
)  # fmt: skip
def test_the_degrees_are_those_of_the_edition(
    inches: float, of_2014: int, of_2017: int, of_2020: int, of_2023: int
) -> None:
    height_m = inches * 0.0254
    editions = {2014: of_2014, 2017: of_2017, 2020: of_2020, 2023: of_2023}
    assert {edition: roof_adder(height_m, edition) for edition in editions} == editions


@pytest.mark.parametrize("height_m", [-0.01, float("nan"), 2000])
def test_an_impossible_height_is_refused(height_m: float) -> None:
    with pytest.raises(OutOfRangeError, match="Height above the roof"):
        roof_adder(height_m, 2023)


def judged(
    make: type[Make], amperes: float, edition: int | None = 2023, insulation: str = "THWN",
    kind: str | None = None, **facts: Any,
) -> Finding:  # fmt: skip
    circuit = Circuit(code="C", system="ac-3ph", max_current_a=amperes, continuous=False)
    wires = [make.wire("8 AWG", f, circuit, insulation=insulation) for f in ("L1", "L2", "L3")]
    run = make.run(*wires, **{**ROOF, **facts})
    if kind is not None:
        run = type(run)(run.raceway, run.wires, Enclosure(code="A", kind=kind), site=run.site)
    return ampacity(wires[0], run, Code("NEC", edition))[0]


# A published example for 2023: 8 AWG THWN, 50 A at 75 °C, 1/2 in above the roof at 90 °F: with
# 60 °F more 0.33 of it, 16.5 A. 90 °F are 32.2 °C.
@pytest.mark.parametrize(
    ("amperes", "height_m", "outcome"),
    [(16.5, 0.0127, "pass"), (16.6, 0.0127, "fail"), (40, 0.03, "pass"), (16.6, 0.0, "fail")],
)
def test_half_an_inch_above_a_sunny_roof_leaves_a_third(
    amperes: float, height_m: float, outcome: str, make: type[Make]
) -> None:
    finding = judged(make, amperes, above_roof_m=height_m)
    assert finding.outcome == outcome, finding.reason
    assert ("33 of them for the sun on the roof" in finding.reason) is (height_m < 0.019)
    assert ("310.15(B)(2)," in finding.source) is (height_m < 0.019)


def test_2014_asks_for_more_higher_up(make: type[Make]) -> None:
    # 32.2 + 22 = 54.2 °C: 0.67 at 75 °C by table 310.15(B)(2)(a), 33.5 A; 2017 leaves 0.94, 47 A.
    assert judged(make, 33.5, 2014, above_roof_m=0.05).outcome == "pass"
    high = judged(make, 33.6, 2014, above_roof_m=0.05)
    assert high.outcome == "fail"
    assert "table 310.15(B)(3)(c)" in high.source
    assert judged(make, 33.6, 2017, above_roof_m=0.05).outcome == "pass"


def test_xhhw_2_and_shade_are_spared(make: type[Make]) -> None:
    assert judged(make, 40, insulation="XHHW-2", above_roof_m=0.0).outcome == "pass"
    assert judged(make, 40, insulation="THWN-2", above_roof_m=0.0).outcome == "fail"
    assert judged(make, 40, above_roof_m=0.0, sunlight=False).outcome == "pass"


def test_what_would_settle_it_is_named(make: type[Make]) -> None:
    sun = judged(make, 40, above_roof_m=0.0, sunlight=None)
    assert (sun.outcome, "state sunlight of W1" in sun.reason) == ("doubt", True)
    height = judged(make, 40, kind="roof-array")
    assert (height.outcome, "state above_roof of W1" in height.reason) == ("doubt", True)
    edition = judged(make, 40, edition=None, above_roof_m=0.05)
    assert (edition.outcome, "state edition of site" in edition.reason) == ("doubt", True)
    assert judged(make, 16, kind="roof-array").outcome == "pass"  # enough even if it lies on it
    assert judged(make, 40, kind="array").outcome == "pass"  # an array on the ground has no roof


def test_hotter_than_the_table_nothing_may_be_carried(make: type[Make]) -> None:
    finding = judged(make, 1, insulation="THWN-2", above_roof_m=0.0, ambient_c=60.0)
    assert (finding.outcome, finding.limit) == ("fail", 0)


def test_the_iec_knows_no_such_degrees(make: type[Make]) -> None:
    circuit = Circuit(code="C", system="ac-3ph", max_current_a=20)
    wires = [make.wire("4 mm2", f, circuit, insulation="PVC") for f in ("L1", "L2", "L3")]
    (finding,) = ampacity(wires[0], make.run(*wires, **ROOF, above_roof_m=0.0), make.iec)
    assert finding.outcome == "pass"
