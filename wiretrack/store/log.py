# SPDX-License-Identifier: MIT
"""The log: each acknowledged change is an entry, and the records follow from the entries.

An entry says who entered it, when, by which face, and the rows that it touched, with what changed
in them. A load is one entry too; it names its files and what they added by SHA-256, and all that is
kept, packed, in parts ahead of it. The last entry of a commit is signed.
"""

from __future__ import annotations

import json
import zlib
from contextlib import suppress
from dataclasses import replace
from hashlib import sha256
from typing import TYPE_CHECKING, Any

from wiretrack import chain
from wiretrack.chain import BEGINNING, Entry, sealed
from wiretrack.model.tags import drawn
from wiretrack.store import writers
from wiretrack.store.naming import NAMED, SAME
from wiretrack.store.rows import known
from wiretrack.store.same import TABLE, Same
from wiretrack.store.schema import NOTED_TABLES, RECORDS, columns_of
from wiretrack.store.union import Union

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from pathlib import Path
    from sqlite3 import Connection

    from wiretrack.store.operations import Gathered
    from wiretrack.store.writers import Writer

Row = dict[str, Any]
_PART_BYTES = chain.MOST_BYTES - 1024  # of a file, in one entry
_MOST_GONE = 10**6  # entries that rescues say are gone
_INLINE_BYTES = 2**16  # of rows in the entry itself; more are kept as a file


class Commit:
    """The entries of one write under way; `change` is the id of what it changes ("": nothing)."""

    def __init__(
        self, db: Connection, path: Path, face: str, at: str, more: Mapping[str, Any] | None = None
    ) -> None:
        self._db, self._path, self._face, self.at = db, path, face, at
        self.more = {"more": dict(sorted(more.items()))} if more else {}
        self.change = drawn(8).lower()  # as a tag's characters, so that people can type it
        self._entries: list[Entry] = []
        self._have: int | None = None
        self._touched: list[Gathered] = []
        self._own: list[Row] = []  # what was gathered and is in no entry yet
        self._since = 0
        self._decided: dict[str, tuple[str, ...]] = {}
        self._said: list[Row] = []
        self._wrote: list[tuple[int, str, list[Row], int]] = []
        self._writer: Writer | None = None
        self._before: Writer | None = None
        self._stands: tuple[Any, ...] = ()
        self._is_kept = False
        self._kept_now: set[str] = set()
        self._seen = 0
        self.says_same = False  # or takes back, that records are one
        self._number, self._previous = 0, BEGINNING

    def add(self, kind: str, who: str | None, **said: Any) -> None:
        """Add an entry on the rows gathered since the last one, if there are any."""
        rows = self.gathered()
        if rows:
            self.add_rows(kind, who, rows, **said)

    def gathered(self) -> list[Row]:
        """Return the rows touched since this was asked last."""
        found = [row for row in self._ask() if row[0] is not None]
        self._seen = found[-1][0] if found else self._seen
        self._touched += (each[1:6] for each in found)
        rows = [touched(*each) for _, *each in found]
        named = any(row["table"] in NAMED and "added" not in row for row in rows)
        shown = {row[0] for row in self._db.execute(_SHOWN, [SAME])} if named else set()
        noted = [each for each in found if each[1] in NOTED_TABLES]
        texts = (text for each in noted for text in each if isinstance(text, str))
        same = Same.among(self._db, texts) if noted else Same()
        for row, (*_, old, new, _) in zip(rows, found, strict=True):
            table, record = row["table"], row["id"]
            if record in shown and table in NAMED and old:
                name = NAMED[table][0]
                row["shown"] = {name: json.loads(old)[name]}
            if same.ids and table in NOTED_TABLES:
                of = same.stood_for(table, record, json.loads(new or old or "{}"))
                row |= {"of": of} if of else {}
            for column in self._decided.get(record, ()):
                pair = [json.loads(each)[column] for each in (old, new)]
                row["changed"].setdefault(column, pair)
        rows += self._said
        self._said = []
        self._own += rows
        return rows

    def _ask(self) -> list[tuple[Any, ...]]:
        """Return what was gathered since; read with it where the log stands."""
        if not self._before:
            self._before = writers.kept(self._path)
        name = self._before and self._before.name
        rows = self._db.execute(_GATHERED, [name, self._seen]).fetchall()
        self._stands = rows[0][-4:]
        return [row[:-4] for row in rows]

    def say_all_of(self, record: str, columns: tuple[str, ...]) -> None:
        """Say of these columns of a record what they are, even where they stay what they were."""
        self._decided[record] = columns

    def say(self, row: Row) -> None:
        """Say something that is no change of a row."""
        self._said.append(row)

    def gathered_lines(self) -> list[str]:
        """Return what `gathered` does, each row as a line of JSON."""
        return [*map(_json, self.gathered())]

    def add_rows(self, kind: str, who: str | None, rows: list[Row], **said: Any) -> None:
        """Add an entry on these rows: those gathered, and others that the tables have."""
        self._own = rows if kind == "rescue" else self._own
        self._add_lines(kind, who, [*map(_json, rows)], **said)

    def _add_lines(self, kind: str, who: str | None, lines: list[str], **said: Any) -> None:
        told: Row = {
            "kind": kind,
            "id": self.change,
            "at": self.at,
            "by": who,
            "face": self._face,
            **self.more,
            **said,
        }
        text = "\n".join(lines)
        data = text.encode()
        told |= (
            {"rows": [*map(json.loads, lines)]} if len(data) < _INLINE_BYTES
            else {"kept_rows": self.keep(data)}
        )  # fmt: skip
        self._append(told)
        self.says_same |= f'"table":"{TABLE}"' in text
        self._wrote.append((len(self._entries) - 1, kind, self._own, self._since))
        self._own, self._since = [], len(self._touched)

    def add_load(
        self, who: str | None, files: Sequence[tuple[str, bytes]], lines: list[str], *, whole: bool
    ) -> None:
        """Add the entry of a load of files, by names and contents, on the rows that it touched.

        Files whose contents of attachments are kept by themselves aren't kept `whole`.
        """
        if lines:
            keep = self.keep if whole else digest_of
            named = [{"name": name, "sha256": keep(data)} for name, data in files]
            self._add_lines("load", who, lines, files=named)

    def keep_once(self, data: bytes) -> str:
        """Keep a file, unless the log holds it already; return its SHA-256."""
        name, sql = digest_of(data), "SELECT 1 FROM files WHERE sha256 = ?"
        if name not in self._kept_now and self._db.execute(sql, [name]).fetchone() is None:
            self.keep(data)
            self._kept_now.add(name)
        return name

    def keep(self, data: bytes) -> str:
        """Keep a file, packed (zlib, RFC 1950), in parts; return its SHA-256, which names it."""
        name, packed = sha256(data).hexdigest(), zlib.compress(data, 1)
        for part, start in enumerate(range(0, len(packed), _PART_BYTES), 1):
            said = {"kind": "part", "file": name, "part": part}
            self._append(said, packed[start : start + _PART_BYTES])
        return name

    def close(self) -> None:
        """Write the entries, the last one signed."""
        if self._writer is None:
            self.change = ""
            return
        last = self._entries[-1]
        self._entries[-1] = replace(last, signature=self._writer.sign(last.hash))
        numbers = [add_entry(self._db, entry, self._have_at(entry)) for entry in self._entries]
        for index, kind, rows, since in self._wrote:
            touched = _as_gathered(rows) if kind == "rescue" else self._touched[since:]
            Union(self._db).wrote(numbers[index], rows, touched, kind)
        writers.keep(self._path, self._writer.after(last.number, last.hash))
        self._is_kept = True

    def take_back(self) -> None:
        """Forget the entries: the write came to nothing."""
        if self._is_kept and self._before is not None:
            writers.keep(self._path, self._before)

    def _append(self, said: Row, data: bytes = b"") -> None:
        if self._writer is None:
            self._writer = self._begin()
        writer, self._number = self._writer, self._number + 1
        entry = sealed(said, writer.name, self._number, writer.site, self._previous, data)
        self._previous = entry.hash
        self._entries.append(entry)

    def _have_at(self, entry: Entry) -> int | None:
        return self._have if self._have is None or entry.number >= self._have else self._had

    def _begin(self) -> Writer:
        """Return the writer of this copy; a new one says first who it is, and what it holds."""
        if not self._stands:
            self._ask()
        writer, (site, last, had, news) = self._before, self._stands
        if writer is not None and writer.site == site and last == bytes.fromhex(writer.hash):
            self._number, self._previous = writer.number, bytes.fromhex(writer.hash)
            self._writer, self._have = writer, had
        else:
            self._writer, news = writers.Writer.new(site), news or last is not None
            key = self._writer.public_key.hex()
            self._append({"kind": "writer", "at": self.at, "site": site, "key": key})
        self._had = self._have
        if news:
            own = self._writer.name
            held = [(w.hex(), n, hash_[:8].hex()) for w, n, hash_ in held_by(self._db) if w != own]
            self._append({"kind": "have", "at": self.at, "held": held})
            self._have = self._number
        return self._writer


# What was gathered, but for what another program wrote since the last write here: that has no time,
# and is not of this one. Then the site, the last entry of a writer, and whether this copy learned
# anything since. Where nothing was gathered that is a row alone.
_GATHERED = (
    "SELECT g.nr, g.what, g.record, g.action, g.old, g.new, g.change,"
    " (SELECT coalesce(max(id), '') FROM site), l.hash, l.have,"
    " EXISTS (SELECT 1 FROM log AS n WHERE n.nr > coalesce(l.nr, 0)) FROM writing LEFT JOIN"
    " (SELECT hash, have, nr FROM log WHERE writer = ? ORDER BY number DESC LIMIT 1) AS l"
    " LEFT JOIN gathered AS g ON g.nr > ? AND g.at IS NOT NULL ORDER BY g.nr"
)
_ADD = (
    "INSERT INTO log (writer, number, hash, previous, content, salt, body, signature, have)"
    " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)"
)
_HELD = (
    "WITH RECURSIVE writers (writer) AS (SELECT min(writer) FROM log UNION ALL"
    " SELECT (SELECT min(l.writer) FROM log AS l WHERE l.writer > w.writer) FROM writers AS w"
    " WHERE w.writer IS NOT NULL)"
    " SELECT l.writer, l.number, l.hash FROM writers AS w JOIN log AS l ON l.writer = w.writer"
    " AND l.number = (SELECT max(o.number) FROM log AS o WHERE o.writer = w.writer)"
)
_SHOWN = "SELECT record FROM undecided WHERE what > '' AND field = ?"


def _as_gathered(rows: Sequence[Row]) -> list[Gathered]:
    """Return rows of an entry as if they had been gathered: they were written by other means."""
    texts = (
        (row, _json({**(row.get("added") or row["removed"]), "id": row["id"]})) for row in rows
    )
    return [
        (row["table"], row["id"], "added", None, text) if "added" in row
        else (row["table"], row["id"], "removed", text, None)
        for row, text in texts
    ]  # fmt: skip


def digest_of(data: bytes) -> str:
    """Return the SHA-256 that names a file."""
    return sha256(data).hexdigest()


def gone_in(db: Connection) -> set[tuple[bytes, int]]:
    """Return the entries, by writer and number, that were lost by damage as a rescue says."""
    found: set[tuple[bytes, int]] = set()
    sql = (
        "SELECT body FROM log WHERE typeof(body) = 'blob'"
        " AND instr(substr(body, 1, 1000), CAST('\"gone\":' AS BLOB))"
    )
    for (body,) in db.execute(sql):
        said = chain.said_in(body)
        if said.get("kind") == "rescue":
            with suppress(KeyError, TypeError, ValueError):
                for writer, first, last in said["gone"]:
                    name, most = bytes.fromhex(writer), _MOST_GONE - len(found)
                    numbers = range(first, min(last + 1, first + max(0, most)))
                    found |= {(name, number) for number in numbers}
    return found


def add_entry(db: Connection, entry: Entry, have: int | None) -> int:
    """Add an entry to the log; `have` is the number of its writer's last one of that kind."""
    values = (
        entry.writer, entry.number, entry.hash, entry.previous, entry.content, entry.salt,
        entry.body, entry.signature, have,
    )  # fmt: skip
    return int(db.execute(_ADD, values).lastrowid or 0)


def held_by(db: Connection) -> list[tuple[bytes, int, bytes]]:
    """Return every writer that a log has entries of, with the number and hash of its last one."""
    return db.execute(_HELD).fetchall()


_json = json.JSONEncoder(ensure_ascii=False, separators=(",", ":")).encode


def touched(
    what: str, record: str, action: str, old: str | None, new: str | None, change: str | None
) -> Row:
    """Return what an entry says of a row: all of a new one, else old and new of what changed."""
    row: Row = {"table": what, "id": record}
    if change is not None:
        row["change"] = change
    before, after = json.loads(old or "{}"), json.loads(new or "{}")
    if action == "added":
        return row | {"added": known(after)}
    if action == "removed":
        return row | {"removed": known(before)}
    both = {key: [before[key], value] for key, value in after.items()}
    return row | {"changed": {key: pair for key, pair in both.items() if pair[0] != pair[1]}}


def lines_after(db: Connection, numbers: Mapping[str, int]) -> list[str]:
    """Return all rows that came after these numbers of rows, as an entry has them: lines of JSON.

    They are written without being made first: a load brings hundreds of thousands.
    """
    found: list[str] = []
    for table, number in numbers.items():
        columns = [column for column in columns_of(db, table) if column != "id"]
        keys = [f',"{column}":' for column in columns]
        names = ", ".join(f'"{column}"' for column in ("id", *columns))
        sql = f"SELECT {names} FROM {table} WHERE rowid > ? ORDER BY rowid"
        for record, *values in db.execute(sql, [number]):
            added = "".join(
                [
                    key + (_json(value) if type(value) is str else repr(value))
                    for key, value in zip(keys, values, strict=True)
                    if value is not None
                ]
            )
            found.append(f'{{"table":"{table}","id":{_json(record)},"added":{{{added[1:]}}}}}')
    return found


def last_rows(db: Connection) -> dict[str, int]:
    """Return the number of the last row of each table."""
    return {
        table: db.execute(f"SELECT coalesce(max(rowid), 0) FROM {table}").fetchone()[0]
        for table in RECORDS
    }


_EMPTY = {"writer": "X''", "previous": "X''", "content": "X''", "salt": "NULL", "body": "NULL",
          "signature": "NULL", "hash": "X''"}  # fmt: skip


def entries(db: Connection, order: str = "writer, number") -> Iterator[tuple[Entry, bytes]]:
    """Yield every entry, with the hash that is stored beside it.

    A value that damage made one of another type is empty here, so that no hash fits it.
    """
    sites: dict[bytes, str] = {}
    others = _sites(db)
    blobs = ", ".join(f"iif(typeof({n}) = 'blob', {n}, {empty})" for n, empty in _EMPTY.items())
    for row in db.execute(
        f"SELECT iif(typeof(number) = 'integer', number, 0), {blobs} FROM log ORDER BY {order}"
    ):
        number, writer, *rest, kept = row
        entry = Entry(writer, number, sites.get(writer, ""), *rest)
        if number == 1:
            sites[writer] = str(entry.said.get("site", ""))
            entry = replace(entry, site=sites[writer])
        elif writer not in sites:  # its first entry is lost; its site is another one's
            sites[writer] = next((s for s in others if replace(entry, site=s).hash == kept), "")
            entry = replace(entry, site=sites[writer])
        yield entry, kept


def _sites(db: Connection) -> list[str]:
    sql = "SELECT body FROM log WHERE number = 1 AND typeof(body) = 'blob' ORDER BY nr"
    bodies = db.execute(sql)
    return list({str(chain.said_in(body).get("site", "")): None for (body,) in bodies})
