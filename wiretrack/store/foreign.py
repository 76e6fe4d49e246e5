# SPDX-License-Identifier: MIT
"""Files of others, opened so that nothing in them can run or hang; what sqlite says of a file.

Triggers, views and defaults of a file are code of whoever made it (sqlite.org/security.html). What
isn't as ours is refused before anything is asked of it, and what is asked may not take for ever.
"""

from __future__ import annotations

import sqlite3
import time
from functools import cache
from typing import TYPE_CHECKING

from wiretrack.errors import DamagedRegistryError, Hint, RegistryError
from wiretrack.plain import digest
from wiretrack.store.rows import empty
from wiretrack.store.schema import columns_of

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

PATIENCE_S = 60.0
_STEPS = 100_000  # of sqlite's machine, between two looks at the clock
_LIMITS = {
    sqlite3.SQLITE_LIMIT_LENGTH: 64 * 2**20,  # bytes of a value or a row
    sqlite3.SQLITE_LIMIT_SQL_LENGTH: 2**20,
    sqlite3.SQLITE_LIMIT_ATTACHED: 1,
    sqlite3.SQLITE_LIMIT_TRIGGER_DEPTH: 10,
    sqlite3.SQLITE_LIMIT_LIKE_PATTERN_LENGTH: 200,
}
_SCHEMA = "SELECT type, name, sql FROM sqlite_master WHERE sql IS NOT NULL"


def guarded(db: sqlite3.Connection, patience_s: float = PATIENCE_S) -> None:
    """Let nothing in a file call what can do harm, be larger than it should, or run for ever."""
    until = time.monotonic() + patience_s
    db.execute("PRAGMA trusted_schema = OFF")
    db.execute("PRAGMA cell_size_check = ON")
    for limit, most in _LIMITS.items():
        db.setlimit(limit, most)
    db.set_progress_handler(lambda: int(time.monotonic() > until), _STEPS)


@cache
def our_schema() -> dict[tuple[str, str], str]:
    """Return the SQL of each table, index, view and trigger of a registry, by type and name."""
    return {(kind, name): sql for kind, name, sql in empty().execute(_SCHEMA)}


def schema_of(db: sqlite3.Connection) -> dict[tuple[str, str], str]:
    """Return the same of a file; only its text is read."""
    return {(kind, name): sql for kind, name, sql in db.execute(_SCHEMA)}


def strange_in(db: sqlite3.Connection) -> list[str]:
    """Return the names of what could run in a file and isn't ours, or isn't as ours."""
    wanted = our_schema()
    names = {name for _, name in wanted}
    return sorted(
        f"{kind} {name}"
        for (kind, name), sql in schema_of(db).items()
        if (kind == "trigger" or name in names) and wanted.get((kind, name)) != sql
    )


def schema_digest(db: sqlite3.Connection) -> dict[str, str]:
    """Return what tells one schema from another, as it is kept once it was looked through."""
    texts = db.execute("SELECT sql FROM sqlite_master WHERE sql IS NOT NULL ORDER BY rowid")
    return {"blake2b": digest("\0".join(text for (text,) in texts))}


def ours_in(db: sqlite3.Connection, tables: Iterable[str]) -> dict[str, list[str]]:
    """Return those of these tables that are as ours, each with its columns."""
    found = schema_of(db)
    return {
        table: columns_of(empty(), table)
        for table in tables
        if found.get(("table", table)) == our_schema()["table", table]
    }


NAME_IT = Hint("Name the registry's file with {db}.")
READ_ONLY_HINT = (
    "It or its folder is read-only, or the disk is full. Free some space, or copy it elsewhere."
)


def explain(path: Path, error: sqlite3.Error | UnicodeDecodeError) -> RegistryError:
    """Return the error, in words for people, that stands for sqlite's own.

    What sqlite says of a damaged schema may hold bytes that are no text.
    """
    code = (getattr(error, "sqlite_errorcode", None) or 0) & 0xFF
    if isinstance(error, UnicodeDecodeError):
        code = sqlite3.SQLITE_CORRUPT
    unknown: tuple[str, Hint | str] = (f"can't be used: {error}", Hint(job="verify"))
    why, hint = _EXPLANATIONS.get(code, unknown)
    if code == sqlite3.SQLITE_CORRUPT:
        hint = Hint("Go back to the latest copy.", job="rescue", about=str(path))
    kind = DamagedRegistryError if code == sqlite3.SQLITE_CORRUPT else RegistryError
    return kind(str(path), why, hint)


_EXPLANATIONS: dict[int, tuple[str, Hint | str]] = {
    sqlite3.SQLITE_NOTADB: ("is not a registry", NAME_IT),
    sqlite3.SQLITE_CORRUPT: ("is damaged", ""),
    sqlite3.SQLITE_BUSY: ("is locked by another program", "Try again when that one is done."),
    sqlite3.SQLITE_LOCKED: ("is locked by another program", "Try again when that one is done."),
    sqlite3.SQLITE_FULL: (
        "can't be written: the disk is full",
        "Nothing was changed; free some space and try again.",
    ),
    sqlite3.SQLITE_READONLY: ("can't be written", READ_ONLY_HINT),
    sqlite3.SQLITE_CANTOPEN: (
        "can't be opened",
        "See that the file and its folder may be read and written.",
    ),
    sqlite3.SQLITE_IOERR: (
        "can't be read or written: the medium failed or is full",
        "Nothing was changed; see to the disk, then try again.",
    ),
    sqlite3.SQLITE_PERM: ("can't be opened", "See that the file may be read and written."),
}
