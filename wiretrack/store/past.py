# SPDX-License-Identifier: MIT
"""Records as they were, in memory: with what had been entered by then, or change by change back."""

from __future__ import annotations

import json
import sqlite3
from contextlib import suppress
from typing import TYPE_CHECKING

from wiretrack.store.fold import PARTS
from wiretrack.store.log import entries
from wiretrack.store.replay import replayed
from wiretrack.store.rows import Tables, action_of, inverse
from wiretrack.store.same import Same
from wiretrack.store.schema import NOTED_TABLES
from wiretrack.store.source import StoredSource
from wiretrack.store.store import Registry

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterable, Iterator

    from wiretrack.chain import Entry
    from wiretrack.store.rows import Row

Owner = tuple[str, str]  # a table and an id


class Past(Tables):
    """The records of a registry as they are now, and then as they were before.

    What each change did is told by its own rows, whatever copies that were changed apart did
    meanwhile: so it is put first, and then taken back.
    """

    def __init__(self, registry: Registry) -> None:
        super().__init__()
        for table in NOTED_TABLES:
            names = ", ".join(f'"{name}"' for name in self.columns[table])
            holes = ", ".join("?" * len(self.columns[table]))
            self.db.execute(f"DELETE FROM {table}")
            rows = registry.connection.execute(f"SELECT {names} FROM {table} ORDER BY rowid")
            self.db.executemany(f"INSERT INTO {table} ({names}) VALUES ({holes})", rows)
        self._registry = Registry(registry.path, self.db, writable=False)
        self.source = StoredSource(self._registry)

    def forward(self, rows: Iterable[Row]) -> None:
        """Put what these rows say."""
        self._put(rows)

    def back(self, rows: Iterable[Row]) -> None:
        """Take back what these rows say."""
        self._put(map(inverse, reversed(list(rows))))

    def owners(self, rows: Iterable[Row]) -> dict[Owner, str]:
        """Return the records that these rows are of, as they are, and what became of each."""
        found: dict[Owner, str] = {}
        for row in rows:
            table, action = row["table"], action_of(row)
            if table in PARTS:
                found.setdefault((PARTS[table][0], self._parent(row)), "changed")
            elif table in NOTED_TABLES:
                found[table, row["id"]] = action
        return found

    def _parent(self, row: Row) -> str:
        """Return the id of the record that a row is a part of."""
        table = row["table"]
        column = PARTS[table][1]
        told = row.get("added") or row.get("removed")
        if told:
            return str(told[column])
        found = self.db.execute(f"SELECT {column} FROM {table} WHERE id = ?", [row["id"]])
        return str((found.fetchone() or ("",))[0])

    def with_parts(self, ids: Collection[str]) -> set[str]:
        """Return ids with those of what is in a box, and of the conductors of a circuit."""
        found = self.db.execute(_PARTS_OF, {"ids": json.dumps(list(ids))})
        return {*ids, *(row[0] for row in found)}

    def text(self, table: str, record: str, column: str) -> str | None:
        """Return what a column says of a record; None if it isn't there."""
        found = self.db.execute(f"SELECT {column} FROM {table} WHERE id = ?", [record]).fetchone()
        return None if found is None or found[0] is None else str(found[0])

    def _put(self, rows: Iterable[Row]) -> None:
        for row in rows:
            if row["table"] in NOTED_TABLES:
                with suppress(sqlite3.IntegrityError, ValueError):
                    self.put(row, "OR REPLACE")


def as_entered(registry: Registry, was: Callable[[str], bool]) -> Registry | None:
    """Return the registry, in memory, with the entries whose time it `was` by then.

    It is read like any other; None if it had not begun.
    """

    def read() -> Iterator[Entry]:
        for entry, _ in entries(registry.connection, "nr"):
            at = entry.said.get("at")
            if at is None or was(str(at)):
                yield entry

    replay = replayed(read, Same.of(registry.connection))
    replay.db.execute("COMMIT")
    found = Registry(registry.path, replay.db, writable=False)
    return found if found.row("SELECT 1 FROM site") else None


_IDS = "(SELECT value FROM json_each(:ids))"
_PARTS_OF = (
    f"SELECT id FROM devices WHERE enclosure_id IN {_IDS}"
    f" UNION SELECT id FROM terminals WHERE enclosure_id IN {_IDS}"
    f" UNION SELECT conductor_id FROM conductor_circuits WHERE circuit_id IN {_IDS}"
)
