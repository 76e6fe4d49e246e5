# SPDX-License-Identifier: MIT
from __future__ import annotations

import csv
import math
from collections import defaultdict
from importlib.resources import files
from math import comb
from typing import Any

import pytest

from wiretrack.errors import OutOfRangeError
from wiretrack.labels.geometry import (
    arc_deg,
    arc_limit_deg,
    circumference_mm,
    fold_mm,
    largest_module_dots,
    letter_height_mm,
    smallest_module_dots,
    wrap_band,
)
from wiretrack.labels.plan import Stock, Zone
from wiretrack.labels.symbol import LEVELS
from wiretrack.sources import ARC_SIMULATION, NUREG_0700


def chance(read: int, trials: int, share: float = 0.95) -> float:
    """Return how likely at least so many are read: the tail of the binomial distribution."""
    likely = (comb(trials, n) * share**n * (1 - share) ** (trials - n) for n in range(trials + 1))
    return sum(each for n, each in enumerate(likely) if n >= read)


@pytest.mark.full
@pytest.mark.parametrize(("read", "trials"), [(19, 20), (60, 60), (95, 100), (290, 300), (5, 300)])
def test_the_binomial_tail_is_scipys(read: int, trials: int) -> None:
    from scipy.stats import binomtest  # type: ignore[import-untyped]

    theirs = binomtest(read, trials, 0.95, alternative="greater").pvalue
    assert chance(read, trials) == pytest.approx(theirs)


def wrap(**said: Any) -> Stock:
    fields: dict[str, Any] = {
        "name": "w",
        "form": "wrap",
        "width_mm": 25,
        "height_mm": 40,
        "dpi": 300,
        "zone": Zone(0, 0, 25, 12),
        "clear_tail_mm": 28,
    }
    return Stock(**{**fields, **said})


def test_letters_follow_the_sixteen_minutes_of_arc_of_nureg_0700() -> None:
    # NUREG-0700 rev. 2, 1.3.1-4: height = 6.283 D MA / 21600 (its constant has four figures).
    assert NUREG_0700.cite("1.3.1-4") == "NUREG-0700 rev. 2 1.3.1-4"
    for distance in (300.0, 600.0, 1000.0):
        published = 6.283 * distance * 16 / 21600
        assert letter_height_mm(distance) == pytest.approx(published, rel=1e-4)


def test_a_12_awg_thhn_conductor_has_the_girth_of_its_published_diameter() -> None:
    # NEC chapter 9 table 5: 12 AWG THHN, diameter 0.130 in, area 0.0133 in2 (circle of it).
    area_mm2 = 0.0133 * 25.4**2
    assert circumference_mm(0.130 * 25.4) == pytest.approx(
        2 * math.sqrt(math.pi * area_mm2), rel=0.004
    )


def test_a_quarter_of_the_way_round_is_a_quarter_turn() -> None:
    assert arc_deg(circumference_mm(12.3) / 4, 12.3) == pytest.approx(90)
    assert arc_deg(circumference_mm(5), 5) == pytest.approx(360)


def test_arc_limits_are_where_the_simulated_photographs_stop_being_read() -> None:
    assert ARC_SIMULATION.cite() == "arc simulation"
    text = (files("wiretrack.labels") / "data" / "arc_success.csv").read_text("utf-8")
    lines = [line for line in text.splitlines() if not line.startswith("#")]
    best: dict[tuple[int, str, float], dict[float, tuple[int, int]]] = defaultdict(dict)
    for row in csv.DictReader(lines):
        kind = int(row["version"]), row["level"], float(row["module_mm"])
        trials, arc = int(row["trials"]), float(row["arc_deg"])
        read = round(trials * float(row["read_share"]))
        best[kind][arc] = max(best[kind].get(arc, (0, 0)), (read, trials))
    wanted = {(1, "H"), (1, "M"), (2, "Q"), (2, "M"), (3, "Q"), (3, "M"), (1, "L")}
    assert wanted <= {kind[:2] for kind in best}
    for kind, read_at in best.items():
        # The exact binomial test: would so many be read if the share were 95 % or less?
        sure = {arc: chance(*read) <= 0.05 for arc, read in read_at.items()}
        limit = arc_limit_deg(*kind)  # type: ignore[arg-type]
        assert all(sure[arc] for arc in sure if arc <= limit)
        assert not sure[limit + 10]


def test_a_module_gets_the_limit_of_the_largest_that_is_not_larger() -> None:
    assert arc_limit_deg(2, "M", 0.254) == arc_limit_deg(2, "M", 0.329) == 30
    assert arc_limit_deg(2, "M", 0.339) == arc_limit_deg(2, "M", 0.6) == 40
    assert arc_limit_deg(1, "H", 0.2) == min(
        arc_limit_deg(version, level, 0.25) for version in (1, 2, 3, 4) for level in LEVELS
    )


def test_no_symbol_may_bend_as_far_as_for_a_camera_held_square_and_an_unknown_kind_least() -> None:
    kinds = [(version, level) for version in range(1, 11) for level in LEVELS]
    limits = [arc_limit_deg(*kind, 0.339) for kind in kinds]
    assert max(limits) == arc_limit_deg(1, "H", 0.339) < 90
    assert min(limits) == arc_limit_deg(9, "L", 0.339) > 0


@pytest.mark.parametrize("diameter", [0, -1, 151, math.inf, math.nan])
def test_a_diameter_that_cannot_be_is_refused(diameter: float) -> None:
    with pytest.raises(OutOfRangeError) as caught:
        circumference_mm(diameter)
    assert str(caught.value) == (
        f"Outer diameter is {diameter:g} mm; it must be above 0 and at most 150 mm."
    )


@pytest.mark.parametrize(
    ("around", "height", "limit"),
    [
        (20.0, 12.0, "the print zone"),  # 40 - 20 = 20 of tail would cover more
        (8.0, 8.0, "the conductor's circumference"),  # a second turn would hide the first
        (31.0, 9.0, "what the clear tail covers"),  # 40 - 31
        (45.0, 0.0, "what the clear tail covers"),  # the label doesn't go round once
    ],
)
def test_a_clear_tail_lets_print_go_once_round_and_no_further_than_it_covers(
    around: float, height: float, limit: str
) -> None:
    band = wrap_band(wrap(), around / math.pi)
    assert band.height_mm == pytest.approx(height)
    assert band.limited_by == limit
    assert band.top_mm == 0


def test_without_a_tail_only_the_last_turn_of_a_label_shows() -> None:
    stock = wrap(clear_tail_mm=0, zone=Zone(0, 1, 25, 38))
    band = wrap_band(stock, 15 / math.pi)
    assert (band.top_mm, band.height_mm) == pytest.approx((25, 14))
    band = wrap_band(stock, 60 / math.pi)
    assert (band.top_mm, band.height_mm) == pytest.approx((1, 38))


def test_a_fold_leaves_room_for_the_way_round_the_conductor() -> None:
    stock = wrap(form="flag", fold_mm=12)
    assert fold_mm(stock, None) == 12
    assert fold_mm(stock, 3.3) == 12
    assert fold_mm(stock, 10) == pytest.approx(10 * math.pi)


@pytest.mark.parametrize("dpi", [100, 203, 300, 360, 600, 1200])
def test_modules_are_whole_dots_at_least_three_and_at_least_a_quarter_millimetre(dpi: int) -> None:
    dots = smallest_module_dots(dpi)
    assert dots >= 3
    assert dots * 25.4 / dpi >= 0.25
    assert dots == 3 or (dots - 1) * 25.4 / dpi < 0.25
    assert largest_module_dots(dpi) >= dots
