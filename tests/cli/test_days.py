# SPDX-License-Identifier: MIT
"""Days are the site's days, on every list, page, label and report."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import pytest

from wiretrack import days
from wiretrack.cli.group import run
from wiretrack.errors import BadInputError
from wiretrack.store.store import open_registry
from wiretrack.tasks.test.moments import moment_of_change

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
    page = next(page for page in (tmp_path / "binder").rglob("*.html") if tag in page.name)
    text = page.read_text(encoding="utf-8")
    assert "2026-05-01" in text
    assert ">2026-05-02" not in text


def test_a_new_registry_takes_a_time_zone_and_refuses_one_that_is_none(tmp_path: Path) -> None:
    db = tmp_path / "new.db"
    words = ["--db", str(db), "new", "--name", "Well", "--time-zone"]
    assert (run([*words, "Well/Head"]), db.exists()) == (2, False)
    assert run([*words, "Europe/Lisbon"]) == 0
    with open_registry(db) as registry:
        assert registry.time_zone() == "Europe/Lisbon"
