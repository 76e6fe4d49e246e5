# SPDX-License-Identifier: MIT
"""Two copies of one registry, changed apart, made one: what comes, what clashes, and the writing.

What a registry holds follows from the set of changes it has: each field is what the last change to
it says. Changes that only one copy has can't have known of those that only the other has, so a
field that both touched is a conflict, unless both came to the same. Its decision is a change of its
own, later than both, even where nothing new is written: whichever copies meet next, in whatever
order, they see that it was decided. Logs are united by their identifiers.
"""

from __future__ import annotations

import json
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from wiretrack.errors import BadInputError, Hint
from wiretrack.store import merging_sense as sense
from wiretrack.store.health import record_problems
from wiretrack.store.merging_routes import broken_routes, settle_off_the_way, settle_routes
from wiretrack.store.merging_settling import (
    RENAMED,
    settle_fields,
    settle_names,
    settle_results,
)
from wiretrack.store.merging_state import LOGS, TABLES, UNIQUE, drop, gather, prune
from wiretrack.store.schema import columns_of
from wiretrack.store.store import refresh_search
from wiretrack.store.writing import new_id

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from sqlite_utils import Database

    from wiretrack.store.merging_conflicts import Conflict, Decisions
    from wiretrack.store.merging_state import State
    from wiretrack.store.store import Registry

Row = dict[str, Any]


@dataclass(frozen=True)
class Coming:
    """What a merge brings: how many records and log entries, what to decide, what to look at."""

    added: dict[str, int]
    changed: dict[str, int]
    changes: int
    conflicts: tuple[Conflict, ...]
    never_asked: tuple[str, ...]
    notices: dict[str, list[Row]] = field(default_factory=dict)

    @property
    def undecided(self) -> tuple[Conflict, ...]:
        """Return the conflicts that nobody decided yet."""
        return tuple(conflict for conflict in self.conflicts if conflict.takes is None)

    @property
    def is_empty(self) -> bool:
        """Return whether the merge would change nothing."""
        return not (self.changes or self.conflicts or any(self.added.values()))


@contextmanager
def beside(registry: Registry, copy: Path) -> Iterator[None]:
    """Attach a private, whole and up to date copy of another registry, for reading only.

    Raises
    ------
    BadInputError
        If the two don't descend from one another.
    """
    uri = f"{copy.resolve().as_uri()}?mode=ro&immutable=1"
    registry.db.execute("ATTACH DATABASE ? AS theirs", [uri])
    try:
        _check_descent(registry)
        yield
    finally:
        drop(registry.db)
        registry.db.execute("DETACH DATABASE theirs")


def look(registry: Registry, decisions: Decisions) -> Coming:
    """Return what merging the copy that is beside would bring; nothing is written."""
    with registry.unchanging():
        return _coming(_settled(registry.db, decisions))


def merge(registry: Registry, decisions: Decisions, *, who: str | None = None) -> Coming:
    """Merge the copy that is beside into this registry, all or nothing; return what came.

    Raises
    ------
    BadInputError
        If a conflict isn't decided, or the two together wouldn't be whole.
    """
    with registry.write(who, noted=False) as db:
        state = _settled(db, decisions)
        coming = _coming(state)
        if coming.undecided:
            raise BadInputError(
                f"Undecided is {coming.undecided[0].key}, one of {len(coming.undecided)}."
                " Look at them, then merge again."
            )
        for broken in coming.notices["broken_routes"]:
            raise BadInputError(
                f"Decided so, pull {broken['pull']} would not lead from raceway to raceway:"
                f" {', '.join(broken['route'])}. Decide on it and on its raceways alike."
            )
        if not coming.is_empty:
            _apply(state, who)
            refresh_search(db)
            _prove(registry)
        return coming


def _settled(db: Database, decisions: Decisions) -> State:
    state = gather(db, decisions)
    settle_fields(state)
    settle_routes(state)
    settle_results(state)
    settle_names(state)
    sense.settle_sense(state)
    settle_off_the_way(state)
    prune(state)
    return state


def _coming(state: State) -> Coming:
    def number(sql: str) -> int:
        return int(state.db.execute(sql).fetchone()[0])

    of_mine = "EXISTS (SELECT 1 FROM main.{0} AS m WHERE m.id = f.id)"
    added, changed = {}, {}
    for table in TABLES:
        count = f"SELECT count(*) FROM temp.final_{table} AS f WHERE "
        added[table] = number(f"{count} NOT {of_mine.format(table)}")
        changed[table] = number(f"{count} {of_mine.format(table)}")
    for log in LOGS:
        added[log] = number(
            f"SELECT count(*) FROM theirs.{log} AS f WHERE NOT {of_mine.format(log)}"
        )
    return Coming(
        added,
        changed,
        number("SELECT count(DISTINCT seq) FROM temp.new_theirs"),
        tuple(state.conflicts),
        tuple(state.decisions.never_asked()),
        {
            "shared_terminals": sense.shared_terminals(state),
            "corrected_twice": sense.corrected_twice(state),
            "broken_routes": broken_routes(state),
            "off_the_way": state.off_the_way,
            "told_otherwise": sense.told_otherwise(state),
            "gone_on_apart": sense.gone_on_apart(state),
            "followed_twice": sense.followed_twice(state),
            "retired_and_worked_on": sense.worked_on_though_retired(state),
        },
    )


def _check_descent(registry: Registry) -> None:
    row = registry.row(
        "SELECT m.id = t.id AS same, coalesce(m.code, m.name, m.id) AS mine,"
        " coalesce(t.code, t.name, t.id) AS theirs FROM main.site AS m, theirs.site AS t"
    )
    if row is None or not row["same"]:
        names = f"'{row['mine']}' and '{row['theirs']}'" if row else "They"
        raise BadInputError(
            f"{names} don't descend from one another: only copies of one registry can be merged.",
            Hint("Add another site's file.", job="load"),
        )
    removed = registry.row(
        "SELECT what, record FROM (SELECT id, what, record, action FROM main.changes UNION"
        " SELECT id, what, record, action FROM theirs.changes) WHERE action = 'removed'"
        " AND what <> 'pull_raceways'"
    )
    if removed:
        raise BadInputError(
            f"A record of {removed['what']} was removed by another program ({removed['record']})."
            " Such registries can't be merged; go back to a backup."
        )


def _apply(state: State, who: str | None) -> None:
    """Write what was settled: names out of the way, then changed and new records, then the logs."""
    db = state.db
    decided = _decided_changes(state, who)
    db.execute("PRAGMA defer_foreign_keys = ON")
    for table, row, _ in state.removed:
        db.execute(f"DELETE FROM main.{table} WHERE id = ?", [row["id"]])
    for table, columns in state.columns.items():
        for statement in _writing(table, columns):
            db.execute(statement)
    for log in LOGS:
        names = ", ".join(f'"{column}"' for column in columns_of(db, log))
        db.execute(
            f"INSERT INTO main.{log} ({names}) SELECT {names} FROM theirs.{log} AS t WHERE NOT"
            f" EXISTS (SELECT 1 FROM main.{log} AS m WHERE m.id = t.id) ORDER BY t.rowid"
        )
    names = "id, at, by, what, record, action, old, new"
    db.execute(
        f"INSERT INTO main.changes ({names}) SELECT {names} FROM theirs.changes"
        " WHERE seq IN (SELECT seq FROM temp.new_theirs) ORDER BY seq"
    )
    db.execute(
        "UPDATE main.conductors AS c SET came = (SELECT m.seq FROM theirs.conductors AS t"
        " JOIN theirs.changes AS o ON o.seq = t.came JOIN main.changes AS m ON m.id = o.id"
        " WHERE t.id = c.id) WHERE c.came IS NULL"
        " AND c.id IN (SELECT id FROM theirs.conductors WHERE came IS NOT NULL)"
    )
    db.conn.executemany(f"INSERT INTO main.changes ({names}) VALUES (?,?,?,?,?,?,?,?)", decided)


def _writing(table: str, columns: list[str]) -> Iterator[str]:
    name = UNIQUE.get(table, ("",))[-1]
    if name in RENAMED and name != "tag":
        yield (
            f"UPDATE main.{table} AS m SET {name} = m.id FROM temp.final_{table} AS f"
            f" WHERE f.id = m.id AND f.{name} <> m.{name}"
        )
    rest = [column for column in columns if column != "id"]
    pairs = ", ".join(f'"{c}" = f."{c}"' for c in rest)
    yield f"UPDATE main.{table} AS m SET {pairs} FROM temp.final_{table} AS f WHERE f.id = m.id"
    names = ", ".join(f'"{column}"' for column in columns)
    yield (
        f"INSERT INTO main.{table} ({names}) SELECT {names} FROM temp.final_{table} AS f WHERE NOT"
        f" EXISTS (SELECT 1 FROM main.{table} AS m WHERE m.id = f.id) ORDER BY f.rowid"
    )


def _decided_changes(state: State, who: str | None) -> list[tuple[Any, ...]]:
    """Return a change for each record decided on: from what was given up to what holds now."""
    at = datetime.now(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
    found: list[tuple[Any, ...]] = []
    for (table, record), lost in state.lost.items():
        row = state.row(f"temp.after_{table}", record) or {}
        known = any(state.row(f"{copy}.{table}", record) for copy in ("main", "theirs"))
        old, new = json_of({**row, **lost}) if known else None, json_of(row)
        action = "changed" if known else "added"
        what = row["kind"] if table == "procedures" else table
        found.append((new_id(), at, who, what, record, action, old, new))
    for table, row, decided in state.removed:
        if decided:
            found.append((new_id(), at, who, table, row["id"], "removed", json_of(row), None))
    return found


def json_of(row: Row) -> str:
    """Return a row as the history keeps it."""
    return json.dumps(row, ensure_ascii=False, separators=(",", ":"))


def _prove(registry: Registry) -> None:
    found = record_problems(registry)
    if found:
        more = f" and {len(found) - 1} more" if len(found) > 1 else ""
        raise BadInputError(
            f"Together the two copies would not be whole: {found[0]}{more}. Nothing was written."
        )
