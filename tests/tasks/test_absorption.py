# SPDX-License-Identifier: MIT
"""Timed insulation readings: the two ratios, and readings brought to 20 °C."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tests.pump import L1
from wiretrack.errors import BadInputError
from wiretrack.tasks.conductors import show_conductor
from wiretrack.tasks.testing import ReadingText, log_reading

if TYPE_CHECKING:
    from wiretrack.registry.store import Registry


def log(registry: Registry, value: str, after: str | None, temp: str | None = None) -> None:
    text = ReadingText(
        subject=L1, kind="insulation", value=value, after=after, temp=temp, against="PE",
        test_voltage="500", at="2026-05-02T10:00:00+00:00",
    )  # fmt: skip
    log_reading(registry, text)


def test_the_polarization_index_is_ten_minutes_over_one(registry: Registry) -> None:
    # A published worked example: 500 MΩ after 1 minute, 2000 MΩ after 10 minutes: index 4.
    log(registry, "500M", "1 min")
    log(registry, "2000M", "10 min")
    found = show_conductor(registry, L1)["absorption"]
    assert [(row["what"], row["ratio"]) for row in found] == [("polarization index", 4.0)]
    assert "IEEE 43" in found[0]["source"]


def test_the_absorption_ratio_is_sixty_seconds_over_thirty(registry: Registry) -> None:
    log(registry, "400M", "30 s")
    log(registry, "600M", "60")
    found = show_conductor(registry, L1)["absorption"]
    assert [(row["what"], row["ratio"]) for row in found] == [("absorption ratio", 1.5)]
    assert found[0]["word"] == "good"  # handbooks: 1.4 to 1.6 is good


def test_readings_without_a_time_or_over_range_give_no_ratio(registry: Registry) -> None:
    log(registry, "500M", None)
    log(registry, ">2G", "10 min")
    assert show_conductor(registry, L1)["absorption"] == []


@pytest.mark.parametrize(
    ("temp", "factor"),
    # ANSI/NETA table 100.14.1, solid insulation, to 20 °C (reprint).
    [("5 C", 0.5), ("20 C", 1.0), ("35 C", 2.0), ("50 C", 3.98)],
)
def test_a_reading_is_brought_to_20_degrees_for_comparing_years(
    registry: Registry, temp: str, factor: float
) -> None:
    log(registry, "100M", None, temp)
    reading = show_conductor(registry, L1)["readings"][0]
    assert reading["at_reference"]["ohms"] == pytest.approx(100e6 * factor)
    assert "100.14.1" in reading["at_reference"]["source"]
    assert reading["verdict"]["figure"] == 100e6  # the verdict stays on what was read


def test_a_reading_without_a_temperature_is_not_brought_anywhere(registry: Registry) -> None:
    log(registry, "100M", None)
    assert show_conductor(registry, L1)["readings"][0]["at_reference"] is None


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
