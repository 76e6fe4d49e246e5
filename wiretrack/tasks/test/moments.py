# SPDX-License-Identifier: MIT
"""Moments as people type them: a time, or only the day where that is all that is known."""

from __future__ import annotations

from datetime import UTC, date, datetime

from wiretrack import days
from wiretrack.errors import BadInputError

_DAY = 10  # characters of YYYY-MM-DD


def time_of(text: str) -> str:
    """Return a time as RFC 3339; one without an offset is taken in the site's time zone.

    Raises
    ------
    BadInputError
        If it isn't a time.
    """
    try:
        found = days.placed(datetime.fromisoformat(text))
        found.astimezone(UTC)
        return found.isoformat(timespec="seconds")
    except (ValueError, OverflowError):  # the first and the last day of the calendar have no zone
        raise BadInputError(
            f"'{text}' is not a time. Write it like 2026-05-02T10:15:00+02:00 or 2026-05-02 10:15."
        ) from None


def moment_of_change(text: str | None) -> str:
    """Return when a change was made: a day as a day, a time as RFC 3339, now where none is said.

    Raises
    ------
    BadInputError
        If it is neither a day nor a time, or lies in the future.
    """
    if text is None:
        return days.now()
    found = text.strip()
    try:
        found = date.fromisoformat(found).isoformat() if len(found) == _DAY else time_of(found)
    except ValueError:
        raise BadInputError(
            f"'{text}' is not a day or a time. Write it like 2026-05-02 or 2026-05-02 10:15."
        ) from None
    if days.date_of(found) > days.today():
        raise BadInputError(
            f"{days.day(found)} lies in the future. Change the record once the work is done."
        )
    return found


def today_is_now(moment: str) -> str:
    """Return a moment, the day of today as the time now."""
    is_today = len(moment) == _DAY and days.date_of(moment) == days.today()
    return days.now() if is_today else moment
