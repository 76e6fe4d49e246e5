# SPDX-License-Identifier: MIT
"""Copies of a registry, made while it is in use: proved, then put in place, a few of them kept.

The user's state folder remembers when and where the registry at a path was last copied.
"""

from __future__ import annotations

import os
import re
import sqlite3
from contextlib import closing, suppress
from dataclasses import dataclass
from typing import TYPE_CHECKING

from wiretrack import days, state
from wiretrack.errors import BadInputError, RegistryError
from wiretrack.store.health import problems
from wiretrack.store.store import Registry, is_registry, new_registry_file

if TYPE_CHECKING:
    from pathlib import Path

    from wiretrack.store.proof import Problem

_USE = "backups"
_SECOND = range(2, 1000)  # copies of one day


@dataclass(frozen=True)
class Backup:
    """A copy: its file, how large it is, what the registry had wrong already, which copies went."""

    file: str
    bytes: int
    problems: tuple[Problem, ...]
    removed: tuple[str, ...]


def backup(registry: Registry, target: Path, *, keep: int | None = None) -> Backup:
    """Copy the registry, while it is in use, to a new file: proved and whole, or not at all.

    With `keep` the file's name gets the day, and only so many copies of that name stay.
    `BadInputError` if the file exists, or its folder doesn't; `RegistryError` if the copy can't be
    written, or isn't what was copied.
    """
    if not target.parent.is_dir():
        raise BadInputError(f"The folder {target.parent} does not exist. Make it first.")
    place = target if keep is None else _of_today(target)
    with new_registry_file(place) as draft:
        draft.touch(0o600)
        _copy(registry, draft)
        found = _proved(registry, draft)
    state.keep(_USE, registry.path, {"at": days.utc_now(), "file": str(place.resolve())})
    gone = () if keep is None or found else _removed(target, keep)
    return Backup(str(place), place.stat().st_size, found, gone)


def _copy(registry: Registry, draft: Path) -> None:
    with closing(sqlite3.connect(draft)) as copy:
        with copy:
            registry.connection.backup(copy)
        copy.execute("PRAGMA journal_mode = DELETE")
    with draft.open("rb") as file:
        os.fsync(file.fileno())


def _proved(registry: Registry, draft: Path) -> tuple[Problem, ...]:
    """Return what is wrong with a copy as it is with the registry; refuse one that has more."""
    uri = f"{draft.resolve().as_uri()}?mode=ro&immutable=1"
    with closing(sqlite3.connect(uri, uri=True, isolation_level=None)) as db:
        found = problems(Registry(draft, db, writable=False))
    more = set(found) - set(problems(registry)) if found else None
    if more:
        raise RegistryError(
            str(draft), f"is no true copy: {next(iter(more))}", "See to the disk, then try again."
        )
    return tuple(found)


def _of_today(target: Path) -> Path:
    """Return the name of a copy of today; a second one of a day has a number."""
    today = days.today().isoformat()
    names = (f"{target.stem}-{today}{n}{target.suffix}" for n in ("", *(f".{i}" for i in _SECOND)))
    return next(
        (place for name in names if not (place := target.with_name(name)).exists()),
        target.with_name(f"{target.stem}-{today}{target.suffix}"),
    )


def _removed(target: Path, keep: int) -> tuple[str, ...]:
    """Remove all but the newest copies of a name; return those that went."""
    wanted = re.compile(
        rf"{re.escape(target.stem)}-(\d{{4}}-\d\d-\d\d)(?:\.(\d+))?{re.escape(target.suffix)}"
    )
    found = sorted(
        (match[1], int(match[2] or 1), file)
        for file in target.parent.iterdir()
        if (match := wanted.fullmatch(file.name)) and is_registry(file)
    )
    gone = tuple(str(file) for _, _, file in found[: max(0, len(found) - keep)])
    for file in gone:
        with suppress(OSError):
            os.unlink(file)
    return gone


@dataclass(frozen=True)
class Last:
    """The last copy of a registry that is known here: when, and in which file."""

    at: str
    file: str


@dataclass(frozen=True)
class Uncopied:
    """How many readings were entered since the last copy of a registry that is known here."""

    readings: int
    last: Last | None


def uncopied(registry: Registry) -> Uncopied:
    """Return what the last copy lacks."""
    kept = state.kept(_USE, registry.path) or {}
    last = Last(kept["at"], kept["file"]) if {"at", "file"} <= kept.keys() else None
    sql = "SELECT count(*) AS n FROM readings WHERE ? IS NULL OR entered_at > ?"
    row = registry.row(sql, [last and last.at] * 2)
    return Uncopied(int(row["n"]) if row else 0, last)
