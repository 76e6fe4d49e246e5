# SPDX-License-Identifier: MIT
"""A private copy of another registry to merge from: the original is read and never changed."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from typing import TYPE_CHECKING

from wiretrack.errors import Hint, RegistryError
from wiretrack.store.health import problems
from wiretrack.store.store import explain, open_registry

if TYPE_CHECKING:
    from pathlib import Path

_MAGIC = b"SQLite format 3\x00"


def is_registry_file(path: Path) -> bool:
    """Return whether a file begins as a registry does."""
    with path.open("rb") as file:
        return file.read(len(_MAGIC)) == _MAGIC


def copy_privately(path: Path, target: Path) -> None:
    """Copy the registry at `path` to `target`, bring the copy up to date and prove it whole.

    Raises
    ------
    RegistryError
        If it can't be read, is no registry, was made by a newer version, or is damaged.
    """
    try:
        _copy(path, target)
    except sqlite3.Error as error:
        raise explain(path, error) from error
    try:
        with open_registry(target) as copy:
            found = problems(copy)
            copy.gather_into_one_file()
    except RegistryError as error:
        raise type(error)(str(path), error.why, error.hint) from error
    if found:
        more = f" and {len(found) - 1} more" if len(found) > 1 else ""
        raise RegistryError(
            str(path),
            f"is damaged: {found[0]}{more}",
            Hint(job="verify-file", about=str(path)),
        )


def _copy(path: Path, target: Path) -> None:
    """Copy page by page; a file without a write-ahead log beside it is opened without locks."""
    in_use = path.with_name(f"{path.name}-wal").exists()
    mode = "mode=ro" if in_use else "mode=ro&immutable=1"
    uri = f"{path.resolve().as_uri()}?{mode}"
    with (
        closing(sqlite3.connect(uri, uri=True)) as source,
        closing(sqlite3.connect(target)) as copy,
    ):
        source.backup(copy)
