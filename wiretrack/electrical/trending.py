# SPDX-License-Identifier: MIT
"""Insulation readings at one temperature, ratios of timed ones, and the line through years of them.

A corrected reading is for comparing years; the verdict stays on the raw reading unless the limit
itself holds at a stated temperature (NETA).
"""

from __future__ import annotations

from itertools import combinations
from math import isfinite, sqrt
from typing import TYPE_CHECKING, Literal

from wiretrack.electrical.limits import above, between
from wiretrack.electrical.tables import load_table
from wiretrack.errors import BadInputError
from wiretrack.late import dataclass
from wiretrack.sources import COMMON_PRACTICE, IEEE_43, IGLEWICZ_1993, NETA_MTS, SEN_1968

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence


Material = Literal["solid", "oil"]
MINUTE_S = 60.0  # IEEE 43-2013 (reprint): the test voltage is on so long before readings compare
PI_MEANINGLESS_OHM = 5e9  # IEEE 43-2013 (reprint): above it the index need not be considered


@dataclass(frozen=True)
class Trend:
    """A reading at a reference temperature, with the rule that brought it there."""

    ohms: float
    at_c: float
    factor: float
    source: str
    note: str


@dataclass(frozen=True)
class Absorption:
    """A ratio of two timed insulation readings, with both of them.

    No limit goes with it: for wiring none is published. IEEE 43 sets one for windings of rotating
    machines, and a conductor of the record is never one.
    """

    ratio: float
    early_ohm: float
    late_ohm: float
    source: str
    note: str = ""


def corrected_neta(ohms: float, temp_c: float, material: Material = "solid") -> Trend:
    """Return an insulation resistance brought to 20 °C by NETA's table.

    Between two rows the colder one is taken: its factor is the smaller, and no interpolation is
    provided for.

    Raises `OutOfRangeError` if the table doesn't reach the temperature (0 to 75 °C).

    Source: ANSI/NETA MTS-2019 table 100.14.1 (reprint; original not seen).
    """
    between(0, 1e18, "Insulation resistance", ohms, "ohm")
    between(0, 75, "Temperature of the insulation", temp_c, "°C")
    if material not in ("solid", "oil"):
        raise BadInputError(f"'{material}' is not insulation here. Materials: solid, oil.")
    rows = [r for r in load_table("neta_temperature").rows if float(r["temp_c"]) <= temp_c]
    row = rows[-1]
    factor = float(row[material])
    note = f"times {factor:g} to 20 °C"
    if float(row["temp_c"]) != temp_c:
        note += f" (row of {row['temp_c']} °C, the next colder one)"
    source = NETA_MTS.cite(f"table 100.14.1, {material}")
    if row[f"confidence_{material}"] != "high":
        source += f" (confidence in this row: {row[f'confidence_{material}']})"
    return Trend(ohms * factor, 20.0, factor, source, note)


def polarization_index(ohms_1_min: float, ohms_10_min: float) -> Absorption:
    """Return the resistance after 10 minutes over that after 1 minute (IEEE 43).

    >>> polarization_index(500e6, 2000e6).ratio
    4.0
    """
    note = ""
    if ohms_1_min > PI_MEANINGLESS_OHM:
        note = f"above 5 GΩ after 1 minute the index says little ({IEEE_43.key})"
    return _absorption(ohms_1_min, ohms_10_min, f"defined by {IEEE_43.key}, for windings", note)


def absorption_ratio(ohms_30_s: float, ohms_60_s: float) -> Absorption:
    """Return the resistance after 60 seconds over that after 30 seconds (common practice)."""
    return _absorption(ohms_30_s, ohms_60_s, COMMON_PRACTICE.key)


def _absorption(early_ohm: float, late_ohm: float, source: str, note: str = "") -> Absorption:
    above(0, "Early reading", early_ohm, "ohm")
    above(0, "Late reading", late_ohm, "ohm")
    return Absorption(late_ohm / early_ohm, early_ohm, late_ohm, source, note)


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

    Points are such as years and the logarithm of an insulation resistance; with fewer than two
    different x there is no line. They may lie off it by `spread` without meaning anything, in
    units of y: the least standard deviation used when outliers are looked for.

    Source: Sen 1968 (as later texts have it; original not seen): the median of all slopes
    between two points, its confidence interval by Kendall's tau. Iglewicz and Hoaglin 1993 (as
    later texts have it; original not seen): modified z-score above 3.5.

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
    amid = _median(rest)
    scale = max(_median(abs(r - amid) for r in rest), spread * _MAD_TO_SIGMA)
    outliers = tuple(
        n for n, r in enumerate(rest)
        if scale and _MAD_TO_SIGMA * abs(r - amid) / scale > OUTLIER_SCORE
    )  # fmt: skip
    if not outliers:
        return found
    kept = [point for n, point in enumerate(points) if n not in outliers]
    again = _sen(kept) or found
    return TrendLine(again.slope, again.x_middle, again.middle, again.low, again.high, outliers)


def _median(values: Iterable[float]) -> float:
    from statistics import median

    return median(values)


def _sen(points: Sequence[tuple[float, float]]) -> TrendLine | None:
    slopes = sorted(
        (b[1] - a[1]) / (b[0] - a[0]) for a, b in combinations(points, 2) if a[0] != b[0]
    )
    if not slopes:
        return None
    x_middle, y_middle = _median(x for x, _ in points), _median(y for _, y in points)
    low, high = _interval(points, slopes)
    return TrendLine(_median(slopes), x_middle, y_middle, low, high, ())


def _interval(
    points: Sequence[tuple[float, float]], slopes: Sequence[float]
) -> tuple[float | None, float | None]:
    """Return the interval of Sen's slope, ties allowed for; None where too few points bound it."""
    variance = float(_tied(len(points)))
    for values in ([x for x, _ in points], [y for _, y in points]):
        counts = [values.count(value) for value in set(values)]
        variance -= sum(_tied(count) for count in counts if count > 1)
    from statistics import NormalDist

    z = NormalDist().inv_cdf((1 + CONFIDENCE) / 2)
    width = z * sqrt(max(variance, 0.0) / 18)
    count = len(slopes)
    first, last = round((count - width) / 2) - 1, round((count + width) / 2)
    if first < 0 or last >= count:
        return None, None
    return slopes[first], slopes[last]


def _tied(count: int) -> int:
    return count * (count - 1) * (2 * count + 5)
