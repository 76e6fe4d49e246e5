# SPDX-License-Identifier: MIT
"""Rows as the log's entries have them: applied to tables in memory, and turned round."""

from __future__ import annotations

import json
import zlib
from functools import cache
from typing import TYPE_CHECKING, Any

from wiretrack.store.schema import RECORDS, Connection, columns_of, make, references

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Iterable, Iterator, Mapping

    from wiretrack.chain import Entry

Row = dict[str, Any]
_MOST_UNPACKED = 2**30  # bytes of a file: what is small when packed can be very large
_OPPOSITE = {"added": "removed", "removed": "added"}


def _memory() -> sqlite3.Connection:
    return Connection(":memory:", isolation_level=None, check_same_thread=False)


@cache
def empty() -> sqlite3.Connection:
    """Return an empty registry in memory, made once to be looked at."""
    db = _memory()
    make(db)
    return db


@cache
def _bare() -> sqlite3.Connection:
    """Return one without triggers, made once to be copied: to make one takes 20 times as long."""
    db = _memory()
    empty().backup(db)
    triggers = db.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")
    for (name,) in triggers.fetchall():
        db.execute(f"DROP TRIGGER {name}")
    return db


def part_id(parent_id: str, part: str) -> str:
    """Return the identifier of the `part` of a record (RFC 9562, UUID version 5).

    >>> part_id("00000000-0000-4000-8000-000000000000", "end:from")
    'b20edee8-4fda-5650-8d6b-2cea05cce203'
    """
    parent = bytes.fromhex(parent_id.replace("-", ""))
    return uuid_of(_sha1()(parent + part.encode(), usedforsecurity=False).hexdigest(), 5)


@cache
def _sha1() -> Any:
    from hashlib import sha1  # what only looks a record up needn't load it

    return sha1


_VARIANTS = {digit: "89ab"[value & 3] for value, digit in enumerate("0123456789abcdef")}


def uuid_of(digits: str, version: int) -> str:
    """Return 32 hexadecimal digits as an identifier of this version (RFC 9562)."""
    return (
        f"{digits[:8]}-{digits[8:12]}-{version}{digits[13:16]}"
        f"-{_VARIANTS[digits[16]]}{digits[17:20]}-{digits[20:32]}"
    )


def action_of(row: Row) -> str:
    """Return what became of a row: added, changed or removed."""
    return next(key for key in ("added", "changed", "removed") if key in row)


def known(row: Mapping[str, Any]) -> Row:
    """Return the row without its unknowns, and without its id."""
    return {key: value for key, value in row.items() if value is not None and key != "id"}


def written(row: Row) -> Row:
    """Return what a row writes into columns."""
    changed: Row = row.get("changed", {})
    return row.get("added") or {name: new for name, (_, new) in changed.items()}


def id_before(row: Row) -> str:
    """Return the id that a row had before it was changed: that of a site can change."""
    return str(row.get("changed", {}).get("id", [row["id"]])[0])


def inverse(row: Row) -> Row:
    """Return the row that takes this one back.

    >>> inverse({"table": "circuits", "id": "C", "changed": {"title": ["pump", None]}})
    {'table': 'circuits', 'id': 'C', 'changed': {'title': [None, 'pump']}}
    """
    action = action_of(row)
    turned = {"table": row["table"], "id": id_before(row)}
    if action == "changed":
        return turned | {"changed": {key: [new, old] for key, (old, new) in row[action].items()}}
    return turned | {_OPPOSITE[action]: row[action]}


def statement(row: Row, columns: Iterable[str], conflict: str = "") -> tuple[str, list[Any]]:
    """Return the SQL that applies a row to its table, and its values."""
    table, known = row["table"], list(columns)
    if "added" in row:
        values = {"id": row["id"], **row["added"]}
        holes = ", ".join("?" * len(values))
        sql = f"INSERT {conflict} INTO {table} ({_quoted(values, known)}) VALUES ({holes})"
        return sql, list(values.values())
    if "changed" in row:
        values = {name: new for name, (_, new) in row["changed"].items()}
        _quoted(values, known)
        pairs = ", ".join(f'"{name}" = ?' for name in values)
        sql = f"UPDATE {conflict} {table} SET {pairs} WHERE id = ?"
        return sql, [*values.values(), id_before(row)]
    return f"DELETE FROM {table} WHERE id = ?", [row["id"]]


def _quoted(names: Iterable[str], known: Iterable[str]) -> str:
    other = sorted(set(names) - set(known))
    if other:
        raise ValueError(f"there is no such column: {other}")
    return ", ".join(f'"{name}"' for name in names)


def still_so(db: sqlite3.Connection, rows: Iterable[Row]) -> Iterator[Row]:
    """Yield the rows of a rescue; those that it took out only if they lack what they belong to."""
    gone: set[str] = set()
    for row in rows:
        if "removed" not in row or _lacks(db, row, gone):
            gone |= {row["id"]} if "removed" in row else set()
            yield row


def _lacks(db: sqlite3.Connection, row: Row, gone: set[str]) -> bool:
    for column, parent in references(db, row["table"]).items():
        sql = f"SELECT 1 FROM {parent} WHERE id = ?"
        to = row["removed"].get(column)
        if to is not None and (to in gone or db.execute(sql, [to]).fetchone() is None):
            return True
    return False


class Tables:
    """The tables of records in memory, without triggers."""

    def __init__(self) -> None:
        self.db = _memory()
        _bare().backup(self.db)
        self.db.execute("PRAGMA foreign_keys = OFF")
        self.columns = {table: columns_of(self.db, table) for table in RECORDS}

    def put(self, row: Row, conflict: str = "") -> None:
        """Apply a row; `conflict` is what sqlite does where another is in its place."""
        if row.get("changed") != {}:
            self.db.execute(*statement(row, self.columns[row["table"]], conflict))


def rows_of(said: Mapping[str, Any], kept: Kept) -> Iterator[Row]:
    """Yield the rows of an entry, those in it or those in a file that came ahead of it."""
    if "kept_rows" in said:
        for line in kept.take(said["kept_rows"]).split(b"\n"):
            yield json.loads(line)
    yield from said.get("rows", ())


class Kept:
    """The files that came by in parts, until they are asked for."""

    def __init__(self) -> None:
        self._parts: dict[str, list[bytes]] = {}

    def add(self, entry: Entry) -> None:
        """Take a part; the first one of a file begins it again."""
        said = entry.said
        if said["part"] == 1:
            self._parts[said["file"]] = []
        self._parts[said["file"]].append(entry.data)

    def take(self, name: str) -> bytes:
        """Return a file, whole."""
        packed, unpacking = b"".join(self._parts.pop(name, ())), zlib.decompressobj()
        try:
            data = unpacking.decompress(packed, _MOST_UNPACKED)
        except zlib.error as error:
            raise ValueError(f"the parts of file {name} can't be unpacked: {error}") from error
        from hashlib import sha256

        if sha256(data).hexdigest() != name:
            raise ValueError(f"the parts of file {name} make another file")
        return data
