# SPDX-License-Identifier: MIT
"""Days are the site's days, on every list, page, label and report."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.pump import L1
from wiretrack import days
from wiretrack.cli.group import run
from wiretrack.errors import AmbiguousError, BadInputError
from wiretrack.store.store import open_registry
from wiretrack.tasks.change.done import moment_of_change

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Wiretrack


# Moments in UTC and the day in a zone then, by the rules of the IANA database as published:
# Pacific time is UTC-8 from November to March and UTC-7 in summer; Kathmandu is UTC+5:45;
# Auckland is UTC+13 in its summer.
SITE_DAYS = [
    ("2026-11-28T02:05:00Z", "America/Los_Angeles", "2026-11-27", "2026-11-27 18:05 -08:00"),
    ("2026-11-28T07:59:59.5Z", "America/Los_Angeles", "2026-11-27", "2026-11-27 23:59 -08:00"),
    ("2026-11-28T08:00:00Z", "America/Los_Angeles", "2026-11-28", "2026-11-28 00:00 -08:00"),
    ("2026-07-02T06:59:00+00:00", "America/Los_Angeles", "2026-07-01", "2026-07-01 23:59 -07:00"),
    ("2026-07-01T18:20:00Z", "Asia/Kathmandu", "2026-07-02", "2026-07-02 00:05 +05:45"),
    ("2026-12-31T12:00:00+01:00", "Pacific/Auckland", "2027-01-01", "2027-01-01 00:00 +13:00"),
    ("2026-11-28", "America/Los_Angeles", "2026-11-28", "2026-11-28"),
]


@pytest.mark.parametrize(("at", "zone", "day", "moment"), SITE_DAYS)
def test_a_moment_is_told_on_the_site_s_day(at: str, zone: str, day: str, moment: str) -> None:
    days.use(zone)
    assert (days.day(at), days.moment(at)) == (day, moment)


def test_without_a_time_zone_a_moment_stays_in_the_offset_it_was_written_with() -> None:
    assert days.day("2026-05-02T23:30:00-07:00") == "2026-05-02"
    assert days.moment("2026-05-02T23:30:00-07:00") == "2026-05-02 23:30 -07:00"


def test_a_time_typed_without_an_offset_is_the_site_s() -> None:
    days.use("America/Los_Angeles")
    assert days.typed_time("2026-07-02 10:15") == "2026-07-02T10:15:00-07:00"
    assert days.typed_time("2026-12-02 10:15") == "2026-12-02T10:15:00-08:00"
    assert days.typed_time("2026-12-02T10:15:00+01:00") == "2026-12-02T10:15:00+01:00"


# A day as people write it. A date with points has the day first (DIN 5008:2020, common practice
# in Europe); with strokes it may be read both ways, unless one of the two is no month.
DAYS = [
    ("24.4.2025", "2025-04-24"), ("24.04.2025", "2025-04-24"), ("4.5.2025", "2025-05-04"),
    ("24. 4. 2025", "2025-04-24"), ("2025-04-24", "2025-04-24"), ("2025/4/24", "2025-04-24"),
    ("24 Apr 2025", "2025-04-24"), ("24. April 2025", "2025-04-24"), ("24-apr-2025", "2025-04-24"),
    ("April 24, 2025", "2025-04-24"), ("Apr 24th 2025", "2025-04-24"), ("13/5/2025", "2025-05-13"),
    ("5/13/2025", "2025-05-13"), ("4/4/2025", "2025-04-04"), ("29.2.2024", "2024-02-29"),
]  # fmt: skip
NO_DAYS = [
    "24.4.25", "30.2.2025", "13/13/2025", "29.2.2025", "2025-13-01", "24 Apr", "24 Foo 2025",
    "noon",
    "24.4.2025 25:00", "24.4.2025 13 pm", "24.4.2025 9:60", "tomorrow", "", "14:30", "0.4.2025",
]  # fmt: skip


@pytest.mark.parametrize(("text", "day"), DAYS)
def test_a_day_is_read_as_people_write_it(text: str, day: str) -> None:
    assert str(days.typed_day(text)) == day
    assert moment_of_change(text) == day
    assert days.typed_time(f"{text} 14:30")[:16] == f"{day}T14:30"
    assert days.typed_time(f"{text}, 2:30 pm")[:16] == f"{day}T14:30"
    assert days.typed_time(f"{text} at 12 am")[:16] == f"{day}T00:00"


@pytest.mark.parametrize("text", NO_DAYS)
def test_what_is_no_day_is_refused_with_how_to_write_it(text: str) -> None:
    with pytest.raises(BadInputError, match=r"is not a day or a time\. Write it like 2026-05-02"):
        days.typed(text)


@given(st.dates(date(1, 1, 1)))
def test_every_way_to_write_a_day_names_it_or_names_both_readings(day: date) -> None:
    months = "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec".split()
    year = f"{day.year:04}"
    assert days.typed_day(f"{day.day}.{day.month}.{year}") == day
    assert days.typed_day(f"{day.day} {months[day.month - 1]} {year}") == day
    assert days.typed_day(day.isoformat()) == day
    strokes = f"{day.day}/{day.month}/{year}"
    if day.day <= 12 and day.day != day.month:
        with pytest.raises(AmbiguousError) as caught:
            days.typed(strokes)
        other = f"{year}-{day.day:02}-{day.month:02}"
        assert caught.value.choices == (other, day.isoformat())
        assert str(caught.value) == (
            f"'{strokes}' can be read as two days. Write {other} or {day.isoformat()}."
        )
    else:
        assert days.typed_day(strokes) == day


def test_today_and_yesterday_are_the_site_s() -> None:
    days.use("Pacific/Kiritimati")  # UTC+14
    here = (datetime.now(UTC) + timedelta(hours=14)).date()
    assert days.typed("today") == here
    assert moment_of_change("Yesterday") == str(here - timedelta(days=1))
    assert days.typed_time("yesterday 14:30") == f"{here - timedelta(days=1)}T14:30:00+14:00"


def test_a_reading_and_a_change_are_dated_as_people_write_it(wiretrack: Wiretrack) -> None:
    log = ["test", "log", L1, "--kind", "continuity", "0,3", "--at"]
    assert wiretrack(*log, "24.4.2025 9:05").status == 0
    ran = wiretrack(*log, "4/5/2025")
    assert (ran.status, ran.out) == (2, "")
    assert ran.err == (
        "error: '4/5/2025' can be read as two days. Write 2025-04-05 or 2025-05-04.\n"
    )
    (reading,) = (
        r for r in wiretrack("show", L1, "--json").json["readings"] if r["at"][:4] == "2025"
    )
    assert (reading["at"][:16], reading["value"]) == ("2025-04-24T09:05", 0.3)


@pytest.mark.parametrize("zone", ["Pacific/Kiritimati", "Pacific/Pago_Pago"])
def test_tomorrow_where_the_site_is_can_not_be_the_day_of_a_change(zone: str) -> None:
    days.use(zone)  # UTC+14 and UTC-11: their days differ from UTC's for most of a day
    hours = {"Pacific/Kiritimati": 14, "Pacific/Pago_Pago": -11}[zone]
    today = (datetime.now(UTC) + timedelta(hours=hours)).date()
    assert moment_of_change(today.isoformat()) == today.isoformat()
    tomorrow = (today + timedelta(days=1)).isoformat()
    with pytest.raises(BadInputError, match=f"^{tomorrow} lies in the future"):
        moment_of_change(tomorrow)


def test_a_change_in_the_evening_is_of_that_day_on_lists_and_in_the_binder(
    db: Path, tmp_path: Path, wiretrack: Wiretrack
) -> None:
    with open_registry(db) as registry, registry.write():
        registry.db.execute("UPDATE site SET time_zone = 'America/Los_Angeles'")
    tag = wiretrack("find", "PUMP", "L1", "--json").json[0]["code"]
    moment = "2026-05-02T02:30:00Z"  # half past seven in the evening of the day before
    assert wiretrack("retire", tag, "--on", moment, "--abandoned").status == 0
    shown = wiretrack("show", tag).out
    assert "2026-05-01" in shown
    assert "2026-05-02" not in shown
    assert wiretrack("binder", tmp_path / "binder").status == 0
    page = next(page for page in (tmp_path / "binder" / "circuits").iterdir())
    text = page.read_text(encoding="utf-8")
    assert "2026-05-01" in text
    assert ">2026-05-02" not in text


def test_a_new_registry_takes_a_time_zone_and_refuses_one_that_is_none(tmp_path: Path) -> None:
    db = tmp_path / "new.db"
    words = ["--db", str(db), "new", "--name", "Well", "--time-zone"]
    assert (run([*words, "Well/Head"]), db.exists()) == (2, False)
    assert run([*words, "Europe/Lisbon"]) == 0
    with open_registry(db) as registry:
        assert registry.manner().time_zone == "Europe/Lisbon"
