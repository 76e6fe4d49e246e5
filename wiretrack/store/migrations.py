# SPDX-License-Identifier: MIT
"""The registry's migrations: named functions, each in one transaction, recorded in the database.

The SQL lies in ``schemas/NNNN_name.sql``; the triggers that are alike for every table are made
here from the tables' own columns. `VERSION` goes into ``PRAGMA user_version``, so that an older
wiretrack knows a newer registry when it meets one.
"""

from __future__ import annotations

import sqlite3
from typing import TYPE_CHECKING

from sqlite_utils import Migrations

from wiretrack.resources import shipped

if TYPE_CHECKING:
    from sqlite_utils import Database

VERSION = 8
APPLICATION_ID = 0x57545247  # "WTRG"
# Between the writes of this program: what anybody else writes is noted, by nobody known.
NOBODY_WRITES = "UPDATE writing SET who = NULL, noted = 1"

# Tables whose changes are noted. Readings, answers, label prints and placed labels are logs.
NOTED_TABLES = (
    "site",
    "enclosures",
    "terminals",
    "devices",
    "poles",
    "raceways",
    "circuits",
    "pulls",
    "pull_raceways",
    "far_ends",
    "conductors",
    "ends",
    "instruments",
    "ringouts",
)
# Which documents of the search a new or changed row makes due, beside its own.
_SEARCH_DUE = {
    "enclosures": "SELECT conductor_id FROM ends WHERE enclosure_id = new.id"
    " UNION SELECT id FROM raceways WHERE from_enclosure_id = new.id"
    " UNION SELECT id FROM raceways WHERE to_enclosure_id = new.id",
    "circuits": "SELECT id FROM conductors WHERE circuit_id = new.id UNION SELECT r.id"
    " FROM readings AS r JOIN conductors AS c ON c.id = r.conductor_id WHERE c.circuit_id = new.id",
    "raceways": None,
    "pulls": "SELECT id FROM conductors WHERE pull_id = new.id",
    "conductors": "SELECT id FROM readings WHERE conductor_id = new.id",
    "instruments": "SELECT id FROM readings WHERE instrument_id = new.id",
    "readings": None,
    "ends": "SELECT new.conductor_id",
    "terminals": "SELECT conductor_id FROM ends WHERE terminal_id = new.id",
}
_NEW_UUID = (
    "lower(hex(randomblob(4)) || '-' || hex(randomblob(2)) || '-4' || substr(hex(randomblob(2)), 2)"
    " || '-8' || substr(hex(randomblob(2)), 2) || '-' || hex(randomblob(6)))"
)

migrations = Migrations("wiretrack")


@migrations()
def registry(db: Database) -> None:
    """Make the tables, the refusals and the change history."""
    _run(db, "0001_registry.sql")
    for table in NOTED_TABLES:
        for statement in _history_triggers(table, list(db.table(table).columns_dict)):
            db.execute(statement)


@migrations()
def search(db: Database) -> None:
    """Make the full-text search and what keeps it true."""
    _run(db, "0002_search.sql")
    for table, dependents in _SEARCH_DUE.items():
        for statement in _search_triggers(table, dependents):
            db.execute(statement)


@migrations()
def pages(db: Database) -> None:
    """Make the place of the key that signs the pages' sessions, and look-up without case."""
    _run(db, "0003_pages.sql")


@migrations()
def fault_searches(db: Database) -> None:
    """Make the log of guided searches for a fault."""
    _run(db, "0004_fault_searches.sql")
    for statement in _history_triggers(
        "fault_searches", list(db.table("fault_searches").columns_dict)
    ):
        db.execute(statement)


@migrations()
def changed_work(db: Database) -> None:
    """Let conductors and circuits be retired; look up raceways and readings under new names."""
    _run(db, "0005_changed_work.sql")
    for table in ("conductors", "circuits", "ends"):
        _note_again(db, table)
    for table, dependents in _SEARCH_DUE.items():
        for event in ("insert", "update"):
            db.execute(f"DROP TRIGGER IF EXISTS {table}_search_{event}")
        for statement in _search_triggers(table, dependents):
            db.execute(statement)


@migrations()
def merging(db: Database) -> None:
    """Let copies that were changed apart keep what each of them wrote down."""
    made_anew = ("readings", "ringout_answers", "fault_search_answers")
    triggers = [row[0] for table in made_anew for row in db.execute(_TRIGGERS_OF, [table])]
    _run(db, "0006_merging.sql")
    for statement in triggers:
        db.execute(statement)
    db.execute(_SUPERSEDED_ONCE)


@migrations()
def stated(db: Database) -> None:
    """Let people state what a rule would otherwise have to leave in doubt."""
    _run(db, "0007_stated.sql")
    for table in (
        "site", "circuits", "devices", "raceways", "enclosures", "conductors", "ends", "instruments"
    ):  # fmt: skip
        _note_again(db, table)


@migrations()
def placed_labels(db: Database) -> None:
    """Make the log of the labels that are on their wires."""
    _run(db, "0008_placed_labels.sql")


_TRIGGERS_OF = "SELECT sql FROM sqlite_master WHERE type = 'trigger' AND tbl_name = ?"
# Within one registry a reading is superseded once; two copies that did so apart bring both.
_SUPERSEDED_ONCE = """
    CREATE TRIGGER readings_superseded_once BEFORE INSERT ON readings
    WHEN (SELECT noted FROM writing) = 1
        AND EXISTS (SELECT 1 FROM readings WHERE supersedes = new.supersedes)
    BEGIN SELECT RAISE(ABORT, 'that reading is superseded already; supersede the later one'); END"""


def migrate(db: Database) -> None:
    """Bring `db` to `VERSION`; older versions left the last author in `writing`."""
    migrations.apply(db)
    db.execute(NOBODY_WRITES)
    db.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    db.execute(f"PRAGMA user_version = {VERSION}")


def _run(db: Database, file: str) -> None:
    """Execute the statements of `file` one by one, inside the transaction that is open."""
    statement = ""
    for line in (shipped("schemas") / file).read_text("utf-8").splitlines():
        statement += line.split("--")[0] + "\n"
        if sqlite3.complete_statement(statement):
            db.execute(statement)
            statement = ""


def _note_again(db: Database, table: str) -> None:
    """Make the triggers of the history anew for a table that has other columns now."""
    for action in ("added", "changed", "removed"):
        db.execute(f"DROP TRIGGER {table}_{action}")
    for statement in _history_triggers(table, list(db.table(table).columns_dict)):
        db.execute(statement)


def _history_triggers(table: str, columns: list[str]) -> list[str]:
    """Return the three triggers that note what is added to, changed in or removed from `table`."""

    def snapshot(row: str) -> str:
        return "json_object(" + ", ".join(f"'{c}', {row}.\"{c}\"" for c in columns) + ")"

    def trigger(action: str, event: str, record: str, old: str, new: str) -> str:
        """Return the trigger that notes one kind of change, with the row before and after it."""
        return f"""
            CREATE TRIGGER {table}_{action} AFTER {event} ON {table}
            WHEN (SELECT noted FROM writing) = 1
            BEGIN
                INSERT INTO changes (id, at, by, what, record, action, old, new)
                SELECT {_NEW_UUID}, strftime('%Y-%m-%dT%H:%M:%fZ', 'now'), who, '{table}',
                    {record}.id, '{action}', {old}, {new} FROM writing;
            END"""

    return [
        trigger("added", "INSERT", "new", "NULL", snapshot("new")),
        trigger("changed", "UPDATE", "new", snapshot("old"), snapshot("new")),
        trigger("removed", "DELETE", "old", snapshot("old"), "NULL"),
    ]


def _search_triggers(table: str, dependents: str | None) -> list[str]:
    """Return the triggers that put the documents touched by a row of `table` into search_due."""
    own = None if table in ("ends", "terminals", "instruments") else "SELECT new.id"
    parts = [query for query in (own, dependents) if query]
    body = " ".join(f"INSERT OR IGNORE INTO search_due {query};" for query in parts)
    return [
        f"CREATE TRIGGER {table}_search_{event.lower()} AFTER {event} ON {table} BEGIN {body} END"
        for event in ("INSERT", "UPDATE")
    ]
