# SPDX-License-Identifier: MIT
"""Wireways by NEC articles 376 and 378, and diameters that the record has from the wire itself."""

from __future__ import annotations

from math import pi
from typing import TYPE_CHECKING, Any

import pytest

from wiretrack.electrical.rules.fill import raceway_fill, raceway_jam

if TYPE_CHECKING:
    from tests.electrical.conftest import Make

TROUGH: dict[str, Any] = {"type": "wireway", "trade_size": None, "metal": True}
SIX_INCHES = {**TROUGH, "width_mm": 152.4, "height_mm": 152.4}


# NEC 376.22(A): 20 % of 6 in x 6 in is 7.2 in²; table 5 has 0.7073 in² for 500 kcmil THHN:
# ten are 7.073 in², eleven 7.780 in². 8 AWG THHN, 0.0366 in²: 196 are 7.174 in², 197 7.210 in².
@pytest.mark.parametrize(
    ("size", "count", "outcome"),
    [("500 kcmil", 10, "pass"), ("500 kcmil", 11, "fail"), ("8 AWG", 196, "pass"),
     ("8 AWG", 197, "fail")],
)  # fmt: skip
def test_a_wireway_may_be_filled_to_20_percent(
    size: str, count: int, outcome: str, make: type[Make]
) -> None:
    wires = [make.wire(size, insulation="THHN") for _ in range(count)]
    (finding,) = raceway_fill(make.run(*wires, **SIX_INCHES), make.nec)
    assert (finding.outcome, finding.limit) == (outcome, 20), finding.reason
    assert finding.source == "NEC 2023 376.22(A), chapter 9 table 5"


def test_a_short_wireway_is_no_nipple_and_note_7_rounds_nothing_up(make: type[Make]) -> None:
    wires = [make.wire("500 kcmil", insulation="THHN") for _ in range(11)]
    (finding,) = raceway_fill(make.run(*wires, **SIX_INCHES, length_m=0.5), make.nec)
    assert (finding.outcome, finding.limit) == ("fail", 20)


def test_a_plastic_wireway_has_the_same_share_by_an_article_of_its_own(make: type[Make]) -> None:
    run = make.run(make.wire(), **{**SIX_INCHES, "metal": False})
    (finding,) = raceway_fill(run, make.nec)
    assert (finding.outcome, finding.limit) == ("pass", 20)
    assert "378.22" in finding.source


@pytest.mark.parametrize("lacking", ["width", "height"])
def test_a_wireway_without_its_measures_says_what_to_state(lacking: str, make: type[Make]) -> None:
    run = make.run(make.wire(), **{**SIX_INCHES, f"{lacking}_mm": None})
    (finding,) = raceway_fill(run, make.nec)
    assert finding.outcome == "doubt"
    assert finding.reason == f"unknown: {lacking} inside: state {lacking} of W1"


def test_the_iec_sets_no_share_for_trunking_either(make: type[Make]) -> None:
    wires = [make.wire("500 kcmil", insulation="THHN") for _ in range(40)]
    assert raceway_fill(make.run(*wires, **SIX_INCHES), make.iec) == []


def test_a_recorded_diameter_wins_over_the_table(make: type[Make]) -> None:
    # Table 5 has 0.0366 in² for 8 AWG THHN; 7.0 mm across is 38.48 mm², 0.0597 in²: of the
    # 0.887 in² of 1 RMC ten of the table's are 41 % (nine 37 %), six of the recorded 40.4 %.
    listed = [make.wire("8 AWG", insulation="THHN") for _ in range(9)]
    (table,) = raceway_fill(make.run(*listed, length_m=9), make.nec)
    assert table.outcome == "pass"
    thick = [make.wire("8 AWG", insulation="THHN", outer_diameter_mm=7.0) for _ in range(9)]
    (measured,) = raceway_fill(make.run(*thick, length_m=9), make.nec)
    assert measured.outcome == "fail"
    assert measured.figure == pytest.approx(100 * 9 * pi / 4 * 7**2 / 25.4**2 / 0.887, abs=0.01)
    assert "note 5" in measured.source
    thin = [make.wire("8 AWG", insulation="THHN", outer_diameter_mm=5.0) for _ in range(11)]
    (finding,) = raceway_fill(make.run(*thin, length_m=9), make.nec)  # 11 x 0.0304 in²: 37.7 %
    assert finding.outcome == "pass"


def test_jamming_goes_by_the_recorded_diameter_too(make: type[Make]) -> None:
    # 1 RMC is 1.063 in, 27.0 mm: 9.0 mm conductors are at 3.0, though 12 AWG by table 5 is at 8.2.
    (jams,) = raceway_jam(make.run(*[make.wire("12 AWG", outer_diameter_mm=9.0)] * 3), make.nec)
    assert jams.outcome == "doubt"
    assert jams.figure == pytest.approx(1.063 * 25.4 / 9.0, abs=0.001)
