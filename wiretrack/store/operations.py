# SPDX-License-Identifier: MIT
"""What the log's entries say of each record, kept beside the log, and which of them know which.

Work on a record that is in no row of its own (a reading of it) is looked for in the log, where it
matters: in the entries that a removal or a retirement doesn't know, and that don't know it.
"""

from __future__ import annotations

import json
from contextlib import suppress
from operator import itemgetter
from typing import TYPE_CHECKING, Any, Protocol

from wiretrack.chain import Entry, said_in
from wiretrack.late import cached_property
from wiretrack.store.fold import (
    LISTS,
    RETIRED,
    TOGETHER,
    WORKED,
    Operation,
    fold_list,
    fold_record,
    text_of,
)
from wiretrack.store.rows import Kept, part_id, rows_of, written
from wiretrack.store.same import TABLE, Same
from wiretrack.store.schema import LOG_TABLES, NOTED_TABLES, references

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
    from sqlite3 import Connection

    from wiretrack.store.fold import Folded

Row = dict[str, Any]
Rows = list[Row]
Owner = tuple[str, str]  # a table and a record; of the rows of a list the record that it is of
Gathered = tuple[str, str, str, str | None, str | None]  # table, id, action, row before, row after
SITE = ("site", "site")  # the one record of its table, whatever its id is

_POINTS: dict[str, list[tuple[str, str | None]]] = {}


class Operations:
    """The operations on the records of one registry."""

    def __init__(
        self, db: Connection, columns: Mapping[str, Sequence[str]], same: Same | None = None
    ) -> None:
        self._db, self._columns, self._given = db, columns, same
        self._vectors: dict[tuple[bytes, int], dict[bytes, int]] = {}

    @cached_property
    def same(self) -> Same:
        """What stands for what; asked for only where it matters."""
        return Same.of(self._db) if self._given is None else self._given

    def exist(self, owner: Owner) -> bool:
        """Return whether there is one on a record or list."""
        sql = "SELECT 1 FROM operations WHERE record = ? AND what = ? LIMIT 1"
        return self._db.execute(sql, owner[::-1]).fetchone() is not None

    def keep(self, nr: int | None, owner: Owner, rows: Iterable[Row]) -> None:
        """Keep what the entry `nr` says of rows; None: what a load said of them."""
        kept = [(nr, *owner, text_of(row)) for row in rows]
        sql = "INSERT INTO operations (entry, what, record, said) VALUES (?, ?, ?, ?)"
        self._db.executemany(sql, kept)

    def listed_once(self, table: str, row: str) -> tuple[str] | None:
        """Return of which record a row was listed that isn't there any more."""
        sql = "SELECT record FROM operations WHERE what = ? AND said ->> 'id' = ? LIMIT 1"
        found: tuple[str] | None = self._db.execute(sql, [table, row]).fetchone()
        return found

    def folded(self, owner: Owner, known_to: Operation | None = None) -> Folded:
        """Return what a record or list says, to all or to who made one operation."""
        operations: Iterable[Operation] = self._of(owner)
        if known_to is not None:
            operations = [one for one in operations if self._knows(known_to, one)]
        columns = self._columns[owner[0]]
        if owner[0] in LISTS:
            return fold_list(columns, operations, self._knows, LISTS[owner[0]][2])
        return fold_record(owner[0], columns, operations, self._knows)

    def _of(self, owner: Owner) -> list[Operation]:
        found = []
        for nr, writer, number, have, text in self._db.execute(_OPERATIONS, owner[::-1]):
            said = json.loads(text)
            action = next(key for key in ("added", "changed", "removed") if key in said)
            values = said[action]
            if action == "changed":
                values = {key: pair[1] for key, pair in values.items()}
            record = values.get("id", said["id"])
            values |= {"id": record} if action == "added" else {}
            one = Operation(
                writer or b"", number or 0, have, action, record, values, "loaded" in said,
                said.get("as", owner[1]), frozenset(said.get("of", ())),
            )  # fmt: skip
            found.append((nr or 0, one))
        retired = [one for _, one in found if one.writer and one.values.get(_RETIRED_AT)]
        if retired and RETIRED in TOGETHER.get(owner[0], ()):
            found += {at: one for each in retired for at, one in self._work(each, owner)}.items()
            found.sort(key=itemgetter(0))
        return [one for _, one in found]

    # Work that others did apart

    def apart(self, one: Operation, ids: Collection[str]) -> Iterator[tuple[int, Operation, Rows]]:
        """Yield the entries that name one of these ids, don't know an operation, nor it them."""
        wanted = [text.encode() for text in self.same.all_of(ids)]
        knows = self._vector(one)
        for (writer,) in self._db.execute(_WRITERS).fetchall():
            if writer == one.writer:
                continue
            kept = Kept()
            entries = self._db.execute(_AFTER, [writer, knows.get(writer, 0)])
            for nr, number, have, body in entries:
                work = Operation(writer, number, have, WORKED, "", {})
                if self._knows(work, one):
                    break
                said: Row = {}
                if b'"part":' in body or b'"kept_rows":' in body:
                    said = said_in(body)
                    if said.get("kind") == "part":
                        kept.add(Entry(writer, number, "", b"", b"", None, body))
                        continue
                if said or any(text in body for text in wanted):
                    with suppress(ValueError):  # of a file that isn't here whole
                        said = said or said_in(body)
                        rows = list(self.same.rows(rows_of(said, kept)))
                        if said.get("kind") == "load":
                            rows = list(self._worked_on(rows, ids))
                        yield nr, work, rows

    def _worked_on(self, rows: Rows, ids: Collection[str]) -> Iterator[Row]:
        """Yield the rows of a load without what it says of records that it brought itself."""
        brought = {row["id"] for row in rows if "added" in row}.intersection(ids)
        for row in rows:
            if brought.isdisjoint((row["id"], *self.targets_of(row))):
                yield row

    def _work(self, retired: Operation, owner: Owner) -> Iterator[tuple[int, Operation]]:
        """Yield the work on a record that who retired it didn't know, nor they the retirement."""
        ends = parts_of(owner)[1:]
        for nr, work, rows in self.apart(retired, parts_of(owner)):
            own = [written(row) for row in rows if (row["table"], row["id"]) == owner]
            if any(values.get(_RETIRED_AT) for values in own):
                continue  # they retired it too
            if any(
                (row["id"] in ends and not _LANDING.isdisjoint(written(row)))
                or (row["table"] not in (*_NOTES, TABLE) and owner[1] in self.targets_of(row))
                for row in rows
                if "removed" not in row
            ):
                yield nr, work

    def targets_of(self, row: Row) -> set[str]:
        """Return the records that a row of an entry points to."""
        return self.targets(row["table"], written(row))

    def targets(self, table: str, values: Row) -> set[str]:
        """Return the records that a row of a table points to."""
        if table == TABLE:
            both = (values[key] for key in ("record", "other") if values.get(key))
            return {self.same.ids.get(each, each) for each in both}
        columns = self.points.get(table, ())
        return {values[name] for name, _ in columns if values.get(name) is not None}

    @property
    def points(self) -> dict[str, list[tuple[str, str | None]]]:
        """The columns of each table that point to records, and of which table (None: of any)."""
        if not _POINTS:  # every registry has the same
            for table in (*NOTED_TABLES, *LOG_TABLES):
                keys = references(self._db, table).items()
                _POINTS[table] = [key for key in keys if key[1] in NOTED_TABLES]
                _POINTS[table] += [("record", None)] if table in _NOTES else []
        return _POINTS

    # What removes records

    def marked(self, ids: Collection[str]) -> list[Owner]:
        """Return those of these records that an entry removes or retires."""
        return self._db.execute(_MARKED, [json.dumps(sorted(ids))]).fetchall()

    def removals(self, owners: Iterable[Owner]) -> list[tuple[Operation, list[Owner]]]:
        """Return the removals of these records by entries: by whom, and of which other ones."""
        sql = f"SELECT DISTINCT entry FROM operations WHERE record = ? AND what = ? AND {REMOVES}"
        numbers = {nr for owner in owners for (nr,) in self._db.execute(sql, owner[::-1])}
        found = []
        for nr in sorted(numbers):
            sql = f"SELECT what, record FROM operations WHERE entry = ? AND {REMOVES}"
            removed = [each for each in self._db.execute(sql, [nr]) if each[0] not in LISTS]
            sql = "SELECT writer, number, have FROM log WHERE nr = ?"
            writer, number, have = self._db.execute(sql, [nr]).fetchone()
            found.append((Operation(writer, number, have, "removed", "", {}), removed))
        return found

    def _knows(self, one: Operation, other: Operation) -> bool:
        if one.record and other.record not in ("", one.record, *one.joins):
            return False
        if one.writer == other.writer:
            return other.number <= one.number
        return other.number <= self._vector(one).get(other.writer, 0)

    def _vector(self, one: Operation) -> dict[bytes, int]:
        """Return what the writer of an operation held of others when it made it."""
        if one.have is None:
            return {b"": 0}
        key = (one.writer, one.have)
        if key not in self._vectors:
            sql = "SELECT body FROM log WHERE writer = ? AND number = ?"
            body = self._db.execute(sql, key).fetchone()[0]
            self._vectors[key] = {b"": 0} | {writer: n for writer, n, _ in held_in(said_in(body))}
        return self._vectors[key]


def held_in(said: Row) -> list[tuple[bytes, int, bytes]]:
    """Return what an entry of kind ``have`` says: writers, numbers and the hashes' first bytes."""
    listed = said.get("held", ())
    return [(bytes.fromhex(w), int(number), bytes.fromhex(digits)) for w, number, digits in listed]


def parts_of(owner: Owner) -> list[str]:
    """Return the ids by which an entry names a record: its own, and those of its ends."""
    ends = ("end:from", "end:to") if owner[0] == "conductors" else ()
    return [owner[1], *(part_id(owner[1], end) for end in ends)]


_RETIRED_AT = "retired_at"
_LANDING = frozenset(TOGETHER["ends"]["landing"])
_NOTES = ("notes", "attachments")
REMOVES = "instr(said, '\"removed\":')"  # as the partial indexes of the table have it
_MARKED = (
    "SELECT DISTINCT what, record FROM operations WHERE record IN (SELECT value FROM json_each(?))"
    f" AND ({REMOVES} OR instr(said, '\"retired_at\":'))"
)
_WRITERS = "SELECT DISTINCT writer FROM log"
_AFTER = (
    "SELECT nr, number, have, body FROM log WHERE writer = ? AND number > ? AND body NOT NULL"
    " ORDER BY number"
)
_OPERATIONS = (
    "SELECT o.entry, l.writer, l.number, l.have, o.said FROM operations AS o LEFT JOIN log AS l"
    " ON l.nr = o.entry WHERE o.record = ? AND o.what = ? ORDER BY o.entry, o.nr"
)


class Tables(Protocol):
    """The tables of records."""

    def rows(self, owner: Owner) -> list[Row]:
        """Return the rows of a record or list."""

    def true_name(self, table: str, row: Row) -> Row:
        """Return a row with its record's true name."""


class Before:
    """How records were before a write under way: the tables without what it `gathered`."""

    def __init__(
        self, tables: Tables, gathered: Sequence[Gathered] = (), *, is_over: bool = False
    ) -> None:
        self._tables, self._gathered = tables, gathered
        self.is_over = is_over  # then the tables are past what the write says

    @cached_property
    def _touched(self) -> dict[Owner, list[tuple[str, Row | None, Row | None]]]:
        """The rows gathered, by the record or list that they are of: id, row before, row after."""
        found: dict[Owner, list[tuple[str, Row | None, Row | None]]] = {}
        for table, each, _, *rows in self._gathered:
            old, new = (json.loads(row or "null") for row in rows)
            record = (old or new)[LISTS[table][1]] if table in LISTS else each
            owner = SITE if table == SITE[0] else (table, record)
            found.setdefault(owner, []).append((each, old, new))
        return found

    def rows(self, owner: Owner) -> list[Row]:
        """Return the rows of a record or list, with the true names of records."""
        found = {row["id"]: row for row in self._tables.rows(owner)}
        for each, before, after in reversed(self._touched.get(owner, ())):
            found.pop(after["id"] if after else each, None)
            if before:
                found[before["id"]] = before
        return [self._tables.true_name(owner[0], row) for row in found.values()]

    def row(self, table: str, record: str) -> Row | None:
        """Return the row of a list that a write under way touched."""
        for what, each, _, old, new in self._gathered:
            if (what, each) == (table, record):
                found: Row = json.loads(old or new or "{}")
                return found
        return None
