# SPDX-License-Identifier: MIT
"""Two records that got one name apart: both stay, and the second is shown under another one.

Which is the second follows from their ids, so it is the same in every copy, until somebody renames
one of them.
"""

from __future__ import annotations

import json
import re
from hashlib import sha256
from typing import TYPE_CHECKING, Any

from wiretrack.model.tags import ALPHABET, BODY_LENGTH, check_character

if TYPE_CHECKING:
    from collections.abc import Iterator
    from sqlite3 import Connection

Row = dict[str, Any]
Name = tuple[str, tuple[str, ...], str]  # a table, where in it the name counts, and the name
SAME = "same"  # the field of `undecided` that has such names
# Tables whose records have a name: its column, and where it counts.
NAMED: dict[str, tuple[str, tuple[str, ...]]] = {
    "enclosures": ("code", ()),
    "terminals": ("code", ("enclosure_id",)),
    "devices": ("code", ("enclosure_id",)),
    "raceways": ("code", ()),
    "circuits": ("code", ()),
    "pulls": ("code", ()),
    "conductors": ("tag", ()),
    "instruments": ("code", ()),
}
_MOST = 40  # characters of a code
_NUMBERED = re.compile(r"(.+) \(\d+\)")


class Names:
    """The names of a registry's records, as they are and as they are shown."""

    def __init__(self, db: Connection) -> None:
        self._db = db
        self._due: set[Name] = set()

    def true_name(self, table: str, record: str, shown: str) -> str:
        """Return the name that a record has, whatever it is shown under."""
        sql = "SELECT said ->> 'name' FROM undecided WHERE what = ? AND record = ? AND field = ?"
        found = self._db.execute(sql, [table, record, SAME]).fetchone()
        return str(found[0]) if found else shown

    def to_write(self, table: str, row: Row, old: Row | None) -> Row:
        """Return the row with a name under which it can be written, before `settle` names it.

        `old` is the row that is there, as it is shown; None for a new one.
        """
        column = NAMED[table][0]
        name = self._name(table, row)
        if old is not None:
            before = self.true_name(table, row["id"], old[column])
            if self._name(table, {**old, column: before}) == name:
                return {**row, column: old[column]}
        self.forget(table, row["id"], old)
        self._due.add(name)
        if self._showing(name, row["id"]) is None:
            return row
        self._set_aside(table, row["id"], row[column])
        return {**row, column: _aside(table, row["id"])}

    def forget(self, table: str, record: str, old: Row | None) -> None:
        """Note that a record doesn't bear its name any more."""
        if old is None:
            return
        column, _ = NAMED[table]
        true = self.true_name(table, record, old[column])
        self._due |= {self._name(table, old), self._name(table, {**old, column: true})}
        sql = "DELETE FROM undecided WHERE what = ? AND record = ? AND field = ?"
        self._db.execute(sql, [table, record, SAME])

    def settle(self) -> None:
        """Show each name that changed hands once, and whoever bears it too under another one."""
        groups = {name: list(self._bearers(name)) for name in sorted(self._all_due())}
        for name, bearers in groups.items():
            for record in bearers[1:]:
                self._show(name[0], record, _aside(name[0], record))
        for name, bearers in groups.items():
            self._show_first(name, bearers)
        for name, bearers in groups.items():
            for record in bearers[1:]:
                self._set_aside(name[0], record, name[2], bearers[0])
                self._show(name[0], record, self._free(name, record))
        self._due = set()

    def _all_due(self) -> set[Name]:
        """Return the names that changed hands, and those whose second bearers that touches."""
        due, found = set(self._due), set()
        while due:
            name = due.pop()
            found.add(name)
            table, scope, text = name
            others = set()
            if match := _NUMBERED.fullmatch(text):
                others.add((table, scope, match[1]))
            holder = self._showing(name)
            if holder is not None:
                others.add((table, scope, self.true_name(table, holder, text)))
            due |= others - found
        return found

    def _show_first(self, name: Name, bearers: list[str]) -> None:
        holder = self._showing(name)
        if holder is not None and holder not in bearers[:1]:
            self._show(name[0], holder, _aside(name[0], holder))
        if bearers:
            self._show(name[0], bearers[0], name[2])
            sql = "DELETE FROM undecided WHERE what = ? AND record = ? AND field = ?"
            self._db.execute(sql, [name[0], bearers[0], SAME])

    def _name(self, table: str, row: Row) -> Name:
        column, scope = NAMED[table]
        return table, tuple(row[key] for key in scope), row[column]

    def _showing(self, name: Name, besides: str = "") -> str | None:
        table, scope, text = name
        sql = f"SELECT id FROM {table} WHERE {_where(table)} AND id <> ?"
        found = self._db.execute(sql, [*scope, text, besides]).fetchone()
        return found[0] if found else None

    def _bearers(self, name: Name) -> Iterator[str]:
        """Yield the records of this name, in the order that all copies share."""
        table, scope, text = name
        of = NAMED[table][1]
        within = "".join(f" AND t.{key} = ?" for key in of)
        sql = (
            f"SELECT t.id FROM {table} AS t WHERE {_where(table)} AND NOT EXISTS (SELECT 1"
            f" FROM undecided AS u WHERE u.what = '{table}' AND u.record = t.id"
            f" AND u.field = '{SAME}') UNION SELECT t.id FROM undecided AS u JOIN {table} AS t"
            f" ON t.id = u.record WHERE u.what = '{table}' AND u.field = '{SAME}'"
            f" AND u.said ->> 'name' = ?{within} ORDER BY 1"
        )
        yield from (row[0] for row in self._db.execute(sql, [*scope, text, text, *scope]))

    def _set_aside(self, table: str, record: str, name: str, first: str = "") -> None:
        said = json.dumps({"name": name, "with": first}, ensure_ascii=False)
        sql = "INSERT OR REPLACE INTO undecided (what, record, field, said) VALUES (?, ?, ?, ?)"
        self._db.execute(sql, [table, record, SAME, said])

    def _show(self, table: str, record: str, name: str) -> None:
        column = NAMED[table][0]
        sql = f"UPDATE {table} SET {column} = ? WHERE id = ? AND {column} <> ?"
        self._db.execute(sql, [name, record, name])

    def _free(self, name: Name, record: str) -> str:
        table, scope, text = name
        number = 2
        while self._showing((table, scope, _other(table, text, record, number)), record):
            number += 1
        return _other(table, text, record, number)


def _where(table: str) -> str:
    column, scope = NAMED[table]
    return " AND ".join(f"{key} = ?" for key in (*scope, column))


def _aside(table: str, record: str) -> str:
    """Return a name that nothing else bears, until the record gets the one that it is shown by."""
    return record if table != "conductors" else _tag(record, 0)


def _other(table: str, name: str, record: str, number: int) -> str:
    """Return the name under which the second or a later bearer of a name is shown."""
    if table == "conductors":
        return _tag(record, number)
    ending = f" ({number})"
    return f"{name[: _MOST - len(ending)]}{ending}"


def _tag(record: str, number: int) -> str:
    digest = sha256(f"{record}/{number}".encode()).digest()
    body = "".join(ALPHABET[byte % len(ALPHABET)] for byte in digest[:BODY_LENGTH])
    return body + check_character(body)
