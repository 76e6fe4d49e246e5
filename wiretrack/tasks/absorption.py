# SPDX-License-Identifier: MIT
"""Insulation readings beside each other: brought to one temperature, and their timed ratios."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from wiretrack.electrical.trending import absorption_ratio, corrected_neta, polarization_index
from wiretrack.errors import OutOfRangeError

if TYPE_CHECKING:
    from collections.abc import Iterable

    from wiretrack.records import Reading

HALF_MINUTE_S, MINUTE_S, TEN_MINUTES_S = 30.0, 60.0, 600.0


def at_reference(reading: Reading) -> dict[str, Any] | None:
    """Return an insulation reading brought to 20 °C for comparing years, with rule and source.

    `None` for other readings, bounds, an unknown temperature, and one the table doesn't reach.
    """
    known = reading.number is not None and reading.temp_c is not None
    if reading.kind != "insulation" or reading.over_range or not known:
        return None
    try:
        trend = corrected_neta(reading.number or 0.0, reading.temp_c or 0.0)
    except OutOfRangeError:
        return None
    return asdict(trend)


def absorption(readings: Iterable[Reading]) -> list[dict[str, Any]]:
    """Return the polarization indices and absorption ratios that timed readings give.

    Readings belong together if they are of one conductor against the same thing, with the same
    test voltage, on the same day; of several at one moment the last one counts.
    """
    series: defaultdict[tuple[Any, ...], dict[float, float]] = defaultdict(dict)
    for reading in readings:
        timed = reading.kind == "insulation" and reading.after_s and not reading.over_range
        if timed and reading.number and reading.at and reading.after_s:
            key = (reading.at[:10], reading.subject, reading.against, reading.test_voltage_v)
            series[key][reading.after_s] = reading.number
    rows = []
    for (day, _, against, volts), ohms in series.items():
        common = {"on": day, "against": against, "test_voltage_v": volts}
        if {MINUTE_S, TEN_MINUTES_S} <= ohms.keys():
            index = polarization_index(ohms[MINUTE_S], ohms[TEN_MINUTES_S])
            rows.append({"what": "polarization index", **common, **asdict(index)})
        if {HALF_MINUTE_S, MINUTE_S} <= ohms.keys():
            ratio = absorption_ratio(ohms[HALF_MINUTE_S], ohms[MINUTE_S])
            rows.append({"what": "absorption ratio", **common, **asdict(ratio)})
    return rows
