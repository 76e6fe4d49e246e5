# SPDX-License-Identifier: MIT
"""What another copy's log has and this one's lacks, taken page by page.

Each page is one write that leaves the registry sound, so what was broken off goes on when it is
done again. What can't be proved, or can't be true beside what is known, is refused and named; all
that doesn't rest on it is taken.
"""

from __future__ import annotations

import sqlite3
from collections import Counter
from dataclasses import dataclass, field, replace
from heapq import merge
from operator import itemgetter
from typing import TYPE_CHECKING, Any

from wiretrack.chain import BEGINNING, Chain, Entry, is_whole, said_in
from wiretrack.errors import BadInputError, Hint
from wiretrack.progress import counted
from wiretrack.store import writers
from wiretrack.store.log import add_entry, entries, held_by
from wiretrack.store.operations import held_in
from wiretrack.store.replay import credit_loads, make_again, refill, replayed
from wiretrack.store.rows import Kept, rows_of
from wiretrack.store.same import TABLE
from wiretrack.store.union import Union

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from sqlite_utils import Database

    from wiretrack.store.store import Registry

Key = tuple[bytes, int]  # a writer, and a number of its entries
MOST_ENTRIES, MOST_BYTES = 200, 2**22  # of a page


class StoredTail:
    """The log of an open registry, for who lacks entries of it."""

    def __init__(self, registry: Registry) -> None:
        self._db = registry.connection

    def held(self) -> dict[bytes, tuple[int, bytes]]:
        """Return each writer's last entry: its number and hash."""
        return {writer: (number, hash_) for writer, number, hash_ in held_by(self._db)}

    def sites(self) -> set[str]:
        """Return the ids under which its writers knew the site."""
        return {_known(self._db, writer, 1).chain.site for writer in self.held()}

    def after(self, numbers: Mapping[bytes, int]) -> Iterator[Entry]:
        """Yield the entries with greater numbers, in the order in which they were learned here."""
        rows = merge(
            *(self._db.execute(_AFTER, [w, numbers.get(w, 0)]) for w in self.held()),
            key=itemgetter(0),
        )
        for _, writer, number, *rest in rows:
            yield Entry(writer, number, "", *rest)


@dataclass(frozen=True)
class Refused:
    """Entries of one writer that weren't taken, from this one on, and why."""

    writer: str
    number: int
    why: str

    def __str__(self) -> str:
        return f"log {self.writer[:8]}:{self.number}: {self.why}"


@dataclass
class Taken:
    """What was taken: how many entries, changes among them, and rows of each table."""

    entries: int = 0
    filled: int = 0  # of them amid the log, which damage had taken
    changes: int = 0
    added: Counter[str] = field(default_factory=Counter)
    changed: Counter[str] = field(default_factory=Counter)
    refused: list[Refused] = field(default_factory=list)


class _LookedError(Exception):
    """Takes back what was only looked at."""


def are_apart(registry: Registry, tail: StoredTail) -> bool:
    """Return whether two registries were begun apart: no writer is in both, nor a site's id."""
    mine = StoredTail(registry)
    return not (mine.held().keys() & tail.held().keys() or mine.sites() & tail.sites())


def take(registry: Registry, tail: StoredTail, *, look: bool = False, apart: bool = False) -> Taken:
    """Take from a tail what this registry lacks; with `look` see what would come, unwritten.

    With `apart` it may have been begun apart from this one. `BadInputError` if the two logs don't
    descend from one another.
    """
    theirs = tail.held()
    if not apart and are_apart(registry, tail):
        raise BadInputError(
            "They don't descend from one another: only copies of one registry can be merged.",
            Hint(
                "Where both loaded one file: {same}. Another site is loaded, not merged.",
                job="load",
            ),
        )
    taking = _Taking(registry, theirs)
    total = sum(number - taking.numbers.get(w, 0) for w, (number, _) in theirs.items())
    entries = counted(tail.after(taking.numbers), "entries", total)
    commits = taking.commits(entries)
    for page in [commits] if look else _pages(commits):
        try:
            with registry.write(noted=False) as db:
                db.execute("UPDATE writing SET gathered = 0")
                taking.take(db, page)
                if look:
                    raise _LookedError
        except _LookedError:
            break
    return taking.done


def _pages(commits: Iterable[list[Entry]]) -> Iterator[list[list[Entry]]]:
    page: list[list[Entry]] = []
    entries = size = 0
    for commit in commits:
        page.append(commit)
        entries += len(commit)
        size += sum(len(entry.body or b"") for entry in commit)
        if entries >= MOST_ENTRIES or size >= MOST_BYTES:
            yield page
            page, entries, size = [], 0, 0
    if page:
        yield page


@dataclass(frozen=True)
class _Known:
    """How far this copy knows a writer."""

    chain: Chain = field(default_factory=Chain)
    have: int | None = None


class _Taking:
    def __init__(self, registry: Registry, theirs: Mapping[bytes, tuple[int, bytes]]) -> None:
        self._db, self._path = registry.connection, registry.path
        self.done = Taken()
        self.numbers: dict[bytes, int] = {}
        self._known: dict[bytes, _Known] = {}
        self._refused: set[bytes] = set()
        for writer, number, _ in held_by(self._db):
            self.numbers[writer] = number
            self._known[writer] = _known(self._db, writer, number)
            there, hash_ = theirs.get(writer, (0, b""))
            if 0 < there <= number and self._hash(writer, there) != hash_:
                self._refuse(writer, there, FORKED)

    def commits(self, entries: Iterable[Entry]) -> Iterator[list[Entry]]:
        """Yield entries commit by commit: each ends with one that is signed."""
        waiting: dict[bytes, list[Entry]] = {}
        for entry in entries:
            waiting.setdefault(entry.writer, []).append(entry)
            if entry.signature is not None:
                yield waiting.pop(entry.writer)
        for writer, commit in waiting.items():
            self._refuse(writer, commit[0].number, "it isn't signed")

    def take(self, db: Database, page: Iterable[list[Entry]]) -> None:
        """Take a page, in the write under way."""
        union = Union(self._db)
        for commit in page:
            writer = commit[0].writer
            if writer in self._refused:
                continue
            self._db.execute("SAVEPOINT commits")
            try:
                if self._learn(union, commit):
                    added, changed = union.added, union.changed
                    union = Union(self._db)
                    union.added, union.changed = added, changed
                if any(entry.said.get("kind") == "load" for entry in commit):
                    credit_loads(db)
            except _ERRORS as error:
                self._db.execute("ROLLBACK TO commits")
                self._refuse(writer, commit[0].number, str(error))
                union = Union(self._db)
            else:
                self.done.entries += len(commit)
                self.done.changes += sum("id" in entry.said for entry in commit)
                self.done.added += union.added
                self.done.changed += union.changed
                union.added.clear()
                union.changed.clear()
            self._db.execute("RELEASE commits")

    def _learn(self, union: Union, commit: Iterable[Entry]) -> bool:
        """Learn a commit; return whether records were made again, by what it says is the same."""
        kept = Kept()
        known, is_same = None, False
        for each in commit:
            said = each.said
            known = known or self._known.get(each.writer, _Known())
            chain, have = replace(known.chain), known.have
            entry = replace(each, site=chain.site or str(said.get("site", "")))
            if entry.number == chain.number + 1 and entry.previous != chain.hash:
                raise ValueError(FORKED)
            if why := chain.fault(entry):
                raise ValueError(why)
            if said.get("kind") == "have":
                self._check_held(said)
                have = entry.number
            if said.get("kind") == "part":
                kept.add(entry)
            rows = list(rows_of(said, kept))
            union.learn(add_entry(self._db, entry, have), said, rows)
            is_same |= any(row["table"] == TABLE for row in rows)
            known = _Known(chain, have)
        if is_same:
            make_again(self._db)
        if known:
            self._known[each.writer] = known
        return is_same

    def _check_held(self, said: dict[str, Any]) -> None:
        for writer, number, first in held_in(said):
            if self._hash(writer, number)[: len(first)] != first or not first:
                raise ValueError(f"it rests on {writer.hex()[:8]}:{number}, which isn't here")

    def _hash(self, writer: bytes, number: int) -> bytes:
        sql = "SELECT hash FROM log WHERE writer = ? AND number = ?"
        return (self._db.execute(sql, [writer, number]).fetchone() or (b"",))[0]

    def _refuse(self, writer: bytes, number: int, why: str) -> None:
        self._refused.add(writer)
        self.done.refused.append(Refused(writer.hex(), number, why))
        own = writers.kept(self._path)
        if why == FORKED and own and own.name == writer:
            writers.forget(self._path)  # a copy of this disk writes under the same name


def _known(db: sqlite3.Connection, writer: bytes, number: int) -> _Known:
    sql = "SELECT hash, have FROM log WHERE writer = ? AND number = ?"
    hash_, have = db.execute(sql, [writer, number]).fetchone()
    first = "SELECT body FROM log WHERE writer = ? AND number = 1"
    said = said_in(db.execute(first, [writer]).fetchone()[0])
    key = bytes.fromhex(str(said.get("key", "")))
    return _Known(Chain(number, hash_, str(said.get("site", "")), key), have)


FORKED = "two copies wrote under its name, as if a disk had been cloned"
_AFTER = (
    "SELECT nr, writer, number, previous, content, salt, body, signature FROM log"
    " WHERE writer = ? AND number > ? ORDER BY number"
)
_ERRORS = (ValueError, KeyError, TypeError, AttributeError, IndexError, sqlite3.Error)
_MOST = 2**62


def fill(registry: Registry, tail: StoredTail) -> int:
    """Take from a tail what a rescued copy lacks amid its log; return how many entries.

    What follows a hole in the log, or knows it, names the hash of what was in it, so what is put
    there is proved. It is put ahead of the first entry that knows it; then all records are made
    again.
    """
    holes = _holes(registry)
    if not holes:
        return 0
    there = [entry for entry, _ in entries(registry.connection, "nr")]
    found = _proved(there, _offered(tail, holes))
    if not found:
        return 0
    replay = replayed(lambda: _in_order(there, found))
    with registry.write(noted=False):
        refill(registry.connection, replay)
    return len(found)


def _holes(registry: Registry) -> dict[bytes, set[int]]:
    """Return the numbers that are missing of each writer's entries, up to the last one known of."""
    last: dict[bytes, int] = {}
    for row in registry.rows("SELECT writer, number, body FROM log WHERE number = have"):
        for writer, number, _ in held_in(said_in(row["body"])):
            last[writer] = max(number, last.get(writer, 0))
    found = {}
    sql = "SELECT writer, max(number) AS last, count(*) AS n FROM log GROUP BY writer"
    for row in registry.rows(sql):
        most = max(row["last"], last.pop(row["writer"], 0))
        if row["n"] < most:
            numbers = "SELECT number FROM log WHERE writer = ?"
            there = {number for (number,) in registry.connection.execute(numbers, [row["writer"]])}
            found[row["writer"]] = {*range(1, most + 1)} - there
    return found | {writer: {*range(1, most + 1)} for writer, most in last.items()}


def _offered(tail: StoredTail, holes: dict[bytes, set[int]]) -> dict[Key, Entry]:
    """Return what a tail has of the holes, in the order in which it was learned there."""
    numbers = dict.fromkeys(tail.held(), _MOST)
    numbers |= {writer: min(missing) - 1 for writer, missing in holes.items()}
    return {
        (entry.writer, entry.number): entry
        for entry in tail.after(numbers)
        if entry.number in holes.get(entry.writer, ())
    }


def _proved(there: list[Entry], offered: dict[Key, Entry]) -> dict[Key, Entry]:
    """Return what is offered and proved by the entry that follows it, back to the one before it."""
    known = {(entry.writer, entry.number): entry for entry in there}
    followed = [((e.writer, e.number - 1), e.previous, e.site) for e in there]
    for entry in there:
        held = held_in(entry.said)
        followed += [((writer, number), first, entry.site) for writer, number, first in held]
    found: dict[Key, Entry] = {}
    for at, wanted, site in followed:
        run: dict[Key, Entry] = {}
        while at in offered and at not in known:
            each = replace(offered[at], site=site)
            if not wanted or each.hash[: len(wanted)] != wanted or not is_whole(each):
                break
            run[at], wanted, at = each, each.previous, (at[0], at[1] - 1)
        if run and wanted == (known[at].hash if at in known else BEGINNING):
            found |= run
    return {key: found[key] for key in offered if key in found}


def _in_order(there: list[Entry], found: dict[Key, Entry]) -> Iterator[Entry]:
    """Yield all entries, each of those found ahead of the first one that knows it."""
    left = dict(found)

    def ahead_of(entry: Entry) -> Iterator[Entry]:
        held = [(writer, number) for writer, number, _ in held_in(entry.said)]
        held.append((entry.writer, entry.number - 1))
        for key in [key for key in left if any(key[0] == w and key[1] <= n for w, n in held)]:
            each = left.pop(key, None)
            if each:
                yield from ahead_of(each)
                yield each

    for entry in there:
        yield from ahead_of(entry)
        yield entry
