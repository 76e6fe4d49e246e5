# SPDX-License-Identifier: MIT
"""A merge killed at any moment leaves all of it or nothing."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from typing import TYPE_CHECKING

import pytest

from tests.merging.laptops import Laptop, annotate, merge, read, ring
from wiretrack.store.health import problems
from wiretrack.store.store import open_registry

if TYPE_CHECKING:
    from pathlib import Path


MERGER = """
import os, signal, sys
from pathlib import Path
from wiretrack.store import merging
from wiretrack.store.store import open_registry
from wiretrack.tasks.merge.merging import decisions_of, meeting

die_at = sys.argv[3]
if die_at:
    setattr(merging, die_at, lambda *_: os.kill(os.getpid(), signal.SIGKILL))
with open_registry(sys.argv[1]) as registry, meeting(registry, Path(sys.argv[2])) as met:
    print("ready", flush=True)
    met.merge(decisions_of(rest="theirs"))
"""


def started(copy: Laptop, other: Laptop, die_at: str = "") -> subprocess.Popen[str]:
    command = [sys.executable, "-c", MERGER, str(copy.path), str(other.path), die_at]
    return subprocess.Popen(command, stdout=subprocess.PIPE, text=True)


@pytest.fixture
def much(b: Laptop) -> Laptop:
    for number in range(30):
        read(b, "", number)
        annotate(b, str(number), number)
        ring(b, "x", number)
    return b


@pytest.mark.parametrize("place", ["_apply", "refresh_search", "_prove"])
def test_a_merge_killed_between_its_writes_leaves_nothing(
    place: str, a: Laptop, much: Laptop
) -> None:
    before = a.state(), a.ids("changes")
    with started(a, much, place) as process:
        assert process.wait() == -signal.SIGKILL
    assert (a.state(), a.ids("changes")) == before
    with open_registry(a.path) as registry:
        assert problems(registry) == []


def test_a_merge_killed_at_any_moment_leaves_all_or_nothing(
    a: Laptop, much: Laptop, tmp_path: Path
) -> None:
    nothing, moments = a.state(), random.Random(8)
    whole = a.twin(tmp_path / "whole.db")
    merge(whole, much)
    for number in range(10):
        copy = a.twin(tmp_path / f"killed{number}.db")
        with started(copy, much) as process:
            assert process.stdout is not None
            assert process.stdout.readline() == "ready\n"
            time.sleep(moments.uniform(0, 0.12))
            os.kill(process.pid, signal.SIGKILL)
        assert copy.state() in (nothing, whole.state())
        with open_registry(copy.path) as registry:
            assert problems(registry) == []
