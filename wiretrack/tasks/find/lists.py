# SPDX-License-Identifier: MIT
"""Long lists, a part at a time, so that each part costs what it shows."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wiretrack.store.ringouts import answers_stored
from wiretrack.store.service import CIRCUIT_IN_SERVICE, IN_SERVICE

if TYPE_CHECKING:
    from wiretrack.store.store import Registry

AT_ONCE = 100
_CIRCUITS = f"""
    SELECT k.rowid AS number, k.code, k.title, k.system FROM circuits AS k
    WHERE k.rowid > ? AND {CIRCUIT_IN_SERVICE} ORDER BY k.rowid LIMIT ?"""
_PULLS = "SELECT rowid AS number, id, code FROM pulls WHERE rowid > ? ORDER BY rowid LIMIT ?"
_ENDS = f"""
    SELECT b.code, e.side, count(*) AS ends,
        sum(e.terminal_id IS NOT NULL OR e.mark IS NOT NULL) AS identified
    FROM conductors AS c JOIN ends AS e ON e.conductor_id = c.id
    JOIN enclosures AS b ON b.id = e.enclosure_id
    WHERE c.pull_id = ? AND {IN_SERVICE}
    GROUP BY b.code, e.side ORDER BY e.side, min(e.rowid)"""


def circuit_list(registry: Registry, after: int = 0) -> tuple[list[dict[str, Any]], int | None]:
    """Return the circuits in service that come next, and what `after` the next part begins with."""
    return _part(registry.rows(_CIRCUITS, [after, AT_ONCE + 1]))


def pull_list(registry: Registry, after: int = 0) -> tuple[list[dict[str, Any]], int | None]:
    """Return the pulls that come next, with their boxes and how far each ring-out has come."""
    found, following = _part(registry.rows(_PULLS, [after, AT_ONCE + 1]))
    return [_pull(registry, row["id"], row["code"]) for row in found], following


def _pull(registry: Registry, pull_id: str, code: str) -> dict[str, Any]:
    ends = registry.rows(_ENDS, [pull_id])
    there = [row for row in ends if row["side"] == "to"]
    stored = answers_stored(registry, code)
    return {
        "code": code,
        "boxes": list(dict.fromkeys(row["code"] for row in ends)),
        "conductors": sum(row["ends"] for row in there),
        "identified": sum(row["identified"] for row in there),
        "begun": stored is not None,
        "finished": stored is not None and stored[2],
    }


def _part(rows: list[dict[str, Any]]) -> tuple[list[dict[str, Any]], int | None]:
    shown = rows[:AT_ONCE]
    return shown, shown[-1]["number"] if len(rows) > AT_ONCE else None
