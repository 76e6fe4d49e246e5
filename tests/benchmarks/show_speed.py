# SPDX-License-Identifier: MIT
"""Time ``wiretrack show TAG`` against a bare import of what any such command needs, in turn.

Run by hand: ``python tests/benchmarks/show_speed.py [RUNS]``; the processor's time, not the wall's.
"""

from __future__ import annotations

import os
import resource
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path

from wiretrack.files import shipped
from wiretrack.store.store import open_registry
from wiretrack.tasks.describe.sites import load_site, new_site

BARE = (sys.executable, "-c", "import click, sqlite3, rich.table")


def spent(*command: str, folder: str) -> float:
    """Return the seconds of processor that a command takes."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    env = {key: text for key, text in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"}
    subprocess.run(command, cwd=folder, check=True, stdout=subprocess.DEVNULL, env=env)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime


def main(runs: int = 9) -> None:
    """Print the median of the ratios of pairs."""
    with tempfile.TemporaryDirectory() as folder:
        db = Path(folder) / "wiretrack.db"
        new_site(db, "mill")
        with open_registry(db) as registry:
            load_site(registry, shipped("demo_db") / "site.json")
        show = (sys.executable, "-m", "wiretrack", "show", "0AZ-EMTB")
        pairs = [
            (spent(*show, folder=folder), spent(*BARE, folder=folder)) for _ in range(runs + 1)
        ]
    ratios = [one / other for one, other in pairs[1:]]
    print(f"show {statistics.median(one for one, _ in pairs[1:]):.3f} s,"
          f" {statistics.median(ratios):.2f} times the bare import")  # fmt: skip


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
