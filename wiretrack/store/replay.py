# SPDX-License-Identifier: MIT
"""The records of a log made again, in memory, and put in the place of those of a registry."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from wiretrack.store.log import add_entry, entries, gone_in
from wiretrack.store.rows import Kept, Tables, rows_of
from wiretrack.store.same import STANDING, ContradictionError, Same
from wiretrack.store.schema import INDEXED, RECORDS
from wiretrack.store.union import Union

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable
    from sqlite3 import Connection

    from sqlite_utils import Database

    from wiretrack.chain import Entry


@dataclass(frozen=True)
class Failed:
    """An entry that can't be applied, and why."""

    entry: Entry
    why: str

    @property
    def where(self) -> str:
        """Its writer and number, as people are told."""
        return f"log {self.entry.writer.hex()[:8]}:{self.entry.number}"


class Replay(Tables):
    """The records that follow from the entries, in memory; use `replayed` for a log."""

    def __init__(self, same: Same) -> None:
        super().__init__()
        self.failed: list[Failed] = []
        self._kept, self._union = Kept(), Union(self.db, same)
        self._have: dict[bytes, int] = {}
        self.db.execute("BEGIN")

    def apply(self, entry: Entry) -> None:
        """Apply what an entry says; name what can't be applied."""
        said = entry.said
        if said.get("kind") == "have":
            self._have[entry.writer] = entry.number
        self.db.execute("SAVEPOINT entry")
        try:
            nr = add_entry(self.db, entry, self._have.get(entry.writer))
            self.db.execute("RELEASE entry")
            self.db.execute("SAVEPOINT entry")
            if said.get("kind") == "part":
                self._kept.add(entry)
            self._union.learn(nr, said, list(rows_of(said, self._kept)))
        except Exception as error:  # whatever a damaged or hostile entry says
            self.db.execute("ROLLBACK TO entry")
            self.failed.append(Failed(entry, f"the entry can't be applied: {error}"))
        self.db.execute("RELEASE entry")


def replayed(read: Callable[[], Iterable[Entry]], expected: Same | None = None) -> Replay:
    """Return what follows from the entries that `read` yields.

    Where they say that records are the same, and that isn't `expected`, they are read once more,
    knowing that.
    """
    same = expected or Same()
    while True:
        replay = Replay(same)
        for entry in read():
            replay.apply(entry)
        found = Same(replay.db.execute(STANDING))
        if found.statements == same.statements:
            return replay
        same, expected = Same() if expected else found, None


def make_again(db: Connection) -> None:
    """Let the records of a registry be what its log says, in the write under way.

    `ContradictionError` if an entry can't be applied that wasn't lost by damage.
    """
    replay = replayed(lambda: (entry for entry, _ in entries(db, "nr")), Same.of(db))
    gone = gone_in(db)
    for each in replay.failed:
        if (each.entry.writer, each.entry.number) not in gone:
            raise ContradictionError(f"{each.where}: {each.why}")
    refill(db, replay)


def refill(db: Connection, replay: Replay) -> None:
    """Let the log, and the records that follow from it, be those of a replay, in a write."""
    kept = "SELECT name, sql FROM sqlite_master WHERE type = 'trigger'"
    triggers = db.execute(kept).fetchall()
    db.execute("PRAGMA defer_foreign_keys = ON")
    db.execute("UPDATE writing SET gathered = 0, searched = 0")
    for name, _ in triggers:
        db.execute(f"DROP TRIGGER {name}")
    for table in ("undecided", "operations", "files", *reversed(RECORDS), "log"):
        db.execute(f"DELETE FROM {table}")
    db.execute("INSERT INTO search (search) VALUES ('delete-all')")
    for _, sql in triggers:
        db.execute(sql)
    for table in RECORDS:
        names = ", ".join(f'"{name}"' for name in replay.columns[table])
        holes = ", ".join("?" * len(replay.columns[table]))
        rows = replay.db.execute(f"SELECT {names} FROM {table} ORDER BY rowid")
        db.executemany(f"INSERT INTO {table} ({names}) VALUES ({holes})", rows)
    for table in ("log", "operations", "undecided"):
        cursor = replay.db.execute(f"SELECT * FROM {table} ORDER BY 1")
        holes = ", ".join("?" * len(cursor.description))
        db.executemany(f"INSERT INTO {table} VALUES ({holes})", cursor)
    credit_loads(db)
    for table in INDEXED:
        db.execute(f"INSERT OR IGNORE INTO search_due SELECT id FROM {table}")
    db.execute("UPDATE writing SET searched = 1")


def credit_loads(db: Database | Connection) -> None:
    """Say of each conductor without a line of its own with which load it came: in their order.

    What a load brought that was taken back is gone.
    """
    for seq, count in db.execute(
        "SELECT seq, coalesce(new ->> '$.added.conductors', 0) FROM changes"
        " AS l WHERE action = 'loaded' AND seq > (SELECT coalesce(max(came), 0) FROM conductors)"
        " AND NOT EXISTS (SELECT 1 FROM changes AS x WHERE x.what = 'file' AND x.action = 'removed'"
        " AND x.record = l.record AND x.seq > l.seq)"
        " ORDER BY seq"
    ).fetchall():
        db.execute(
            "UPDATE conductors SET came = ? WHERE nr IN (SELECT c.nr FROM conductors AS c"
            " WHERE c.came IS NULL AND NOT EXISTS (SELECT 1 FROM changes AS x"
            " WHERE x.record = c.id AND x.action = 'added') ORDER BY c.nr LIMIT ?)",
            [seq, count],
        )
