# SPDX-License-Identifier: MIT
"""Insulation brought to one temperature, and timed ratios, against the standards' tables."""

from __future__ import annotations

from dataclasses import asdict

import pytest

from wiretrack.electrical.tables import load_table
from wiretrack.electrical.trending import (
    absorption_ratio,
    corrected_neta,
    polarization_index,
)
from wiretrack.errors import BadInputError, OutOfRangeError


def test_oil_at_35_degrees_takes_its_printed_factor() -> None:
    # ANSI/NETA MTS-2019 table 100.14.1 (reprint), oil at 35 °C: 2.80; 1200 x 2.80 = 3360 Mohm.
    trend = corrected_neta(1200e6, 35, "oil")
    assert trend.ohms == pytest.approx(3360e6)
    assert "table 100.14.1, oil" in trend.source


@pytest.mark.parametrize("row", load_table("neta_temperature").rows, ids=lambda r: r["temp_c"])
def test_neta_factors_follow_their_own_doubling_rule(row: dict[str, str]) -> None:
    # Solid doubles in 15 K, oil in 10 K, printed to 2 %; at 15 °C it prints 0.81 and 0.75 where the
    # rule gives 0.794 and 0.707.
    temp = float(row["temp_c"])
    off = 0.07 if temp == 15 else 0.02
    assert float(row["solid"]) == pytest.approx(2 ** ((temp - 20) / 15), rel=off)
    assert float(row["oil"]) == pytest.approx(2 ** ((temp - 20) / 10), rel=off)


def test_between_two_rows_the_colder_one_is_taken_and_named() -> None:
    trend = corrected_neta(100e6, 33)
    assert trend.ohms == pytest.approx(158e6)
    assert "row of 30 °C" in trend.note


def test_rows_from_memory_are_marked() -> None:
    assert "confidence in this row: low" in corrected_neta(1e9, 60, "solid").source


@pytest.mark.parametrize("temp_c", [-1, 76, float("nan")])
def test_temperatures_beyond_the_table_are_refused(temp_c: float) -> None:
    with pytest.raises(OutOfRangeError, match="from 0 to 75 °C"):
        corrected_neta(1e9, temp_c)


def test_other_impossible_values_are_refused() -> None:
    with pytest.raises(BadInputError):
        corrected_neta(1e9, 20, "air")  # type: ignore[arg-type]
    with pytest.raises(OutOfRangeError):
        corrected_neta(-1, 20)
    with pytest.raises(OutOfRangeError):
        polarization_index(0, 1e6)
    with pytest.raises(OutOfRangeError):
        absorption_ratio(1e6, float("inf"))


def test_four_times_as_much_after_ten_minutes_is_a_polarization_index_of_4() -> None:
    # IEEE 43: ten minutes over one, so 2000 over 500 Mohm.
    found = polarization_index(500e6, 2000e6)
    assert (found.ratio, found.early_ohm, found.late_ohm) == (4, 500e6, 2000e6)
    assert found.source == "defined by IEEE 43-2013, for windings"


def test_an_absorption_ratio_is_the_later_reading_over_the_earlier() -> None:
    found = absorption_ratio(400e6, 300e6)
    assert (found.ratio, found.early_ohm, found.late_ohm) == (0.75, 400e6, 300e6)
    assert found.source == "common practice"


@pytest.mark.parametrize("ratio", [0.9, 1.3, 4.5])
def test_a_ratio_has_no_limit_and_no_word_for_what_it_is_worth(ratio: float) -> None:
    # IEEE 43 sets its least index for windings of rotating machines alone.
    for found in (polarization_index(1e8, ratio * 1e8), absorption_ratio(1e8, ratio * 1e8)):
        assert asdict(found).keys() == {"ratio", "early_ohm", "late_ohm", "source", "note"}
        assert found.note == ""


def test_above_5_gigaohms_the_index_says_little() -> None:
    # IEEE 43-2013: the index need not be considered above 5000 Mohm after a minute.
    assert "5 GΩ" in polarization_index(6e9, 7e9).note
    assert polarization_index(1e9, 7e9).note == ""
