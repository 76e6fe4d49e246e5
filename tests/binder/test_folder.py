# SPDX-License-Identifier: MIT
"""A binder that can't be written whole isn't there at all."""

from __future__ import annotations

import random
import resource
import shutil
import time
from typing import TYPE_CHECKING

from tests.to_be_killed import bind
from tests.warm import killed, started
from wiretrack.cli.group import run
from wiretrack.tasks.binder.folder import differences

if TYPE_CHECKING:
    from pathlib import Path

    import pytest

    from tests.binder.conftest import Bound


def leftovers(folder: Path) -> list[str]:
    return [entry.name for entry in folder.iterdir() if entry.name.startswith(".")]


def state(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def test_where_writing_fails_one_line_says_so_and_nothing_is_left(
    mill: Bound, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """No file may grow past 64 KiB here, as on a medium that fills up: site.json can't be had."""
    folder, older = tmp_path / "b", tmp_path / "older"
    shutil.copytree(mill.folder, older)
    before = state(older)

    limit = resource.getrlimit(resource.RLIMIT_FSIZE)
    for target, more in ((folder, []), (older, ["--replace"])):
        resource.setrlimit(resource.RLIMIT_FSIZE, (65536, limit[1]))
        try:
            status = run(["--db", str(mill.db), "binder", str(target), *more])
        finally:
            resource.setrlimit(resource.RLIMIT_FSIZE, limit)
        assert status == 2
        assert capsys.readouterr() == (
            "",
            f"error: {target} can't be written: File too large. "
            "Nothing was changed; name another place.\n",
        )
    assert not folder.exists()
    assert state(older) == before
    assert leftovers(tmp_path) == []


def test_killed_at_any_moment_it_leaves_a_whole_binder_or_none(mill: Bound, tmp_path: Path) -> None:
    folder, chance = tmp_path / "b", random.Random(11)
    with started(bind, mill.db, folder) as (_, told):
        assert told.recv() == "ready"
        began = time.monotonic()
        assert told.recv() == "done"
        whole_s = time.monotonic() - began
    for _ in range(3):
        killed(bind, mill.db, folder, after_s=chance.uniform(0, whole_s))
        assert not folder.exists() or differences(folder) == []
