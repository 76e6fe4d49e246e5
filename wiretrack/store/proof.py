# SPDX-License-Identifier: MIT
"""Whether the records are what follows from the log, and the log is what was written.

The entries are proved one by one, then applied to an empty registry in memory, whose tables are
compared with those of the file. Nothing in a damaged file stops this: what can't be read is named.
"""

from __future__ import annotations

import re
import sqlite3
from contextlib import suppress
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from wiretrack import chain
from wiretrack.chain import said_in
from wiretrack.errors import BadInputError, DamagedRegistryError
from wiretrack.model.tags import format_tag
from wiretrack.progress import counted
from wiretrack.store.foreign import our_schema, schema_of
from wiretrack.store.log import entries, gone_in
from wiretrack.store.notes import content
from wiretrack.store.replay import replayed
from wiretrack.store.same import Same
from wiretrack.store.schema import RECORDS, columns_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from wiretrack.chain import Entry
    from wiretrack.store.store import Registry

Row = dict[str, Any]
_MOST = 100  # problems of one sort that are named


@dataclass(frozen=True)
class Problem:
    """Something that is wrong: what, in which table and record or entry, and what rests on it."""

    what: str
    where: str
    affects: tuple[str, ...] = ()

    def __str__(self) -> str:
        return f"{self.where}: {self.what}"


def prove(registry: Registry) -> Iterator[Problem]:
    """Yield what is wrong with a registry's schema and log, and with its records by its log."""
    with registry.unchanging():
        for part in (_schema, _chains, _records):
            try:
                yield from part(registry.connection)
            except Exception as error:  # whatever damage makes of a value
                yield Problem(f"it can't be read: {error}", "database")
        yield from _contents(registry)


def head(registry: Registry) -> str | None:
    """Return the hash that the log ends in; None if it is empty or can't be read."""
    try:
        row = registry.row("SELECT hash FROM log ORDER BY nr DESC LIMIT 1")
    except (sqlite3.Error, UnicodeDecodeError):
        return None
    return row["hash"].hex() if row else None


@dataclass(frozen=True)
class Anchor:
    """What a printed hash stands for: how many entries are its past, and how many came since.

    `keys` are the public keys of the writers who made its past, each with what it signed last.
    """

    hash: str
    at: str | None
    entries: int
    since: int
    keys: tuple[Signed, ...]


@dataclass(frozen=True)
class Signed:
    """A writer's key, and up to which of its entries it signed (None: it never signed)."""

    key: str
    signed_to: int | None


def anchor(registry: Registry, printed: str) -> Anchor | None:
    """Return what a printed hash, or its first 16 digits or more, stands for; None: for nothing."""
    digits = "".join(printed.split()).replace("-", "").lower()
    if not _HASH.fullmatch(digits):
        raise BadInputError(
            f"'{printed}' is no hash of a log: 16 to 64 digits 0 to 9 and a to f are."
        )
    rows = registry.rows("SELECT nr, hash, body FROM log WHERE substr(hex(hash), 1, ?) = ?",
                         [len(digits), digits.upper()])  # fmt: skip
    if len(rows) != 1:
        return None
    (row,) = rows
    writers = registry.rows(
        "SELECT l.writer, max(iif(l.signature IS NULL, NULL, l.number)) AS signed,"
        " count(*) AS entries, f.body FROM log AS l"
        " JOIN log AS f ON f.writer = l.writer AND f.number = 1"
        " WHERE l.nr <= ? GROUP BY l.writer ORDER BY min(l.nr)",
        [row["nr"]],
    )
    (since,) = registry.rows("SELECT count(*) AS n FROM log WHERE nr > ?", [row["nr"]])
    return Anchor(
        row["hash"].hex(),
        said_in(row["body"]).get("at"),
        sum(each["entries"] for each in writers),
        since["n"],
        tuple(Signed(str(said_in(w["body"]).get("key")), w["signed"]) for w in writers),
    )


_HASH = re.compile(r"[0-9a-f]{16,64}")


def _schema(db: sqlite3.Connection) -> Iterator[Problem]:
    wanted, there = our_schema(), schema_of(db)
    for kind, name in sorted(wanted.keys() | there.keys(), key=str):  # damage makes bytes of text
        if (kind, name) not in there:
            yield Problem(f"the {kind} {name} is missing", f"schema {name}")
        elif (kind, name) not in wanted:
            yield Problem(f"the {kind} {name} is not ours", f"schema {name}")
        elif wanted[kind, name] != there[kind, name]:
            yield Problem(f"the {kind} {name} is another one than ours", f"schema {name}")


def _chains(db: sqlite3.Connection) -> Iterator[Problem]:
    for fault in chain.faults(_counted(db), gone_in(db)):
        sql = "SELECT body FROM log WHERE writer = ? AND number = ?"
        body = (db.execute(sql, [fault.writer, fault.number]).fetchone() or (None,))[0]
        entry = chain.Entry(fault.writer, fault.number, "", b"", b"", None, body)
        records = [(row["table"], row["id"]) for row in _listed(entry.said.get("rows"))]
        if entry.said.get("kind") == "part":
            sql = "SELECT 'attachments', id FROM attachments WHERE sha256 = ?"
            records = db.execute(sql, [entry.said.get("file")]).fetchall()
        yield Problem(
            f"the log doesn't hold together: {fault.why}; what this writer wrote after it is not"
            " proved",
            f"log {fault.writer.hex()[:8]}:{fault.number}",
            tuple(dict.fromkeys(_name(db, *record) for record in records)),
        )


def _counted(
    db: sqlite3.Connection, order: str = "writer, number"
) -> Iterator[tuple[Entry, bytes]]:
    (total,) = db.execute("SELECT count(*) FROM log").fetchone()
    return counted(entries(db, order), "entries of the log", total)


def _listed(value: object) -> list[Row]:
    rows = value if isinstance(value, list) else []
    return [row for row in rows if isinstance(row, dict) and {"table", "id"} <= row.keys()]


def _records(db: sqlite3.Connection) -> Iterator[Problem]:
    """Yield each record that isn't as the entries have it."""
    expected = None
    with suppress(sqlite3.Error, TypeError):  # of a damaged table
        expected = Same.of(db)
    replay = replayed(lambda: (entry for entry, _ in _counted(db, "nr")), expected)
    gone = gone_in(db)
    failed = (e for e in replay.failed if (e.entry.writer, e.entry.number) not in gone)
    yield from (Problem(each.why, each.where) for each in [*failed][:_MOST])
    for table in RECORDS:
        columns = ", ".join(f'"{name}"' for name in replay.columns[table])
        sql = f"SELECT {columns} FROM {table} ORDER BY id"
        differing = _differing(replay.db.execute(sql), db.execute(sql), columns)
        for _, (record, why) in zip(range(_MOST), differing, strict=False):
            yield Problem(why, f"{table} {record}", (_name(db, table, record),))
    for table, (what, sql) in _BESIDE.items():
        differing = _differing(replay.db.execute(sql), db.execute(sql), "id, said")
        for _, (key, _) in zip(range(_MOST), differing, strict=False):
            of = key.split(" ")[:2]
            affects = (_name(db, *of),) if of[0] in RECORDS else ()
            yield Problem(f"{what} isn't what the log says", f"{table} {key}", affects)


# What is kept beside the log, and follows from it as the records do: what it is, and by what key.
_BESIDE = {
    "operations": (
        "what entries say of it",
        "SELECT id, json_group_array(said) AS said FROM (SELECT o.what || ' ' || o.record AS id,"
        " json_array(hex(l.writer), l.number, o.said) AS said FROM operations AS o"
        " LEFT JOIN log AS l ON l.nr = o.entry ORDER BY 1, o.nr) GROUP BY id ORDER BY id",
    ),
    "undecided": (
        "what is undecided of it",
        "SELECT what || ' ' || record || ' ' || field AS id, said FROM undecided ORDER BY id",
    ),
    "log": (
        "which entry says what its writer held",
        "SELECT lower(hex(writer)) || ':' || number AS id, have AS said FROM log"
        " WHERE have NOT NULL ORDER BY id",
    ),
}


def _contents(registry: Registry) -> Iterator[Problem]:
    """Yield each attachment whose content the log doesn't hold whole."""
    db = registry.connection
    try:
        digests = db.execute("SELECT sha256, min(id) FROM attachments GROUP BY sha256").fetchall()
    except (sqlite3.Error, UnicodeDecodeError):
        return  # that it can't be read is told above
    for digest, attached in digests:
        try:
            content(registry, digest)
        except (DamagedRegistryError, sqlite3.Error, UnicodeDecodeError):
            why = "the log doesn't hold its content whole"
            yield Problem(why, f"attachments {attached}", (_name(db, "attachments", attached),))


def _differing(proved: Any, there: Any, columns: str) -> Iterator[tuple[str, str]]:
    """Yield the id of each row that only one of two sorted lists has, or has otherwise, and why."""
    names = [name.strip('"') for name in columns.split(", ")]
    at = names.index("id")
    one: Any
    one, other = next(proved, None), next(there, None)
    while one or other:
        if one and other and one[at] == other[at]:
            pairs = zip(names, one, other, strict=True)
            said = [f"{name} is {b!r}, the log has {a!r}" for name, a, b in pairs if a != b]
            if said:
                yield one[at], "; ".join(said)
            one, other = next(proved, None), next(there, None)
        elif other and (not one or other[at] < one[at]):
            yield str(other[at]), "it is in the record and not in the log"
            other = next(there, None)
        else:
            yield one[at], "it is in the log and not in the record"
            one = next(proved, None)


def _name(db: sqlite3.Connection, table: str, record: str) -> str:
    try:
        columns = columns_of(db, table)
        if "conductor_id" in columns or table == "conductors":
            key = "id" if table == "conductors" else "conductor_id"
            sql = (
                f"SELECT c.tag FROM conductors AS c JOIN {table} AS t"
                f" ON c.id = t.{key} WHERE t.id = ?"
            )
            found = db.execute(sql, [record]).fetchone()
            if found:
                return format_tag(found[0])
        if "record" in columns and table != "changes":
            told = "t.name || ' with ' || m.code" if "name" in columns else "m.code"
            sql = f"SELECT {told} FROM {table} AS t JOIN named AS m ON m.id = t.record"
            return str(db.execute(f"{sql} WHERE t.id = ?", [record]).fetchone()[0])
        if "code" in columns:
            found = db.execute(f"SELECT code FROM {table} WHERE id = ?", [record]).fetchone()
            if found and found[0]:
                return str(found[0])
    except (sqlite3.Error, ValueError, TypeError):
        pass
    return f"{table} {record}"
