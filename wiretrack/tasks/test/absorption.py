# SPDX-License-Identifier: MIT
"""The polarization indices and absorption ratios that timed insulation readings give."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

from wiretrack.days import day
from wiretrack.electrical.quantity_text import format_resistance
from wiretrack.electrical.trending import MINUTE_S, absorption_ratio, polarization_index
from wiretrack.late import dataclass
from wiretrack.readings import kind_of
from wiretrack.readings.base import written

if TYPE_CHECKING:
    from collections.abc import Iterable

    from wiretrack.model.entities import Reading

HALF_MINUTE_S, TEN_MINUTES_S = 30.0, 600.0
NO_LIMIT = "No limit is published for wiring."
_RATIOS = (
    ("polarization index", MINUTE_S, TEN_MINUTES_S, polarization_index),
    ("absorption ratio", HALF_MINUTE_S, MINUTE_S, absorption_ratio),
)


@dataclass(frozen=True)
class EarlierRatio:
    """The ratio before, and how many times as much it is now."""

    on: str
    ratio: float
    times: float


@dataclass(frozen=True)
class TimedRatio:
    """A ratio of two readings of one day, after `early_s` and `late_s` at one test voltage."""

    what: str
    on: str
    against: str | None
    test_voltage_v: float | None
    early_s: float
    late_s: float
    ratio: float
    early_ohm: float
    late_ohm: float
    source: str
    note: str
    limit: float | None
    reason: str
    before: EarlierRatio | None
    ALSO = ("words", "compared")

    @property
    def words(self) -> str:
        """It with both readings, for people."""
        against = f" to {self.against}" if self.against else ""
        volts = f" at {self.test_voltage_v:g} V" if self.test_voltage_v else ""
        late = f"{format_resistance(self.late_ohm)} after {self.late_s:g} s"
        early = f"{format_resistance(self.early_ohm)} after {self.early_s:g} s"
        return f"{self.on} {self.what}{against}{volts}: {self.ratio:.3g} ({late}, {early})"

    @property
    def compared(self) -> str:
        """It beside the one before, for people."""
        if self.before is None:
            return "No earlier ratio to compare with."
        then = f"Before: {self.before.ratio:.3g} on {self.before.on}."
        return f"{then} Now {self.before.times:.3g} times that."


def absorption(readings: Iterable[Reading]) -> list[TimedRatio]:
    """Return the ratios that timed readings give, by day.

    Readings belong together if they are of one conductor against the same thing, with the same
    test voltage, on the same day; of several at one moment the last one counts.
    """
    series: defaultdict[tuple[str, str, str | None, float | None], dict[float, float]]
    series = defaultdict(dict)
    for reading in readings:
        timed = "after" in kind_of(reading.kind).fields and not reading.over_range
        if timed and reading.number and reading.at and reading.after_s:
            key = (day(reading.at), reading.subject, reading.against, reading.test_voltage_v)
            series[key][reading.after_s] = reading.number
    last: dict[tuple[str, str, str | None, float | None], TimedRatio] = {}
    found = []
    for (on, subject, against, volts), ohms in sorted(series.items(), key=lambda item: item[0][0]):
        for what, early_s, late_s, ratio_of in _RATIOS:
            if {early_s, late_s} <= ohms.keys():
                here = (what, subject, against, volts)
                ratio = ratio_of(ohms[early_s], ohms[late_s])
                then = last.get(here)
                last[here] = TimedRatio(
                    what, on, written(against), volts, early_s, late_s, ratio.ratio,
                    ratio.early_ohm, ratio.late_ohm, ratio.source, ratio.note, None, NO_LIMIT,
                    EarlierRatio(then.on, then.ratio, ratio.ratio / then.ratio) if then else None,
                )  # fmt: skip
                found.append(last[here])
    return found
