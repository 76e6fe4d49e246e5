# SPDX-License-Identifier: MIT
"""Insulation readings beside each other: brought to one temperature, and their timed ratios."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from wiretrack.days import day
from wiretrack.electrical.quantity_text import format_resistance
from wiretrack.electrical.trending import MINUTE_S, absorption_ratio, polarization_index
from wiretrack.readings import kind_of
from wiretrack.readings.base import written

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from wiretrack.model.entities import Reading

HALF_MINUTE_S, TEN_MINUTES_S = 30.0, 600.0
NO_LIMIT = "No limit is published for wiring."


def absorption(readings: Iterable[Reading]) -> list[dict[str, Any]]:
    """Return the polarization indices and absorption ratios that timed readings give, by day.

    Readings belong together if they are of one conductor against the same thing, with the same
    test voltage, on the same day; of several at one moment the last one counts. Each ratio has
    the one `before` it: its day, its ratio, and how many `times` as much it is now; `words` and
    `compared` say it for people.
    """
    rows: dict[tuple[Any, ...], list[dict[str, Any]]] = defaultdict(list)
    for key, ohms in sorted(_series(readings).items(), key=lambda item: item[0][0]):
        day, subject, against, volts = key
        for what, early_s, late_s, ratio_of in _RATIOS:
            if not {early_s, late_s} <= ohms.keys():
                continue
            found, earlier = (
                ratio_of(ohms[early_s], ohms[late_s]),
                rows[what, subject, against, volts],
            )
            earlier.append(
                {
                    "what": what,
                    "on": day,
                    "against": written(against),
                    "test_voltage_v": volts,
                    "early_s": early_s,
                    "late_s": late_s,
                    **asdict(found),
                    "limit": None,
                    "reason": NO_LIMIT,
                    "before": _before(earlier, found.ratio),
                }
            )
    found_rows = sorted((row for one in rows.values() for row in one), key=lambda row: row["on"])
    return [
        row | {"words": _words(row), "compared": _compared(row["before"])} for row in found_rows
    ]


_Key = tuple[str, str, str | None, float | None]
_RATIOS = (
    ("polarization index", MINUTE_S, TEN_MINUTES_S, polarization_index),
    ("absorption ratio", HALF_MINUTE_S, MINUTE_S, absorption_ratio),
)


def _series(readings: Iterable[Reading]) -> dict[_Key, dict[float, float]]:
    """Return what was read in one series, in ohm by the seconds that the voltage was on."""
    series: defaultdict[_Key, dict[float, float]] = defaultdict(dict)
    for reading in readings:
        timed = "after" in kind_of(reading.kind).fields and not reading.over_range
        if timed and reading.number and reading.at and reading.after_s:
            key = (day(reading.at), reading.subject, reading.against, reading.test_voltage_v)
            series[key][reading.after_s] = reading.number
    return series


def _before(earlier: Sequence[dict[str, Any]], ratio: float) -> dict[str, Any] | None:
    """Return the last of the earlier ratios, and how many times as much `ratio` is."""
    if not earlier:
        return None
    then = earlier[-1]
    return {"on": then["on"], "ratio": then["ratio"], "times": ratio / then["ratio"]}


def _words(row: dict[str, Any]) -> str:
    """Return a ratio with both readings, for people."""
    against = f" to {row['against']}" if row["against"] else ""
    volts = f" at {row['test_voltage_v']:g} V" if row["test_voltage_v"] else ""
    late, early = (
        f"{format_resistance(row[f'{which}_ohm'])} after {row[f'{which}_s']:g} s"
        for which in ("late", "early")
    )
    return f"{row['on']} {row['what']}{against}{volts}: {row['ratio']:.3g} ({late}, {early})"


def _compared(before: dict[str, Any] | None) -> str:
    if before is None:
        return "No earlier ratio to compare with."
    return f"Before: {before['ratio']:.3g} on {before['on']}. Now {before['times']:.3g} times that."
