# SPDX-License-Identifier: MIT
"""What sqlite complains of, in words for people."""

from __future__ import annotations

import sqlite3
from typing import TYPE_CHECKING

from wiretrack.errors import DamagedRegistryError, Hint, RegistryError

if TYPE_CHECKING:
    from pathlib import Path

NAME_IT = Hint("Name the registry's file with {db}.")
READ_ONLY_HINT = (
    "It lies on a read-only medium, or the disk is full. Free some space, or copy it elsewhere."
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
