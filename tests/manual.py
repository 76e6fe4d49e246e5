# SPDX-License-Identifier: MIT
"""The README's console blocks, run for real: ``python -m tests.manual`` writes them anew.

A block is fenced as ``console``. Lines that begin with ``$ `` are commands, typed in the folder of
the demo site; the rest is what they printed on an 80-column terminal. Dates and identifiers of
today, and the tags of conductors made on the way, differ from run to run and are masked before a
comparison.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parents[1]
README = ROOT / "README.md"
_BLOCK = re.compile(r"^```console\n(.*?)^```$", re.M | re.S)
_MASKS = (
    (re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}"), "IDENTIFIER"),
    (re.compile(r"\b[0-9a-f]{64}\b"), "DIGEST"),
    (re.compile(r"Stored as [0-9a-f]{8}\b"), "Stored as IDENTIFIER"),
    (re.compile(r"20\d\d-\d\d-\d\d( \d\d:\d\d\b)?"), "DATE"),
    (re.compile(r"\b[0-9A-Z]{3}-[0-9A-Z]{4}\b"), "TAG"),
    (re.compile(r"\b[0-9a-hjkmnp-tv-z]{8}\b"), "CHANGE"),
    (re.compile(r" +$", re.M), ""),
)


def blocks(text: str) -> list[str]:
    """Return the contents of the console blocks, in order."""
    return _BLOCK.findall(text)


def masked(text: str) -> str:
    """Return `text` without what differs from run to run."""
    for pattern, word in _MASKS:
        text = pattern.sub(word, text)
    return text


def played(block: str, folder: Path, install: Path = Path(sys.executable).parent) -> str:
    """Return a block as it is when its commands are typed in `folder` now.

    `install` is the folder of the console script that is typed.
    """
    commands = [line[2:] for line in block.splitlines() if line.startswith("$ ")]
    return "".join(f"$ {command}\n{_typed(command, folder, install)}" for command in commands)


def written_anew(text: str) -> str:
    """Return the README with every console block as it is now; what is masked alone stays."""
    with tempfile.TemporaryDirectory() as folder:

        def anew(found: re.Match[str]) -> str:
            now = played(found[1], Path(folder))
            return f"```console\n{found[1] if masked(now) == masked(found[1]) else now}```"

        return _BLOCK.sub(anew, text)


def _typed(command: str, folder: Path, install: Path) -> str:
    """Return what a command prints, standard error first, as a terminal of 80 columns shows it."""
    environment = {
        **os.environ,
        "PATH": f"{install}:{os.environ['PATH']}",
        "COLUMNS": "80",
        "NO_COLOR": "1",
        "TZ": "UTC",
        "LOGNAME": "roof",
    }
    site = folder / "demo_site"
    ran = subprocess.run(
        ["bash", "-c", command],
        cwd=site if site.is_dir() else folder,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )
    return re.sub(r" +$", "", ran.stderr + ran.stdout, flags=re.M)


if __name__ == "__main__":
    README.write_text(written_anew(README.read_text("utf-8")), "utf-8")
