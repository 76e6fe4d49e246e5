# SPDX-License-Identifier: MIT
"""Records that came in twice, under ids of their own, and of which somebody said that they are one.

The smallest id stands for all of them: what the log's entries say of the others is read as said of
it. So the records follow from the entries and from what stands in `same_records`, in whatever order
both came; where that changes, all records are made again (`replay`).
"""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING, Any

from wiretrack.chain import said_in
from wiretrack.model.source import TABLE_OF
from wiretrack.store.fold import LISTS
from wiretrack.store.rows import part_id
from wiretrack.store.schema import LOG_TABLES, columns_of

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator
    from sqlite3 import Connection

Row = dict[str, Any]
Statement = tuple[str, str, str, str | None, str | None]  # what, two ids, their tags
TABLE = "same_records"
# What can be said to be the same: its word in the table, and the table that it is of.
TABLES = {"site": "site", **TABLE_OF}
_UUID = re.compile(r"[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}")
_QUOTED = re.compile(r'"([0-9A-Z]{7})"')
_TELLING_TAGS = ("settings", "result", "step", "answer")  # columns whose JSON names tags
STANDING = (
    f"SELECT what, record, other, tag, other_tag FROM {TABLE} AS s WHERE record NOT NULL"
    f" AND NOT EXISTS (SELECT 1 FROM {TABLE} AS t WHERE t.takes_back = s.id)"
)

_AMONG = (
    "WITH RECURSIVE reached (id) AS (SELECT value FROM json_each(?)"
    f" UNION SELECT s.other FROM reached CROSS JOIN {TABLE} AS s ON s.record = reached.id"
    f" UNION SELECT s.record FROM reached CROSS JOIN {TABLE} AS s ON s.other = reached.id)"
    " SELECT s.what, s.record, s.other, s.tag, s.other_tag"
    f" FROM reached CROSS JOIN {TABLE} AS s ON s.record = reached.id WHERE NOT EXISTS"
    f" (SELECT 1 FROM {TABLE} AS t WHERE t.takes_back = s.id)"
)


class ContradictionError(ValueError):
    """An entry says something that can't be true beside what is known."""


class Same:
    """Which id, and which tag, stands for which others.

    >>> one, two = ("0" * 8 + f"-0000-4000-8000-{n:012}" for n in (1, 2))
    >>> same = Same([("conductor", two, one, "BRN002A", "BRN001C")])
    >>> row = {"table": "readings", "id": "x", "added": {"conductor_id": two, "against": "BRN002A"}}
    >>> [(row["added"]["conductor_id"] == one, row["added"]["against"]) for row in same.rows([row])]
    [(True, 'BRN001C')]
    """

    def __init__(self, statements: Iterable[Statement] = ()) -> None:
        self.statements = frozenset(statements)
        self.ids: dict[str, str] = {}  # what stands for others, by their ids
        self.tags: dict[str, str] = {}
        self._called: dict[str, set[str]] = {}  # the tags under which a conductor came
        self._twice: dict[str, Row] = {}  # what came of a reading that another one stands for
        groups: dict[str, set[str]] = {}
        wires: set[str] = set()
        for what, one, other, tag, other_tag in self.statements:
            joined = {one, other} | groups.get(one, set()) | groups.get(other, set())
            groups |= dict.fromkeys(joined, joined)
            wires |= {one, other} if what == "conductor" else set()
            for each, called in ((one, tag), (other, other_tag)):
                if what == "conductor" and called:
                    self._called.setdefault(each, set()).add(called)
        for one, joined in groups.items():
            first = min(joined)
            if one != first:
                self.ids[one] = first
                ends = ("end:from", "end:to") if one in wires else ()
                self.ids |= {part_id(one, end): part_id(first, end) for end in ends}
            for called in self._called.get(one, ()):
                self.tags[called] = min(self._called.get(first, {called}))
        self._first = frozenset(self.ids.values())

    @classmethod
    def of(cls, db: Connection) -> Same:
        """Return what a registry says."""
        return cls(db.execute(STANDING))

    @classmethod
    def among(cls, db: Connection, texts: Iterable[str]) -> Same:
        """Return what a registry says of the ids that stand in these texts, and of no others."""
        ids = {found for text in texts for found in _UUID.findall(text)}
        return cls(db.execute(_AMONG, [json.dumps(sorted(ids))]))

    def stood_for(self, table: str, record: str, row: Row) -> list[str]:
        """Return the ids for which a record stands, or what a row of a list is of."""
        one = row[LISTS[table][1]] if table in LISTS else record
        return sorted(other for other, first in self.ids.items() if first == one)

    def all_of(self, ids: Collection[str]) -> set[str]:
        """Return ids with those that they stand for."""
        return {*ids, *(other for other, one in self.ids.items() if one in ids)} if ids else set()

    def rows(self, rows: Iterable[Row]) -> Iterator[Row]:
        """Yield an entry's rows as said of what stands for them; a reading that came twice once."""
        for row in rows:
            if not self.ids or row["table"] == TABLE:
                yield row
                continue
            new = json.loads(_UUID.sub(lambda m: self.ids.get(m[0], m[0]), json.dumps(row)))
            if "of" in row:
                new["of"] = row["of"]
            if (came := _owner(row)) != _owner(new):
                new["as"] = came
            new = self._with_tags(new)
            if new["id"] == row["id"] or row["table"] not in LOG_TABLES:
                yield new
            elif "added" in new:
                self._twice[row["id"]] = new["added"]

    def check(self, db: Connection, rows: Iterable[Row]) -> None:
        """Refuse what can't be the same of what an entry says, and is in the table by now.

        It can't join records of two kinds, sites that this log doesn't know, or readings that
        differ in more than who entered them.
        """
        said = [row for row in rows if row["table"] == TABLE and "record" in row["added"]]
        now = Same.of(db) if said else self
        for row in said:
            what, *both = (row["added"][key] for key in ("what", "record", "other"))
            ids = [self.ids.get(one, one) for one in both]
            if what == "site":
                heads = db.execute("SELECT body FROM log WHERE number = 1").fetchall()
                fits = {*both} <= {said_in(body).get("site") for (body,) in heads}
            elif what == "reading":
                first, second = (self._as_read(db, now, one) for one in both)
                fits = first is not None and first == second
            else:
                fits = not any(
                    db.execute(f"SELECT 1 FROM {table} WHERE id = ?", [one]).fetchone()
                    for one in ids
                    for table in {*TABLES.values()} - {TABLES.get(what)}
                )
            if not fits:
                raise ContradictionError(f"{what} {both[0]} and {both[1]} can't be the same")

    def _as_read(self, db: Connection, now: Same, reading: str) -> Row | None:
        """Return what a reading says, whoever entered it and under whatever id."""
        names = [name for name in columns_of(db, "readings") if name not in ("id", *_ENTERED)]
        columns = ", ".join(f'"{name}"' for name in names)
        sql = f"SELECT {columns} FROM readings WHERE id = ?"
        came = self._twice.get(reading)
        row = db.execute(sql, [self.ids.get(reading, reading)]).fetchone()
        values = map(came.get, names) if came else row
        told = {
            "table": "readings",
            "id": "",
            "added": dict(zip(names, values or (), strict=False)),
        }
        return next(now.rows([told])) if values else None

    def leads_to(self, tag: str) -> str | None:
        """Return the id of the conductor that a tag leads to beside the one that it has now."""
        found = (one for one, tags in self._called.items() if tag in tags)
        return next((self.ids.get(one, one) for one in found), None)

    def _with_tags(self, row: Row) -> Row:
        for action in {"added", "changed"} & row.keys():
            values = row[action]
            if "against" in values:
                values["against"] = self.tags.get(values["against"], values["against"])
            if row["table"] == "conductors" and row["id"] in self._first and "tag" in values:
                values["tag"] = self._as_one(values["tag"])
            for column in values.keys() & set(_TELLING_TAGS):
                values[column] = self._told(values[column])
        return row

    def _as_one(self, value: Any) -> Any:
        several = isinstance(value, list)
        return [self.tags.get(v, v) for v in value] if several else self.tags.get(value, value)

    def _told(self, value: Any) -> Any:
        if isinstance(value, list):
            return [self._told(each) for each in value]
        told = value if isinstance(value, str) else ""
        return _QUOTED.sub(lambda m: f'"{self.tags.get(m[1], m[1])}"', told) if told else value


def _owner(row: Row) -> str:
    column = LISTS[row["table"]][1] if row["table"] in LISTS else ""
    said = row.get("added") or row.get("removed") or {}
    return str(said.get(column, row["id"]))


_ENTERED = ("entered_at", "entered_by")
