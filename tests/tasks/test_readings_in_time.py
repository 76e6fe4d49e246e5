# SPDX-License-Identifier: MIT
"""Which reading counts: the latest moment, not the latest text; and not what was taken back."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

import pytest

from tests.pump import L1, L2, PE
from tests.record_of import record_of
from wiretrack.errors import BadInputError
from wiretrack.tasks.report.punchlist import punch_list
from wiretrack.tasks.test.testing import ReadingText, log_reading

if TYPE_CHECKING:
    from wiretrack.store.store import Registry


def log(registry: Registry, value: str, *, subject: str = L1, **more: str) -> str:
    text = ReadingText(subject=subject, kind="continuity", value=value, temp="20 C", **more)
    return log_reading(registry, text).id


def failed(registry: Registry) -> list[str]:
    return [row.subject for row in punch_list(registry) if row.what == "reading failed"]


# RFC 3339 5.1: times with different offsets can't be ordered as texts.
@pytest.mark.parametrize("zone", ["UTC", "Asia/Tokyo", "America/New_York"])
def test_the_later_moment_counts_whatever_its_offset(
    registry: Registry, zone: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as place:
        place.setenv("TZ", zone)
        time.tzset()
        log(registry, "OL", at="2026-05-02T10:15:00+02:00")
        stored = registry.rows("SELECT id, at FROM readings")
        place.setenv("TZ", "UTC")
        time.tzset()
        log(registry, "0.31", at="2026-05-02T08:20:00+00:00")
    time.tzset()
    assert failed(registry) == []
    found = record_of(registry, L1)["readings"]
    assert [reading["as_read"] for reading in found] == ["OL", "0.31"]
    assert found[0]["at"] == stored[0]["at"]


def test_a_reading_of_the_wrong_conductor_is_taken_back_by_one_of_the_right(
    registry: Registry,
) -> None:
    wrong = log(registry, "OL", subject=L1)
    assert len(failed(registry)) == 1
    log(registry, "0.31", subject=L2, supersedes=wrong)
    assert failed(registry) == []
    assert record_of(registry, L1)["readings"][0]["superseded"] is True


def test_a_conductor_is_not_read_against_itself(registry: Registry) -> None:
    with pytest.raises(BadInputError, match="can't be read against itself"):
        log(registry, "0.31", subject=PE, against=PE.lower())


@pytest.mark.parametrize("at", ["0001-01-01", "9999-12-31T23:59:59-12:00", "some day"])
def test_a_time_outside_the_calendar_is_bad_input(registry: Registry, at: str) -> None:
    with pytest.raises(BadInputError, match=f"'{at}' is not a time"):
        log(registry, "0.31", at=at)
