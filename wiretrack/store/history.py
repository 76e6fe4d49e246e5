# SPDX-License-Identifier: MIT
"""What the history of changes tells of records: since when, and how they were before."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from wiretrack.store.records import LISTED

if TYPE_CHECKING:
    from collections.abc import Iterable

    from wiretrack.model.entities import Conductor
    from wiretrack.store.store import Registry


def added_at(registry: Registry, conductors: Iterable[Conductor]) -> dict[str, str]:
    """Return when these conductors came into the registry, by their ids."""
    rows = registry.rows(
        f"SELECT record, min(at) AS at FROM changes WHERE record IN {LISTED}"
        " AND action = 'added' GROUP BY record",
        [json.dumps([conductor.id for conductor in conductors])],
    )
    return {row["record"]: row["at"] for row in rows}


def first_change(registry: Registry, tag: str, since: str) -> str | None:
    """Return when the site, a conductor, its circuit or an end was first changed since then."""
    row = registry.row(
        "SELECT min(x.at) AS at FROM changes AS x JOIN conductors AS c ON c.tag = :tag"
        " WHERE x.at >= :since AND x.action = 'changed' AND (x.what = 'site'"
        " OR x.record IN (c.id, c.circuit_id)"
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
