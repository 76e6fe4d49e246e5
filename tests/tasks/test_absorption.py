# SPDX-License-Identifier: MIT
"""Timed insulation readings: the two ratios, and readings brought to 20 °C."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tests.pump import L1
from tests.record_of import record_of
from wiretrack.errors import BadInputError
from wiretrack.tasks.test.testing import ReadingText, log_reading

if TYPE_CHECKING:
    from wiretrack.store.store import Registry


def log(
    registry: Registry, value: str, after: str | None, temp: str | None = None, *,
    day: str = "2026-05-02", against: str = "PE", volts: str = "500",
) -> None:  # fmt: skip
    text = ReadingText(
        subject=L1, kind="insulation", value=value, after=after, temp=temp, against=against,
        test_voltage=volts, at=f"{day}T10:00:00+00:00",
    )  # fmt: skip
    log_reading(registry, text)


def test_the_polarization_index_is_ten_minutes_over_one(registry: Registry) -> None:
    # IEEE 43: ten minutes over one, 2000 over 500 MΩ.
    log(registry, "500M", "1 min")
    log(registry, "2000M", "10 min")
    found = record_of(registry, L1)["absorption"]
    assert [(row["what"], row["ratio"]) for row in found] == [("polarization index", 4.0)]
    assert "IEEE 43" in found[0]["source"]


def test_the_absorption_ratio_is_sixty_seconds_over_thirty(registry: Registry) -> None:
    log(registry, "400M", "30 s")
    log(registry, "600M", "60")
    found = record_of(registry, L1)["absorption"]
    assert [(row["what"], row["ratio"]) for row in found] == [("absorption ratio", 1.5)]
    assert (found[0]["early_ohm"], found[0]["late_ohm"]) == (400e6, 600e6)


def test_a_ratio_of_wiring_has_no_limit_and_is_compared_with_the_one_before(
    registry: Registry,
) -> None:
    for day, late in (("2022-06-01", "1500M"), ("2026-05-02", "1200M"), ("2024-06-01", "2000M")):
        log(registry, "1000M", "1 min", day=day)
        log(registry, late, "10 min", day=day)
    found = record_of(registry, L1)["absorption"]
    assert [row["limit"] for row in found] == [None, None, None]
    assert {row["reason"] for row in found} == {"No limit is published for wiring."}
    # By hand: 1.5 in 2022, 2.0 in 2024, 1.2 in 2026: 2.0 / 1.5 and 1.2 / 2.0 times the one before.
    assert found[0]["before"] is None
    assert found[1]["before"] == {
        "on": "2022-06-01", "ratio": 1.5, "times": pytest.approx(2.0 / 1.5)
    }  # fmt: skip
    assert found[2]["before"] == {"on": "2024-06-01", "ratio": 2.0, "times": pytest.approx(0.6)}
    assert found[0]["compared"] == "No earlier ratio to compare with."
    assert found[2]["compared"] == "Before: 2 on 2024-06-01. Now 0.6 times that."
    assert found[2]["words"] == (
        "2026-05-02 polarization index to PE at 500 V: 1.2 (1.2 GΩ after 600 s, 1 GΩ after 60 s)"
    )


@pytest.mark.parametrize("other", [{"volts": "250"}, {"against": "raceway"}])
def test_a_ratio_is_not_compared_with_one_taken_otherwise(
    registry: Registry, other: dict[str, str]
) -> None:
    for value, after in (("400M", "30 s"), ("600M", "60 s")):
        log(registry, value, after, day="2022-06-01", **other)
        log(registry, value, after)
    assert [row["before"] for row in record_of(registry, L1)["absorption"]] == [None, None]


def test_two_ratios_of_one_day_are_each_compared_with_their_own_kind(registry: Registry) -> None:
    for day, late in (("2022-06-01", "900M"), ("2026-05-02", "600M")):
        for value, after in (("250M", "30 s"), ("300M", "60 s"), (late, "10 min")):
            log(registry, value, after, day=day)
    found = [row for row in record_of(registry, L1)["absorption"] if row["before"]]
    assert [(row["what"], row["before"]["times"]) for row in found] == [
        ("polarization index", pytest.approx(2 / 3)),
        ("absorption ratio", pytest.approx(1.0)),
    ]


def test_readings_without_a_time_or_over_range_give_no_ratio(registry: Registry) -> None:
    log(registry, "500M", None)
    log(registry, ">2G", "10 min")
    assert record_of(registry, L1)["absorption"] == []


@pytest.mark.parametrize(
    ("temp", "factor"),
    # ANSI/NETA table 100.14.1, solid insulation, to 20 °C (reprint).
    [("5 C", 0.5), ("20 C", 1.0), ("35 C", 2.0), ("50 C", 3.98)],
)
def test_a_reading_is_brought_to_20_degrees_for_comparing_years(
    registry: Registry, temp: str, factor: float
) -> None:
    log(registry, "100M", None, temp)
    reading = record_of(registry, L1)["readings"][0]
    assert reading["at_reference"]["ohms"] == pytest.approx(100e6 * factor)
    assert "100.14.1" in reading["at_reference"]["source"]
    assert reading["verdict"]["figure"] == 100e6  # the verdict stays on what was read


def test_a_reading_without_a_temperature_is_not_brought_anywhere(registry: Registry) -> None:
    log(registry, "100M", None)
    assert record_of(registry, L1)["readings"][0]["at_reference"] is None


@pytest.mark.parametrize(
    ("after", "told"),
    [
        ("soon", "'soon' is not a duration"),
        ("10 parsec", "'10 parsec' is not a duration"),
        ("-5 s", "Duration is -5 s; it must be from 1 s to 24 h."),
    ],
)
def test_what_is_no_duration_is_refused(registry: Registry, after: str, told: str) -> None:
    with pytest.raises(BadInputError, match=told):
        log(registry, "100M", after)
