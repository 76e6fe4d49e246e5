# SPDX-License-Identifier: MIT
"""The changes that were made, newest first: who made each, when, and the rows that it touched.

They come from the log. What the log of this copy hasn't, comes from the lines of the history: the
changes before a dump was loaded, and what another program wrote.
"""

from __future__ import annotations

import heapq
import json
import sqlite3
import zlib
from contextlib import suppress
from dataclasses import dataclass
from itertools import groupby
from operator import attrgetter
from typing import TYPE_CHECKING, Any

from wiretrack.chain import Entry, said_in
from wiretrack.late import cached_property
from wiretrack.procedure import NOUNS
from wiretrack.store.fold import PARTS
from wiretrack.store.log import entries, touched
from wiretrack.store.replay import replayed
from wiretrack.store.rows import Tables, action_of, inverse
from wiretrack.store.same import Same
from wiretrack.store.schema import NOTED_TABLES
from wiretrack.store.source import StoredSource
from wiretrack.store.store import Registry

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterable, Iterator, Mapping

    from wiretrack.store.rows import Row

NEW = "new"  # the entry that begins a registry


@dataclass(frozen=True)
class FileLine:
    """What the history says of a file: its name, how many rows of each table it holds, the action.

    The action is ``loaded``, or ``removed`` where the load was taken back. A dump has a history of
    its own, from before it was loaded.
    """

    name: str
    action: str
    counts: Mapping[str, int]
    is_dump: bool = False
    only_adds: bool = True  # it changed nothing that was there


@dataclass(frozen=True, kw_only=True)
class Change:
    """One change; `id` is None where another program made it, `kind` that of its entry."""

    id: str | None
    at: str
    by: str | None
    kind: str
    why: str | None = None
    on: str | None = None
    undoes: str | None = None
    along: tuple[str, ...] = ()  # what it takes back together with that
    file: FileLine | None = None
    files: frozenset[str] = frozenset()  # the SHA-256 of those that were loaded
    read: Callable[[], Iterable[Row]]

    @cached_property
    def rows(self) -> list[Row]:
        """What became of rows, in order; lines of the history aren't among them."""
        return [row for row in self.read() if row["table"] != "changes"]


def changes(registry: Registry) -> Iterator[Change]:
    """Yield every change, newest first."""
    texts = "SELECT CAST(body AS TEXT) AS body FROM log WHERE instr(body, x'0a') = 0"
    ids = f"SELECT body ->> '$.id' AS id FROM ({texts}) WHERE json_valid(body)"
    logged = {row["id"] for row in registry.each(ids) if row["id"] is not None}
    others = registry.rows("SELECT DISTINCT change FROM changes")
    lacking = [row["change"] for row in others if row["change"] not in logged]
    both = _logged(registry), _lines(registry, lacking) if lacking else iter(())
    yield from heapq.merge(*both, key=attrgetter("at"), reverse=True)


def change_called(registry: Registry, name: str) -> Change | None:
    """Return the change with this id; None if there is none."""
    where = "AND instr(body, CAST(? AS BLOB)) > 0"
    for change in _logged(registry, where, [f'"{name}"']):
        if change.id == name:
            return change
    return next(_lines(registry, [name]), None)


def undone_by(registry: Registry, name: str) -> str | None:
    """Return the change that took this one back last, and was not taken back itself."""
    where = "AND instr(body, CAST(? AS BLOB)) > 0 AND instr(body, '\"undoes\"') > 0"
    for change in _logged(registry, where, [f'"{name}"']):
        taken = name == change.undoes or name in change.along
        if taken and change.id and undone_by(registry, change.id) is None:
            return change.id
    return None


def _logged(registry: Registry, where: str = "", values: Iterable[str] = ()) -> Iterator[Change]:
    """Yield the changes of the log; a part of a file has a second line, and is none."""
    found = registry.each(
        "SELECT writer, number, body FROM log WHERE instr(body, x'0a') = 0"
        f" {where} ORDER BY nr DESC",
        list(values),
    )
    said = ((row["writer"], row["number"], said_in(row["body"])) for row in found)
    named = (each for each in said if {"id", "at"} <= each[2].keys())
    for _, parts in groupby(named, lambda each: each[2]["id"]):
        yield _change(registry, list(parts)[::-1])


def _change(registry: Registry, entries: list[tuple[bytes, int, Row]]) -> Change:
    def read() -> Iterator[Row]:
        same = Same.of(registry.connection)
        for writer, number, said in entries:
            if "kept_rows" in said:
                kept = _kept(registry, writer, number, str(said["kept_rows"]))
                yield from same.rows(map(json.loads, kept.split(b"\n")))
            yield from same.rows(said.get("rows", ()))

    _, _, said = entries[0]
    more, files = said.get("more", {}), said.get("files", ())
    file = _file_line(registry, said["id"])
    if file is None and files:
        file = FileLine(str(files[0]["name"]), "loaded", {}, is_dump=True)
    return Change(
        id=said["id"], at=said["at"], by=said.get("by"), kind=said["kind"], file=file, read=read,
        files=frozenset(str(each["sha256"]) for each in files), **_more(more),
    )  # fmt: skip


def _more(said: Mapping[str, Any]) -> dict[str, Any]:
    found = {key: said.get(key) for key in ("why", "on", "undoes")}
    return found | {"along": tuple(said.get("along", ()))}


def _kept(registry: Registry, writer: bytes, number: int, name: str) -> bytes:
    """Return the file of this SHA-256, which lies in parts ahead of the entry that names it."""
    parts: list[bytes] = []
    for row in registry.each(
        "SELECT body FROM log WHERE writer = ? AND number < ? ORDER BY number DESC",
        [writer, number],
    ):
        entry = Entry(writer, 0, "", b"", b"", None, row["body"])
        if entry.said.get("kind") != "part":
            break
        if entry.said["file"] == name:
            parts.append(entry.data)
    return zlib.decompress(b"".join(parts[::-1]))


def _file_line(registry: Registry, change: str) -> FileLine | None:
    row = registry.row(
        "SELECT action, coalesce(new, old) AS said, (SELECT count(*) FROM changes AS x"
        " WHERE x.change = c.change) AS lines FROM changes AS c"
        " WHERE change = ? AND what = 'file'",
        [change],
    )
    if row is None:
        return None
    said = json.loads(row["said"])
    return FileLine(
        said.get("name") or "file",
        row["action"],
        said.get("added") or {},
        only_adds=row["lines"] == 1,
    )


def _lines(registry: Registry, names: Iterable[str | None]) -> Iterator[Change]:
    """Yield the changes that only lines of the history tell of; without a name each line is one."""
    rows = registry.rows(
        "SELECT id, change, more, at, by, what, record, action, old, new FROM changes"
        " WHERE coalesce(change, '') IN (SELECT coalesce(value, '') FROM json_each(?))"
        " ORDER BY seq DESC",
        [json.dumps(list(names))],
    )
    for _, lines in groupby(rows, lambda row: row["change"] or row["id"]):
        yield _of_lines(registry, list(lines)[::-1])


def _of_lines(registry: Registry, lines: list[dict[str, Any]]) -> Change:
    first = lines[0]

    def read() -> Iterator[Row]:
        for line in lines:
            table = "procedures" if line["what"] in NOUNS else line["what"]
            if table != "file":
                old, new = line["old"], line["new"]
                yield touched(table, line["record"], line["action"], old, new, None)

    file = _file_line(registry, first["change"]) if first["change"] else None
    return Change(
        id=first["change"], at=first["at"], by=first["by"], kind="line", file=file, read=read,
        **_more(json.loads(first["more"] or "{}")),
    )  # fmt: skip


Owner = tuple[str, str]  # a table and an id


class Past(Tables):
    """The records of a registry as they are now, and then as they were before.

    What each change did is told by its own rows, whatever copies that were changed apart did
    meanwhile: so it is put first, and then taken back.
    """

    def __init__(self, registry: Registry) -> None:
        super().__init__()
        for table in NOTED_TABLES:
            names = ", ".join(f'"{name}"' for name in self.columns[table])
            holes = ", ".join("?" * len(self.columns[table]))
            self.db.execute(f"DELETE FROM {table}")
            rows = registry.connection.execute(f"SELECT {names} FROM {table} ORDER BY rowid")
            self.db.executemany(f"INSERT INTO {table} ({names}) VALUES ({holes})", rows)
        self._registry = Registry(registry.path, self.db, writable=False)
        self.source = StoredSource(self._registry)

    def forward(self, rows: Iterable[Row]) -> None:
        """Put what these rows say."""
        self._put(rows)

    def back(self, rows: Iterable[Row]) -> None:
        """Take back what these rows say."""
        self._put(map(inverse, reversed(list(rows))))

    def owners(self, rows: Iterable[Row]) -> dict[Owner, str]:
        """Return the records that these rows are of, as they are, and what became of each."""
        found: dict[Owner, str] = {}
        for row in rows:
            if (owner := self.owner(row)) and row["table"] in PARTS:
                found.setdefault(owner, "changed")
            elif owner:
                found[owner] = action_of(row)
        return found

    def owner(self, row: Row) -> Owner | None:
        """Return the record that a row is of, itself or as a part."""
        table = row["table"]
        if table in PARTS:
            return PARTS[table][0], self._parent(row)
        return (table, row["id"]) if table in NOTED_TABLES else None

    def _parent(self, row: Row) -> str:
        table = row["table"]
        column = PARTS[table][1]
        told = row.get("added") or row.get("removed")
        if told:
            return str(told[column])
        found = self.db.execute(f"SELECT {column} FROM {table} WHERE id = ?", [row["id"]])
        return str((found.fetchone() or ("",))[0])

    def with_parts(self, ids: Collection[str]) -> set[str]:
        """Return ids with those of what is in a box, and of the conductors of a circuit."""
        found = self.db.execute(_PARTS_OF, {"ids": json.dumps(list(ids))})
        return {*ids, *(row[0] for row in found)}

    def text(self, table: str, record: str, column: str) -> str | None:
        """Return what a column says of a record; None if it isn't there."""
        found = self.db.execute(f"SELECT {column} FROM {table} WHERE id = ?", [record]).fetchone()
        return None if found is None or found[0] is None else str(found[0])

    def _put(self, rows: Iterable[Row]) -> None:
        for row in rows:
            if row["table"] in NOTED_TABLES:
                with suppress(sqlite3.IntegrityError, ValueError):
                    self.put(row, "OR REPLACE")


def as_entered(registry: Registry, was: Callable[[str], bool]) -> Registry | None:
    """Return the registry, in memory, with the entries whose time it `was` by then.

    It is read like any other; None if it had not begun.
    """

    def read() -> Iterator[Entry]:
        for entry, _ in entries(registry.connection, "nr"):
            at = entry.said.get("at")
            if at is None or was(str(at)):
                yield entry

    replay = replayed(read, Same.of(registry.connection))
    replay.db.execute("COMMIT")
    found = Registry(registry.path, replay.db, writable=False)
    return found if found.row("SELECT 1 FROM site") else None


_IDS = "(SELECT value FROM json_each(:ids))"
_PARTS_OF = (
    f"SELECT id FROM devices WHERE enclosure_id IN {_IDS}"
    f" UNION SELECT id FROM terminals WHERE enclosure_id IN {_IDS}"
    f" UNION SELECT conductor_id FROM conductor_circuits WHERE circuit_id IN {_IDS}"
)
