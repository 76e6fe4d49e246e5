# SPDX-License-Identifier: MIT
"""A conductor's readings over the years: at one temperature, with slope, limit and outliers."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from math import exp, log
from typing import TYPE_CHECKING, Any

from wiretrack import days
from wiretrack.electrical.resistance import REFERENCE_C
from wiretrack.electrical.trend_line import SOURCE, trend_line
from wiretrack.errors import BadInputError, Hint
from wiretrack.model.entities import Conductor
from wiretrack.model.tags import format_tag
from wiretrack.readings import TRENDED, kind_of
from wiretrack.readings.base import written
from wiretrack.readings.judging import Judge
from wiretrack.store.searching import tag_of
from wiretrack.store.source import site_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from wiretrack.electrical.trend_line import TrendLine
    from wiretrack.model.entities import Reading
    from wiretrack.store.store import Registry

YEAR_S = 365.2425 * 86_400  # exact: the mean Gregorian year
_FURTHEST_YEARS = 100.0


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


def trend(registry: Registry, text: str, kind: str | None = None) -> dict[str, Any]:
    """Return the series of a conductor's readings, one for each kind and other thing.

    Raises
    ------
    BadInputError
        If there is no such kind of reading, or the conductor has none with a date.
    """
    if kind is not None and kind not in TRENDED:
        raise BadInputError(f"'{kind}' has no trend. Kinds: {', '.join(TRENDED)}.")
    tag = tag_of(registry, text)
    conductor = site_of(registry).one(Conductor, tag)
    taken = site_of(registry).one(Conductor, tag).readings
    found = trend_of(conductor, taken, Judge(site_of(registry)), [kind] if kind else TRENDED)
    if not found["series"]:
        raise BadInputError(
            f"{format_tag(tag)} has no dated reading to follow.",
            Hint(job="log", about=format_tag(tag)),
        )
    return found


def trend_of(
    conductor: Conductor, taken: Sequence[Reading], judge: Judge, kinds: Sequence[str] = TRENDED
) -> dict[str, Any]:
    """Return `trend` of a conductor and its readings in order of time; it may have no series."""
    superseded = {reading.supersedes for reading in taken}
    series: defaultdict[tuple[str, str | None], list[_Point]] = defaultdict(list)
    for reading in taken:
        if reading.id in superseded or reading.kind not in kinds:
            continue
        point = _point(reading, conductor)
        if point is not None:
            series[reading.kind, reading.against].append(point)
    return {
        "tag": str(conductor.tag),
        "circuit": conductor.circuit,
        "function": conductor.function,
        "series": [
            _series(judge, conductor, kind, against, points)
            for (kind, against), points in sorted(series.items(), key=_order)
        ],
    }


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


def _series(
    judge: Judge, conductor: Conductor, kind: str, against: str | None, points: Sequence[_Point]
) -> dict[str, Any]:
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
    limit = _limit(judge, conductor, points[-1])
    sources = dict.fromkeys(point.source for point in points if point.source)
    return {
        "kind": kind,
        "against": written(against),
        "unit": "ohm",
        "at_c": REFERENCE_C,
        "points": [_row(point, id(point) in outliers) for point in points],
        "scale": "log" if is_log else "linear",
        "limit": limit,
        **_outlook(line, limit, is_log),
        "line": _ends(line, points, is_log),
        "source": "; ".join([*sources, SOURCE]),
    }


def _row(point: _Point, is_outlier: bool) -> dict[str, Any]:
    return {
        "id": point.reading.id,
        "at": point.reading.at,
        "as_read": point.reading.value,
        "ohms": point.value,
        "bound": point.reading.over_range,
        "outlier": is_outlier,
        "note": point.note,
    }


def _limit(judge: Judge, conductor: Conductor, last: _Point) -> float | None:
    """Return the limit that the last reading was judged by, at 20 °C where it is a wire's."""
    found = judge.verdict(last.reading).limit
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
    if not is_log:
        return f"{line.slope * 1000:+.3g} mΩ a year"
    if abs(line.slope) < log(1.02):
        return "steady: within 2 % a year"
    halving = log(2) / abs(line.slope)
    return f"{'halves' if line.slope < 0 else 'doubles'} every {halving:.2g} years"


def _ends(
    line: TrendLine | None, points: Iterable[_Point], is_log: bool
) -> list[dict[str, Any]] | None:
    """Return the line's two ends over the readings' dates, for drawing."""
    if line is None:
        return None
    years = [point.year for point in points]
    return [
        {"at": _date(x), "ohms": exp(line.at(x)) if is_log else line.at(x)}
        for x in (min(years), max(years))
    ]


def _date(year: float | None) -> str | None:
    """Return the day of a moment in years since 1970; none that is centuries away."""
    if year is None or not -_FURTHEST_YEARS < year - 50 < _FURTHEST_YEARS:
        return None
    day = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=year * YEAR_S)
    return day.date().isoformat()
