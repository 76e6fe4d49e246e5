# SPDX-License-Identifier: MIT
"""Merging the registry with another copy of it that was changed apart: the union of their logs."""

from __future__ import annotations

import os
from collections import Counter
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from wiretrack.errors import BadInputError, Hint, RegistryError
from wiretrack.store.notes import record_id
from wiretrack.store.operations import parts_of
from wiretrack.store.pairing import files_loaded_apart, insides, pairs_of, say_same, sites_of
from wiretrack.store.same import TABLES
from wiretrack.store.searching import ANY, resolve
from wiretrack.store.source import site_of
from wiretrack.store.store import open_other
from wiretrack.store.tails import StoredTail, Taken, are_apart, fill, take
from wiretrack.store.undecided import decide, name_of, undecided

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable
    from pathlib import Path

    from wiretrack.store.same import Statement
    from wiretrack.store.store import Registry
    from wiretrack.store.undecided import Undecided


@dataclass(frozen=True)
class Joined:
    """What two copies loaded apart, and how many records of each kind are said to be the same.

    `sites` are the names of two registries that were begun apart, and are of one site.
    """

    files: tuple[str, ...] = ()
    records: dict[str, int] = field(default_factory=dict)
    sites: tuple[str, ...] = ()
    change: str | None = None


@dataclass(frozen=True)
class MergeResult:
    """What came from a file, if one was merged, and what is undecided now."""

    file: Path | None
    taken: Taken
    undecided: list[Undecided]
    written: bool = True
    same: Joined = field(default_factory=lambda: Joined())

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
            "same": self.same,
            "undecided": self.undecided,
        }


def merge(
    registry: Registry, file: Path, *, look: bool = False,
    same: Callable[[Joined], bool] | None = None, who: str | None = None,
) -> MergeResult:  # fmt: skip
    """Take what the log of the registry at `file` has and this one's lacks; it is only read.

    With `look` see what would come, and write nothing. With `same`, which is asked first, records
    that both loaded from one file are said to be the same, and both may have been begun apart.
    `RegistryError` if the file is missing, no registry, damaged, or made by another version;
    `BadInputError` if it is this registry itself, a site file, or doesn't descend from the same
    registry.
    """
    if file.exists() and os.path.samefile(file, registry.path):
        raise BadInputError(f"{file} is this registry itself. Name another copy of it.")
    begins = b""
    if file.is_file():
        with file.open("rb") as opened:
            begins = opened.read(200)
    if file.is_dir() or begins.lstrip(b"\xef\xbb\xbf \r\n\t").startswith(b"{"):
        raise BadInputError(
            f"{file} is a site file: it has no log to merge.", Hint("Add it.", job="load")
        )
    with open_other(file) as other:
        try:
            tail = StoredTail(other)
            joined, pairs = _loaded_apart(registry, other, tail) if same else (Joined(), [])
            if same and not same(joined):
                raise BadInputError("They weren't said to be the same. Nothing was written.")
            filled = 0 if look else fill(registry, tail)
            taken = take(registry, tail, look=look, apart=bool(joined.sites))
        except other.errors as error:
            raise RegistryError(str(file), f"can't be read: {error}") from error
    taken.filled = filled
    taken.entries += filled
    if same and not look:
        joined = _join(registry, joined, pairs, who)
    return MergeResult(file, taken, undecided(registry), written=not look, same=joined)


def _loaded_apart(
    registry: Registry, other: Registry, tail: StoredTail
) -> tuple[Joined, list[Statement]]:
    """Return what two registries loaded apart, as records that are the same."""
    loads = files_loaded_apart([registry, other])
    pairs = [pair for _, one, two in loads for pair in pairs_of(one, two)]
    sites = (_called(registry), _called(other)) if are_apart(registry, tail) else ()
    if not loads:
        raise BadInputError(
            "They loaded no file of the same content, so nothing says which records are the same.",
            Hint("Add what the other's dump holds.", job="load") if sites else Hint(job="same"),
        )
    files = tuple(dict.fromkeys(name for name, *_ in loads))
    return Joined(files, dict(Counter(what for what, *_ in pairs)), sites), pairs


def _called(registry: Registry) -> str:
    return site_of(registry).facts.name or str(registry.path)


def _join(registry: Registry, joined: Joined, pairs: list[Statement], who: str | None) -> Joined:
    sites = sites_of(registry, StoredTail(registry).sites())
    said = say_same(registry, [*sites, *pairs], who)
    counts = Counter(what for what, *_ in said if what != "site")
    return replace(joined, records=dict(counts), change=registry.commit.change if said else None)


@dataclass(frozen=True)
class SaidSame:
    """Two records of one thing: its name now, how each was called, what is undecided of it."""

    what: str
    code: str
    same: tuple[str, str]
    undecided: list[Undecided]
    change: str


def same(registry: Registry, one: str, other: str, *, who: str | None = None) -> SaidSame:
    """Say that two records are of one thing; of boxes also what is in both under one code."""
    named = [resolve(registry, word, ANY) for word in (one, other)]
    first, second = named
    if first.what != second.what or first.what == "site":
        kinds = f"{one} ({first.what}) and {other} ({second.what})"
        raise BadInputError(f"{kinds} can't be the same. Name two records of one kind.")
    ids = [record_id(registry.db, each.what, each.code) for each in named]
    if ids[0] == ids[1]:
        raise BadInputError(f"{one} and {other} are one record already.")
    tags = [each.code if each.what == "conductor" else None for each in named]
    pairs: list[Statement] = [(first.what, ids[0], ids[1], tags[0], tags[1])]
    if first.what == "enclosure":
        pairs += insides(registry, *ids)
    say_same(registry, pairs, who)
    owner = (TABLES[first.what], min(ids))
    left = undecided(registry, parts_of(owner))
    now = name_of(registry, *owner)
    return SaidSame(first.what, now, (first.code, second.code), left, registry.commit.change)


def decided(registry: Registry, decisions: Iterable[str], *, who: str | None = None) -> list[str]:
    """Decide what is undecided, as typed: ``KEY=NUMBER`` of the value that holds, each a change.

    Of two records of one name ``KEY=NAME`` says what the one that the key names is called.
    `BadInputError` if one isn't of that form, or nothing of that key is undecided.
    """
    parted = []
    for text in decisions:
        key, sign, answer = text.rpartition("=")
        if not (sign and key.strip() and answer.strip()):
            raise BadInputError(f"'{text}' is no decision. Write it like KEY=1.")
        parted.append((key.strip(), answer.strip()))
    return [decide(registry, key, answer, who=who) for key, answer in parted]
