# SPDX-License-Identifier: MIT
"""The changes that were made, newest first: who made each, when, and the rows that it touched.

They come from the log. What the log of this copy hasn't, comes from the lines of the history: the
changes before a dump was loaded, and what another program wrote.
"""

from __future__ import annotations

import heapq
import json
import zlib
from dataclasses import dataclass
from functools import cached_property
from itertools import groupby
from operator import attrgetter
from typing import TYPE_CHECKING, Any

from wiretrack.chain import Entry, said_in
from wiretrack.procedure import NOUNS
from wiretrack.store.log import touched
from wiretrack.store.same import Same

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping

    from wiretrack.store.rows import Row
    from wiretrack.store.store import Registry

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
    for _, entries in groupby(named, lambda each: each[2]["id"]):
        yield _change(registry, list(entries)[::-1])


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
