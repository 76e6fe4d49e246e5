# SPDX-License-Identifier: MIT
"""The line through readings of several years, against scipy."""

from __future__ import annotations

import math
from random import Random
from typing import TYPE_CHECKING

import pytest

from tests.drawing import full
from wiretrack.electrical.trending import trend_line
from wiretrack.errors import BadInputError

if TYPE_CHECKING:
    from collections.abc import Callable


# Slope, intercept, lower and upper slope of the first seeds, as scipy 1.17 has them.
RECORDED = [
    (0.3035714, -0.2214286, 0.2285714, 0.4047619),
    (0.3410526, -1.6773684, 0.2500000, 0.4142857),
    (0.2739130, -1.0826087, 0.1500000, 0.3952381),
    (0.2750000, 0.0500000, 0.1000000, 0.4000000),
    (0.2857143, 0.3285714, 0.1900000, 0.4285714),
]


def drawn_points(seed: int) -> tuple[list[float], list[float]]:
    random = Random(seed)
    xs = [float(random.randint(0, 30)) for _ in range(random.randint(8, 20))]
    return xs, [round(0.3 * x + random.gauss(0, 1), 1) for x in xs]


def of_scipy(seed: int) -> tuple[float, ...]:
    from scipy.stats import theilslopes  # type: ignore[import-untyped]

    xs, ys = drawn_points(seed)
    found = theilslopes(ys, xs, alpha=0.95, method="separate")
    return found.slope, found.intercept, found.low_slope, found.high_slope


@pytest.mark.parametrize(
    "references", [lambda: RECORDED, full(lambda: [of_scipy(seed) for seed in range(40)])]
)
def test_slope_and_interval_are_those_of_scipys_theil_sen(
    references: Callable[[], list[tuple[float, ...]]],
) -> None:
    # Sen 1968; scipy.stats.theilslopes, method "separate", which cites its equation 2.6.
    for seed, reference in enumerate(references()):
        found = trend_line(list(zip(*drawn_points(seed), strict=True)), spread=1e9)
        assert found is not None
        ours = (found.slope, found.at(0), found.low, found.high)
        assert ours == pytest.approx(reference, abs=1e-7)


@pytest.mark.full
def test_what_is_recorded_is_what_scipy_says() -> None:
    for seed, told in enumerate(RECORDED):
        assert of_scipy(seed) == pytest.approx(told, abs=1e-7)


def test_an_outlier_is_named_and_moves_nothing() -> None:
    # Iglewicz and Hoaglin 1993: a modified z-score above 3.5; by hand 0.6745 * 5 / 0.05 is 67.
    points = [(0.0, 0.0), (1.0, 1.05), (2.0, 1.95), (3.0, 8.0), (4.0, 4.05), (5.0, 4.95)]
    found = trend_line(points)
    assert found is not None
    assert found.outliers == (3,)
    assert found.slope == pytest.approx(1.0, abs=0.02)


def test_of_three_points_none_is_an_outlier() -> None:
    found = trend_line([(0, 0), (1, 50), (2, 0)])
    assert found is not None
    assert found.outliers == ()


def test_a_line_meets_a_limit_only_if_it_leads_there() -> None:
    falling = trend_line([(0, 10), (1, 8)])
    assert falling is not None
    assert falling.meets(4, falling=True) == pytest.approx(3)
    assert falling.meets(12, falling=False) is None
    level = trend_line([(0, 1), (1, 1)])
    assert level is not None
    assert level.meets(0, falling=True) is None


def test_one_moment_makes_no_trend_and_a_point_must_be_finite() -> None:
    assert trend_line([]) is None
    assert trend_line([(1, 2)]) is None
    assert trend_line([(1, 2), (1, 3)]) is None
    with pytest.raises(BadInputError, match="Both must be finite numbers"):
        trend_line([(1, math.nan), (2, 3)])
