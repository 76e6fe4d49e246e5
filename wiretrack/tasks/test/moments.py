# SPDX-License-Identifier: MIT
"""When the work was changed: a time, or only the day where that is all that is known."""

from __future__ import annotations

from datetime import datetime

from wiretrack import days
from wiretrack.errors import BadInputError

_DAY = 10  # characters of YYYY-MM-DD


def moment_of_change(text: str | None) -> str:
    """Return when a change was made: a day as a day, a time as RFC 3339, now where none is said.

    Raises
    ------
    BadInputError
        If it is neither a day nor a time, or lies in the future.
    """
    if text is None:
        return days.now()
    typed = days.typed(text)
    found = typed.isoformat() if not isinstance(typed, datetime) else days.typed_time(text)
    if days.date_of(found) > days.today():
        raise BadInputError(
            f"{days.day(found)} lies in the future. Change the record once the work is done."
        )
    return found


def today_is_now(moment: str) -> str:
    """Return a moment, the day of today as the time now."""
    is_today = len(moment) == _DAY and days.date_of(moment) == days.today()
    return days.now() if is_today else moment
