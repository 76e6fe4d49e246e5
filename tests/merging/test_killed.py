# SPDX-License-Identifier: MIT
"""A merge killed at any moment leaves a sound registry, and goes on when it is done again."""

from __future__ import annotations

import random
import signal
from typing import TYPE_CHECKING

import pytest

from tests.merging.laptops import Laptop, annotate, first_laptop, read, ring
from tests.to_be_killed import merge_files
from tests.warm import killed, never_wait_for_the_disk, started

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Laptop:
    laptop = first_laptop(tmp_path_factory.mktemp("filled"))
    with pytest.MonkeyPatch.context() as patch:
        never_wait_for_the_disk(patch.setattr)
        for number in range(30):
            read(laptop, "", number)
            annotate(laptop, str(number), number)
            ring(laptop, "x", number)
    return laptop


@pytest.fixture
def much(filled: Laptop, tmp_path: Path) -> Laptop:
    return filled.twin(tmp_path / "b.db")


@pytest.mark.parametrize("place", ["add_entry", "Kept", "rows_of"])
def test_a_merge_killed_in_its_first_page_leaves_nothing(
    place: str, a: Laptop, much: Laptop
) -> None:
    before = a.state()
    with started(merge_files, a.path, much.path, place) as (process, _):
        process.join()
        assert process.exitcode == -signal.SIGKILL
    assert a.state() == before
    assert a.problems() == []


def test_a_merge_killed_at_any_moment_is_sound_and_goes_on(
    a: Laptop, much: Laptop, tmp_path: Path
) -> None:
    moments = random.Random(8)
    whole = a.twin(tmp_path / "whole.db")
    whole.merge(much)
    for number in range(10):
        copy = a.twin(tmp_path / f"killed{number}.db")
        killed(merge_files, copy.path, much.path, "", after_s=moments.uniform(0, 0.4))
        assert copy.problems() == []
        copy.merge(much)
        assert copy.state() == whole.state()
