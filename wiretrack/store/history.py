# SPDX-License-Identifier: MIT
"""What the history of changes tells of records: since when, and how they were before."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from wiretrack.errors import NotFoundError
from wiretrack.late import dataclass
from wiretrack.model.tags import normalise
from wiretrack.store.notes import record_id
from wiretrack.store.schema import LISTED, NOTED_TABLES
from wiretrack.store.searching import ANY, Named, resolve
from wiretrack.store.writing import new_id, packed

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from sqlite_utils import Database

    from wiretrack.model.entities import Conductor
    from wiretrack.store.store import Registry


def added_at(registry: Registry, conductors: Iterable[Conductor]) -> dict[str, str]:
    """Return when these conductors came into the registry, by their ids."""
    rows = registry.rows(
        "SELECT c.id, coalesce((SELECT min(x.at) FROM changes AS x WHERE x.record = c.id"
        " AND x.action = 'added'), (SELECT x.at FROM changes AS x WHERE x.seq = c.came)) AS at"
        f" FROM conductors AS c WHERE c.id IN {LISTED}",
        [json.dumps([conductor.id for conductor in conductors])],
    )
    return {row["id"]: row["at"] for row in rows if row["at"] is not None}


@dataclass(frozen=True)
class SourceFile:
    """What was loaded: its name, and the files that it is, with what they hold."""

    name: str
    files: tuple[tuple[str, bytes], ...] = ()

    @property
    def sha256(self) -> str:
        """The SHA-256 of all that they hold, put together."""
        from hashlib import sha256

        return sha256(b"".join(data for _, data in self.files)).hexdigest()


def note_load(db: Database, file: SourceFile, numbers: Mapping[str, int]) -> None:
    """Note as one line that all rows that came after these numbers were loaded from a file."""
    from wiretrack.store.log import last_rows

    now = last_rows(db.conn)
    added = {table: now[table] - numbers[table] for table in NOTED_TABLES if table != "site"}
    said = {"name": file.name, "added": {table: n for table, n in added.items() if n}}
    db.execute(
        "INSERT INTO changes (id, change, more, at, by, what, record, action, new)"
        " SELECT ?, change, more, strftime('%Y-%m-%dT%H:%M:%fZ', 'now'), who, 'file', ?,"
        " 'loaded', ? FROM writing",
        [new_id(), file.sha256, packed(said)],
    )


def first_change(registry: Registry, tag: str, since: str) -> str | None:
    """Return when the site, a conductor, its circuit or an end was first changed since then."""
    row = registry.row(
        "SELECT min(x.at) AS at FROM changes AS x JOIN conductors AS c ON c.tag = :tag"
        " WHERE x.at >= :since AND x.action = 'changed' AND (x.what = 'site'"
        " OR x.record = c.id OR x.record IN (SELECT s.circuit_id FROM conductor_circuits AS s"
        " WHERE s.conductor_id = c.id)"
        " OR x.record IN (SELECT e.id FROM ends AS e WHERE e.conductor_id = c.id))",
        {"tag": tag, "since": since},
    )
    return row["at"] if row else None


def landing_before(registry: Registry, tag: str, side: str) -> tuple[str | None, str | None] | None:
    """Return the terminal and the state of an end before its last landing; None if there's none."""
    row = registry.row(
        "SELECT t.code AS terminal, json_extract(x.old, '$.state') AS state FROM conductors AS c"
        " JOIN ends AS e ON e.conductor_id = c.id AND e.side = ?"
        " JOIN changes AS x ON x.record = e.id AND x.what = 'ends' AND x.action = 'changed'"
        " LEFT JOIN terminals AS t ON t.id = json_extract(x.old, '$.terminal_id')"
        " WHERE c.tag = ? AND json_extract(x.old, '$.enclosure_id') = e.enclosure_id"
        " AND (json_extract(x.old, '$.terminal_id') IS NOT e.terminal_id"
        " OR json_extract(x.old, '$.state') IS NOT e.state) ORDER BY x.seq DESC LIMIT 1",
        [side, tag],
    )
    return (row["terminal"], row["state"]) if row else None


@dataclass(frozen=True, kw_only=True)
class LastChange:
    """The change that was noted last; all unknown before the first one."""

    id: str | None = None
    at: str | None = None
    by: str | None = None


@dataclass(frozen=True)
class State:
    """Which state a registry is in: the last change, and how much it has.

    Of notes and attachments those count that stand.
    """

    changes: int
    readings: int
    last_change: LastChange
    notes: int
    attachments: int


def state_of(registry: Registry) -> State:
    """Return the state of a registry; nothing of both logs is ever deleted, so they are counted."""
    row = registry.row("SELECT seq, id, at, by FROM changes ORDER BY seq DESC LIMIT 1") or {}
    readings = registry.row("SELECT coalesce(max(nr), 0) AS n FROM readings") or {"n": 0}
    (noted,) = registry.rows(
        "SELECT (SELECT count(*) FROM note_list) AS notes,"
        " (SELECT count(*) FROM attachment_list) AS attachments"
    )
    return State(row.pop("seq", 0), readings["n"], LastChange(**row), **noted)


def author_of(registry: Registry, record: str) -> str | None:
    """Return who added a record, where that is noted."""
    row = registry.row("SELECT by FROM changes WHERE record = ? AND action = 'added'", [record])
    return row["by"] if row else None


def ids_called(registry: Registry, word: str | Named) -> set[str]:
    """Return the ids of what a word names, or named once: any record, and the site."""
    try:
        named = word if isinstance(word, Named) else resolve(registry, word, ANY)
    except NotFoundError as error:
        once = str(word)
        found = {row["record"] for row in registry.rows(_ONCE, [once, normalise(once)])}
        if not found:
            raise NotFoundError("", once, error.near) from None
        return found
    own = {record_id(registry.db, named.what, named.code)}
    if named.what == "site":
        own |= {row["id"] for row in registry.rows("SELECT id FROM site")}
    return own


_ONCE = (
    "SELECT record FROM changes WHERE what <> 'file'"
    " AND (old ->> '$.code' = ?1 COLLATE NOCASE OR old ->> '$.tag' = ?2)"
)
