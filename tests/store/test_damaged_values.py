# SPDX-License-Identifier: MIT
"""A value that damage made one of another type, anywhere in the log: `verify` names it."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from itertools import product
from typing import TYPE_CHECKING

import pytest

from tests.pump import L1
from wiretrack.store.health import problems
from wiretrack.store.store import open_registry
from wiretrack.tasks.test.testing import ReadingText, log_reading

if TYPE_CHECKING:
    from pathlib import Path

COLUMNS = ("writer", "number", "hash", "previous", "content", "salt", "body", "signature")
OTHER = (None, 33, 2.5, "text", b"")


@pytest.mark.parametrize("column", COLUMNS)
def test_a_value_of_another_type_in_the_log_is_named(db: Path, column: str) -> None:
    with open_registry(db) as registry:
        log_reading(registry, ReadingText(subject=L1, kind="continuity", value="0.3"))
        registry.connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    whole = db.read_bytes()
    for value, which in product(OTHER, ("max(nr)", "min(nr)")):
        if column == "signature" and (value, which) == (None, "min(nr)"):
            continue  # it has none; its commit's last entry has
        db.write_bytes(whole)
        loose(db, f"UPDATE log SET {column} = ? WHERE nr = (SELECT {which} FROM log)", value)
        with open_registry(db) as registry:
            assert problems(registry), (value, which)


def loose(db: Path, sql: str, value: object) -> None:
    """Write what no constraint allows, as damage does."""
    with_no_rules = (
        "CREATE TABLE log (nr INTEGER PRIMARY KEY, writer, number, hash UNIQUE, previous, content,"
        " salt, body, signature, have, UNIQUE (writer, number))"
    )
    triggers = "SELECT name, sql FROM sqlite_master WHERE type = 'trigger' AND tbl_name = 'log'"
    with closing(sqlite3.connect(db)) as opened, opened:
        (table,) = opened.execute("SELECT sql FROM sqlite_master WHERE name = 'log'").fetchone()
        kept = opened.execute(triggers).fetchall()
        for name, _ in kept:
            opened.execute(f"DROP TRIGGER {name}")
        become(opened, with_no_rules)
    with closing(sqlite3.connect(db)) as opened, opened:
        opened.execute(sql, [value])
        for _, trigger in kept:
            opened.execute(trigger)
        become(opened, table)


def become(db: sqlite3.Connection, table: str) -> None:
    """Give the table `log` another text."""
    db.execute("PRAGMA writable_schema = ON")
    db.execute("UPDATE sqlite_master SET sql = ? WHERE name = 'log'", [table])
