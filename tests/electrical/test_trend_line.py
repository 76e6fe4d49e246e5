# SPDX-License-Identifier: MIT
"""The line through readings of several years, against scipy."""

from __future__ import annotations

import math
from random import Random

import pytest
from scipy.stats import theilslopes  # type: ignore[import-untyped]

from tests.drawing import each
from wiretrack.electrical.trending import trend_line
from wiretrack.errors import BadInputError


@each(range(40))
def test_slope_and_interval_are_those_of_scipys_theil_sen(seed: int) -> None:
    # Sen 1968; scipy.stats.theilslopes, method "separate", which cites its equation 2.6.
    random = Random(seed)
    count = random.randint(8, 20)
    xs = [float(random.randint(0, 30)) for _ in range(count)]
    ys = [round(0.3 * x + random.gauss(0, 1), 1) for x in xs]
    found = trend_line(list(zip(xs, ys, strict=True)), spread=1e9)
    reference = theilslopes(ys, xs, alpha=0.95, method="separate")
    assert found is not None
    assert found.slope == pytest.approx(reference.slope)
    assert found.at(0) == pytest.approx(reference.intercept)
    assert found.low == pytest.approx(reference.low_slope)
    assert found.high == pytest.approx(reference.high_slope)


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
