# SPDX-License-Identifier: MIT
"""The registries of a folder: what is open in each, and one search through all of them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.errors import BadInputError, RegistryError
from wiretrack.late import dataclass
from wiretrack.store.history import state_of
from wiretrack.store.searching import find
from wiretrack.store.source import site_of
from wiretrack.store.store import is_registry, open_registry
from wiretrack.tasks.report.punchlist import punch_list

if TYPE_CHECKING:
    from pathlib import Path


@dataclass(frozen=True)
class SiteLine:
    """A registry of a folder: which site it is of, how many points are open, its last change.

    Where it can't be read, `problem` says why, and nothing else is known.
    """

    file: str
    code: str | None = None
    name: str | None = None
    open: int | None = None
    last_change: str | None = None
    problem: str | None = None


@dataclass(frozen=True)
class FoundIn:
    """One thing found, and the registry that it is in."""

    file: str
    what: str
    code: str
    text: str


def registries(folder: Path) -> list[Path]:
    """Return the files of a folder, and of the folders in it, that are registries, by name."""
    files = (path for pattern in ("*.db", "*/*.db") for path in folder.glob(pattern))
    return sorted(filter(is_registry, files))


def sites(folder: Path) -> list[SiteLine]:
    """Return the registries of a folder and of the folders in it, by their names."""
    return [_line(path) for path in _registries(folder)]


def find_in_all(folder: Path, words: str) -> tuple[list[FoundIn], list[SiteLine]]:
    """Return what carries these words in any registry of a folder, and what can't be read."""
    found: list[FoundIn] = []
    unread: list[SiteLine] = []
    for path in _registries(folder):
        try:
            with open_registry(path) as registry:
                hits = find(registry, words)
        except RegistryError as error:
            unread.append(SiteLine(str(path), problem=error.why))
        else:
            found += [FoundIn(str(path), hit.what, hit.code, hit.text) for hit in hits]
    return found, unread


def _registries(folder: Path) -> list[Path]:
    if not folder.is_dir():
        raise BadInputError(f"'{folder}' is no folder. Name the one that the registries are in.")
    found = registries(folder)
    if not found:
        raise BadInputError(f"No registry is in '{folder}', nor in a folder in it.")
    return found


def _line(path: Path) -> SiteLine:
    try:
        with open_registry(path) as registry:
            facts, last = site_of(registry).facts, state_of(registry).last_change.at
            return SiteLine(str(path), facts.code, facts.name, len(punch_list(registry)), last)
    except RegistryError as error:
        return SiteLine(str(path), problem=error.why)
