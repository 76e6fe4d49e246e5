# SPDX-License-Identifier: MIT
"""The old program and the new one side by side: the same questions, and what they answer otherwise.

``python -m tests.differential --old OLD/.venv/bin/wiretrack [--only PART]... [--site NAME]...``

runs both installs (the new one is the one of this python) on the README's blocks, on the demo, on
random sites and on a large one, and prints a unified diff of whatever differs; of those that differ
alike just the first. The last line is ``same: ...`` or ``N differ: ...``; the exit status is 1
where something differs that nobody wanted.

Parts: ``readme help json text work files merge pages``. Sites: ``demo``, ``0`` to ``9``, ``large``.
A wanted change is named in `wanted.WANTED`, with its reason. Times, fresh identifiers and folders
are masked by `wanted.MASKS`. Both programs load the same site files; registries are never shared.
"""

from __future__ import annotations

import argparse
import difflib
import json
import os
import re
import subprocess
import sys
import tempfile
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from tests.differential import commands, pages
from tests.differential.commands import Command, Site, line
from tests.differential.sites import random_site
from tests.differential.wanted import UUID, as_wanted, masked
from tests.manual import blocks, played
from tests.manual import masked as without_tags

if TYPE_CHECKING:
    from collections.abc import Callable

DRIVER = Path(__file__).with_name("driver.py")
PARTS = ("readme", "help", "json", "text", "work", "files", "merge", "pages")
LARGE = {"panels": 85, "ways": 14, "readings": 0.2}
SHOWN_LINES = 40
TEXTS = (".html", ".json", ".csv", ".txt", ".svg", ".css", ".js", ".md", "")
T = TypeVar("T")


@dataclass(frozen=True)
class Install:
    """One install of wiretrack, and the folder that its registries are made in."""

    name: str
    script: Path
    root: Path

    @property
    def environment(self) -> dict[str, str]:
        """What both run in."""
        path = f"{self.script.parent}:{os.environ['PATH']}"
        fixed = {"PATH": path, "COLUMNS": "80", "NO_COLOR": "1", "TZ": "UTC", "LOGNAME": "roof"}
        return {**os.environ, **fixed, "PYTHONHASHSEED": "0"}

    def play(self, folder: str, asked: list[Command], first: int = 0) -> list[dict[str, Any]]:
        """Play commands in a folder of this install; `first` is the number of the first."""
        (self.root / folder).mkdir(parents=True, exist_ok=True)
        script = {"folder": str(self.root / folder), "first": first, "commands": asked}
        python = self.script.with_name("python")
        ran = subprocess.run(
            [python, DRIVER], input=json.dumps(script), capture_output=True, text=True,
            env=self.environment, check=False,
        )  # fmt: skip
        found = [json.loads(told) for told in ran.stdout.splitlines()]
        if len(found) < len(asked):
            raise SystemExit(
                f"{self.name} ended early at {asked[len(found)]['args']}: {ran.stderr}"
            )
        return found

    def readme(self) -> list[tuple[str, str]]:
        """Return the blocks of the old manual as this install plays them."""
        (folder := self.root / "readme").mkdir(parents=True)
        return [(block, played(block, folder, self.script.parent)) for block in blocks(MANUAL[0])]


MANUAL: list[str] = []


@dataclass
class Comparing:
    """What has been compared so far."""

    installs: tuple[Install, Install]
    full: bool = False
    counts: dict[str, int] = field(default_factory=lambda: {"same": 0, "differ": 0, "wanted": 0})
    alike: dict[str, list[str]] = field(default_factory=dict)
    played: dict[str, int] = field(default_factory=dict)
    known: set[str] = field(default_factory=set)

    def compare(self, where: str, old: str, new: str) -> None:
        """Compare two outputs, and show what differs."""
        pair = [
            masked(text, self.known, str(install.root))
            for text, install in zip((old, new), self.installs, strict=True)
        ]
        if pair[0] == pair[1]:
            self.counts["same"] += 1
            return
        first, second = as_wanted(where, pair[0], pair[1])
        if first == second:
            self.counts["wanted"] += 1
            return
        self.counts["differ"] += 1
        lines = difflib.unified_diff(
            first.splitlines(), second.splitlines(), "old", "new", lineterm="", n=2
        )
        found = list(lines)[2:]
        alike = re.sub(r"\w*\d[\w-]*", "#", "\n".join(row for row in found if row[0] in "+-"))
        self.alike.setdefault(alike, []).append(where)
        if self.full or len(self.alike[alike]) == 1:
            left = len(found) - SHOWN_LINES
            print(f"=== {where}", *found[: None if self.full else SHOWN_LINES], sep="\n")
            if left > 0 and not self.full:
                print(f"... {left} lines more; --full shows them")
        sys.stdout.flush()

    def count_alike(self) -> None:
        """Say how often differences came again that were shown once."""
        for first, *more in self.alike.values():
            if more:
                print(f"{len(more)} more differ like {first}")

    def both(self, ask: Callable[[Install], T]) -> tuple[T, T]:
        """Ask both installs at once."""
        with ThreadPoolExecutor(2) as pool:
            old, new = pool.map(ask, self.installs)
        return old, new

    def play(self, part: str, folder: str, asked: list[Command]) -> tuple[Any, ...]:
        """Play commands with both installs and compare each answer, and the files they wrote."""
        if not asked:
            return ((), ())
        first = self.played.get(folder, 0)
        self.played[folder] = first + len(asked)
        found = self.both(lambda install: install.play(folder, asked, first))
        for command, *answers in zip(asked, *found, strict=True):
            columns = f" ({command['columns']} columns)" if "columns" in command else ""
            where = f"{part} {folder}: {' '.join(command['args'])}{columns}"
            self.compare(where, *(told(answer) for answer in answers))
        took = [sum(answer["s"] for answer in answers) for answers in found]
        print(f"{part} {folder}: {len(asked)} commands, {took[0]:.1f} s old, {took[1]:.1f} s new")
        return found

    def files(self, part: str, folder: str) -> None:
        """Compare the files that both wrote into a folder."""
        old, new = (written(install.root / folder) for install in self.installs)
        for name in sorted(old.keys() | new.keys()):
            texts = [
                text_of(found[name]) if name in found else "no such file" for found in (old, new)
            ]
            self.compare(f"{part} {folder}: file {name}", *texts)


def told(answer: dict[str, Any]) -> str:
    """Return an answer as it is compared: status, errors, output; JSON by its sorted keys."""
    shown = "\n".join(pages.readable(out) for out in answer["out"].split("\f"))
    return f"exit {answer['exit']}\n{answer['err']}---\n{shown}"


def written(folder: Path) -> dict[str, Path]:
    """Return the files in a folder by their names, but registries."""
    found = {str(path.relative_to(folder)): path for path in folder.rglob("*") if path.is_file()}
    return {name: path for name, path in found.items() if ".db" not in name}


def text_of(path: Path) -> str:
    """Return what a file says; of a picture, its pixels' sum."""
    if path.suffix == ".pdf":
        read = ["pdftotext", "-layout", str(path), "-"]
        return re.sub(" +", " ", subprocess.run(read, capture_output=True, text=True).stdout)
    if path.suffix == ".png":
        from zlib import crc32

        from PIL import Image

        with Image.open(path) as picture:
            return f"{picture.size} {picture.mode} {crc32(picture.tobytes())}"
    text = path.read_text("utf-8", "replace")
    return pages.readable(text) if path.suffix in (".html", ".json", ".svg") else text


def site_of(comparing: Comparing, name: str) -> Site:
    """Make a site's registries; return the site file that both were loaded from."""
    if name == "demo":  # the same identifiers in both: what stands where the demo ends, as a file
        comparing.play("json", "built", [line("demo", "site", "--json")])
        comparing.files("files", "built")
        site = json.loads(comparing.installs[0].play("built/site", [line("dump")])[0]["out"])
    else:
        size = LARGE if name == "large" else {"panels": 2 + int(name) % 3}
        site = random_site(11 if name == "large" else int(name), **size)
    comparing.known |= set(UUID.findall(json.dumps(site)))
    make = [line("new", "--name", "Example", files={"site.json": json.dumps(site)})]
    comparing.play("json", name, [*make, line("load", "site.json", "--json")])
    return dict(site)


def one_site(comparing: Comparing, name: str, parts: set[str]) -> None:
    """Compare everything on one site."""
    folder, site = name, site_of(comparing, name)
    seed = sum(map(ord, name))
    most = {"demo": 24, "large": 3}.get(name, 12)
    asked = commands.looked(site, seed, most)
    json_part = [c for c in asked if "--json" in c["args"] or "dump" in c["args"]]
    for part, lines in (
        ("json", json_part),
        ("text", [c for c in asked if c not in json_part]),
        ("work", [*commands.rung(site, seed), *commands.searches(site, seed)]),
        ("work", [*commands.tested(site, seed), *commands.changed(site, seed)]),
        ("json", json_part if "work" in parts and name != "large" else []),
        ("merge", commands.merged(site, seed)),
    ):
        if part in parts:
            comparing.play(part, folder, lines)
    if "files" in parts and name != "large":
        (shown, _) = comparing.both(lambda i: i.play(folder, [line("label", "stocks", "--json")]))
        stocks = [stock["name"] for stock in json.loads(shown[0]["out"])]
        comparing.play("files", folder, commands.printed(site, stocks, seed))
    if parts - {"pages"}:
        comparing.files("files", folder)
    if "pages" in parts:
        served(comparing, folder, site, seed, 120 if name == "large" else 250)


def served(comparing: Comparing, folder: str, site: Site, seed: int, most: int) -> None:
    """Compare the pages of a site."""
    begun, before = time.perf_counter(), sum(comparing.counts.values())
    old, new = (
        pages.Server(i.script, i.root / folder / "wiretrack.db") for i in comparing.installs
    )
    with old, new:
        pages.compared(old, new, site, most, seed, lambda name, first, second: comparing.compare(
            f"pages {folder}: {name}", first, second))  # fmt: skip
    count = sum(comparing.counts.values()) - before
    print(f"pages {folder}: {count} requests, {time.perf_counter() - begun:.1f} s")


def main() -> int:
    """Compare what is asked for; return the exit status."""
    asking = argparse.ArgumentParser(prog="python -m tests.differential")
    asking.add_argument("--old", type=Path, required=True, help="the old program's console script")
    asking.add_argument("--new", type=Path, help="another new one than this python's")
    asking.add_argument("--only", action="append", choices=PARTS, help="this part; may be repeated")
    asking.add_argument("--site", action="append", help="demo, 0 to 9, large; may be repeated")
    asking.add_argument("--full", action="store_true", help="show every line that differs")
    asked = asking.parse_args()
    parts = set(asked.only or PARTS)
    sites = asked.site or ["demo", *map(str, range(10)), "large"]
    with tempfile.TemporaryDirectory() as root:
        scripts = asked.old, asked.new or Path(sys.executable).with_name("wiretrack")
        installs = [Install(name, script.absolute(), Path(root, name))
                    for name, script in zip(("old", "new"), scripts, strict=True)]  # fmt: skip
        comparing = Comparing((installs[0], installs[1]), asked.full)
        if "help" in parts and not asked.site:
            comparing.play("help", "help", commands.helps())
        if "readme" in parts and not asked.site:
            MANUAL.append((asked.old.absolute().parents[2] / "README.md").read_text("utf-8"))
            for (block, first), (_, second) in zip(*comparing.both(Install.readme), strict=True):
                name = re.sub(r"\n.*", "", block.strip())
                comparing.compare(f"readme: {name}", without_tags(first), without_tags(second))
        for name in sites if parts - {"help", "readme"} else ():
            one_site(comparing, name, parts)
    comparing.count_alike()
    count = comparing.counts
    print(f"{count['differ']} differ" if count["differ"] else "same", end=": ")
    print(f"{sum(count.values())} compared, {count['wanted']} differ as wanted")
    return 1 if count["differ"] else 0


if __name__ == "__main__":
    sys.exit(main())
