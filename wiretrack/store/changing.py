# SPDX-License-Identifier: MIT
"""What changes of the work write, and records that become others: every id stays.

What a change of the work writes is a part of a write that is under way where not said else. Of a
record that becomes another just the columns that differ are written; what it is made of (ends,
poles, the raceways of a pull) is compared row by row, and a part that it has no longer is removed.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from wiretrack.errors import BadInputError, NotFoundError
from wiretrack.late import dataclass
from wiretrack.store.fold import LISTS
from wiretrack.store.loading import Loading, add_coded, close_load, columns, load_rows
from wiretrack.store.rows import part_id
from wiretrack.store.writing import id_of, insert, merge_site, own, terminal_id

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping, Sequence

    from sqlite_utils import Database

    from wiretrack.model.entities import Raceway
    from wiretrack.model.source import SiteDocument
    from wiretrack.store.history import SourceFile
    from wiretrack.store.store import Registry


def set_base_address(registry: Registry, address: str | None, *, who: str | None = None) -> None:
    """Set the address that labels lead to, as a write of its own."""
    with registry.write(who) as db:
        db.execute("UPDATE site SET base_address = ?", [address])


def land_end(
    registry: Registry,
    tag: str,
    side: str,
    state: str | None,
    terminal: str | None = None,
    *,
    who: str | None = None,
) -> None:
    """Land an end on a terminal of its enclosure, cap it or set it loose, as a write of its own.

    A terminal that is new there is made.
    """
    with registry.write(who) as db:
        row = registry.row(
            "SELECT e.id, e.enclosure_id FROM ends AS e JOIN conductors AS c"
            " ON c.id = e.conductor_id WHERE c.tag = ? AND e.side = ?",
            [tag, side],
        )
        if row is None:
            raise NotFoundError("conductor", tag)
        terminal_id = _terminal(registry, row["enclosure_id"], terminal) if terminal else None
        db.execute(
            "UPDATE ends SET state = ?, terminal_id = ? WHERE id = ?",
            [state, terminal_id, row["id"]],
        )


def _terminal(registry: Registry, enclosure_id: str, code: str) -> str:
    found = registry.row(
        "SELECT id FROM terminals WHERE enclosure_id = ? AND code = ?", [enclosure_id, code]
    )
    if found:
        return str(found["id"])
    made = terminal_id(registry.db, enclosure_id, code)
    insert(registry.db, "terminals", [{"id": made, "enclosure_id": enclosure_id, "code": code}])
    return made


def retire_conductor(registry: Registry, tag: str, at: str | None, because: str | None) -> None:
    """Note that a conductor is no longer part of the work, or with `None` that it is again."""
    registry.db.execute(
        "UPDATE conductors SET retired_at = ?, retired_because = ? WHERE tag = ?",
        [at, because, tag],
    )


def retire_circuit(registry: Registry, code: str, at: str | None) -> None:
    """Note that a circuit is no longer part of the work, or with `None` that it is again."""
    sql = "UPDATE circuits SET retired_at = ?1 WHERE code = ?2 AND retired_at IS NOT ?1"
    registry.db.execute(sql, [at, code])


def divide_raceway(registry: Registry, code: str, first: Raceway, second: Raceway) -> list[str]:
    """Make two raceways of one: it becomes `first`, `second` is new; every pull goes through both.

    Return the codes of those pulls.
    """
    raceway_id = id_of(registry, "raceways", code)
    starts = first.from_enclosure
    paths = _paths_through(registry, raceway_id)
    registry.db.execute(
        "UPDATE raceways SET code = ?, to_enclosure_id = ?, length_m = ?, bends_deg = ?,"
        " walls_m = ? WHERE id = ?",
        [
            first.code, id_of(registry, "enclosures", first.to_enclosure), first.length_m,
            first.bends_deg, json.dumps(list(first.walls_m)), raceway_id,
        ],
    )  # fmt: skip
    add_coded(registry.db, "raceways", second)
    second_id = id_of(registry, "raceways", second.code)
    for pull_id, path in paths.items():
        boxes = visited([(one, other) for _, one, other in path])
        ids: list[str] = []
        for at, (each, *_) in enumerate(path):
            pair = [raceway_id, second_id]
            forwards = not boxes or boxes[at] == starts
            ids += (pair if forwards else pair[::-1]) if each == raceway_id else [each]
        _set_path(registry, pull_id, [each for each, *_ in path], ids)
    holes = ", ".join("?" * len(paths))
    rows = registry.rows(f"SELECT code FROM pulls WHERE id IN ({holes}) ORDER BY rowid", [*paths])
    return [row["code"] for row in rows]


def exchange_ends(
    registry: Registry, tags: tuple[str, str], box: str, at: str, *, marks: bool
) -> None:
    """Exchange the terminals and states (with `marks`, the end marks too) of two ends in a box."""
    sql = (
        "SELECT e.id, e.terminal_id, e.state, e.mark FROM ends AS e"
        " JOIN conductors AS c ON c.id = e.conductor_id JOIN enclosures AS b"
        " ON b.id = e.enclosure_id WHERE c.tag = ? AND b.code = ?"
    )
    one, other = (registry.rows(sql, [tag, box])[0] for tag in tags)
    for here, there in ((one, other), (other, one)):
        registry.db.execute(
            "UPDATE ends SET terminal_id = ?, state = ?, mark = ?, crossed_at = ? WHERE id = ?",
            [
                there["terminal_id"], there["state"], (there if marks else here)["mark"], at,
                here["id"],
            ],
        )  # fmt: skip


def visited(raceways: list[tuple[str, str]]) -> list[str]:
    """Return the boxes that raceways laid end to end visit; nothing if they don't follow.

    >>> visited([("A", "B"), ("C", "B")])
    ['A', 'B', 'C']
    """
    for start in raceways[0] if raceways else ():
        boxes = [start]
        for one, other in raceways:
            if boxes[-1] in (one, other):
                boxes.append(other if boxes[-1] == one else one)
        if len(boxes) == len(raceways) + 1:
            return boxes
    return []


def _paths_through(registry: Registry, raceway_id: str) -> dict[str, list[tuple[str, str, str]]]:
    """Return each pull that goes through a raceway: its raceways with the boxes they join."""
    rows = registry.rows(
        "SELECT x.pull_id, r.id, a.code AS one, b.code AS other FROM pull_raceways AS x"
        " JOIN raceways AS r ON r.id = x.raceway_id"
        " JOIN enclosures AS a ON a.id = r.from_enclosure_id"
        " JOIN enclosures AS b ON b.id = r.to_enclosure_id"
        " WHERE x.pull_id IN (SELECT pull_id FROM pull_raceways WHERE raceway_id = ?)"
        " ORDER BY x.pull_id, x.position",
        [raceway_id],
    )
    paths: dict[str, list[tuple[str, str, str]]] = {}
    for row in rows:
        paths.setdefault(row["pull_id"], []).append((row["id"], row["one"], row["other"]))
    return paths


def _set_path(registry: Registry, pull_id: str, before: list[str], now: list[str]) -> None:
    """Write the raceways of a pull, in order; there are no fewer than before."""
    for position, raceway_id in enumerate(now, 1):
        if position > len(before):
            row = {
                "id": part_id(pull_id, f"raceway:{position}"),
                "pull_id": pull_id,
                "position": position,
                "raceway_id": raceway_id,
            }
            insert(registry.db, "pull_raceways", [row])
        elif raceway_id != before[position - 1]:
            registry.db.execute(
                "UPDATE pull_raceways SET raceway_id = ? WHERE pull_id = ? AND position = ?",
                [raceway_id, pull_id, position],
            )


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
