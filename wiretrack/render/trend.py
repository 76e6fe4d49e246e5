# SPDX-License-Identifier: MIT
"""A series of readings as a plot: for a terminal in characters, and as an SVG drawing."""

from __future__ import annotations

from datetime import date
from functools import lru_cache
from math import ceil, floor, log10
from typing import TYPE_CHECKING

from wiretrack import svg
from wiretrack.days import day
from wiretrack.electrical.quantity_text import format_resistance
from wiretrack.late import dataclass
from wiretrack.svg import ALARM, DIM, INK, LIT

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.readings.trending import ConductorTrend, LineEnd, Series, TrendPoint

COLUMNS, ROWS, _LABEL = 56, 12, 11  # characters of the plot in a terminal, and left of it
WIDTH, HEIGHT, LEFT, TOP, RIGHT, BOTTOM = 680, 260, 112, 50, 30, 46  # user units of the drawing
_GRID = "#dde3e8"
MARKS = {"reading": "●", "bound": "▲", "outlier": "×"}
_MEANT = {
    "reading": "reading",
    "bound": "over range: at least this",
    "outlier": "far from the line: left out of it",
}


@dataclass(frozen=True)
class _Frame:
    """What the plot spans: days and heights, heights by logarithm where the scale is."""

    first: int
    last: int
    low: float
    high: float
    is_log: bool

    def across(self, at: str) -> float:
        """Return where a date lies, from 0 to 1."""
        return (_day(at) - self.first) / max(self.last - self.first, 1)

    def up(self, ohms: float) -> float:
        """Return where a value lies, from 0 to 1."""
        return (_height(ohms, self.is_log) - self.low) / (self.high - self.low)

    def round_values(self) -> list[float]:
        """Return some three to six values to draw levels at: decades, or round steps."""
        wide = self.high - self.low
        power = 10.0 ** floor(log10(wide))
        steps = [1.0, 2.0] if self.is_log and wide > 2 else [power * n for n in (0.1, 0.2, 0.5, 1)]
        step = min(steps, key=lambda each: abs(wide / each - 4.5))
        heights = [n * step for n in range(ceil(self.low / step), floor(self.high / step) + 1)]
        return [10**height if self.is_log else height for height in heights]

    def value(self, share: float) -> float:
        """Return the value at a height from 0 to 1."""
        height = self.low + share * (self.high - self.low)
        return float(10**height if self.is_log else height)


def plot_lines(series: Series, room: int = 80) -> list[str]:
    """Return a plot of a series for a terminal: rows from the top, then the dates.

    It is no wider than `room` characters.
    """
    columns = max(24, min(COLUMNS, room - _LABEL))
    frame = _frame(series)
    grid = [[" "] * columns for _ in range(ROWS)]
    if series.limit is not None and 0 <= frame.up(series.limit) <= 1:
        grid[_row(frame, series.limit)] = ["╌"] * columns
    if series.line:
        _draw_line(grid, frame, series.line)
    for point in series.points:
        column = round(frame.across(point.at) * (columns - 1))
        grid[_row(frame, point.ohms)][column] = MARKS[mark_of(point)]
    lines = []
    for n, row in enumerate(grid):
        share = 1 - n / (ROWS - 1)
        label = format_resistance(frame.value(share), 2) if n % 3 == 0 or n == ROWS - 1 else ""
        lines.append(f"{label:>9} ┤{''.join(row).rstrip()}")
    first, last = (day(p.at) for p in (series.points[0], series.points[-1]))
    lines.append(f"{'':9} └{'─' * columns}")
    lines.append(f"{'':11}{first}{last:>{columns - len(first)}}")
    return lines


@lru_cache(maxsize=256)  # a circuit's report draws what its conductors' records do
def plot_svg(found: ConductorTrend, number: int = 0) -> str:
    """Return a plot of one of the series of a trend as an SVG document."""
    series = found.series[number]
    frame = _frame(series)
    title = f"{found.tag}  {found.circuit} {found.function}: {series.title}"
    body = [svg.text(LEFT, 24, title, 15)]
    for ohms in frame.round_values():
        y = _y(frame.up(ohms))
        body.append(_level(y, _GRID, 1))
        words = format_resistance(ohms, 2)
        body.append(svg.text(LEFT - 8, y + 4, words, 11, DIM, text_anchor="end"))
    limit = series.limit
    if limit is not None and 0 <= frame.up(limit) <= 1:
        y, words = _y(frame.up(limit)), f"limit {format_resistance(limit)}"
        body.append(_level(y, ALARM, 1.5, stroke_dasharray="6 5"))
        body.append(svg.text(WIDTH - RIGHT, y - 5, words, 11, ALARM, text_anchor="end"))
    if series.line:
        (x1, y1), (x2, y2) = (_xy(frame, p.at, p.ohms) for p in series.line)
        body.append(svg.path(f"M{x1:.1f} {y1:.1f}L{x2:.1f} {y2:.1f}", DIM))
    body += [_mark(frame, point) for point in series.points]
    ends = {series.points[-1].at: "end", series.points[0].at: "start"}
    for point in (point for point in series.points if point.at in ends):
        anchor = ends.pop(point.at)
        x, _ = _xy(frame, point.at, point.ohms)
        body.append(svg.text(x, HEIGHT - 24, day(point.at), 11, DIM, text_anchor=anchor))
    body.append(svg.text(LEFT, HEIGHT - 8, f"at 20 °C; {series.words}"))
    body.append(svg.text(LEFT, 40, key_of(series, "─", "- -"), 11, DIM))
    return svg.document(WIDTH, HEIGHT, title, body)


def drawable(found: ConductorTrend) -> list[tuple[int, Series]]:
    """Return each series of a trend that has two points, with its number."""
    return [(n, one) for n, one in enumerate(found.series) if len(one.points) > 1]


def plots(found: ConductorTrend) -> list[tuple[Series, str]]:
    """Return each series of a trend that has two points, with its plot."""
    return [(one, plot_svg(found, n)) for n, one in drawable(found)]


def key_of(series: Series, line: str = "·", limit: str = "╌") -> str:
    """Return what the marks of a plot mean, those that are in it; line and limit as drawn."""
    found = {mark_of(point) for point in series.points}
    key = [f"{MARKS[mark]} {meant}" for mark, meant in _MEANT.items() if mark in found]
    key += [f"{line} line through the readings"] if series.line else []
    key += [f"{limit} limit"] if series.limit is not None else []
    return ",  ".join(key)


def mark_of(point: TrendPoint) -> str:
    """Return what a point is drawn as: reading, bound or outlier."""
    if point.bound:
        return "bound"
    return "outlier" if point.outlier else "reading"


def _frame(series: Series) -> _Frame:
    is_log = series.scale == "log"
    values = [point.ohms for point in series.points]
    if series.limit:
        values.append(series.limit)
    heights = [_height(value, is_log) for value in values]
    low, high = min(heights), max(heights)
    room = (high - low) * 0.08 or abs(high) * 0.1 or 1.0
    days = [_day(point.at) for point in series.points]
    return _Frame(min(days), max(days), low - room, high + room, is_log)


def _height(ohms: float, is_log: bool) -> float:
    return log10(max(ohms, 1.0)) if is_log else ohms


def _day(at: str) -> int:
    return date.fromisoformat(day(at)).toordinal()


def _row(frame: _Frame, ohms: float) -> int:
    return ROWS - 1 - round(min(max(frame.up(ohms), 0), 1) * (ROWS - 1))


def _draw_line(grid: list[list[str]], frame: _Frame, ends: Sequence[LineEnd]) -> None:
    (one, first), (other, last) = (
        (round(frame.across(end.at) * (len(grid[0]) - 1)), frame.up(end.ohms)) for end in ends
    )
    for column in range(one, other + 1):
        share = first + (last - first) * (column - one) / max(other - one, 1)
        if 0 <= share <= 1:
            grid[ROWS - 1 - round(share * (ROWS - 1))][column] = "·"


def _y(share: float) -> float:
    return TOP + (1 - share) * (HEIGHT - TOP - BOTTOM)


def _xy(frame: _Frame, at: str, ohms: float) -> tuple[float, float]:
    across = LEFT + 10 + frame.across(at) * (WIDTH - LEFT - RIGHT - 20)
    return across, _y(min(max(frame.up(ohms), 0), 1))


def _mark(frame: _Frame, point: TrendPoint) -> str:
    x, y = _xy(frame, point.at, point.ohms)
    what = mark_of(point)
    if what == "bound":
        return svg.shape(f"M{x - 6:.1f} {y + 5:.1f}l6 -11l6 11z", INK)
    if what == "outlier":
        return svg.path(f"M{x - 5:.1f} {y - 5:.1f}l10 10m0 -10l-10 10", LIT, 2.5)
    return svg.circle(x, y, 4.5, INK)


def _level(y: float, colour: str, width: float, **more: str) -> str:
    return svg.path(f"M{LEFT} {y:.1f}H{WIDTH - RIGHT}", colour, width, **more)
