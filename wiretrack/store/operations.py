# SPDX-License-Identifier: MIT
"""What the log's entries say of each record, kept beside the log, and which of them know which."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from wiretrack.chain import said_in
from wiretrack.store.fold import LISTS, Operation, fold_list, fold_record, text_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from sqlite3 import Connection

    from wiretrack.store.fold import Folded

Row = dict[str, Any]
Owner = tuple[str, str]  # a table and a record; of the rows of a list the record that it is of
SITE = ("site", "site")  # the one record of its table, whatever its id is


class Operations:
    """The operations on the records of one registry."""

    def __init__(self, db: Connection, columns: Mapping[str, Sequence[str]]) -> None:
        self._db, self._columns = db, columns
        self._vectors: dict[tuple[bytes, int], dict[bytes, int]] = {}

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
        for writer, number, have, text in self._db.execute(_OPERATIONS, owner[::-1]):
            said = json.loads(text)
            action = next(key for key in ("added", "changed", "removed") if key in said)
            values = said[action]
            if action == "changed":
                values = {key: pair[1] for key, pair in values.items()}
            record = values.get("id", said["id"])
            values |= {"id": record} if action == "added" else {}
            one = (writer or b"", number or 0, have, action, record, values, "loaded" in said)
            found.append(Operation(*one))
        return found

    def _knows(self, one: Operation, other: Operation) -> bool:
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


_OPERATIONS = (
    "SELECT l.writer, l.number, l.have, o.said FROM operations AS o LEFT JOIN log AS l"
    " ON l.nr = o.entry WHERE o.record = ? AND o.what = ? ORDER BY o.entry, o.nr"
)
