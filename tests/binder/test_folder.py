# SPDX-License-Identifier: MIT
"""A binder that can't be written whole isn't there at all."""

from __future__ import annotations

import random
import resource
import shutil
import signal
import subprocess
import sys
from contextlib import suppress
from typing import TYPE_CHECKING

from wiretrack.render.binder.checksums import differences

if TYPE_CHECKING:
    from pathlib import Path

    from tests.binder.conftest import Bound


def leftovers(folder: Path) -> list[str]:
    return [entry.name for entry in folder.iterdir() if entry.name.startswith(".")]


def state(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def test_where_writing_fails_one_line_says_so_and_nothing_is_left(
    mill: Bound, tmp_path: Path
) -> None:
    """No file may grow past 64 KiB here, as on a medium that fills up: site.json can't be had."""
    folder, older = tmp_path / "b", tmp_path / "older"
    shutil.copytree(mill.folder, older)
    before = state(older)

    def limited() -> None:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (65536, 65536))

    for target, more in ((folder, []), (older, ["--replace"])):
        ran = subprocess.run(
            [sys.executable, "-c", "from wiretrack.cli import main; main()", "--db", str(mill.db),
             "binder", str(target), *more],
            preexec_fn=limited, capture_output=True, text=True, check=False,
        )  # fmt: skip
        assert ran.returncode == 2
        assert ran.stdout == ""
        assert ran.stderr == (
            f"error: {target} can't be written: File too large. "
            "Nothing was changed; name another place.\n"
        )
    assert not folder.exists()
    assert state(older) == before
    assert leftovers(tmp_path) == []


def test_killed_at_any_moment_it_leaves_a_whole_binder_or_none(mill: Bound, tmp_path: Path) -> None:
    folder, chance = tmp_path / "b", random.Random(11)
    for _ in range(5):
        running = subprocess.Popen(
            [sys.executable, "-c", "from wiretrack.cli import main; main()", "--db", str(mill.db),
             "binder", str(folder), "--replace"],
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        with suppress(subprocess.TimeoutExpired):
            running.wait(chance.uniform(0.1, 3.0))
        running.kill()
        running.wait()
        assert not folder.exists() or differences(folder) == []
