# SPDX-License-Identifier: MIT
"""The logs of labels: what was printed, and what somebody says is on its wire."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from wiretrack import days
from wiretrack.model.labels import NOTHING, EndLabel, LoggedLabel
from wiretrack.store.schema import LISTED
from wiretrack.store.searching import leads_to
from wiretrack.store.writing import id_of, insert, new_id, packed

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping

    from wiretrack.store.store import Registry


def add_prints(
    registry: Registry, prints: Iterable[Mapping[str, Any]], *, who: str | None = None
) -> None:
    """Note printed labels: rows with tag, end, form, stock, legend (a mapping) and file."""
    with registry.write(who) as db:
        for item in prints:
            row = {
                "id": new_id(),
                "conductor_id": id_of(registry, "conductors", item["tag"], "tag"),
                "side": item["end"],
                "form": item["form"],
                "stock": item["stock"],
                "legend": packed(item["legend"]),
                "file": item.get("file"),
                "at": days.now(),
            }
            insert(db, "label_prints", [row])


def add_placed(
    registry: Registry, rows: Iterable[Mapping[str, Any]], *, who: str | None = None
) -> None:
    """Note labels that are on their wires, inside the caller's write.

    Each row has tag and end, and one of `print_id` (which printed label it is), `legend` (what one
    written by hand says) and `takes_back` (the earlier row that holds no longer).
    """
    for row in rows:
        kept = {
            "id": new_id(),
            "conductor_id": id_of(registry, "conductors", row["tag"], "tag"),
            "side": row["end"],
            "print_id": row.get("print_id"),
            "legend": packed(row["legend"]) if "legend" in row else None,
            "takes_back": row.get("takes_back"),
            "at": datetime.now(UTC).isoformat(timespec="microseconds"),
            "by": who,
        }
        insert(registry.db, "placed_labels", [kept])


def any_printed(registry: Registry) -> bool:
    """Return whether a label was ever printed."""
    return registry.row("SELECT 1 FROM label_prints LIMIT 1") is not None


def last_stock(registry: Registry) -> str | None:
    """Return the stock that labels were printed on last, `None` if none were."""
    row = registry.row("SELECT stock FROM label_prints ORDER BY rowid DESC LIMIT 1")
    return row["stock"] if row else None


def labels(registry: Registry, tags: Collection[str]) -> dict[tuple[str, str], EndLabel]:
    """Return what both logs hold of each end of these conductors, by tag and side."""
    found: dict[tuple[str, str], EndLabel] = {}
    for label in _logged(registry, tags, _PRINTED):
        found[label.tag, label.side] = EndLabel(printed=label)
    for label in _logged(registry, tags, _PLACED):
        before = found.get((label.tag, label.side), NOTHING)
        found[label.tag, label.side] = replace(before, placed=(*before.placed, label))
    return found


_PRINTED = f"""
    SELECT c.tag, l.side, l.id, l.legend, l.at
    FROM label_prints AS l JOIN conductors AS c ON c.id = l.conductor_id
    WHERE c.tag IN {LISTED} ORDER BY l.at, l.rowid"""
_PLACED = f"""
    SELECT c.tag, l.side, l.id, l.print_id, coalesce(l.legend, p.legend) AS legend, l.at,
        EXISTS (SELECT 1 FROM placed_labels AS t WHERE t.takes_back = l.id) AS taken_back
    FROM placed_labels AS l JOIN conductors AS c ON c.id = l.conductor_id
    LEFT JOIN label_prints AS p ON p.id = l.print_id
    WHERE l.takes_back IS NULL AND c.tag IN {LISTED} ORDER BY l.at, l.id"""


def _logged(registry: Registry, tags: Collection[str], sql: str) -> list[LoggedLabel]:
    rows = registry.rows(sql, [json.dumps(list(tags))])
    return [LoggedLabel(**{**row, "legend": _legend(registry, row)}) for row in rows]


def _legend(registry: Registry, row: Mapping[str, Any]) -> dict[str, Any]:
    """Return what a label says; one that another program wrote may say nothing that we know.

    A code under which the conductor came in too is as good as its own.
    """
    said = json.loads(row["legend"])
    if not isinstance(said, dict):
        return {}
    code = said.get("payload")
    if isinstance(code, str) and code[-7:] != row["tag"] and leads_to(registry, code[-7:]):
        return said | {"payload": code[:-7] + row["tag"]}
    return said
