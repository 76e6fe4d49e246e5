# SPDX-License-Identifier: MIT
"""Readings over the years, from the command line."""

from __future__ import annotations

from typing import TYPE_CHECKING
from xml.etree import ElementTree

import pytest

from tests.pump import L1, L2

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Wiretrack


def log(wiretrack: Wiretrack, kind: str, value: str, year: int, *more: str) -> None:
    ran = wiretrack(
        "test", "log", L1, "--kind", kind, value, "--at", f"{year}-06-01T12:00:00+00:00", *more
    )
    assert ran.status in (0, 1), ran.err


def insulation(wiretrack: Wiretrack, value: str, year: int, temp: str = "20") -> None:
    log(wiretrack, "insulation", value, year, "--against", "PE", "--test-voltage", "500",
        "--temp", temp)  # fmt: skip


def test_insulation_that_halves_each_year_meets_its_limit_when_it_must(
    wiretrack: Wiretrack,
) -> None:
    # By hand: 64 MΩ in 2020, halved each year, is 1 MΩ (IEC 60364-6 table 6.1) in 2026.
    for n in range(5):
        insulation(wiretrack, f"{64 / 2**n}M", 2020 + n)
    series = wiretrack("trend", L1, "--json").json["series"][0]
    assert (series["kind"], series["against"], series["limit"]) == ("insulation", "PE", 1e6)
    assert series["per_year"] == pytest.approx(0.5, rel=0.01)
    assert series["words"] == "halves every 1 years"
    assert series["meets_limit_on"][:4] == "2026"
    assert series["meets_limit_on"][5:7] in ("05", "06")


def test_readings_are_brought_to_one_temperature(wiretrack: Wiretrack) -> None:
    # ANSI/NETA MTS-2019 table 100.14.1, solid: 20 °C 1.0, 30 °C 1.58, 40 °C 2.50.
    for value, year, temp in (("158M", 2020, "20"), ("100M", 2021, "30"), ("63.2M", 2022, "40")):
        insulation(wiretrack, value, year, temp)
    series = wiretrack("trend", L1, "--json").json["series"][0]
    assert [p["ohms"] for p in series["points"]] == pytest.approx([158e6] * 3)
    assert series["words"] == "steady: within 2 % a year"
    assert series["meets_limit_on"] is None


def test_bounds_are_shown_and_do_not_bend_the_line(wiretrack: Wiretrack) -> None:
    insulation(wiretrack, ">2000M", 2019)
    insulation(wiretrack, "40M", 2021)
    insulation(wiretrack, "10M", 2023)
    series = wiretrack("trend", L1, "--json").json["series"][0]
    assert [p["bound"] for p in series["points"]] == [True, False, False]
    assert series["per_year"] == pytest.approx(0.5, rel=0.01)
    assert "▲ over range: at least this" in wiretrack("trend", L1).out


def test_a_plot_is_no_wider_than_the_terminal(
    wiretrack: Wiretrack, monkeypatch: pytest.MonkeyPatch
) -> None:
    for value, year in (("40M", 2021), ("10M", 2023), ("2.6M", 2025)):
        insulation(wiretrack, value, year)
    for columns in (40, 80):
        monkeypatch.setenv("COLUMNS", str(columns))
        plot = [line for line in wiretrack("trend", L1).out.splitlines() if line[10:11] in "┤└"]
        assert len(plot) >= 13
        assert 30 < max(map(len, plot)) <= columns


def test_a_slip_is_an_outlier(wiretrack: Wiretrack) -> None:
    for year, value in (
        (2018, "100M"),
        (2019, "98M"),
        (2020, "0.9M"),
        (2021, "97M"),
        (2022, "99M"),
    ):
        insulation(wiretrack, value, year)
    series = wiretrack("trend", L1, "--json").json["series"][0]
    assert [p["outlier"] for p in series["points"]] == [False, False, True, False, False]
    assert series["words"] == "steady: within 2 % a year"
    assert "× far from the line: left out of it" in wiretrack("trend", L1).out


def test_continuity_that_rises_is_followed_without_leads_and_temperature(
    wiretrack: Wiretrack,
) -> None:
    # IEC 60228: 0.004 per K from 20 °C, so 0.310 Ω at 20 °C reads 0.3224 Ω at 30 °C; leads 0.1 Ω.
    log(wiretrack, "continuity", "0.41", 2020, "--leads", "0.1", "--temp", "20")
    log(wiretrack, "continuity", "0.4328", 2021, "--leads", "0.1", "--temp", "30")
    series = wiretrack("trend", L1, "--kind", "continuity", "--json").json["series"][0]
    assert [p["ohms"] for p in series["points"]] == pytest.approx([0.31, 0.32], abs=1e-6)
    assert series["per_year"] == pytest.approx(0.01, rel=0.01)
    assert series["meets_limit_on"] is not None


def test_the_plot_is_drawn(wiretrack: Wiretrack, tmp_path: Path) -> None:
    for n in range(4):
        insulation(wiretrack, f"{64 / 2**n}M", 2020 + n)
    file = tmp_path / "trend.svg"
    assert wiretrack("trend", L1, "--svg", file).status == 0
    root = ElementTree.fromstring(file.read_text("utf-8"))
    circles = [e for e in root.iter() if e.tag.endswith("circle")]
    assert len(circles) == 4
    xs = [float(e.get("cx", "0")) for e in circles]
    ys = [float(e.get("cy", "0")) for e in circles]
    assert xs == sorted(xs)
    assert ys == sorted(ys)  # falling values lie lower, and y grows downwards


def test_one_reading_has_no_slope_and_says_so(wiretrack: Wiretrack) -> None:
    insulation(wiretrack, "50M", 2024)
    series = wiretrack("trend", L1, "--json").json["series"][0]
    assert (series["per_year"], series["line"]) == (None, None)
    assert "make a trend" in series["words"]
    assert wiretrack("trend", L1).status == 0


def test_without_readings_there_is_nothing_to_follow(wiretrack: Wiretrack) -> None:
    ran = wiretrack("trend", L2)
    assert (ran.status, "has no dated reading to follow" in ran.err) == (2, True)


def test_the_line_cites_its_publications_without_a_word_on_memory(wiretrack: Wiretrack) -> None:
    for n in range(4):
        insulation(wiretrack, f"{64 / 2**n}M", 2020 + n)
    source = wiretrack("trend", L1, "--json").json["series"][0]["source"]
    assert source.endswith("slope: Sen 1968; outliers: Iglewicz and Hoaglin 1993")
    assert "memory" not in wiretrack("trend", L1).words
