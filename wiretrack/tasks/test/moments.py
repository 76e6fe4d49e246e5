# SPDX-License-Identifier: MIT
"""Moments as people type them: a time, or only the day where that is all that is known."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

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
    if _day(found) > days.today():
        raise BadInputError(
            f"{days.day(found)} lies in the future. Change the record once the work is done."
        )
    return found


def not_after(at: str | None, moment: str) -> bool:
    """Return whether `at` can have been no later than `moment`.

    Where only the day of one is known, days are compared. What has no time can have been at any.

    >>> not_after("2026-05-02T23:00:00+02:00", "2026-05-02")
    True
    """
    return at is None or _order(at, moment) <= 0


def before(at: str | None, moment: str) -> bool:
    """Return whether `at` can have been before `moment`, on the same day too if no more is known.

    >>> before("2026-05-02T10:00:00Z", "2026-05-02T10:00:00Z"), before("2026-05-02", "2026-05-02")
    (False, True)
    """
    only_days = at is None or _DAY in (len(at), len(moment))
    return not_after(at, moment) if only_days else _order(str(at), moment) < 0


def surely_before(at: str, moment: str) -> bool:
    """Return whether `at` was before `moment`, whatever time zone a day without a time is of.

    >>> surely_before("2026-05-01", "2026-05-02T00:30:00Z")
    False
    >>> surely_before("2026-05-01", "2026-05-03")
    True
    """
    if _DAY in (len(at), len(moment)):
        return _day(at) + timedelta(days=1) < _day(moment)
    return _order(at, moment) < 0


def _order(at: str, moment: str) -> int:
    """Return -1, 0 or 1, as the first is before, at or after the second."""
    if _DAY in (len(at), len(moment)):
        return (_day(at) > _day(moment)) - (_day(at) < _day(moment))
    one, other = datetime.fromisoformat(at.upper()), datetime.fromisoformat(moment.upper())
    return (one > other) - (one < other)


def today_is_now(moment: str) -> str:
    """Return a moment, the day of today as the time now."""
    is_today = len(moment) == _DAY and _day(moment) == days.today()
    return days.now() if is_today else moment


def _day(moment: str) -> date:
    return date.fromisoformat(days.day(moment))
