# SPDX-License-Identifier: MIT
"""Whether an instrument's calibration covers the readings taken with it."""

from __future__ import annotations

from datetime import date, datetime
from typing import TYPE_CHECKING, Literal

from wiretrack.late import dataclass
from wiretrack.sources import COMMON_PRACTICE

if TYPE_CHECKING:
    from collections.abc import Sequence

State = Literal["in date", "overdue", "unknown"]
INTERVAL = "a year"  # common practice: one year; the maker or the quality rules may say otherwise
SOURCE = COMMON_PRACTICE.key


@dataclass(frozen=True)
class Calibration:
    """What is known of an instrument's calibration, and why it is said."""

    state: State
    reason: str


def calibration(calibrated_on: str | None, taken_at: Sequence[str | None]) -> Calibration:
    """Return whether readings taken at these moments lie within a year after the calibration.

    A record holds one calibration only, so what was read before it stays unknown.

    Parameters
    ----------
    calibrated_on : str or None
        The day of the calibration, ISO 8601; None where it isn't recorded.
    taken_at : sequence of str or None
        When the readings were taken, RFC 3339; None where that isn't recorded.
    """
    day = _day(calibrated_on)
    if day is None:
        why = f"'{calibrated_on}' is no date" if calibrated_on else "no calibration is recorded"
        return Calibration("unknown", why)
    days = [_day(at) for at in taken_at]
    known = sorted(one for one in days if one is not None)
    if not known:
        return Calibration("unknown", "no reading with a date was taken with it")
    due = _year_after(day)
    late = sum(one > due for one in known)
    early = sum(one < day for one in known)
    if late:
        why = f"{_count(late)} taken more than {INTERVAL} after it, the last on {known[-1]}"
        return Calibration("overdue", why)
    if early:
        why = f"{_count(early)} taken before it, the first on {known[0]}"
        return Calibration("unknown", f"{why}; an earlier calibration isn't recorded")
    if len(known) < len(days):
        return Calibration("unknown", "a reading taken with it has no date")
    return Calibration("in date", f"every reading taken within {INTERVAL} of it")


def _count(number: int) -> str:
    return f"{number} reading{'s' if number != 1 else ''}"


def _day(text: str | None) -> date | None:
    try:
        return datetime.fromisoformat(text).date() if text else None
    except ValueError:
        return None


def _year_after(day: date) -> date:
    try:
        return day.replace(year=day.year + 1)
    except ValueError:  # 29 February, or the last year of the calendar
        return date(day.year + 1, 3, 1) if day.year < date.max.year else date.max
