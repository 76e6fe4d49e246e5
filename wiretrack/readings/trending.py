# SPDX-License-Identifier: MIT
"""A conductor's readings over the years: at one temperature, with slope, limit and outliers."""

from __future__ import annotations

from collections import defaultdict
from datetime import UTC, datetime, timedelta
from math import exp, log
from typing import TYPE_CHECKING, Any

from wiretrack import days
from wiretrack.electrical.resistance import REFERENCE_C
from wiretrack.electrical.trending import SOURCE, trend_line
from wiretrack.late import dataclass
from wiretrack.readings import TRENDED, kind_of
from wiretrack.readings.base import written

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from wiretrack.electrical.trending import TrendLine
    from wiretrack.model.entities import Conductor, Reading

YEAR_S = 365.2425 * 86_400  # exact: the mean Gregorian year
_FURTHEST_YEARS = 100.0


@dataclass(frozen=True)
class TrendPoint:
    """One reading of a series, as it was read and in ohm at 20 °C; a `bound` if over-range."""

    id: str | None
    at: str
    as_read: str
    ohms: float
    bound: bool
    outlier: bool
    note: str


@dataclass(frozen=True)
class LineEnd:
    """One end of the line through a series, for drawing."""

    at: str
    ohms: float


@dataclass(frozen=True)
class Series:
    """Readings of one kind against one thing, with the line through them.

    `scale` is ``log`` or ``linear``, `words` tells the slope, `per_year` is it: a factor by
    logarithm, else in ohm. `line` has the line's two ends.
    """

    kind: str
    against: str | None
    unit: str
    at_c: float
    points: tuple[TrendPoint, ...]
    scale: str
    limit: float | None
    per_year: float | None
    words: str
    meets_limit_on: str | None
    earliest: str | None
    line: tuple[LineEnd, ...] | None
    source: str

    @property
    def title(self) -> str:
        """What was read against what."""
        return kind_of(self.kind).told(self.against)


@dataclass(frozen=True, eq=False)
class ConductorTrend:
    """The series of a conductor's readings, one for each kind and other thing."""

    tag: str
    circuit: str
    function: str
    series: tuple[Series, ...]


@dataclass(frozen=True)
class _Point:
    """One reading brought to 20 °C: `value` in ohm, a bound if over-range."""

    reading: Reading
    moment: datetime
    value: float
    note: str
    source: str

    @property
    def year(self) -> float:
        return self.moment.timestamp() / YEAR_S

    @property
    def counts(self) -> bool:
        return not self.reading.over_range and self.value > 0


def trend_of(
    conductor: Conductor, readings: Sequence[Reading], kinds: Sequence[str] = TRENDED
) -> ConductorTrend:
    """Return the series of a conductor's readings, which are in order of time; it may have none."""
    superseded = {reading.supersedes for reading in readings}
    series: defaultdict[tuple[str, str | None], list[_Point]] = defaultdict(list)
    for reading in readings:
        if reading.id in superseded or reading.kind not in kinds:
            continue
        point = _point(reading, conductor)
        if point is not None:
            series[reading.kind, reading.against].append(point)
    return ConductorTrend(
        str(conductor.tag), conductor.circuit, conductor.function,
        tuple(
            _series(kind, against, points)
            for (kind, against), points in sorted(series.items(), key=_order)
        ),
    )  # fmt: skip


def _order(item: tuple[tuple[str, str | None], list[_Point]]) -> tuple[int, str]:
    (kind, against), _ = item
    return TRENDED.index(kind), against or ""


def _point(reading: Reading, conductor: Conductor) -> _Point | None:
    if reading.at is None or reading.number is None or days.in_future(reading.at):
        return None
    kind = kind_of(reading.kind)
    if not kind.compares(reading):
        return None
    moment = datetime.fromisoformat(reading.at)
    if moment.tzinfo is None:
        moment = moment.replace(tzinfo=UTC)
    found = kind.at_20(reading, conductor)
    return _Point(reading, moment, found.value, found.note, found.source)


def _series(kind: str, against: str | None, points: Sequence[_Point]) -> Series:
    """Return one series with its line; by its logarithm where its kind is."""
    rule = kind_of(kind).trend
    assert rule is not None, "only kinds that have a trend are asked for"
    is_log = rule.is_log
    counted = [point for point in points if point.counts]
    line = trend_line(
        [(p.year, log(p.value) if is_log else p.value) for p in counted],
        rule.spread * (1.0 if is_log else max((p.value for p in counted), default=0.0)),
    )
    outliers = {id(counted[n]) for n in line.outliers} if line else set[int]()
    limit = _limit(points[-1])
    sources = dict.fromkeys(point.source for point in points if point.source)
    return Series(
        kind=kind,
        against=written(against),
        unit=kind_of(kind).unit,
        at_c=REFERENCE_C,
        points=tuple(
            TrendPoint(p.reading.id, p.reading.at or "", p.reading.value, p.value,
                       p.reading.over_range, id(p) in outliers, p.note)
            for p in points
        ),
        scale="log" if is_log else "linear",
        limit=limit,
        **_outlook(line, limit, is_log),
        line=_ends(line, points, is_log),
        source="; ".join([*sources, SOURCE]),
    )  # fmt: skip


def _limit(last: _Point) -> float | None:
    """Return the limit that the last reading was judged by, at 20 °C where it is a wire's."""
    found = last.reading.verdict.limit
    if found is None:
        return None
    return kind_of(last.reading.kind).limit_at_20(found, last.reading, last.value)


def _outlook(line: TrendLine | None, limit: float | None, is_log: bool) -> dict[str, Any]:
    """Return the slope in words and figures, and when the line meets the limit."""
    if line is None:
        return {
            "per_year": None,
            "words": "two readings of different dates, within the meter's range, make a trend",
            "meets_limit_on": None,
            "earliest": None,
        }
    per_year = exp(line.slope) if is_log else line.slope
    height = None if limit is None or limit <= 0 else log(limit) if is_log else limit
    meets = None if height is None else line.meets(height, falling=is_log)
    steepest = line.low if is_log else line.high
    earliest = None
    if meets is not None and height is not None and steepest and line.slope:
        earliest = line.x_middle + (height - line.middle) / steepest
    return {
        "per_year": per_year,
        "words": _words(line, is_log),
        "meets_limit_on": _date(meets),
        "earliest": _date(earliest),
    }


def _words(line: TrendLine, is_log: bool) -> str:
    steady = log(1.02) if is_log else 0.02 * abs(line.middle)
    if abs(line.slope) < steady:
        return "steady: within 2 % a year"
    if not is_log:
        return f"{line.slope * 1000:+.3g} mΩ a year"
    halving = log(2) / abs(line.slope)
    return f"{'halves' if line.slope < 0 else 'doubles'} every {halving:.2g} years"


def _ends(
    line: TrendLine | None, points: Iterable[_Point], is_log: bool
) -> tuple[LineEnd, ...] | None:
    """Return the line's two ends over the readings' dates, for drawing."""
    if line is None:
        return None
    years = [point.year for point in points]
    return tuple(
        LineEnd(_date(x) or "", exp(line.at(x)) if is_log else line.at(x))
        for x in (min(years), max(years))
    )


def _date(year: float | None) -> str | None:
    """Return the day of a moment in years since 1970; none that is centuries away."""
    if year is None or not -_FURTHEST_YEARS < year - 50 < _FURTHEST_YEARS:
        return None
    day = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=year * YEAR_S)
    return day.date().isoformat()
