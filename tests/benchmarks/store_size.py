# SPDX-License-Identifier: MIT
"""Weigh a registry, and time a load against the bare insert of the same rows.

Run by hand: ``python -m tests.benchmarks.store_size [CONDUCTORS]``, of a site as in `parts_speed`.
"""

from __future__ import annotations

import sqlite3
import sys
import tempfile
import time
from contextlib import closing
from pathlib import Path

from tests.benchmarks.parts_speed import wired
from tests.record_of import add_document
from wiretrack.exchange.write import write_site
from wiretrack.files import shipped
from wiretrack.store.store import open_registry
from wiretrack.tasks.describe.sites import load_site, new_site

MANY = 10_000


def loaded(path: Path, conductors: int) -> float:
    """Load a site into a new registry; return the processor time that took, in s."""
    new_site(path, "Large")
    site = wired(0, conductors)
    with open_registry(path) as registry:
        begun = time.process_time()
        add_document(registry, site)
        registry.connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        return time.process_time() - begun


def read_and_loaded(path: Path, conductors: int) -> float:
    """Read a site file, check it and load it; return the processor time that took, in s."""
    file = path.with_suffix(".json")
    write_site(wired(0, conductors), file)
    new_site(path, "Large")
    with open_registry(path) as registry:
        begun = time.process_time()
        load_site(registry, file)
        registry.connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        return time.process_time() - begun


def inserted(path: Path, source: Path) -> float:
    """Insert a registry's rows into a bare new file; return the processor time, in s."""
    with closing(sqlite3.connect(source)) as full:
        names = [name for (name,) in full.execute(
            "SELECT name FROM pragma_table_list WHERE type = 'table' AND schema = 'main'"
            " AND name NOT LIKE 'sqlite%' AND name NOT IN ('changes', 'writing', 'search_due')"
        )]  # fmt: skip
        rows = {name: full.execute(f"SELECT * FROM {name}").fetchall() for name in names}
    with closing(sqlite3.connect(path)) as bare:
        bare.executescript((shipped("schemas") / "schema.sql").read_text("utf-8"))
        bare.execute("PRAGMA journal_mode = WAL")
        begun = time.process_time()
        with bare:
            for name, found in rows.items():
                if found:
                    holes = ", ".join("?" * len(found[0]))
                    bare.executemany(f"INSERT OR IGNORE INTO {name} VALUES ({holes})", found)
        bare.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        return time.process_time() - begun


def weighed(path: Path) -> dict[str, int]:
    """Return how many bytes each table and index takes, the heaviest first."""
    with closing(sqlite3.connect(path)) as db:
        return dict(db.execute("SELECT name, sum(pgsize) FROM dbstat GROUP BY 1 ORDER BY 2 DESC"))


def main(conductors: int) -> None:
    """Print what a conductor weighs, and what a load costs."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "large.db"
        read_and_loaded(Path(folder) / "first.db", 100)  # what is compiled once
        load_s = loaded(path, conductors)
        file_s = read_and_loaded(Path(folder) / "file.db", conductors)
        bare_s = inserted(Path(folder) / "bare.db", path)
        print(f"{path.stat().st_size / conductors:.0f} bytes a conductor")
        print(f"load {load_s:.2f} s, bare insert {bare_s:.2f} s: {load_s / bare_s:.1f} times")
        print(f"a site file, read, checked and loaded {file_s:.2f} s: {file_s / bare_s:.1f} times")
        for name, size in list(weighed(path).items())[:12]:
            print(f"{size / conductors:8.0f}  {name}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else MANY)
