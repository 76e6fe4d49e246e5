# SPDX-License-Identifier: MIT
"""What copies said apart and nobody decided since: in words, and how it is decided.

A decision is a write like any other: its entry knows all that was said, so it holds in every copy.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from wiretrack.chain import said_in
from wiretrack.errors import BadInputError
from wiretrack.late import dataclass
from wiretrack.model.fields import Kind
from wiretrack.model.source import fact_of
from wiretrack.model.tags import format_tag
from wiretrack.procedure import NOUNS
from wiretrack.store.fold import LISTS, units
from wiretrack.store.naming import NAMED, SAME
from wiretrack.store.operations import REMOVES, Operations
from wiretrack.store.removing import REMOVED
from wiretrack.store.schema import LISTED, NOTED_TABLES, columns_of, references

if TYPE_CHECKING:
    from wiretrack.store.operations import Owner
    from wiretrack.store.store import Registry

Row = dict[str, Any]


@dataclass(frozen=True)
class Saying:
    """One of the values that were said, in words, and who entered it when."""

    value: str
    by: str | None = None
    at: str | None = None


@dataclass(frozen=True)
class Undecided:
    """A field that copies said different things of; the record shows the first of `values`.

    Where it is a name that two records bear, `values` is that name, under which the other one is.
    """

    key: str
    values: tuple[Saying, ...]
    table: str
    record: str
    field: str

    @property
    def told(self) -> str:
        """What is undecided, in words: the field, and its values."""
        if self.field == SAME:
            return f"another one is called {self.values[0].value} too"
        if self.field == REMOVED:
            return " and ".join(f"{said.value} by {said.by or 'somebody'}" for said in self.values)
        return f"{self.field.replace('_', ' ')}: {' or '.join(said.value for said in self.values)}"

    @property
    def matters(self) -> bool:
        """Whether a verdict can rest on it."""
        return self.field not in _BESIDE

    def as_json(self) -> dict[str, object]:
        """Return it as scripts read it."""
        return {"key": self.key, "values": self.values}


def undecided(registry: Registry, records: list[str] | None = None) -> list[Undecided]:
    """Return what is undecided, of all records or of those with these ids, by its key."""
    where = f" WHERE record IN {LISTED}" if records is not None else ""
    asked = [] if records is None else [json.dumps(records)]
    rows = registry.rows(f"SELECT * FROM undecided{where}", asked)
    found = (_worded(registry, row) for row in rows)
    return sorted(found, key=lambda each: each.key)


def resting(registry: Registry) -> dict[str, list[Undecided]]:
    """Return what is undecided by what rests on it: tags, codes of circuits, ``BOX/DEVICE``."""
    found: dict[str, list[Undecided]] = {}
    if registry.some_undecided():
        for each in undecided(registry):
            sql = _RESTING.get(each.table)
            for row in registry.rows(sql, {"id": each.record}) if sql else ():
                found.setdefault(row["subject"], []).append(each)
    return found


_RESTING = {
    "conductors": "SELECT tag AS subject FROM conductors WHERE id = :id",
    "ends": "SELECT c.tag AS subject FROM ends AS e JOIN conductors AS c ON c.id = e.conductor_id"
    " WHERE e.id = :id",
    "circuits": "SELECT code AS subject FROM circuits WHERE id = :id UNION SELECT c.tag"
    " FROM conductor_circuits AS s JOIN conductors AS c ON c.id = s.conductor_id"
    " WHERE s.circuit_id = :id",
    "pulls": "SELECT tag AS subject FROM conductors WHERE pull_id = :id",
    "raceways": "SELECT c.tag AS subject FROM pull_raceways AS w JOIN conductors AS c"
    " ON c.pull_id = w.pull_id WHERE w.raceway_id = :id",
    "devices": "SELECT e.code || '/' || d.code AS subject FROM devices AS d JOIN enclosures AS e"
    " ON e.id = d.enclosure_id WHERE d.id = :id",
}
# Fields that no verdict rests on.
_BESIDE = frozenset(
    ("note", "colour", "core", "mark", "reidentified", "title", "name", "where", SAME)
)


def decide(registry: Registry, key: str, answer: str, *, who: str | None = None) -> str:
    """Let one of the values hold, by its number; of two of one name the new name of this record.

    Return the id of the change. `BadInputError` if nothing of that key is undecided, or it has no
    such value.
    """
    every = undecided(registry)
    found = next((each for each in every if each.key.casefold() == key.casefold()), None)
    if found is None:
        keys = ", ".join(each.key for each in every[:6])
        left = f"That is: {keys}" if keys else "Nothing is"
        raise BadInputError(f"'{key}' is not undecided. {left}.")
    if found.field != SAME and not (answer.isdecimal() and 0 < int(answer) <= len(found.values)):
        raise BadInputError(
            f"'{answer}' is none of the values of {found.key}.",
            f"Give the number of one, 1 to {len(found.values)}.",
        )
    with registry.write(who) as db:
        if found.field == SAME:
            column = NAMED[found.table][0]
            sql = f"UPDATE {found.table} SET {column} = ? WHERE id = ?"
            db.execute(sql, [answer, found.record])
        else:
            (row,) = registry.rows(
                "SELECT said FROM undecided WHERE what = ? AND record = ? AND field = ?",
                [found.table, found.record, found.field],
            )
            said = json.loads(row["said"])
            value = said[int(answer) - 1]["value"]
            if found.field == REMOVED:
                _keep_or_remove(registry, said, gone=value)
            else:
                _write(registry, found, value)
    return registry.commit.change


def _write(registry: Registry, found: Undecided, value: Any) -> None:
    table, record = found.table, found.record
    listed = _list_called(table, found.field)
    if listed:
        column = LISTS[listed][1]
        registry.db.execute(f"DELETE FROM {listed} WHERE {column} = ?", [record])
        for row in value.values():
            names, holes = ", ".join(row), ", ".join("?" * len(row))
            sql = f"INSERT INTO {listed} ({names}) VALUES ({holes})"
            registry.db.execute(sql, [*row.values()])
        if not value:
            registry.commit.say({"table": listed, "id": record, REMOVED: {column: record}})
    else:
        columns = units(table, columns_of(registry.connection, table))[found.field]
        registry.commit.say_all_of(record, columns)
        pairs = ", ".join(f'"{column}" = ?' for column in columns)
        key = "one = 1 OR id = ?" if table == "site" else "id = ?"
        registry.db.execute(f"UPDATE {table} SET {pairs} WHERE {key}", [*value, record])


def _keep_or_remove(registry: Registry, said: list[Row], *, gone: bool) -> None:
    """Say of all that was removed with a record that it stays, or remove it all again."""
    db, entries = (
        registry.db,
        [entry for each in said if each["value"] for entry in each["entries"]],
    )
    found: set[Owner] = set()
    for writer, number in entries:
        found |= set(registry.connection.execute(_REMOVED, [bytes.fromhex(writer), number]))
    if gone:
        _refuse_if_needed(registry, found)
        db.execute("PRAGMA defer_foreign_keys = ON")
    for table, record in sorted(found, key=lambda each: (-NOTED_TABLES.index(each[0]), each[1])):
        if not gone:
            db.execute(f"UPDATE {table} SET id = id WHERE id = ?", [record])
            continue
        for part, (of, column, _) in LISTS.items():
            if of == table:
                db.execute(f"DELETE FROM {part} WHERE {column} = ?", [record])
        db.execute(f"DELETE FROM {table} WHERE id = ?", [record])


def _refuse_if_needed(registry: Registry, removed: set[Owner]) -> None:
    """Refuse to remove what a record that stays points to."""
    for table, record in sorted(removed):
        for other, columns in Operations(registry.connection, {}).points.items():
            of, key, _ = LISTS.get(other, (other, "id", ""))
            for column in (name for name, parent in columns if parent in (table, None)):
                sql = f"SELECT id, {key} AS owner FROM {other} WHERE {column} = ?"
                for row in registry.rows(sql, [record]):
                    if (of, row["owner"]) not in removed:
                        name = (
                            f"{_noun(registry, table, record)} {name_of(registry, table, record)}"
                        )
                        raise BadInputError(
                            f"{name} stays: it has {other.replace('_', ' ')}.",
                            "Decide that it was worked on. What left the work is retired.",
                        )


_REMOVED = (
    "SELECT o.what, o.record FROM operations AS o JOIN log AS l ON l.nr = o.entry"
    f" WHERE l.writer = ? AND l.number = ? AND {REMOVES} AND o.what NOT IN"
    f" ({', '.join(repr(part) for part in LISTS)})"
)


def _list_called(table: str, field: str) -> str | None:
    of = (name for name, (parent, _, called) in LISTS.items() if (parent, called) == (table, field))
    return next(of, None)


def _worded(registry: Registry, row: Row) -> Undecided:
    table, record, field = row["what"], row["record"], row["field"]
    key = f"{_noun(registry, table, record)}/{name_of(registry, table, record)}/{field}"
    said = json.loads(row["said"])
    if field == SAME:
        name = format_tag(said["name"]) if table == "conductors" else said["name"]
        return Undecided(key, (Saying(name),), table, record, field)
    values = tuple(
        Saying(_told(registry, table, field, each["value"]), *_entered(registry, each["entries"]))
        for each in said
    )
    return Undecided(key, values, table, record, field)


def _entered(registry: Registry, entries: list[tuple[str, int]]) -> tuple[str | None, str | None]:
    found = []
    for writer, number in entries:
        sql = "SELECT body FROM log WHERE writer = ? AND number = ?"
        row = registry.row(sql, [bytes.fromhex(writer), number])
        said = said_in(row["body"]) if row else {}
        found.append((said.get("at"), said.get("by")))
    at, by = min(found, key=lambda each: each[0] or "", default=(None, None))
    return by, at


def _told(registry: Registry, table: str, field: str, value: Any) -> str:
    listed = _list_called(table, field)
    if field == REMOVED:
        return "removed" if value else "worked on"
    if listed:
        of = LISTS[listed][1]
        rows = sorted(value.values(), key=lambda row: row["position"])
        skipped = ("id", "position", of)
        words = (
            " ".join(
                _word(registry, listed, k, v) for k, v in row.items() if k not in skipped and v
            )
            for row in rows
        )
        return ", ".join(words) or "none"
    columns = units(table, columns_of(registry.connection, table))[field]
    words = (
        _word(registry, table, column, each)
        for column, each in zip(columns, value, strict=True)
        if each is not None
    )
    return " ".join(words) or ("in use" if field == "retired" else "not known")


def _word(registry: Registry, table: str, column: str, value: Any) -> str:
    if value is None:
        return "–"
    to = references(registry.connection, table).get(column)
    if to is not None:
        name = name_of(registry, to, value)
        return name.rpartition("/")[2] if to == "terminals" else name
    fact = fact_of(table, column)
    return (fact.kind if fact else Kind("")).told(value)


def _noun(registry: Registry, table: str, record: str) -> str:
    if table == "procedures":
        row = registry.row("SELECT kind FROM procedures WHERE id = ?", [record])
        return NOUNS[row["kind"]].replace(" ", "-") if row else table
    return table.removesuffix("s").replace("_", "-")


def name_of(registry: Registry, table: str, record: str) -> str:
    """Return what people call a record; its id where it has no name."""
    sql = _NAMES.get(table, "SELECT NULL")
    row = registry.rows(f"SELECT ({sql}) AS name", {"id": record} if ":id" in sql else {})
    name = str(row[0]["name"] or record)
    if table in ("conductors", "ends"):
        return f"{name[:3]}-{name[3:]}" if row[0]["name"] else name
    return name


_NAMES = {
    **{
        t: f"SELECT {column} FROM {t} WHERE id = :id" for t, (column, of) in NAMED.items() if not of
    },
    **{
        t: f"SELECT e.code || '/' || t.code FROM {t} AS t JOIN enclosures AS e"
        " ON e.id = t.enclosure_id WHERE t.id = :id"
        for t, (_, of) in NAMED.items()
        if of
    },
    "site": "SELECT coalesce(code, name) FROM site",
    "ends": "SELECT c.tag || '/' || e.side FROM ends AS e JOIN conductors AS c"
    " ON c.id = e.conductor_id WHERE e.id = :id",
    "procedures": "SELECT coalesce(p.code, k.code) || '/' || g.at FROM procedures AS g"
    " LEFT JOIN pulls AS p ON p.id = g.pull_id LEFT JOIN circuits AS k ON k.id = g.circuit_id"
    " WHERE g.id = :id",
}
