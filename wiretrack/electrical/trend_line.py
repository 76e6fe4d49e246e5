# SPDX-License-Identifier: MIT
"""The line through readings of several years: slope, outliers, and when it meets a limit."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from math import isfinite, sqrt
from statistics import NormalDist, median
from typing import TYPE_CHECKING

from wiretrack.errors import BadInputError
from wiretrack.sources import IGLEWICZ_1993, SEN_1968

if TYPE_CHECKING:
    from collections.abc import Sequence

OUTLIER_SCORE = 3.5  # Iglewicz and Hoaglin 1993: modified z-score, 0.6745 |r - median| / MAD
_MAD_TO_SIGMA = 0.6745  # Iglewicz and Hoaglin 1993: makes the MAD a standard deviation
LEAST_FOR_OUTLIERS = 4  # common practice: of three points any one may be the wrong one
CONFIDENCE = 0.95  # JCGM 100:2008, 6.3.3
SOURCE = f"slope: {SEN_1968.cite()}; outliers: {IGLEWICZ_1993.cite()}"


@dataclass(frozen=True)
class TrendLine:
    """A line y = middle + slope (x - x_middle); `low` and `high` bound the slope at 95 %."""

    slope: float
    x_middle: float
    middle: float
    low: float | None
    high: float | None
    outliers: tuple[int, ...]

    def at(self, x: float) -> float:
        """Return the line's height at `x`."""
        return self.middle + self.slope * (x - self.x_middle)

    def meets(self, limit: float, falling: bool) -> float | None:
        """Return where the line meets `limit`; `None` if it leads away from it or is level."""
        if self.slope == 0 or (self.slope < 0) != falling:
            return None
        return self.x_middle + (limit - self.middle) / self.slope


def trend_line(points: Sequence[tuple[float, float]], spread: float = 0.0) -> TrendLine | None:
    """Return the line through points, insensitive to single wrong ones.

    Parameters
    ----------
    points : sequence of (x, y)
        Such as years and the logarithm of an insulation resistance.
    spread : float, default 0
        What points may lie off the line without meaning anything, in units of y: the least
        standard deviation used when outliers are looked for.

    Returns
    -------
    TrendLine or None
        None with fewer than two different x.

    References
    ----------
    .. [1] Sen 1968 (as later texts have it; original not seen): the median of all slopes
       between two points, its confidence interval by Kendall's tau.
    .. [2] Iglewicz and Hoaglin 1993 (as later texts have it; original not seen): modified z-score
       above 3.5.

    >>> trend_line([(0, 1.0), (1, 3.0), (2, 5.0)]).slope
    2.0
    """
    for x, y in points:
        if not (isfinite(x) and isfinite(y)):
            raise BadInputError(f"A point of a trend is ({x}, {y}). Both must be finite numbers.")
    found = _sen(points)
    if found is None or len(points) < LEAST_FOR_OUTLIERS:
        return found
    rest = [y - found.at(x) for x, y in points]
    amid = median(rest)
    scale = max(median(abs(r - amid) for r in rest), spread * _MAD_TO_SIGMA)
    outliers = tuple(
        n for n, r in enumerate(rest)
        if scale and _MAD_TO_SIGMA * abs(r - amid) / scale > OUTLIER_SCORE
    )  # fmt: skip
    if not outliers:
        return found
    kept = [point for n, point in enumerate(points) if n not in outliers]
    again = _sen(kept) or found
    return TrendLine(again.slope, again.x_middle, again.middle, again.low, again.high, outliers)


def _sen(points: Sequence[tuple[float, float]]) -> TrendLine | None:
    slopes = sorted(
        (b[1] - a[1]) / (b[0] - a[0]) for a, b in combinations(points, 2) if a[0] != b[0]
    )
    if not slopes:
        return None
    x_middle, y_middle = median(x for x, _ in points), median(y for _, y in points)
    low, high = _interval(points, slopes)
    return TrendLine(median(slopes), x_middle, y_middle, low, high, ())


def _interval(
    points: Sequence[tuple[float, float]], slopes: Sequence[float]
) -> tuple[float | None, float | None]:
    """Return the interval of Sen's slope, ties allowed for; None where too few points bound it."""
    variance = float(_tied(len(points)))
    for values in ([x for x, _ in points], [y for _, y in points]):
        counts = [values.count(value) for value in set(values)]
        variance -= sum(_tied(count) for count in counts if count > 1)
    z = NormalDist().inv_cdf((1 + CONFIDENCE) / 2)
    width = z * sqrt(max(variance, 0.0) / 18)
    count = len(slopes)
    first, last = round((count - width) / 2) - 1, round((count + width) / 2)
    if first < 0 or last >= count:
        return None, None
    return slopes[first], slopes[last]


def _tied(count: int) -> int:
    return count * (count - 1) * (2 * count + 5)
