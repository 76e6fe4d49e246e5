# SPDX-License-Identifier: MIT
"""A merge killed at any moment leaves all of it or nothing."""

from __future__ import annotations

import random
import signal
from typing import TYPE_CHECKING

import pytest

from tests.merging.laptops import Laptop, annotate, merge, read, ring
from tests.to_be_killed import merge_files
from tests.warm import killed, started
from wiretrack.store.health import problems
from wiretrack.store.store import open_registry

if TYPE_CHECKING:
    from pathlib import Path


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
    with started(merge_files, a.path, much.path, place) as (process, _):
        process.join()
        assert process.exitcode == -signal.SIGKILL
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
        killed(merge_files, copy.path, much.path, "", after_s=moments.uniform(0, 0.12))
        assert copy.state() in (nothing, whole.state())
        with open_registry(copy.path) as registry:
            assert problems(registry) == []
