# SPDX-License-Identifier: MIT
"""Taking changes back: new rows undo what they did to others, where nothing later rests on it.

What is later is found by the rows alone: a value that is another one by now, a row that points to
one that would go. Logs are never undone; a saying of one (a label is on, a note) is taken back by a
new saying, and one that was taken back is said again.
"""

from __future__ import annotations

import json
import sqlite3
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING

from wiretrack import days
from wiretrack.errors import Hint, NotFoundError
from wiretrack.late import cached_property
from wiretrack.model.tags import format_tag
from wiretrack.procedure import NOUNS, RINGOUT
from wiretrack.store import label_log, procedures
from wiretrack.store.changelog import changes
from wiretrack.store.fold import PARTS
from wiretrack.store.health import SEARCH, invariants
from wiretrack.store.rows import id_before, inverse, statement, written
from wiretrack.store.same import TABLE, Same
from wiretrack.store.schema import LOG_TABLES, NOTED_TABLES, RECORDS, columns_of, references
from wiretrack.store.writing import insert, new_id, packed

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from wiretrack.store.changelog import Change
    from wiretrack.store.rows import Row
    from wiretrack.store.store import Registry

Key = tuple[str, str]  # a table and an id
# Logs whose rows can be taken back by a later row, and the table and columns of that.
SAYINGS = {
    "placed_labels": ("placed_labels", ("conductor_id", "side")),
    "notes": ("notes", ("what", "record")),
    "attachments": ("notes", ("what", "record")),
    TABLE: (TABLE, ("what",)),
}
_SAY = {"text", "sha256", "print_id", "legend", "other"}  # the columns of a row that says something
_NOUNS = {
    "readings": "a reading", "label_prints": "a printed label", "placed_labels": "a label",
    "procedures": "guided work", "procedure_answers": "an answer", "notes": "a note",
    "attachments": "a file", TABLE: "the sameness",
}  # fmt: skip
_OF = {
    "conductor_id": "conductors", "device_id": "devices", "circuit_id": "circuits",
    "pull_id": "pulls", "procedure_id": "procedures",
}  # fmt: skip


@dataclass(frozen=True)
class Resting:
    """Later work that rests on what would be taken back: what it is, and the change that made it.

    `change` is None where another program wrote it; `stays` says that it is never taken back.
    """

    what: str
    change: str | None = None
    stays: bool = False


def never_undone(change: Change) -> Row | None:
    """Return the first row of a change that is of a log for good, or of guided work."""
    kept = {*LOG_TABLES, "procedures"} - {*SAYINGS}
    return next((row for row in change.rows if row["table"] in kept), None)


def instead(registry: Registry, row: Row) -> Hint:
    """Return what works now where such a row stays; without a job, nothing does."""
    if row["table"] == "readings":
        if registry.row("SELECT 1 FROM readings WHERE supersedes = ?", [row["id"]]):
            return Hint("A later reading supersedes it.")
        read = (_code_of(registry, row["added"]), row["added"]["kind"], row["id"][:8])
        return Hint("Supersede it:", job="supersede", about="\n".join(read))
    if row["table"] == "label_prints":
        tag, side = _code_of(registry, row["added"]), row["added"]["side"]
        known = label_log.labels(registry, [tag.replace("-", "")])
        if any(end.placed_ids for (_, each), end in known.items() if each == side):
            return Hint("If it isn't on its wire:", job="take-off", about=tag)
        return Hint("It counts once it is placed.")
    record = row.get("added", {}).get("procedure_id", row["id"])
    procedure = procedures.the_latest(registry, record)
    if procedure is None:
        return Hint("A later one was begun.")
    if not procedure.answers:
        return Hint("It has no answers to take back.")
    job = "undo-work" if procedure.kind == RINGOUT else "undo-search"
    about = procedure.pull or procedure.circuit
    return Hint("Take its last answer back:", job=job, about=about)


def _code_of(registry: Registry, row: Row) -> str:
    """Return the tag or code of what a row of a log is of."""
    column = next(column for column in _OF if row.get(column))
    return name_of(registry, _OF[column], row[column]).partition(" ")[2]


def take_back(registry: Registry, undone: Sequence[Change], who: str | None) -> list[Resting]:
    """Take changes back, the newest first, in the write under way; return what rests on them.

    Where anything does, they are not all taken back: the caller ends the write.
    """
    return _Undoing(registry, undone, who).run()


def name_of(
    registry: Registry, table: str, record: str, gone: Mapping[Key, Row] = MappingProxyType({})
) -> str:
    """Return what people call a row: its record, or what it is of; `gone` are rows that were."""
    there = (
        registry.row(f"SELECT * FROM {table} WHERE id = ?", [record]) if table in RECORDS else {}
    )
    row = there or gone.get((table, record)) or {}
    noun = _NOUNS.get(table, table.removesuffix("s"))
    parents = dict([PARTS[table][::-1]]) if table in PARTS else _OF
    of = next(((parents[c], row[c]) for c in parents if row.get(c)), None)
    if table in PARTS and of:
        return name_of(registry, of[0], str(of[1]), gone)
    if not row or table == "site":
        return f"the {noun}"
    if table in _NOUNS:
        of = of or (f"{row.get('what')}s", str(row.get("record")))
        name = name_of(registry, of[0], str(of[1]), gone)
        if table == "procedures":
            noun, name = NOUNS[row["kind"]].lower(), name.partition(" ")[2]
        return f"{noun} of {name}"
    if "tag" in row:
        return f"{noun} {format_tag(row['tag'])}"
    sql = "SELECT code FROM enclosures WHERE id = ?"
    box = registry.row(sql, [row["enclosure_id"]]) if "enclosure_id" in row else None
    box = box or gone.get(("enclosures", row.get("enclosure_id", "")))
    return f"{noun} {box['code']}/{row['code']}" if box else f"{noun} {row['code']}"


class _Undoing:
    """Changes being taken back."""

    def __init__(self, registry: Registry, undone: Sequence[Change], who: str | None) -> None:
        self._registry, self._db, self._who = registry, registry.connection, who
        self._undone = undone
        self._ids = {change.id for change in undone}
        self._columns = {table: columns_of(self._db, table) for table in RECORDS}
        self._gone: dict[Key, Row] = {}
        self._same = Same.of(self._db)

    def run(self) -> list[Resting]:
        """Take them back; return what rests on them."""
        resting = [*self._differing()]
        if resting:
            return resting
        broken = {str(problem) for problem in invariants(self._registry)}
        self._db.execute("PRAGMA defer_foreign_keys = ON")
        for change in self._undone:
            for row in reversed(change.rows):
                resting += self._undo(row)
            self._note_file(change)
        resting += self._needing()
        resting += self._lacking()
        if not resting:
            now = (problem for problem in invariants(self._registry) if str(problem) not in broken)
            new = (problem.what for problem in now if problem.where != SEARCH)
            resting += [Resting(f"then {what}", stays=True) for what in new]
        return resting

    def _differing(self) -> Iterator[Resting]:
        """Yield what was changed later than these changes left it."""
        for (table, record), after in self._left().items():
            sql = f"SELECT * FROM {table} WHERE id = ?"
            now = self._registry.row(sql, [record])
            columns: list[str] | None
            if now is None or after is None:
                columns = None if (now is None) != (after is None) else []
            else:
                columns = [name for name, value in after.items() if now[name] != value]
            if columns is None or columns:
                name = name_of(self._registry, table, record)
                later = self._later(record, columns) or [None]
                yield from (Resting(_of_columns(name, columns), change) for change in later)

    def _left(self) -> dict[Key, Row | None]:
        """Return how these changes left each row: the columns that they wrote; None if removed."""
        left: dict[Key, Row | None] = {}
        for change in reversed(self._undone):
            for row in change.rows:
                table = row["table"]
                if table not in NOTED_TABLES:
                    continue
                before = left.pop((table, id_before(row)), None) or {}
                if "added" in row:
                    left[table, row["id"]] = dict.fromkeys(self._columns[table]) | {
                        "id": row["id"], **row["added"]
                    }  # fmt: skip
                elif "changed" in row:
                    new = {name: pair[1] for name, pair in row["changed"].items()}
                    left[table, row["id"]] = before | new
                else:
                    left[table, row["id"]] = None
        return left

    def _later(self, record: str, columns: list[str] | None) -> list[str | None]:
        """Return the changes that stand and wrote these columns of a record, newest first."""
        rows = self._registry.rows(
            "SELECT change, old, new, more FROM changes WHERE record = ? AND seq >"
            " (SELECT coalesce(max(seq), 0) FROM changes WHERE change = ?) ORDER BY seq DESC",
            [record, self._undone[-1].id],
        )
        found: dict[str | None, set[str]] = {}  # what each takes back
        for row in rows:
            old, new = (json.loads(row[key] or "{}") for key in ("old", "new"))
            if not columns or any(old.get(name) != new.get(name) for name in columns):
                more = json.loads(row["more"] or "{}")
                found[row["change"]] = {more.get("undoes"), *more.get("along", ())} - {None}
        for change, undone in [*found.items()]:  # a change and what took it back are as nothing
            if change in found and undone & found.keys():
                for each in (change, *undone):
                    found.pop(each, None)
        return [change for change in found if change not in self._ids]

    def _undo(self, row: Row) -> Iterator[Resting]:
        table = row["table"]
        if table in SAYINGS:
            yield from self._unsay(row)
        elif table in NOTED_TABLES:
            turned = inverse(row)
            if "removed" in turned:
                self._gone[table, row["id"]] = turned["removed"]
            taken = self._name_taken(turned)
            if taken is not None:
                yield taken
            elif turned.get("changed") != {}:
                try:
                    self._db.execute(*statement(turned, self._columns[table]))
                except sqlite3.IntegrityError as error:
                    name = name_of(self._registry, table, row["id"])
                    yield Resting(f"{name}: {error}", stays=True)

    def _name_taken(self, row: Row) -> Resting | None:
        """Return the record that has the code which another one would get back, if there is one."""
        table = row["table"]
        told = written(row)
        name = "tag" if table == "conductors" else "code"
        if name not in told or table == "site":
            return None
        sql = f"SELECT id FROM {table} WHERE {name} = ? AND id <> ?"
        values = [told[name], row["id"]]
        if "enclosure_id" in self._columns[table]:
            own = self._registry.row(f"SELECT enclosure_id FROM {table} WHERE id = ?", [row["id"]])
            sql += " AND enclosure_id = ?"
            values.append(told.get("enclosure_id") or (own or {}).get("enclosure_id"))
        other = self._registry.row(sql, values)
        if other is None:
            return None
        return self._rests(table, other["id"], name)

    def _rests(self, table: str, record: str, column: str | None = None) -> Resting:
        """Return that a row rests on what is taken back; `column` is the one that says so."""
        what = name_of(self._registry, table, record, self._gone)
        if table in LOG_TABLES or table == "procedures":
            return Resting(f"{what} stays for good", stays=True)
        later = self._later(record, [column] if column else None)
        return Resting(what, later[0] if later else self._added_by(record))

    def _added_by(self, record: str) -> str | None:
        for change in changes(self._registry):
            if change.file and any(row["id"] == record for row in change.rows):
                return change.id
        return None

    def _unsay(self, row: Row) -> Iterator[Resting]:
        """Take back what a log's row says; say again what it took back."""
        table, said = row["table"], {"id": row["id"], **row["added"]}
        into, columns = SAYINGS[table]
        new: list[tuple[str, Row]] = []
        if said.get("takes_back"):
            new.append(self._said(into, said["takes_back"]))
        if said.keys() & _SAY:
            sql = f"SELECT 1 FROM {into} WHERE takes_back = ?"
            if self._registry.row(sql, [said["id"]]):
                what = name_of(self._registry, table, row["id"])
                yield Resting(f"{what} is taken back already", stays=True)
                return
            if not new or new[0][0] != into:
                new.append((into, {column: said[column] for column in columns}))
            new[0 if new[0][0] == into else -1][1]["takes_back"] = said["id"]
        for each, kept in new:
            kept |= {"id": new_id(), "at": days.utc_now(), "by": self._who}
            insert(self._registry.db, each, [kept])

    def _said(self, into: str, record: str) -> tuple[str, Row]:
        """Return what was said by a row that was taken back, and its table."""
        for table in (each for each, (other, _) in SAYINGS.items() if other == into):
            row = self._registry.row(f"SELECT * FROM {table} WHERE id = ?", [record])
            if row:
                left_out = ("nr", "takes_back")
                return table, {key: row[key] for key in row if key not in left_out}
        raise NotFoundError("note or label", record)

    def _note_file(self, change: Change) -> None:
        """Write the line of a load that is taken back, or made again."""
        if change.file is None:
            return
        action = "removed" if change.file.action == "loaded" else "loaded"
        counts = change.file.counts if action == "removed" else {}  # each row has its own line now
        said = packed({"name": change.file.name, "added": counts})
        self._db.execute("UPDATE writing SET noted = 0")
        self._db.execute(
            "INSERT INTO changes (id, change, more, at, by, what, record, action, old, new)"
            " SELECT ?, w.change, w.more, w.at, w.who, 'file', c.record, ?, ?, ?"
            " FROM changes AS c, writing AS w WHERE c.change = ? AND c.what = 'file' LIMIT 1",
            [
                new_id(), action, said if action == "removed" else None,
                said if action == "loaded" else None, change.id,
            ],
        )  # fmt: skip
        self._db.execute("UPDATE writing SET noted = 1")

    def _needing(self) -> Iterator[Resting]:
        """Yield the rows that point to one that is gone now."""
        for table, record in self._gone:
            if self._registry.row(f"SELECT 1 FROM {table} WHERE id = ?", [record]):
                continue
            for other, column in self._pointers.get(table, ()):
                sql = f"SELECT id FROM {other} WHERE {column} = ?"
                for row in self._registry.rows(sql, [record]):
                    yield self._rests(other, row["id"], column)
            for other in ("notes", "attachments"):
                sql = f"SELECT id FROM {other} WHERE record = ?"
                for row in self._registry.rows(sql, [record]):
                    yield self._rests(other, row["id"])
            if record in self._same.ids.values():
                what = name_of(self._registry, table, record, self._gone)
                yield Resting(f"that {what} is the same as another one", stays=True)

    def _lacking(self) -> Iterator[Resting]:
        """Yield the rows that are there again, or as before, and point to one that is gone."""
        for change in self._undone:
            for row in map(inverse, change.rows):
                told = written(row)
                for parent, pairs in self._pointers.items():
                    for column in (c for t, c in pairs if t == row["table"] and told.get(c)):
                        sql = f"SELECT 1 FROM {parent} WHERE id = ?"
                        if not self._registry.row(sql, [told[column]]):
                            later = self._later(told[column], None)
                            name = name_of(self._registry, row["table"], row["id"])
                            yield Resting(name, later[0] if later else None)

    @cached_property
    def _pointers(self) -> dict[str, list[Key]]:
        found: dict[str, list[Key]] = {}
        for table in self._columns:
            for column, to in references(self._db, table).items():
                if to in NOTED_TABLES:
                    found.setdefault(to, []).append((table, column))
        return found


def _of_columns(name: str, columns: Iterable[str] | None) -> str:
    words = [column.removesuffix("_id").replace("_", " ") for column in columns or ()]
    return f"{name} ({', '.join(words)})" if words else name
