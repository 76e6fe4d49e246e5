# SPDX-License-Identifier: MIT
"""The rows that a merge is going to write, in temporary tables beside the two copies.

``main`` is this registry, ``theirs`` the copy to merge from. For each table `final_T` holds what
is to be added to it or changed in it, and the view `after_T` the whole table as it will be.
``new_mine`` and ``new_theirs`` are the changes that only one copy has; a load
counts for each row that came with it.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from wiretrack.store.merging_conflicts import units
from wiretrack.store.schema import NOTED_TABLES, columns_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from sqlite_utils import Database

    from wiretrack.store.merging_conflicts import Conflict, Decisions, Unit

Row = dict[str, Any]
TABLES = NOTED_TABLES
# What is unique beside the id; the last column is the one that can be given anew.
UNIQUE = {
    "enclosures": ("code",),
    "terminals": ("enclosure_id", "code"),
    "devices": ("enclosure_id", "code"),
    "poles": ("device_id", "position"),
    "raceways": ("code",),
    "circuits": ("code",),
    "pulls": ("code",),
    "pull_raceways": ("pull_id", "position"),
    "far_ends": ("pull_id", "enclosure_id", "mark"),
    "conductors": ("tag",),
    "conductor_circuits": ("conductor_id", "position"),
    "ends": ("conductor_id", "side"),
    "instruments": ("code",),
}
LOGS = ("readings", "procedure_answers", "label_prints", "placed_labels")


@dataclass
class State:
    """A merge under way, inside the caller's transaction.

    `lost` keeps, of each record that was decided on, the values that the decision gave up;
    `removed` the records that are to be no more, and whether that was decided here; `off_the_way`
    the conductors that their pull no longer leads to, by pull and enclosure.
    """

    db: Database
    decisions: Decisions
    conflicts: list[Conflict] = field(default_factory=list)
    lost: dict[tuple[str, str], Row] = field(default_factory=dict)
    removed: list[tuple[str, Row, bool]] = field(default_factory=list)
    off_the_way: list[Row] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.columns = {table: columns_of(self.db, table) for table in TABLES}
        self.units: dict[str, tuple[Unit, ...]] = {
            table: units(table, columns) for table, columns in self.columns.items()
        }

    def rows(self, sql: str, parameters: Iterable[Any] = ()) -> Iterator[Row]:
        """Return the rows of a query as dictionaries."""
        cursor = self.db.conn.execute(sql, tuple(parameters))
        names = [column[0] for column in cursor.description]
        return (dict(zip(names, row, strict=True)) for row in cursor)

    def row(self, source: str, record: str) -> Row | None:
        """Return the row of `source` (a table or view) whose id is `record`."""
        return next(self.rows(f"SELECT * FROM {source} WHERE id = ?", [record]), None)

    def put(self, table: str, rows: Iterable[Mapping[str, Any]]) -> None:
        """Let `rows` be what these records will be."""
        columns = self.columns[table]
        holes = ", ".join("?" * len(columns))
        sql = f"REPLACE INTO temp.final_{table} ({_quoted(columns)}) VALUES ({holes})"
        self.db.conn.executemany(sql, ([row[c] for c in columns] for row in rows))

    def decide(self, table: str, row: Row, wins: Mapping[str, Any], loses: Row) -> None:
        """Let a record be `row` with the values of `wins`; those of `loses` are given up."""
        self.put(table, [{**row, **wins}])
        self.lost.setdefault((table, row["id"]), {}).update(loses)

    def remove(self, table: str, row: Row, *, decided: bool) -> None:
        """Let a record be no more; `decided` says that this is a decision of its own."""
        self.db.execute(f"DELETE FROM temp.final_{table} WHERE id = ?", [row["id"]])
        self.db.execute("INSERT INTO temp.gone (id) VALUES (?)", [row["id"]])
        self.removed.append((table, {c: row[c] for c in self.columns[table]}, decided))


def gather(db: Database, decisions: Decisions) -> State:
    """Set up the temporary tables: all that only the other copy has or changed."""
    state = State(db, decisions)
    db.execute("DROP TABLE IF EXISTS temp.gone")
    db.execute("CREATE TEMP TABLE gone (id TEXT PRIMARY KEY)")
    for side, other in (("main", "theirs"), ("theirs", "main")):
        name = {"main": "new_mine", "theirs": "new_theirs"}[side]
        db.execute(f"DROP TABLE IF EXISTS temp.{name}")
        db.execute(
            f"CREATE TEMP TABLE {name} AS SELECT c.seq, c.what, c.record FROM {side}.changes AS c"
            f" WHERE NOT EXISTS (SELECT 1 FROM {other}.changes AS o WHERE o.id = c.id)"
        )
        db.execute(f"CREATE INDEX temp.{name}_record ON {name} (record)")
        for table in TABLES:
            db.execute(_came_by_load(table, side, other, name))
    for table in TABLES:
        for statement in _final(table, state.columns[table], state.units[table]):
            db.execute(statement)
    # The ids of ends on tape follow from their box's code; after it was renamed and the registry
    # went through a site file, the same end has another id. It is the same end all the same.
    db.execute(
        "DELETE FROM temp.final_far_ends AS f WHERE EXISTS (SELECT 1 FROM main.far_ends AS m WHERE"
        " m.pull_id = f.pull_id AND m.enclosure_id = f.enclosure_id AND m.mark = f.mark"
        " AND m.id <> f.id) AND NOT EXISTS (SELECT 1 FROM temp.new_theirs WHERE record = f.id)"
    )
    return state


def drop(db: Database) -> None:
    """Remove the temporary tables."""
    for table in TABLES:
        db.execute(f"DROP VIEW IF EXISTS temp.after_{table}")
        db.execute(f"DROP TABLE IF EXISTS temp.final_{table}")
    for table in ("gone", "new_mine", "new_theirs"):
        db.execute(f"DROP TABLE IF EXISTS temp.{table}")


def prune(state: State) -> None:
    """Forget rows that are what this registry has already."""
    for table, columns in state.columns.items():
        same = " AND ".join(f'm."{c}" IS f."{c}"' for c in columns)
        state.db.execute(
            f"DELETE FROM temp.final_{table} AS f WHERE EXISTS"
            f" (SELECT 1 FROM main.{table} AS m WHERE {same})"
        )


def changes_of(state: State, side: str, table: str) -> dict[str, list[Row]]:
    """Return the changes that only one side has, by record, for what both hold or changed."""
    source, new = {"mine": ("main", "new_mine"), "theirs": ("theirs", "new_theirs")}[side]
    found: dict[str, list[Row]] = {}
    for row in state.rows(
        f"SELECT c.record, c.at, c.by, c.old, c.new FROM {source}.changes AS c"
        f" WHERE c.seq IN (SELECT seq FROM temp.{new} WHERE record IN"
        " (SELECT id FROM temp.both)) ORDER BY c.seq"
    ):
        row["old"] = json.loads(row["old"]) if row["old"] else None
        row["new"] = json.loads(row["new"]) if row["new"] else None
        found.setdefault(row["record"], []).append(row)
    return found


def _came_by_load(table: str, side: str, other: str, name: str) -> str:
    """Return what counts the rows that only one copy has, and no line of its own, to its load."""
    return (
        f"INSERT INTO temp.{name} (seq, what, record) SELECT l.seq, '{table}', s.id"
        f" FROM {side}.{table} AS s JOIN (SELECT max(c.seq) AS seq FROM {side}.changes AS c"
        f" JOIN temp.{name} AS n ON n.seq = c.seq WHERE c.action = 'loaded') AS l"
        f" WHERE l.seq IS NOT NULL AND NOT EXISTS (SELECT 1 FROM {other}.{table} AS o"
        f" WHERE o.id = s.id) AND NOT EXISTS (SELECT 1 FROM {side}.changes AS x"
        " WHERE x.record = s.id AND x.action = 'added')"
    )


def _final(table: str, columns: list[str], unit_list: tuple[Unit, ...]) -> Iterator[str]:
    compared = [column for unit in unit_list for column in unit.columns]
    differs = " OR ".join(f'm."{c}" IS NOT t."{c}"' for c in compared)
    yield f"DROP VIEW IF EXISTS temp.after_{table}"
    yield f"DROP TABLE IF EXISTS temp.final_{table}"
    yield (
        f"CREATE TEMP TABLE final_{table} AS SELECT {_quoted(columns, 't.')}"
        f" FROM theirs.{table} AS t LEFT JOIN main.{table} AS m ON m.id = t.id"
        " WHERE m.id IS NULL OR EXISTS (SELECT 1 FROM temp.new_theirs WHERE record = t.id)"
        f" OR (({differs}) AND NOT EXISTS (SELECT 1 FROM temp.new_mine WHERE record = t.id))"
        " ORDER BY t.rowid"
    )
    yield f"CREATE UNIQUE INDEX temp.final_{table}_id ON final_{table} (id)"
    if table in UNIQUE:
        columns_alike = _quoted(UNIQUE[table])
        yield f"CREATE INDEX temp.final_{table}_name ON final_{table} ({columns_alike})"
    yield (
        f"CREATE TEMP VIEW after_{table} AS SELECT {_quoted(columns)} FROM temp.final_{table}"
        f" UNION ALL SELECT {_quoted(columns)} FROM main.{table}"
        f" AS m WHERE NOT EXISTS (SELECT 1 FROM temp.final_{table} AS f WHERE f.id = m.id)"
        " AND NOT EXISTS (SELECT 1 FROM temp.gone AS g WHERE g.id = m.id)"
    )


def _quoted(columns: Iterable[str], prefix: str = "") -> str:
    return ", ".join(f'{prefix}"{column}"' for column in columns)
