# SPDX-License-Identifier: MIT
"""Records that become others: just the columns that differ are written, and every id stays.

What a record is made of (ends, poles, the raceways of a pull) is compared row by row; a part that
it has no longer is removed, and the history keeps it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wiretrack.errors import BadInputError
from wiretrack.late import dataclass
from wiretrack.store.fold import LISTS
from wiretrack.store.loading import Loading, close_load, columns, load_rows
from wiretrack.store.writing import insert, merge_site, own

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping, Sequence

    from sqlite_utils import Database

    from wiretrack.model.source import SiteDocument
    from wiretrack.store.history import SourceFile
    from wiretrack.store.store import Registry

Row = dict[str, Any]
_CODED = ("enclosures", "circuits", "instruments", "raceways", "pulls", "terminals", "devices")


@dataclass(frozen=True, kw_only=True)
class Change:
    """What is written as one change: records that are new, and by table those that become others.

    `file` is what they came from; without one each record has a line of its own in the history.
    `look` may refuse the change once it is made; `trial` takes it back then. `more` is kept beside.
    """

    added: SiteDocument
    changed: Sequence[tuple[str, Any]] = ()
    file: SourceFile | None = None
    look: Callable[[], None] | None = None
    trial: bool = False
    more: Mapping[str, str] | None = None


class _NothingWrittenError(Exception):
    """A change was tried, and is taken back."""


def apply(registry: Registry, change: Change, *, who: str | None = None) -> dict[str, Any]:
    """Write a change, all of it or nothing; return what of the site's own data is new."""
    new: dict[str, Any] = {}
    try:
        with registry.write(who, noted="changes" not in change.added.rest, more=change.more) as db:
            new = _written(registry, db, change, who)
            if change.trial:
                raise _NothingWrittenError
    except _NothingWrittenError:
        registry.commit.change = ""
    return new


def _written(registry: Registry, db: Database, change: Change, who: str | None) -> dict[str, Any]:
    _rename(db, change.changed)
    new = merge_site(db, change.added.site)
    lines: list[str] = []
    if change.file is None:
        Loading(db).add(change.added)
    else:
        lines = registry.commit.gathered_lines()
        noted = "changes" not in change.added.rest
        lines += load_rows(db, change.added, change.file, noted=noted)
    _Updating(db).update(change.changed)
    if change.look is not None:
        change.look()
    if change.file is not None:
        lines += registry.commit.gathered_lines()
        close_load(registry, change.added, change.file, lines)
    return new


def _rename(db: Database, changed: Iterable[tuple[str, Any]]) -> None:
    """Give records their new codes first, so that all else finds them by those."""
    waiting = [(table, record) for table, record in changed if table in _CODED]
    while waiting:
        left = [(table, record) for table, record in waiting if not _renamed(db, table, record)]
        if len(left) == len(waiting):
            table, record = left[0]
            noun = table.removesuffix("s")
            raise BadInputError(
                f"Another {noun} is called {record.code} until it has its new code."
                " Rename them one after the other."
            )
        waiting = left


def _renamed(db: Database, table: str, record: Any) -> bool:
    """Give a record its code and place, unless another one has those still."""
    place, keys = "", [record.code]
    if table in ("terminals", "devices"):
        box = db.execute("SELECT id FROM enclosures WHERE code = ?", [record.enclosure]).fetchone()
        if box is None:
            return True  # a new box: it is moved with all else
        place, keys = " AND enclosure_id = ?", [record.code, box[0]]
    sql = f"SELECT id FROM {table} WHERE code = ?{place}"
    found = db.execute(sql, keys).fetchone()
    if found is not None:
        return bool(found[0] == record.id)
    set_place = ", enclosure_id = ?" if place else ""
    db.execute(f"UPDATE {table} SET code = ?{set_place} WHERE id = ?", [*keys, record.id])
    return True


class _Updating(Loading):
    """Changes under way: what a load would insert is compared with the rows that are there."""

    def update(self, changed: Iterable[tuple[str, Any]]) -> None:
        """Write what becomes of records."""
        parents: dict[str, list[str]] = {table: [] for table in LISTS}
        for table, record in changed:
            if table == "site":
                self._write("site", [own(record)])
            elif table == "terminals":
                self._rows["terminals"].append(self._row("terminals", record))
            else:
                self.add_records(table, [record])
            for part, (of, *_) in LISTS.items():
                if of == table:
                    parents[part].append(record.id)
        for table, names in columns().items():
            rows = [dict(zip(names, row, strict=True)) for row in self._rows.pop(table, ())]
            self._remove(table, parents.get(table, []), rows)
            self._write(table, rows)

    def _remove(self, table: str, parents: Sequence[str], rows: Iterable[Row]) -> None:
        kept = {row["id"] for row in rows}
        for parent in parents:
            sql = f"SELECT id FROM {table} WHERE {LISTS[table][1]} = ?"
            for (part,) in self.db.execute(sql, [parent]).fetchall():
                if part not in kept:
                    self.db.execute(f"DELETE FROM {table} WHERE id = ?", [part])

    def _write(self, table: str, rows: Iterable[Mapping[str, Any]]) -> None:
        for row in rows:
            names = [name for name in row if name != "id"]
            columns = ", ".join(f'"{name}"' for name in names)
            sql = f"SELECT {columns} FROM {table} WHERE id = ?"
            there = self.db.execute(sql, [row["id"]]).fetchone()
            if there is None:
                insert(self.db, table, [row])
                continue
            differ = [name for name, value in zip(names, there, strict=True) if row[name] != value]
            if differ:
                pairs = ", ".join(f'"{name}" = :{name}' for name in differ)
                self.db.execute(f"UPDATE {table} SET {pairs} WHERE id = :id", dict(row))
