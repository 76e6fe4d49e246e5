# SPDX-License-Identifier: MIT
"""Run with ``torn.c`` ahead of the C library: work on a registry whose n-th write fails or tears.

``python tearing.py LIBRARY REGISTRY FOLDER STEP`` prints how many writes failed or tore, and the
faults: what was acknowledged and lost, what is there by half, what `verify` names.
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

FAIL, TEAR = 0, 1


def work(db: Path, told: int) -> None:
    """Do three works, and tell of each once it is acknowledged."""
    with wiretrack.open(db) as site:
        for value in ("0.31", "0.32"):
            site.log(L1, "continuity", value)
            os.write(told, b"r")
        site.land(L1, "PH1", state="capped")
        os.write(told, b"l")


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
        (capped,) = registry.rows("SELECT count(*) AS n FROM ends WHERE state = 'capped'")
        log_reading(registry, ReadingText(subject=L1, kind="continuity", value="0.5"))
        found += [str(problem) for problem in problems(registry)]
    done = ["0.31", "0.32"][: len(values)]
    if values != done or told.count("r") > len(values) or told.count("l") > capped["n"]:
        found.append(f"{told} was acknowledged; there are {values} and {capped['n']} capped ends")
    return found


def main(library_name: str, template: str, folder: str, step: str) -> None:
    """Go through the writes, every `step`-th of them, until none goes wrong any more."""
    library = ctypes.CDLL(library_name)
    library.arm.argtypes = (ctypes.c_long, ctypes.c_int)
    db, runs, found = Path(folder) / "a.db", 0, []
    for mode in (FAIL, TEAR):
        after, wrong = 0, True
        while wrong:
            for end in ("", "-wal", "-shm"):
                Path(f"{db}{end}").unlink(missing_ok=True)
            shutil.copy(template, db)
            told, wrong = child(library, db, after, mode)
            found += [f"{mode} {after}: {fault}" for fault in faults(db, told)]
            runs += wrong
            after += int(step)
    print(json.dumps({"runs": runs, "faults": found}))


if __name__ == "__main__":
    main(*sys.argv[1:])
