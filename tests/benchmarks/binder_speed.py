# SPDX-License-Identifier: MIT
"""How long a binder takes, and how much memory: ``python -m tests.benchmarks.binder_speed 10000``.

The site is invented: boxes along a tree of raceways, a pull a raceway, circuits of four conductors,
two readings each. The command runs as a whole; printed are the seconds that went by, those of all
its processes' work, and the most memory that one of them had.
"""

from __future__ import annotations

import json
import resource
import sys
import tempfile
import time
from pathlib import Path
from subprocess import PIPE, Popen
from typing import Any

from wiretrack.model.tags import ALPHABET, check_character
from wiretrack.processes import processors
from wiretrack.store.store import open_registry
from wiretrack.tasks.describe.sites import load_site, new_site

FUNCTIONS = ("L1", "L2", "L3", "PE")
IN_A_BOX = 40


def tag(number: int) -> str:
    """Return the tag of a number."""
    body = "".join(ALPHABET[number >> shift & 31] for shift in (25, 20, 15, 10, 5, 0))
    return body + check_character(body)


def site(conductors: int) -> dict[str, Any]:
    """Return a site file of about so many conductors."""
    boxes = max(2, conductors // IN_A_BOX + 1)
    rows = [_conductor(number, boxes) for number in range(conductors)]
    return {
        "format": "wiretrack-site/1",
        "site": {"code": "LARGE", "name": "Large works", "units": "m", "rules": "IEC"},
        "enclosures": [
            {"code": f"B{n}", "kind": "junction-box", "name": f"box {n}", "where": f"bay {n % 40}"}
            for n in range(boxes)
        ],
        "raceways": [
            {"code": f"W{n}", "from": f"B{(n - 1) // 3}", "to": f"B{n}", "type": "RMC",
             "trade_size": "1", "length": "20 m", "bends_deg": 90, "metal": True}
            for n in range(1, boxes)
        ],
        "circuits": [
            {"code": f"C{n}", "title": f"drive {n}", "system": "ac-3ph", "max_voltage": "400 V"}
            for n in range(-(-conductors // 4))
        ],
        "pulls": [{"code": f"P{n}", "path": [f"W{n}"]} for n in range(1, boxes)],
        "conductors": rows,
        "instruments": [{"code": "M1", "kind": "ohmmeter", "accuracy": "1% + 2 digits",
                         "resolution": "0.01 ohm"}],
        "readings": [
            {"kind": "continuity", "subject": row["tag"], "value": "0.10 ohm", "at": at,
             "instrument": "M1"}
            for row in rows
            for at in ("2019-05-02T10:15:00+02:00", "2024-05-02T10:15:00+02:00")
        ],
    }  # fmt: skip


def _conductor(number: int, boxes: int) -> dict[str, Any]:
    pull = number % (boxes - 1) + 1
    return {
        "tag": tag(number * 7919 + 11), "circuit": f"C{number // 4}",
        "function": FUNCTIONS[number % 4], "size": "4 mm2", "metal": "Cu", "strands": 7,
        "colour": "BK", "pull": f"P{pull}", "length": "21 m",
        "from": {"enclosure": f"B{(pull - 1) // 3}", "terminal": f"X:{number}"},
        "to": {"enclosure": f"B{pull}", "terminal": f"Y:{number}"},
    }  # fmt: skip


def main(conductors: int) -> None:
    """Build a site and its binder, and print what the binder took."""
    with tempfile.TemporaryDirectory() as folder:
        db, file = Path(folder) / "large.db", Path(folder) / "large.json"
        file.write_text(json.dumps(site(conductors)), "utf-8")
        new_site(db, "Large works")
        with open_registry(db) as registry:
            load_site(registry, file)
        command = ["--db", str(db), "binder", str(Path(folder) / "binder"), "--json"]
        start = time.perf_counter()
        with Popen([sys.executable, "-m", "wiretrack", *command], stdout=PIPE) as binder:
            made = json.loads(binder.communicate()[0])
        took_s = time.perf_counter() - start
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    print(f"{made['pages']} pages, {made['bytes'] / 1e6:.0f} MB")
    print(f"{took_s:.1f} s went by, on {processors()} processors")
    print(f"{used.ru_utime + used.ru_stime:.1f} s of processor time")
    print(f"{1000 * took_s / conductors:.2f} ms a conductor")
    print(f"{used.ru_maxrss / 1024:.0f} MiB at most in one process")


if __name__ == "__main__":
    main(int(sys.argv[1]))
