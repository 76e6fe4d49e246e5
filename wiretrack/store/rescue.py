# SPDX-License-Identifier: MIT
"""A new registry of all that proves itself in a damaged one, and what is gone.

The entries of the log are looked for page by page (`salvage`). What a chain proves is kept byte for
byte, and the records follow from that. Rows of the damaged tables that no entry gives any more are
only named, or taken on request, by an entry that says so.
"""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing, suppress
from dataclasses import dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

from wiretrack import chain
from wiretrack.chain import BEGINNING, Entry, is_whole
from wiretrack.errors import Hint, RegistryError
from wiretrack.store import salvage, writers
from wiretrack.store.foreign import guarded, ours_in
from wiretrack.store.replay import refill, replayed
from wiretrack.store.rows import known
from wiretrack.store.schema import RECORDS
from wiretrack.store.store import make_registry, new_registry_file
from wiretrack.store.writing import new_id

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from wiretrack.store.replay import Replay
    from wiretrack.store.writers import Writer

Row = dict[str, Any]
_MOST_SITES = 100  # that entries are tried for
_MOST_CUT_OFF = 2**32  # bytes of a file that was cut off
_UNREADABLE = (sqlite3.Error, UnicodeDecodeError)  # what sqlite says of damage may be no text
_MOST_LOOKED_FOR = 200_000  # rows of a table, one by one, where it can't be read in its order


@dataclass(frozen=True)
class Lost:
    """Entries of one writer, `first` to `last`, that are gone or are no longer proved, and why."""

    writer: str
    first: int
    last: int
    why: str

    def __str__(self) -> str:
        numbers = f"{self.first}" + (f" to {self.last}" if self.last > self.first else "")
        return f"log {self.writer[:8]}:{numbers}: {self.why}"


@dataclass(frozen=True)
class LostRow:
    """A row of a table that no entry proves, or that lacks what it belongs to."""

    table: str
    id: str
    said: str


@dataclass(frozen=True)
class Rescued:
    """What was saved in `file`; what is gone of the log, and what is unproved (`taken` or not).

    `homeless` are rows that are proved, and were left out as what they belong to is gone.
    """

    file: str
    entries: int
    readings: int
    lost: tuple[Lost, ...]
    unproved: tuple[LostRow, ...]
    taken: bool
    homeless: tuple[LostRow, ...]


def rescue(
    damaged: Path,
    new: Path,
    *,
    who: str | None = None,
    face: str = "python",
    unproved: bool = False,
) -> Rescued:
    """Save into the file `new` what proves itself in `damaged`, which is only read.

    With `unproved`, rows that no entry proves any more are taken too. `RegistryError` if nothing in
    `damaged` can be saved, or `new` can't be written; `BadInputError` if `new` exists.
    """
    if not damaged.is_file():
        raise RegistryError(str(damaged), "is not a file", Hint("Name the damaged registry."))
    wal = damaged.with_name(f"{damaged.name}-wal")
    try:
        data, logged = salvage.read(damaged), salvage.read(wal) if wal.exists() else b""
    except OSError as error:
        raise RegistryError(str(damaged), f"can't be read: {error.strerror}") from error
    tables, writer = _tables(data, logged), writers.kept(damaged)
    sites = [
        *(str(row["id"]) for row in tables.get("site", ())),
        *([writer.site] if writer else []),
    ]
    entries, lost = _proved(list(salvage.log_rows(data, logged)), sites)
    if not entries and not (unproved and any(tables.values())):
        raise RegistryError(
            str(damaged), "holds no entry that proves itself", "Go back to the latest copy."
        )
    lost += _since(writer, entries)
    replay = replayed(lambda: entries)
    for each in replay.failed:
        number = each.entry.number
        lost.append(Lost(each.entry.writer.hex(), number, number, f"it is there, and {each.why}"))
    left: list[Row] = []  # rows of the damaged tables that no entry gives, as one would have them
    for table, there in tables.items():
        proved = {row[0] for row in replay.db.execute(f"SELECT id FROM {table}")}
        left += (
            {"table": table, "id": row["id"], "added": known(row)}
            for row in there
            if isinstance(row["id"], str) and row["id"] not in proved
        )
    rows = _completed(replay, left if unproved else (), [*sites, *(e.site for e in entries)])
    _write(new, replay, (who, face, rows, lost))
    readings = replay.db.execute("SELECT count(*) FROM readings").fetchone()[0]
    return Rescued(
        str(new), len(entries), readings, tuple(lost), _named(left, "added"), unproved,
        _named(rows, "removed"),
    )  # fmt: skip


def _named(rows: Iterable[Row], action: str) -> tuple[LostRow, ...]:
    found = ((row, row[action]) for row in rows if action in row)
    return tuple(
        LostRow(row["table"], row["id"], ", ".join(f"{key} {value}" for key, value in said.items()))
        for row, said in found
    )


def _proved(found: list[Row], known_sites: list[str]) -> tuple[list[Entry], list[Lost]]:
    """Return the entries that prove themselves, in the order in which they were learned.

    An entry does if its body is what its hash covers; one of a chain follows the one before it.
    """
    followed = {row["previous"] for row in found} - {BEGINNING}
    first = (Entry(site="", **{k: row[k] for k in _OF_AN_ENTRY}) for row in found
             if row["number"] == 1)  # fmt: skip
    named = (str(entry.said.get("site", "")) for entry in first)
    sites = [*dict.fromkeys([*known_sites, *named])][:_MOST_SITES]
    there: dict[tuple[bytes, int], tuple[Entry, Any]] = {}
    for row in found:
        for site in sites:
            entry = Entry(site=site, **{k: row[k] for k in _OF_AN_ENTRY})
            if not is_whole(entry) or entry.hash not in (row["hash"], *followed):
                continue
            place, other = (entry.writer, entry.number), there.get((entry.writer, entry.number))
            if other is None or entry.hash in followed or other[0].hash == entry.hash:
                there[place] = (entry, row["nr"] or (other and other[1]))
    kept, lost = [], []
    for writer in dict.fromkeys(writer for writer, _ in there):
        whole, gone = _chain([there[key] for key in sorted(there) if key[0] == writer])
        kept += whole
        lost += gone
    return [entry for _, entry in sorted(kept, key=lambda each: each[0])], lost


_OF_AN_ENTRY = ("writer", "number", "previous", "content", "salt", "body", "signature")


def _chain(found: list[tuple[Entry, Any]]) -> tuple[list[tuple[Any, Entry]], list[Lost]]:
    """Return a writer's entries with their places in the log, and what is gone between them."""
    kept: list[tuple[Any, Entry]] = []
    lost: list[Lost] = []
    key, fault = chain.key_of(found[0][0])
    before, nr = None, 0.0
    for entry, place in found:
        expected = before.number + 1 if before else 1
        name = entry.writer.hex()
        if entry.number > expected:
            lost.append(Lost(name, expected, entry.number - 1, "gone"))
        elif entry.previous != (before.hash if before else BEGINNING):
            lost.append(Lost(name, entry.number, entry.number, "it follows another entry"))
            break
        if entry.signature and found[0][0].number == 1 and not fault and chain.forged(key, entry):
            lost.append(Lost(name, entry.number, entry.number, "its signature is damaged"))
            entry = replace(entry, signature=None)
        nr = place or nr + 1e-6 * entry.number
        before = entry
        kept.append((nr, entry))
    if before and not before.signature and (not lost or lost[-1].last != before.number):
        why = "it isn't signed: the rest of its commit is gone"
        lost.append(Lost(before.writer.hex(), before.number, before.number, why))
    return kept, lost


def _since(writer: Writer | None, entries: list[Entry]) -> list[Lost]:
    """Return what this machine's writer of the damaged registry wrote last, if that is gone."""
    if writer is None:
        return []
    last = max((e.number for e in entries if e.writer == writer.name), default=0)
    if writer.number <= last:
        return []
    return [Lost(writer.name.hex(), last + 1, writer.number, "gone")]


def _tables(data: bytes, wal: bytes) -> dict[str, list[Row]]:
    """Return what rows of the records can still be read, from a copy, as far as sqlite opens it."""
    found: dict[str, list[Row]] = {}
    with TemporaryDirectory(prefix="wiretrack-") as folder:
        copy = Path(folder) / "copy.db"
        copy.write_bytes(data)
        stated = int.from_bytes(data[28:32], "big") * salvage.PAGE_BYTES
        if len(data) < stated <= _MOST_CUT_OFF:  # sqlite opens none that is shorter than it says
            os.truncate(copy, stated)
        copy.with_name("copy.db-wal").write_bytes(wal)
        with closing(sqlite3.connect(copy, isolation_level=None)) as db, suppress(*_UNREADABLE):
            guarded(db)
            for table, columns in ours_in(db, RECORDS).items():
                if table != "changes":
                    found[table] = list(_rows(db, table, columns))
    return found


def _rows(db: sqlite3.Connection, table: str, columns: list[str]) -> Iterator[Row]:
    """Yield the rows of a table: from its start, from its end, then those between one by one."""
    names = ", ".join(f'"{name}"' for name in columns)
    sql = f"SELECT rowid, {names} FROM {table} NOT INDEXED"
    met: list[set[int]] = [set(), set()]
    for seen, order in zip(met, ("", " DESC"), strict=True):
        try:
            for number, *values in db.execute(f"{sql} ORDER BY rowid{order}"):
                if number in met[0]:
                    return
                seen.add(number)
                yield dict(zip(columns, values, strict=True))
            return
        except _UNREADABLE:
            continue
    low, high = max(met[0], default=0), min(met[1], default=_MOST_LOOKED_FOR)
    for number in range(low + 1, min(high, low + _MOST_LOOKED_FOR)):
        with suppress(*_UNREADABLE):
            row = db.execute(f"{sql} WHERE rowid = ?", [number]).fetchone()
            if row:
                yield dict(zip(columns, row[1:], strict=True))


def _completed(replay: Replay, more: Iterable[Row], sites: list[str]) -> list[Row]:
    """Bring the records into a state that can be stored; return the rows of the entry for that.

    `more` is added as far as it fits. A registry has a site. What points to a record that is gone
    can't be stored, and is taken out.
    """
    rows = []
    for row in more:
        with suppress(sqlite3.Error, ValueError):
            replay.put(row)
            rows.append(row)
    if replay.db.execute("SELECT count(*) FROM site").fetchone()[0] == 0:
        row = {"table": "site", "id": sites[-1] if sites else new_id(), "added": {"one": 1}}
        replay.put(row)
        rows.append(row)
    while orphans := replay.db.execute("PRAGMA foreign_key_check").fetchall():
        for table, number in {(each[0], each[1]) for each in orphans}:
            names = ", ".join(f'"{name}"' for name in replay.columns[table])
            values = replay.db.execute(f"SELECT {names} FROM {table} WHERE rowid = ?", [number])
            row = dict(zip(replay.columns[table], values.fetchone(), strict=True))
            replay.db.execute(f"DELETE FROM {table} WHERE rowid = ?", [number])
            rows.append({"table": table, "id": row["id"], "removed": known(row)})
    return rows


def _write(
    new: Path, replay: Replay, said: tuple[str | None, str, list[Row], list[Lost]],
) -> None:  # fmt: skip
    """Write the registry whole or not at all; its new writer says in an entry what is gone."""
    who, face, rows, lost = said
    with new_registry_file(new) as draft:
        registry = make_registry(draft)
        registry.face = face
        with registry, registry.write(who, noted=False):
            refill(registry.connection, replay)
            gone = [[each.writer, each.first, each.last] for each in lost]
            registry.commit.add_rows("rescue", who, rows, gone=gone)
    writers.move(draft, new)
