# SPDX-License-Identifier: MIT
"""The console blocks of README and manual, run for real.

``python -m tests.manual [TOPIC...]`` writes them again, those of the topics named or of all. A
block is fenced as ``console``. Lines that begin with ``$ `` are commands, typed in a copy of the
demo site that the page has for itself. The rest is what they printed on an 80-column terminal.
Dates and identifiers of today, and the tags of conductors made on the way, differ from run to run
and are masked before a comparison.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from wiretrack.manual import HOME

ROOT = Path(__file__).parents[1]
DATA = ROOT / "wiretrack" / "electrical" / "data"
README = ROOT / "README.md"
PAGES = {"readme": README} | {file.stem[3:]: file for file in sorted(HOME.glob("[0-9]*.md"))}
PLAYED = [name for name, file in PAGES.items() if "```console" in file.read_text("utf-8")]
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


def sources_page(text: str) -> str:
    """Return the topic of sources with the list that the data's headings make."""
    head = text.partition("\n## Every table")[0]
    lines = ["## Every table, and how it was read", ""]
    for file in sorted(DATA.glob("*.csv")):
        given = dict(
            re.findall(r"^# (source|edition|read as|doubts): +(.*)$", file.read_text("utf-8"), re.M)
        )
        told = f"- **{given['source']}.** Edition: {given['edition']}. Read as: {given['read as']}."
        lines.append(f"{told} Doubts: {given['doubts']}. `{file.name}`")
    return "\n".join((head, *lines)) + "\n"


def set_up(name: str, folder: Path, demo: Path) -> Path:
    """Return the folder in which a page's blocks are typed; README and the demo make their site."""
    if name not in ("readme", "demo"):
        shutil.copytree(demo, folder / "demo_site")
    return folder


def written_again(text: str, folder: Path) -> str:
    """Return a page with every console block as it is now; what is masked alone stays."""

    def again(found: re.Match[str]) -> str:
        now = played(found[1], folder)
        return f"```console\n{found[1] if masked(now) == masked(found[1]) else now}```"

    return _BLOCK.sub(again, text)


def main() -> None:
    """Write the blocks of the pages named, or of all, as they are now."""
    with tempfile.TemporaryDirectory() as root:
        os.environ["XDG_STATE_HOME"] = f"{root}/state"
        _typed(f"wiretrack demo {root}/built", Path(root), Path(sys.executable).parent)
        for name in sys.argv[1:] or PLAYED:
            (folder := Path(root, name)).mkdir()
            set_up(name, folder, Path(root, "built"))
            text = PAGES[name].read_text("utf-8")
            PAGES[name].write_text(written_again(text, folder), "utf-8")


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
    main()
