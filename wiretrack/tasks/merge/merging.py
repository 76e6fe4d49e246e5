# SPDX-License-Identifier: MIT
"""Merging the registry with another copy of it that was changed apart: the union of their logs."""

from __future__ import annotations

import os
from dataclasses import dataclass
from typing import TYPE_CHECKING

from wiretrack.errors import BadInputError, Hint, RegistryError
from wiretrack.store.filling import fill
from wiretrack.store.store import open_other
from wiretrack.store.tails import StoredTail, Taken, take
from wiretrack.store.undecided import decide, undecided

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    from wiretrack.store.store import Registry
    from wiretrack.store.undecided import Undecided


@dataclass(frozen=True)
class MergeResult:
    """What came from a file, if one was merged, and what is undecided now."""

    file: Path | None
    taken: Taken
    undecided: list[Undecided]
    written: bool = True

    @property
    def nothing_new(self) -> bool:
        """Whether the file had nothing that wasn't here."""
        return not self.taken.entries

    def as_json(self) -> dict[str, object]:
        """Return it as scripts read it."""
        return {
            "file": self.file and str(self.file),
            "merged": self.file is not None and self.written,
            "nothing_new": self.nothing_new,
            "entries": self.taken.entries,
            "filled": self.taken.filled,
            "changes": self.taken.changes,
            "added": {table: n for table, n in sorted(self.taken.added.items()) if n},
            "changed": {table: n for table, n in sorted(self.taken.changed.items()) if n},
            "refused": self.taken.refused,
            "undecided": self.undecided,
        }


def merge(registry: Registry, file: Path, *, look: bool = False) -> MergeResult:
    """Take what the log of the registry at `file` has and this one's lacks; it is only read.

    With `look` see what would come, and write nothing.

    Raises
    ------
    RegistryError
        If the file is missing, no registry, damaged, or made by another version.
    BadInputError
        If it is this registry itself, a site file, or doesn't descend from the same registry.
    """
    if file.exists() and os.path.samefile(file, registry.path):
        raise BadInputError(f"{file} is this registry itself. Name another copy of it.")
    if file.is_dir() or (file.exists() and _is_site_file(file)):
        raise BadInputError(
            f"{file} is a site file: it has no log to merge.", Hint("Add it.", job="load")
        )
    with open_other(file) as other:
        try:
            tail = StoredTail(other)
            filled = 0 if look else fill(registry, tail)
            taken = take(registry, tail, look=look)
        except other.errors as error:
            raise RegistryError(str(file), f"can't be read: {error}") from error
    taken.filled = filled
    taken.entries += filled
    return MergeResult(file, taken, undecided(registry), written=not look)


def decided(registry: Registry, decisions: Iterable[str], *, who: str | None = None) -> list[str]:
    """Decide what is undecided, as typed: ``KEY=NUMBER`` of the value that holds, each a change.

    Of two records of one name ``KEY=NAME`` says what the one that the key names is called.

    Raises
    ------
    BadInputError
        If one isn't of that form, or nothing of that key is undecided.
    """
    parted = []
    for text in decisions:
        key, sign, answer = text.rpartition("=")
        if not (sign and key.strip() and answer.strip()):
            raise BadInputError(f"'{text}' is no decision. Write it like KEY=1.")
        parted.append((key.strip(), answer.strip()))
    return [decide(registry, key, answer, who=who) for key, answer in parted]


def _is_site_file(file: Path) -> bool:
    with file.open("rb") as opened:
        return opened.read(200).lstrip(b"\xef\xbb\xbf \r\n\t").startswith(b"{")
