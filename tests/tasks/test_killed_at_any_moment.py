# SPDX-License-Identifier: MIT
"""Killed at any moment (SIGKILL), a registry loses no reading that was acknowledged."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from typing import TYPE_CHECKING

import pytest

from tests.pump import L1
from wiretrack.store import records
from wiretrack.store.health import problems
from wiretrack.store.store import open_registry

if TYPE_CHECKING:
    from pathlib import Path

KILLS = 100
LOGGER = f"""
import sys
from wiretrack.store.store import open_registry
from wiretrack.tasks.test.testing import ReadingText, log_reading

with open_registry(sys.argv[1]) as registry:
    print("ready", flush=True)
    while True:
        text = ReadingText(subject="{L1}", kind="continuity", value="0.31", leads="0.1")
        print(log_reading(registry, text)["id"], flush=True)
"""


def acknowledged_before_a_kill(db: Path, after_s: float) -> list[str]:
    """Run a process that logs readings one after the other; kill it; return what it printed."""
    command = [sys.executable, "-c", LOGGER, str(db)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "ready\n"
        time.sleep(after_s)
        os.kill(process.pid, signal.SIGKILL)
        printed = process.stdout.read()
    return printed.split("\n")[:-1]


@pytest.mark.parametrize("part", range(4))
def test_no_acknowledged_reading_is_lost_over_a_hundred_kills(db: Path, part: int) -> None:
    moments = random.Random(part)
    acknowledged: set[str] = set()
    for _ in range(KILLS // 4):
        acknowledged.update(acknowledged_before_a_kill(db, moments.uniform(0, 0.06)))
        with open_registry(db) as registry:
            stored = {reading.id for reading in records.readings(registry)}
            assert acknowledged <= stored
    with open_registry(db) as registry:
        assert problems(registry) == []
    assert len(acknowledged) > KILLS // 4
