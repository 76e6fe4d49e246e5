# SPDX-License-Identifier: MIT
"""What a calibration is worth for readings; a year is common practice, unknown stays so."""

from __future__ import annotations

import pytest

from wiretrack.render.report.content import SOURCE, calibration


@pytest.mark.parametrize(
    ("calibrated_on", "taken_at", "state"),
    [
        ("2025-03-04", ["2025-03-04T09:00:00Z"], "in date"),
        ("2025-03-04", ["2026-03-04T23:59:00+02:00"], "in date"),
        ("2025-03-04", ["2026-03-05T00:01:00Z"], "overdue"),
        ("2024-02-29", ["2025-03-01T00:00:00Z"], "in date"),
        ("2024-02-29", ["2025-03-02T00:00:00Z"], "overdue"),
        ("2025-03-04", ["2025-03-03T09:00:00Z"], "unknown"),
        ("2025-03-04", ["2019-06-13T09:00:00Z", "2027-01-01T00:00:00Z"], "overdue"),
        ("2025-03-04", ["2025-05-01T00:00:00Z", None], "unknown"),
        ("2025-03-04", [None], "unknown"),
        ("2025-03-04", [], "unknown"),
        (None, ["2025-03-04T09:00:00Z"], "unknown"),
        ("last spring", ["2025-03-04T09:00:00Z"], "unknown"),
        ("9999-12-31", ["9999-12-31T23:59:59Z"], "in date"),
    ],
)
def test_a_calibration_covers_readings_of_the_year_after_it(
    calibrated_on: str | None, taken_at: list[str | None], state: str
) -> None:
    found = calibration(calibrated_on, taken_at)
    assert found.state == state
    assert found.reason


def test_the_interval_is_a_rule_of_thumb_and_says_so() -> None:
    assert SOURCE == "common practice"
