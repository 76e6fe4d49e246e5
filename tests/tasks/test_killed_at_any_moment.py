# SPDX-License-Identifier: MIT
"""Killed at any moment (SIGKILL), a registry loses no reading that was acknowledged."""

from __future__ import annotations

import random
from typing import TYPE_CHECKING

import pytest

from tests.drawing import full
from tests.to_be_killed import log_readings
from tests.warm import killed
from wiretrack.model.entities import Reading
from wiretrack.readings.base import in_time
from wiretrack.store.health import problems
from wiretrack.store.source import site_of
from wiretrack.store.store import open_registry

if TYPE_CHECKING:
    from pathlib import Path

KILLS = 100


@pytest.mark.parametrize("part", [0, *map(full, range(1, 4))])
def test_no_acknowledged_reading_is_lost_over_a_hundred_kills(db: Path, part: int) -> None:
    moments = random.Random(part)
    acknowledged: set[str] = set()
    for _ in range(KILLS // 4):
        after, after_s = moments.randint(0, 3), moments.uniform(0, 0.03)
        acknowledged.update(killed(log_readings, db, after=after, after_s=after_s))
        with open_registry(db) as registry:
            stored = {reading.id for reading in in_time(site_of(registry).every(Reading))}
            assert acknowledged <= stored
    with open_registry(db) as registry:
        assert problems(registry) == []
    assert len(acknowledged) > KILLS // 4
