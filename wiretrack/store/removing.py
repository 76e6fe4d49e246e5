# SPDX-License-Identifier: MIT
"""Which removals hold: each entry's as a whole, or not at all.

They are void, all of them, where somebody who didn't know the entry worked on a record that it
removes, or where a record that is there points to one. The records then stay, and are undecided
until an entry that knows both says more of them.
"""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

from wiretrack.store.fold import LISTS, Operation, Said
from wiretrack.store.operations import parts_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from sqlite3 import Connection

    from wiretrack.store.fold import Folded
    from wiretrack.store.operations import Operations, Owner

By = tuple[bytes, int]  # an entry: its writer and number
REMOVED = "removed"  # the field of `undecided` that has such records
_SOMEBODY = Operation(b"", 0, None, "worked", "", {})


class Removals:
    """The removals that some records are touched by, and what these hang together with.

    `folded` is what the records say that they remove; `gone` are those that are no more, and `open`
    has what is said of the others. `now` are records that the tables don't have yet as they are.
    """

    def __init__(
        self, db: Connection, operations: Operations, ids: Iterable[str],
        now: Mapping[Owner, Folded],
    ) -> None:  # fmt: skip
        self._db, self._operations, self._now = db, operations, now
        self.folded: dict[Owner, Folded] = {}
        self._removed: dict[By, list[Owner]] = {}
        self._worked: dict[By, dict[Owner, list[Operation]]] = {}
        self._pointing: defaultdict[str, set[Owner]] = defaultdict(set)
        self._gather(set(ids))
        self._void = {by for by, worked in self._worked.items() if worked}
        self.gone = self._all_gone()
        while needed := {by for by in self._removed if by not in self._void and self._needs(by)}:
            self._void |= needed
            self.gone = self._all_gone()
        found = ((owner, self._said(owner)) for owner in self.folded.keys() - self.gone)
        self.open = {owner: said for owner, said in found if said}

    def _gather(self, ids: set[str]) -> None:
        while ids:
            marked, ids = self._operations.marked(ids), set()
            for one, owners in self._operations.removals(marked):
                by = (one.writer, one.number)
                if by not in self._removed:
                    self._removed[by] = owners
                    self._worked[by] = self._work_apart(one, owners)
                    ids.update(*map(self._add, owners))

    def _add(self, owner: Owner) -> set[str]:
        """Fold a record that is removed; return its id, and what it and its lists point to."""
        if owner in self.folded:
            return set()
        self.folded[owner] = self._operations.folded(owner)
        rows = [(owner[0], self.folded[owner].row or {})]
        for part in (part for part, (of, *_) in LISTS.items() if of == owner[0]):
            listed = self._operations.folded((part, owner[1])).rows
            rows += [(part, row) for row in listed.values()]
        found = set[str]().union(*(self._operations.targets(*row) for row in rows))
        for each in found:
            self._pointing[each].add(owner)
        return found | {owner[1]}

    def _work_apart(self, one: Operation, owners: list[Owner]) -> dict[Owner, list[Operation]]:
        """Return the work of others on records that an entry removes; on its ends is on a wire."""
        named = {owner[1]: owner for owner in owners}
        named |= {part: owner for owner in owners for part in parts_of(owner)[1:]}
        found: dict[Owner, list[Operation]] = {}
        for _, work, rows in self._operations.apart(one, named):
            ids = {
                each
                for row in rows
                if REMOVED not in row
                for each in (row["id"], *self._operations.targets_of(row))
            }
            for owner in {named[each] for each in ids & named.keys()}:
                found.setdefault(owner, []).append(work)
        return found

    def _all_gone(self) -> set[Owner]:
        return {owner for owner in self.folded if self._is_gone(owner)}

    def _needs(self, by: By) -> bool:
        gone = self.gone.intersection(self._removed[by])
        return any(self._is_needed(owner, self.gone) for owner in gone)

    def _is_gone(self, owner: Owner) -> bool:
        """Return whether a record is no more; an end is as long as its wire."""
        folded = self.folded[owner]
        wire = ("conductors", (folded.row or {}).get("conductor_id", ""))
        if owner[0] == "ends" and wire in self.folded:
            return self._is_gone(wire)
        removed = [(one.writer, one.number) for one in folded.last if one.action == REMOVED]
        return len(removed) == len(folded.last) and not self._void.issuperset(removed)

    def _is_needed(self, owner: Owner, besides: set[Owner]) -> bool:
        """Return whether a record that is there points to this one, or a note is of it."""
        if self._pointing[owner[1]] - besides - self.gone:
            return True
        for table, columns in self._operations.points.items():
            listed = LISTS.get(table)
            key = listed[1] if listed else "id"
            for column in (name for name, parent in columns if parent in (owner[0], None)):
                sql = f"SELECT {key} FROM {table} WHERE {column} = ?"
                for (record,) in self._db.execute(sql, [owner[1]]):
                    each = (listed[0] if listed else table, record)
                    now = self._now.get((table, record))
                    rows = [now.row or {}, *now.rows.values()] if now else [{column: owner[1]}]
                    if each not in self.folded and any(r.get(column) == owner[1] for r in rows):
                        return True
        return False

    def _said(self, owner: Owner) -> list[Said]:
        """Return what is said of a record that stays though an entry removes it, if it matters."""
        removed = [one for one in self.folded[owner].last if one.action == REMOVED]
        entries = [(one.writer, one.number) for one in removed]
        work = [work for by in entries for work in self._worked[by].get(owner, ())]
        besides = {each for by in entries for each in self._removed[by]}
        if owner[0] == "ends" or not (work or (removed and self._is_needed(owner, besides))):
            return []
        done = [Said(one, value=False) for one in work or [_SOMEBODY]]
        return [*done, *(Said(one, value=True) for one in removed)]
