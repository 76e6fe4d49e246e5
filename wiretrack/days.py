# SPDX-License-Identifier: MIT
"""Days and times as the site counts them, whatever offset from UTC a moment was written with.

A site's time zone is a field of its record. Where it isn't recorded, a moment stays in the offset
it was written with, and one in UTC (as the history writes them) is told in this machine's zone.
What people type as a day or a time is read here too.
"""

from __future__ import annotations

from contextlib import suppress
from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from typing import TYPE_CHECKING

from wiretrack import manner
from wiretrack.errors import AmbiguousError, BadInputError
from wiretrack.late import pattern

if TYPE_CHECKING:
    import re
    from zoneinfo import ZoneInfo

CLOCKS_DIFFER = timedelta(minutes=5)  # common practice: phones and laptops that set themselves
_DAY = 10  # characters of YYYY-MM-DD
_REMEMBERED = 10_000


def use(time_zone: str | None) -> None:
    """Count days in `time_zone` (IANA) from now on, of a site of which no more is known."""
    manner.use(manner.Manner(time_zone))


def _here() -> ZoneInfo | None:
    if not (zone := manner.here().time_zone):
        return None
    from zoneinfo import ZoneInfo

    return ZoneInfo(zone)


def day(at: str | None, unknown: str = "undated") -> str:
    """Return the day of a moment, YYYY-MM-DD; a day stays as it is.

    >>> use("America/Los_Angeles")
    >>> day("2026-11-28T02:05:00Z"), day("2026-11-28"), day(None)
    ('2026-11-27', '2026-11-28', 'undated')
    >>> use(None)
    """
    if not at or len(at) <= _DAY:
        return at or unknown
    return _day_told(at, _here())


def moment(at: str | None, unknown: str = "undated", *, seconds: bool = False) -> str:
    """Return a moment for people, with its offset from UTC; a day stays as it is.

    >>> use("Europe/Lisbon")
    >>> moment("2026-07-02T10:15:20+02:00"), moment("2026-12-02T08:15:20.123Z", seconds=True)
    ('2026-07-02 09:15 +01:00', '2026-12-02 08:15:20 UTC')
    >>> use(None)
    """
    return _moment_told(at, _here(), seconds) if at else unknown


def minute(at: str | None) -> str:
    """Return a moment for people who know their time zone: day, hour and minute."""
    return moment(at, "")[:16]


def now() -> str:
    """Return the time now, RFC 3339 in UTC to the second."""
    return datetime.now(UTC).isoformat(timespec="seconds")


def today() -> date:
    """Return the day of now, where the site is."""
    return datetime.now(UTC).astimezone(_here()).date()


def placed(found: datetime) -> datetime:
    """Return a moment with its offset; one that was typed without is taken where the site is.

    `OverflowError` if it lies so near to the end of the calendar that it has no time in UTC.
    """
    found.astimezone(UTC)
    if found.tzinfo is not None:
        return found
    zone = _here()
    return found.astimezone() if zone is None else found.replace(tzinfo=zone)


_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_NUMBER = r"(?P<number>[0-9]{1,2})(?:st|nd|rd|th)?"
_MONTH = r"(?P<month>jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*\.?"
_TYPED = pattern(
    r"(?P<day>.*?)(?:(?:[\s,]+|\s+at\s+|t)(?P<hour>[0-9]{1,2})(?:"
    r":(?P<minute>[0-9]{2})(?::(?P<second>[0-9]{2}))?\s*(?P<half>[ap]\.?m\.?)?"
    r"|\s*(?P<sharp>[ap]\.?m\.?)))?"
)
_NAMED = [
    pattern(rf"{_NUMBER}\.?[\s-]*{_MONTH}[\s,-]*(?P<year>[0-9]{{4}})"),
    pattern(rf"{_MONTH}\s*{_NUMBER}[\s,]+(?P<year>[0-9]{{4}})"),
]
_DOTTED = pattern(r"([0-9]{1,2})\.\s*([0-9]{1,2})\.\s*([0-9]{4})")
_YEAR_FIRST = pattern(r"([0-9]{4})[/.-]([0-9]{1,2})[/.-]([0-9]{1,2})")
_EITHER_WAY = pattern(r"([0-9]{1,2})([/-])([0-9]{1,2})\2([0-9]{4})")


def typed(text: str) -> date | datetime:
    """Return a day, or a time where the site is, that somebody typed.

    ``2025-04-24``, ``24.4.2025``, ``24 Apr 2025``, ``April 24, 2025``, ``today`` and ``yesterday``
    are read, with ``14:30`` or ``2:30 pm`` behind them; also any time of RFC 3339, and ``now``.

    Raises
    ------
    AmbiguousError
        If day and month may change places, as in ``4/5/2025``; both days are named.
    BadInputError
        If it is no day and no time.

    >>> typed("24.4.2025"), typed("Apr 24, 2025") == typed("24 Apr 2025") == typed("4/24/2025")
    (datetime.date(2025, 4, 24), True)
    """
    plain = " ".join(text.split()).lower()
    if plain == "now":
        return datetime.now(UTC).astimezone(_here())
    moments: list[date | datetime] = []
    with suppress(ValueError):
        moments = _moments(plain)
    if len(moments) > 1:
        readings = [str(each).removesuffix(":00") for each in moments]
        raise AmbiguousError(text, "can be read as two days", readings)
    with suppress(ValueError, OverflowError):
        for each in moments:
            return placed(each) if isinstance(each, datetime) else each
    raise BadInputError(
        f"'{text}' is not a day or a time. Write it like 2026-05-02 or 2026-05-02 10:15.",
        value=text,
    )


def typed_day(text: str) -> date:
    """Return the day that somebody typed; of a time, its day where the site is."""
    try:
        found = typed(text)
    except AmbiguousError:
        raise
    except BadInputError:
        hint = "Write it like 2026-05-02."
        raise BadInputError(f"'{text}' is not a date.", hint, value=text) from None
    return date_of(found.isoformat()) if isinstance(found, datetime) else found


def typed_time(text: str) -> str:
    """Return a time that somebody typed, RFC 3339; of a day its midnight where the site is."""
    try:
        found = typed(text)
        if not isinstance(found, datetime):
            found = placed(datetime.combine(found, time()))
        found.astimezone(UTC)
        return found.isoformat(timespec="seconds")
    except AmbiguousError:
        raise
    except (ValueError, OverflowError):  # the first and the last day of the calendar have no zone
        raise BadInputError(
            f"'{text}' is not a time. Write it like 2026-05-02T10:15:00+02:00 or 2026-05-02 10:15."
        ) from None


def _moments(plain: str) -> list[date | datetime]:
    """Return each day or time, not yet anywhere, that a text may mean; `ValueError` if it can't."""
    with suppress(ValueError):
        is_day = len(plain) <= _DAY
        return [date.fromisoformat(plain) if is_day else datetime.fromisoformat(plain.upper())]
    found = _TYPED.fullmatch(plain)
    if not found:
        return []
    days = _days(found["day"])
    if not found["hour"]:
        return [*days]
    return [datetime.combine(each, _clock(found)) for each in days]


def _days(plain: str) -> list[date]:
    ago = {"today": 0, "yesterday": 1}.get(plain)
    if ago is not None:
        return [today() - timedelta(days=ago)]
    for named in filter(None, (spelt.fullmatch(plain) for spelt in _NAMED)):
        return [date(int(named["year"]), _MONTHS.index(named["month"]) + 1, int(named["number"]))]
    dotted, year_first = _DOTTED.fullmatch(plain), _YEAR_FIRST.fullmatch(plain)
    if dotted:
        return [date(int(dotted[3]), int(dotted[2]), int(dotted[1]))]
    if year_first:
        return [date(*map(int, year_first.groups()))]
    either = _EITHER_WAY.fullmatch(plain)
    found = []
    if either:
        one, other, year = int(either[1]), int(either[3]), int(either[4])
        for month, number in dict.fromkeys(((one, other), (other, one))):
            with suppress(ValueError):
                found.append(date(year, month, number))
    return found


def _clock(found: re.Match[str]) -> time:
    """Return the time of day; `ValueError` if there is none such."""
    hour, half = int(found["hour"]), (found["half"] or found["sharp"] or "")[:1]
    if half and not 1 <= hour <= 12:
        raise ValueError(hour)
    hour = hour % 12 + 12 * (half == "p") if half else hour
    return time(hour, int(found["minute"] or 0), int(found["second"] or 0))


def in_future(at: str | None) -> bool:
    """Return whether a moment lies ahead of this machine's clock by more than clocks differ."""
    clock = datetime.now(UTC)
    if at is None or at[:_DAY] < (clock - timedelta(days=1)).date().isoformat():
        return False
    return placed(datetime.fromisoformat(at.upper())) > clock + CLOCKS_DIFFER


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
        return date_of(at) + timedelta(days=1) < date_of(moment)
    return _order(at, moment) < 0


def _order(at: str, moment: str) -> int:
    """Return -1, 0 or 1, as the first is before, at or after the second."""
    if _DAY in (len(at), len(moment)):
        return (date_of(at) > date_of(moment)) - (date_of(at) < date_of(moment))
    one, other = datetime.fromisoformat(at.upper()), datetime.fromisoformat(moment.upper())
    return (one > other) - (one < other)


def date_of(moment: str) -> date:
    """Return the day of a moment as a date."""
    return date.fromisoformat(day(moment))


def in_time(at: str | None) -> tuple[bool, float]:
    """Return what moments are put in order by: those of the future first, then one by one.

    Moments of the future are dated wrongly. A day counts from its midnight in UTC, and what has no
    time comes before all that has one.
    """
    if at is None:
        return True, float("-inf")
    return not in_future(at), _timestamp(at)


@lru_cache(_REMEMBERED)
def _timestamp(at: str) -> float:
    found = datetime.fromisoformat(at.upper())
    return found.replace(tzinfo=found.tzinfo or UTC).timestamp()


@lru_cache(_REMEMBERED)
def _day_told(at: str, zone: ZoneInfo | None) -> str:
    found = _told(at, zone)
    return at[:_DAY] if found is None else found.date().isoformat()


@lru_cache(_REMEMBERED)
def _moment_told(at: str, zone: ZoneInfo | None, seconds: bool) -> str:
    found = _told(at, zone)
    if found is None:
        return at
    offset = "UTC" if not found.utcoffset() else found.isoformat()[-6:]
    return f"{found:%Y-%m-%d %H:%M:%S} {offset}" if seconds else f"{found:%Y-%m-%d %H:%M} {offset}"


def _told(at: str, zone: ZoneInfo | None) -> datetime | None:
    """Return a moment in the zone it is told in; `None` of a day alone, or of what is no time."""
    if len(at) <= _DAY:
        return None
    try:
        found = datetime.fromisoformat(at.upper())
        if zone is None and found.utcoffset() != timedelta(0):
            return found if found.tzinfo else None
        return found.astimezone(zone)
    except (ValueError, OverflowError):  # the calendar's first and last day have no other zone
        return None


def utc_now() -> str:
    """Return the moment it is, in UTC, to the millisecond."""
    return datetime.now(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
