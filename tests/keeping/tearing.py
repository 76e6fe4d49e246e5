# SPDX-License-Identifier: MIT
"""Run with ``torn.c`` ahead of the C library: work on a registry whose n-th write fails or tears.

``python tearing.py LIBRARY REGISTRY FOLDER STEP MODES`` prints how many writes failed or tore, and
the faults: what was acknowledged and lost, what is there by half, what `verify` names. A mode is a
digit that ``torn.c`` explains.
"""

from __future__ import annotations

import ctypes
import json
import os
import shutil
import sys
import traceback
from pathlib import Path

import wiretrack
from tests.pump import L1
from wiretrack.errors import WiretrackError
from wiretrack.store.health import problems
from wiretrack.store.store import open_registry
from wiretrack.tasks.test.testing import ReadingText, log_reading

MORE = {"format": "wiretrack-site/1", "enclosures": [{"code": f"X{n}"} for n in range(40)]}
BOXES = 2  # of the pump's site
# What shows each work, by the letter that tells of it.
WORKS = {
    "r": "SELECT count(*) FROM readings",
    "l": "SELECT count(*) FROM ends WHERE state = 'capped'",
    "n": "SELECT count(*) FROM notes",
    "f": "SELECT count(*) / 40 FROM enclosures WHERE code LIKE 'X%'",
}


def work(db: Path, told: int) -> None:
    """Do five works, and tell of each once it is acknowledged."""
    more = db.with_name("more.json")
    with wiretrack.open(db) as site:
        for value in ("0.31", "0.32"):
            site.log(L1, "continuity", value)
            os.write(told, b"r")
        site.land(L1, "PH1", state="capped")
        os.write(told, b"l")
        site.note(L1, "bent" * 500)
        os.write(told, b"n")
        site.load_file(more)
        os.write(told, b"f")


def child(library: ctypes.CDLL, db: Path, after: int, mode: int) -> tuple[str, bool]:
    """Return what a process acknowledged whose write number `after` went wrong; whether any did."""
    ours, its = os.pipe()
    process = os.fork()
    if process == 0:
        library.arm(after, mode)
        status = 0
        try:
            work(db, its)
        except WiretrackError:
            status = 3
        except BaseException:
            traceback.print_exc()
            status = 4
        os._exit(status)
    os.close(its)
    told = b""
    while more := os.read(ours, 100):
        told += more
    os.close(ours)
    _, ended = os.waitpid(process, 0)
    status = os.waitstatus_to_exitcode(ended)
    assert status in (0, 3, 9), status
    return told.decode(), status != 0


def faults(db: Path, told: str) -> list[str]:
    """Return what is wrong with a registry after that."""
    with open_registry(db) as registry:
        found = [str(problem) for problem in problems(registry)]
        values = [row["value"] for row in registry.rows("SELECT value FROM readings ORDER BY nr")]
        counts = {sign: registry.connection.execute(sql) for sign, sql in WORKS.items()}
        there = {sign: rows.fetchone()[0] for sign, rows in counts.items()}
        boxes = registry.connection.execute("SELECT count(*) FROM enclosures").fetchone()[0]
        log_reading(registry, ReadingText(subject=L1, kind="continuity", value="0.5"))
        found += [str(problem) for problem in problems(registry)]
    done = ["0.31", "0.32"][: len(values)]
    if values != done or boxes % 40 != BOXES or any(told.count(s) > n for s, n in there.items()):
        found.append(f"{told} was acknowledged; there are {values} and {there}")
    return found


def main(library_name: str, template: str, folder: str, step: str, modes: str) -> None:
    """Go through the writes, every `step`-th of them, until none goes wrong any more."""
    library = ctypes.CDLL(library_name)
    library.arm.argtypes = (ctypes.c_long, ctypes.c_int)
    db, runs, found = Path(folder) / "a.db", 0, []
    db.with_name("more.json").write_text(json.dumps(MORE), "utf-8")
    for mode in map(int, modes):
        after, wrong = 0, True
        while wrong:
            for end in ("", "-wal", "-shm"):
                Path(f"{db}{end}").unlink(missing_ok=True)
            shutil.copy(template, db)
            told, wrong = child(library, db, after, mode)
            assert wrong or told == "rrlnf", told
            found += [f"{mode} {after}: {fault}" for fault in faults(db, told)]
            runs += wrong
            after += int(step)
    print(json.dumps({"runs": runs, "faults": found}))


if __name__ == "__main__":
    main(*sys.argv[1:])
