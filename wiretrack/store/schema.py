# SPDX-License-Identifier: MIT
"""The registry's schema: ``schemas/schema.sql``, and the triggers that are alike for every table.

`VERSION` goes into ``PRAGMA user_version``, so that an older wiretrack knows a newer registry when
it meets one, and this one an older.
"""

from __future__ import annotations

import sqlite3
from typing import TYPE_CHECKING

from wiretrack.files import shipped

if TYPE_CHECKING:
    from sqlite_utils import Database

VERSION = 24


class Connection(sqlite3.Connection):
    """One that is closed when it is let go; Python 3.13 warns of one that is not closed."""

    def __del__(self) -> None:
        self.close()


# Pieces that queries share.
LISTED = "(SELECT value FROM json_each(?))"
IN_SERVICE = "c.retired_at IS NULL"  # c: conductors
CIRCUIT_IN_SERVICE = "k.retired_at IS NULL"  # k: circuits
SOME_UNDECIDED = "EXISTS (SELECT 1 FROM undecided WHERE what > '')"
APPLICATION_ID = 0x57545247  # "WTRG"
# Between the writes of this program: what anybody else writes is noted, by nobody known.
NOBODY_WRITES = (
    "UPDATE writing SET who = NULL, at = NULL, change = NULL, more = NULL, noted = 1, gathered = 1,"
    " searched = 1"
)

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
    "conductor_circuits",
    "ends",
    "instruments",
    "procedures",
)
LOG_TABLES = (
    "readings", "procedure_answers", "label_prints", "placed_labels", "notes", "attachments",
    "same_records",
)  # fmt: skip
# What follows from the log, each table after those that it points to.
RECORDS = (*NOTED_TABLES, *LOG_TABLES, "changes")
# In the order of the kinds that a place in the search's index is made of (schema.sql).
INDEXED = (
    "conductors", "circuits", "enclosures", "raceways", "pulls", "readings", "notes", "attachments",
)  # fmt: skip
# Which documents of the search a new or changed row makes due, beside its own.
_SEARCH_DUE = {
    "enclosures": "SELECT conductor_id FROM ends WHERE enclosure_id = new.id"
    " UNION SELECT id FROM raceways WHERE from_enclosure_id = new.id"
    " UNION SELECT id FROM raceways WHERE to_enclosure_id = new.id"
    " UNION SELECT r.id FROM devices AS d JOIN readings AS r ON r.device_id = d.id"
    " WHERE d.enclosure_id = new.id",
    "circuits": "SELECT conductor_id FROM conductor_circuits WHERE circuit_id = new.id"
    " UNION SELECT r.id FROM readings AS r JOIN conductor_circuits AS s"
    " ON s.conductor_id = r.conductor_id WHERE s.circuit_id = new.id"
    " UNION SELECT id FROM readings WHERE circuit_id = new.id",
    "conductor_circuits": "SELECT new.conductor_id"
    " UNION SELECT id FROM readings WHERE conductor_id = new.conductor_id",
    "raceways": None,
    "pulls": "SELECT id FROM conductors WHERE pull_id = new.id",
    "conductors": "SELECT id FROM readings WHERE conductor_id = new.id",
    "instruments": "SELECT id FROM readings WHERE instrument_id = new.id",
    "readings": None,
    "notes": None,
    "attachments": None,
    "ends": "SELECT new.conductor_id",
    "terminals": "SELECT conductor_id FROM ends WHERE terminal_id = new.id",
    "devices": "SELECT id FROM readings WHERE device_id = new.id",
}
_NO_DOCUMENTS = ("ends", "terminals", "devices", "instruments", "conductor_circuits")
# What a note can be of, beside the site: the ids of what a row's name is part of the name of.
_NOTED = {
    "enclosures": "SELECT new.id UNION SELECT id FROM devices WHERE enclosure_id = new.id"
    " UNION SELECT id FROM terminals WHERE enclosure_id = new.id",
    **dict.fromkeys(
        ("circuits", "raceways", "pulls", "instruments", "conductors", "devices", "terminals"),
        "SELECT new.id",
    ),
}
_NEW_UUID = (
    "lower(hex(randomblob(4)) || '-' || hex(randomblob(2)) || '-4' || substr(hex(randomblob(2)), 2)"
    " || '-8' || substr(hex(randomblob(2)), 2) || '-' || hex(randomblob(6)))"
)

# The history has a line for each row gathered, but for those of logs.
_HISTORY = f"""
    CREATE TRIGGER gathered_noted AFTER INSERT ON gathered
    WHEN (SELECT noted FROM writing) = 1 AND new.what IN {NOTED_TABLES}
    BEGIN
        INSERT INTO changes (id, change, more, at, by, what, record, action, old, new)
        SELECT {_NEW_UUID}, change, more,
            coalesce(at, strftime('%Y-%m-%dT%H:%M:%fZ', 'now')), who,
            iif(new.what = 'procedures', coalesce(new.new, new.old) ->> '$.kind', new.what),
            new.record, new.action, new.old, new.new
        FROM writing;
        UPDATE gathered SET change = (SELECT c.id FROM changes AS c ORDER BY c.seq DESC LIMIT 1)
        WHERE nr = new.nr;
    END"""
# Within one registry a reading is superseded once; two copies that did so apart bring both.
_SUPERSEDED_ONCE = """
    CREATE TRIGGER readings_superseded_once BEFORE INSERT ON readings
    WHEN (SELECT noted FROM writing) > 0
        AND EXISTS (SELECT 1 FROM readings WHERE supersedes = new.supersedes)
    BEGIN SELECT RAISE(ABORT, 'that reading is superseded already; supersede the later one'); END"""
_STAYS_WHILE_NOTED = """
    CREATE TRIGGER {table}_noted BEFORE DELETE ON {table}
    WHEN EXISTS (SELECT 1 FROM notes WHERE record = old.id)
        OR EXISTS (SELECT 1 FROM attachments WHERE record = old.id)
    BEGIN SELECT RAISE(ABORT, 'a note or an attachment is of it'); END"""


def make(db: sqlite3.Connection) -> None:
    """Make an empty registry in `db`, a new file."""
    db.executescript("BEGIN;" + (shipped("schemas") / "schema.sql").read_text("utf-8"))
    for table in RECORDS:
        for statement in _log_triggers(db, table):
            db.execute(statement)
    for table, dependents in _SEARCH_DUE.items():
        for statement in _search_triggers(table, dependents):
            db.execute(statement)
    for table in _NOTED:
        db.execute(_STAYS_WHILE_NOTED.format(table=table))
    db.execute(_HISTORY)
    db.execute(_SUPERSEDED_ONCE)
    db.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    db.execute(f"PRAGMA user_version = {VERSION}")
    db.execute("COMMIT")


def columns_of(db: Database | sqlite3.Connection, table: str) -> list[str]:
    """Return the columns of a table that say something; those that number rows here don't."""
    names = (row[1] for row in db.execute(f"PRAGMA table_info({table})"))
    return [name for name in names if name not in ("seq" if table == "changes" else "nr", "came")]


def references(db: Database | sqlite3.Connection, table: str) -> dict[str, str]:
    """Return the columns of a table that point to other records, each with the table of those."""
    return {row[3]: row[2] for row in db.execute(f"PRAGMA foreign_key_list({table})")}


def row_as_json(db: Database | sqlite3.Connection, table: str, row: str = "") -> str:
    """Return SQL for the JSON of a `row` of a table, or of values bound by its columns' names.

    A number has all its digits: sqlite's own JSON (3.40) keeps 15 of 17. One of few digits stays as
    people write it.
    """
    types = {column[1]: column[2] for column in db.execute(f"PRAGMA table_info({table})")}
    values = {name: f'{row}."{name}"' if row else f":{name}" for name in columns_of(db, table)}
    exact = {name: _EXACT.format(v) if types[name] == "REAL" else v for name, v in values.items()}
    pairs = ", ".join(f"'{name}', {value}" for name, value in exact.items())
    return f"json_object({pairs})"


_EXACT = (
    "CASE WHEN {0} <> CAST(printf('%!.15g', {0}) AS REAL) OR printf('%!.15g', {0}) GLOB '*e*'"
    " OR length(printf('%!.15g', {0})) > 12 THEN json(printf('%!.17g', {0})) ELSE {0} END"
)


def _log_triggers(db: sqlite3.Connection, table: str) -> list[str]:
    """Return the triggers that note what is added to, changed in or removed from `table`.

    The log's next entry gathers them all; of what is gathered `_HISTORY` notes what is no log.
    """
    before, after = (row_as_json(db, table, row) for row in ("old", "new"))
    when = "gathered = 1 AND noted = 0" if table == "changes" else "gathered = 1"

    def trigger(action: str, event: str, record: str, old: str, new: str) -> str:
        """Return the trigger that notes one kind of change, with the row before and after it."""
        return f"""
            CREATE TRIGGER {table}_{action} AFTER {event} ON {table}
            WHEN (SELECT {when} FROM writing)
            BEGIN INSERT INTO gathered (at, what, record, action, old, new)
                SELECT at, '{table}', {record}.id, '{action}', {old}, {new} FROM writing; END"""

    added = trigger("added", "INSERT", "new", "NULL", after)
    if table not in NOTED_TABLES:
        return [added]
    return [
        added,
        trigger("changed", "UPDATE", "new", before, after),
        trigger("removed", "DELETE", "old", before, "NULL"),
    ]


def _search_triggers(table: str, dependents: str | None) -> list[str]:
    """Return the triggers that put the documents touched by a row of `table` into search_due."""
    own = None if table in _NO_DOCUMENTS else "SELECT new.id"
    parts = [query for query in (own, dependents) if query]
    of_it = [
        f"SELECT id FROM {noted} WHERE record IN ({_NOTED[table]})"
        for noted in ("notes", "attachments")
        if table in _NOTED
    ]
    found = {"INSERT": parts, "UPDATE": parts + of_it}
    if table == "conductor_circuits":  # one of none is called a spare
        found["DELETE"] = [query.replace("new.", "old.") for query in parts]
    return [
        f"CREATE TRIGGER {table}_search_{event.lower()} AFTER {event} ON {table}"
        " WHEN (SELECT searched FROM writing) = 1 BEGIN "
        + " ".join(f"INSERT OR IGNORE INTO search_due {query};" for query in queries)
        + " END"
        for event, queries in found.items()
    ]
