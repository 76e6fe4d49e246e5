# SPDX-License-Identifier: MIT
"""The union of logs: entries, in the order in which a copy learned them, made records.

Whatever the order, equal entries make equal records (`fold`). What an entry says of a record is
kept as operations beside the log, so that a record is made of those that are on it and no others.
What a load adds has none until somebody works on it. Nothing here ever asks, or refuses because
something is undecided: `undecided` says what is.
"""

from __future__ import annotations

import json
from collections import Counter
from operator import itemgetter
from typing import TYPE_CHECKING, Any

from wiretrack.store.fold import LISTS, Operation, text_of
from wiretrack.store.naming import NAMED, SAME, Names
from wiretrack.store.operations import SITE, Before, Operations
from wiretrack.store.removing import REMOVED, Removals
from wiretrack.store.rows import known, still_so, written
from wiretrack.store.same import ContradictionError, Same
from wiretrack.store.schema import NOTED_TABLES, RECORDS, columns_of, row_as_json

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence
    from sqlite3 import Connection

    from wiretrack.store.fold import Folded, Said
    from wiretrack.store.operations import Gathered, Owner

Row = dict[str, Any]
_PARTS: dict[str, list[str]] = {}
for _part, (_of, *_) in LISTS.items():
    _PARTS.setdefault(_of, []).append(_part)


class _Columns(dict[str, list[str]]):
    """The columns of the tables that the log tells of, each read when it is asked for."""

    def __init__(self, db: Connection) -> None:
        super().__init__()
        self._db = db

    def __missing__(self, table: str) -> list[str]:
        if table not in RECORDS:
            raise ContradictionError(f"there is no table {table}")
        self[table] = columns_of(self._db, table)
        return self[table]


class Union:
    """The records of a registry, or of an empty one in memory, as its log makes them."""

    def __init__(self, db: Connection, same: Same | None = None) -> None:
        self._db = db
        self._columns = _Columns(db)
        self._operations = Operations(db, self._columns, same)
        self._names = Names(db)
        self.added: Counter[str] = Counter()
        self.changed: Counter[str] = Counter()

    def learn(self, nr: int, said: Row, rows: Sequence[Row]) -> None:
        """Let the entry that `log` has as `nr` take effect; if that fails, roll back."""
        rows = list(still_so(self._db, rows)) if said.get("kind") == "rescue" else rows
        rows = list(self._operations.same.rows(rows))
        records = [row for row in rows if row["table"] in NOTED_TABLES]
        logs = [row for row in rows if row["table"] not in NOTED_TABLES]
        lines = list(self._lines(nr, said, records))
        touched = {row["id"] for row in records}.union(*map(self._operations.targets_of, rows))
        is_late = bool(self._operations.marked(touched))  # something of it may be gone
        self._db.execute(f"PRAGMA defer_foreign_keys = {is_late:d}")
        owners = self._note(nr, records, is_load=said.get("kind") == "load", before=Before(self))
        if is_late:
            self._add_to_logs(logs)
        self.settle(owners, touched)
        if not is_late:
            self._add_to_logs(logs)
        else:
            self._check_targets(rows)
        self._operations.same.check(self._db, logs)
        self._db.executemany(_ADD_LINE, lines)

    def wrote(self, nr: int, rows: Sequence[Row], gathered: Sequence[Gathered], kind: str) -> None:
        """Keep what this copy's own entry says, whose rows the tables have already."""
        records = [row for row in rows if row["table"] in NOTED_TABLES]
        before = Before(self, gathered, is_over=True)
        owners = self._note(nr, records, is_load=kind == "load", before=before)
        touched = {owner[1] for owner in owners}
        for table, _, _, *both in gathered:
            for each in both:
                touched |= self._operations.targets(table, json.loads(each or "{}"))
        sql = "SELECT 1 FROM undecided WHERE what > '' LIMIT 1"
        if owners and (self._db.execute(sql).fetchone() or self._operations.marked(touched)):
            for table, record, _, old, new in gathered:
                if table in NAMED and old and _named(table, old) != _named(table, new):
                    self._names.forget(table, record, json.loads(old))
            self._db.execute("UPDATE writing SET gathered = 0, noted = 0")
            self.settle(owners, touched)

    # What an entry says, as operations

    def _note(self, nr: int, rows: Sequence[Row], *, is_load: bool, before: Before) -> list[Owner]:
        """Keep what an entry says of records as operations; return which records.

        What a load adds that is new is no operation: it is put in its table.
        """
        removed = {(row["table"], row["id"]) for row in rows if "removed" in row}
        added = {(row["table"], row["id"]) for row in rows if "added" in row}
        fresh: dict[Owner, str | None] = {}  # under which id each came
        groups: dict[Owner, list[Row]] = {}
        for row in rows:
            owner = self._owner(row, before)
            parent = (LISTS[row["table"]][0], owner[1]) if row["table"] in LISTS else owner
            if "removed" in row and parent != owner and parent in removed:
                continue  # it goes with its record, and comes with it again
            is_fresh = is_load and "added" in row
            is_fresh &= parent in fresh or self._is_new(parent, before)
            if is_fresh and fresh.setdefault(parent, row.get("as")) == row.get("as"):
                if not before.is_over:
                    self._put(row["table"], {"id": row["id"], **row["added"]})
            else:
                groups.setdefault(owner, []).append(row)
        for owner, said in list(groups.items()):
            loaded = is_load and all("added" in row for row in said)
            loaded &= owner[0] not in LISTS or (LISTS[owner[0]][0], owner[1]) in added
            if loaded and self._says_that(owner, said, before):
                del groups[owner]
                continue
            self._keep_base(owner, before)
            if any("removed" in row for row in said):
                for part in _PARTS.get(owner[0], ()):
                    self._keep_base((part, owner[1]), before)
            mark = {"loaded": 1} if loaded else {}
            self._operations.keep(nr, owner, [row | mark for row in said])
        return list(groups)

    def _is_new(self, owner: Owner, before: Before) -> bool:
        is_known = owner == SITE or self._operations.exist(owner)
        return not is_known and not before.rows(owner)

    def _owner(self, row: Row, before: Before) -> Owner:
        table, record = row["table"], row["id"]
        if table == SITE[0]:
            return SITE
        if table not in LISTS:
            return table, record
        column = LISTS[table][1]
        for action in ("added", "removed"):
            if action in row:
                return table, row[action][column]
        sql = f"SELECT {column} FROM {table} WHERE id = ?"
        found = before.row(table, record) or self._db.execute(sql, [record]).fetchone()
        if found is None:
            found = self._operations.listed_once(table, record)
        if found is None:
            raise ContradictionError(f"{table} {record} was never there")
        return table, found[column] if isinstance(found, dict) else found[0]

    def _says_that(self, owner: Owner, said: Sequence[Row], before: Before) -> bool:
        """Return whether a load says of a record what is known of it already."""
        there = {row["id"]: row for row in before.rows(owner)}
        empty = dict.fromkeys(self._columns[owner[0]])
        told = {row["id"]: {**empty, **row["added"], "id": row["id"]} for row in said}
        return there == told

    def _keep_base(self, owner: Owner, before: Before) -> None:
        """Keep as operations what a record was by its load, before the first work on it."""
        if not self._operations.exist(owner):
            rows = sorted(before.rows(owner), key=itemgetter("id"))
            said = ({"id": row["id"], "added": known(row), "loaded": 1} for row in rows)
            self._operations.keep(None, owner, said)  # as a load said it

    # Records of operations

    def settle(self, owners: Iterable[Owner], touched: Iterable[str]) -> None:
        """Let records, and the lists that are theirs, be what their operations make them.

        Other records that are `touched` may have been retired or removed by who didn't know that.
        """
        found = {owner: self._operations.folded(owner) for owner in owners}
        ids = {*touched, *(owner[1] for owner in found)}
        for owner, folded in found.items():
            for row in (*folded.rows.values(), folded.row or {}, *self.rows(owner)):
                ids |= self._operations.targets(owner[0], row)
        removals = Removals(self._db, self._operations, ids, found)
        retired = (owner for owner in self._operations.marked(ids) if owner not in found)
        found |= {owner: self._operations.folded(owner) for owner in retired} | removals.folded
        due = sorted(found, key=lambda owner: NOTED_TABLES.index(owner[0]))
        for owner in due:  # which grows by the lists of what comes back
            folded = found.get(owner) or self._operations.folded(owner)
            if owner[0] in LISTS:
                self._write_list(owner, folded)
            elif owner not in removals.gone and self._write_record(owner, folded.row or {}):
                parts = [(part, owner[1]) for part in _PARTS.get(owner[0], ())]
                due += [part for part in parts if part not in found]
            self._write_open(owner, folded, removals.open.get(owner))
        for owner in sorted(removals.gone, key=due.index, reverse=True):
            self._remove(owner)
        self._names.settle()

    def _remove(self, owner: Owner) -> None:
        table, record = owner
        old = self._row(owner)
        if old is not None:
            for part in _PARTS.get(table, ()):
                self._db.execute(f"DELETE FROM {part} WHERE {LISTS[part][1]} = ?", [record])
            if table in NAMED:
                self._names.forget(table, record, old)
            self._db.execute(f"DELETE FROM {table} WHERE id = ?", [record])
            self.changed[table] += 1
        self._db.execute("DELETE FROM undecided WHERE what = ? AND record = ?", owner)

    def _write_record(self, owner: Owner, row: Row) -> bool:
        """Write a record as it is now; return whether it is new in its table."""
        table = owner[0]
        old = self._row(owner)
        row = {key: row.get(key) for key in self._columns[table]}
        if table in NAMED:
            row = self._names.to_write(table, row, old)
        if old is None:
            self._put(table, row)
        elif old != row:
            pairs = ", ".join(f'"{key}" = :{key}' for key in row)
            key = "one = 1" if owner == SITE else "id = :id"
            self._db.execute(f"UPDATE {table} SET {pairs} WHERE {key}", row)
            self.changed[table] += 1
        return old is None

    def _write_list(self, owner: Owner, folded: Folded) -> None:
        table, record = owner
        parent, column, _ = LISTS[table]
        if self._row((parent, record)) is None:
            return
        empty = dict.fromkeys(self._columns[table])
        wanted = {key: {**empty, **row} for key, row in folded.rows.items()}
        if not wanted and not self._operations.exist(owner):
            return
        there = {row["id"]: row for row in self.rows(owner)}
        if there == wanted:
            return
        self._db.execute(f"DELETE FROM {table} WHERE {column} = ?", [record])
        for row in wanted.values():
            self._insert(table, row)
        self.changed[parent] += 1

    def _write_open(self, owner: Owner, folded: Folded, removed: list[Said] | None) -> None:
        table, record = owner
        what, field = (LISTS[table][0], LISTS[table][2]) if table in LISTS else (table, None)
        self._db.execute(_FORGET_OPEN, [what, record, SAME, field, *_LIST_NAMES, field])
        for name, said in (folded.open | ({REMOVED: removed} if removed else {})).items():
            values: dict[str, list[list[Any]]] = {}
            shown: dict[str, Any] = {}
            for one in said:
                values.setdefault(one.text, []).append([one.by.writer.hex(), one.by.number])
                shown.setdefault(one.text, one.value)
            told = [{"value": shown[text], "entries": sorted(of)} for text, of in values.items()]
            self._db.execute(_ADD_OPEN, [what, record, name, text_of(told)])

    def _row(self, owner: Owner) -> Row | None:
        return next(iter(self.rows(owner)), None)

    def rows(self, owner: Owner) -> list[Row]:
        """Return the rows of a record, or of a list, as the tables have them."""
        table, record = owner
        names = ", ".join(f'"{name}"' for name in self._columns[table])
        column = LISTS[table][1] if table in LISTS else "id"
        where = "one = 1 OR ? = 0" if owner == SITE else f"{column} = ?"
        order = " ORDER BY position" if table in LISTS else ""
        found = self._db.execute(f"SELECT {names} FROM {table} WHERE {where}{order}", [record])
        return [dict(zip(self._columns[table], row, strict=True)) for row in found]

    def true_name(self, table: str, row: Row) -> Row:
        """Return a row with the name that its record has, whatever it is shown under."""
        if table not in NAMED:
            return row
        column = NAMED[table][0]
        return row | {column: self._names.true_name(table, row["id"], row[column])}

    def _put(self, table: str, row: Row) -> None:
        if table in NAMED:
            row = self._names.to_write(table, row, None)
        self._insert(table, row)
        self.added[table] += 1

    def _insert(self, table: str, row: Row) -> None:
        if not row.keys() <= set(self._columns[table]):
            strange = sorted(row.keys() - set(self._columns[table]))
            raise ContradictionError(f"{table} has no such column: {', '.join(strange)}")
        names, holes = ", ".join(f'"{key}"' for key in row), ", ".join("?" * len(row))
        self._db.execute(f"INSERT INTO {table} ({names}) VALUES ({holes})", [*row.values()])

    # Logs, and the history

    def _add_to_logs(self, rows: Iterable[Row]) -> None:
        for row in rows:
            self._add_to_log(row)

    def _check_targets(self, rows: Iterable[Row]) -> None:
        for row in rows:
            table, values = row["table"], written(row)
            for name, parent in self._operations.points.get(table, ()):
                both = [row["id"], values.get(name)]
                sql = f"SELECT 1 FROM {table} WHERE id = ? AND ? NOT IN (SELECT id FROM {parent})"
                if None not in (parent, both[1]) and self._db.execute(sql, both).fetchone():
                    raise ContradictionError(f"{table} {row['id']} points to nothing")

    def _add_to_log(self, row: Row) -> None:
        table, record = row["table"], row["id"]
        if "removed" in row:
            self._db.execute(f"DELETE FROM {table} WHERE id = ?", [record])
            return
        new = {**dict.fromkeys(self._columns[table]), **row["added"], "id": record}
        old = self._row((table, record))
        if old is None:
            self._insert(table, new)
            self.added[table] += 1
        elif old != new:
            raise ContradictionError(f"{table} {record} is there, and says something else")

    def _lines(self, nr: int, said: Row, rows: Sequence[Row]) -> Iterator[tuple[Any, ...]]:
        """Yield the lines of the history: each row as the entry's writer saw it."""
        writer, number, have = self._db.execute(_WRITER, [nr]).fetchone()
        entry = Operation(writer, number, have, "", "", {})
        seen: dict[tuple[str, str], Row | None] = {}
        for row in rows:
            if "change" not in row:
                continue
            table, record = row["table"], row["id"]
            pairs = row.get("changed", {})
            before = pairs.get("id", [record])[0]
            key = (table, before)
            if key not in seen and "added" not in row:
                seen[key] = self._seen_by(entry, row, before)
            old = new = None
            if "added" in row:
                new = {**dict.fromkeys(self._columns[table]), **row["added"], "id": record}
            else:
                old = {**(seen.get(key) or {}), "id": before, **row.get("shown", {})}
                old |= {name: pair[0] for name, pair in pairs.items()} | row.get("removed", {})
                if "changed" in row:
                    new = old | {name: pair[1] for name, pair in pairs.items()}
            seen[table, record] = new
            what = (new or old or {})["kind"] if table == "procedures" else table
            action = next(name for name in ("added", "changed", "removed") if name in row)
            yield (
                row["change"], said["id"], more_of(said), said["at"], said["by"], what, record,
                action, self._snapshot(table, old), self._snapshot(table, new),
            )  # fmt: skip

    def _seen_by(self, entry: Operation, row: Row, record: str) -> Row | None:
        owner = self._owner(row, Before(self))
        if not self._operations.exist(owner):
            found = {each["id"]: self.true_name(owner[0], each) for each in self.rows(owner)}
            return found.get(record)
        folded = self._operations.folded(owner, entry)
        return folded.rows.get(record) if owner[0] in LISTS else folded.row

    def _snapshot(self, table: str, row: Row | None) -> str | None:
        if row is None:
            return None
        values = {name: row.get(name) for name in self._columns[table]}
        sql = f"SELECT {row_as_json(self._db, table)}"
        return str(self._db.execute(sql, values).fetchone()[0])


def more_of(said: Row) -> str | None:
    """Return what else an entry says of its change, as the lines of the history have it."""
    if "more" not in said:
        return None
    return json.dumps(said["more"], ensure_ascii=False, separators=(",", ":"))


def _named(table: str, row: str | None) -> tuple[Any, ...] | None:
    column, scope = NAMED[table]
    found = json.loads(row) if row else None
    return found and tuple(found[key] for key in (*scope, column))


_WRITER = "SELECT writer, number, have FROM log WHERE nr = ?"
_LIST_NAMES = tuple(sorted(name for *_, name in LISTS.values()))
# Of a list its one field; of a record all but its lists' and its name.
_FORGET_OPEN = (
    "DELETE FROM undecided WHERE what = ? AND record = ? AND field <> ? AND iif(? IS NULL,"
    f" field NOT IN ({', '.join('?' * len(_LIST_NAMES))}), field = ?)"
)
_ADD_OPEN = "INSERT INTO undecided (what, record, field, said) VALUES (?, ?, ?, ?)"
_ADD_LINE = (
    "INSERT INTO changes (id, change, more, at, by, what, record, action, old, new)"
    " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"
)
