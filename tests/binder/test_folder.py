# SPDX-License-Identifier: MIT
"""A binder that can't be written whole isn't there at all."""

from __future__ import annotations

import resource
import shutil
import signal
import subprocess
import sys
from typing import TYPE_CHECKING

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
