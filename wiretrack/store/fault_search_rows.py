# SPDX-License-Identifier: MIT
"""Guided searches for a fault as a dump holds them, out of a registry and into one."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING, Any

from wiretrack.store.branching import linked, plain
from wiretrack.store.writing import insert, packed, unpacked

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

    from sqlite_utils import Database

    from wiretrack.store.store import Registry

Row = dict[str, Any]

SEARCHES = (
    "SELECT s.id, k.code AS circuit, s.symptom, s.settings, s.at, s.result"
    " FROM fault_searches AS s JOIN circuits AS k ON k.id = s.circuit_id"
)


def dumped(registry: Registry) -> tuple[Row, ...]:
    """Return every search with its answers as a dump holds them."""
    answers: defaultdict[str, list[Row]] = defaultdict(list)
    for row in registry.rows("SELECT * FROM fault_search_answers ORDER BY fault_search_id, seq"):
        answers[row.pop("fault_search_id")].append(unpacked(row, "step", "answer"))
    return tuple(
        {**unpacked(row, "settings", "result"), "answers": plain(answers[row["id"]])}
        for row in registry.rows(f"{SEARCHES} ORDER BY s.rowid")
    )


def load(db: Database, rows: Iterable[Mapping[str, Any]], circuit_id: Callable[[str], str]) -> None:
    """Add searches from a dump."""
    for row in rows:
        kept = {key: row[key] for key in ("id", "symptom", "at")}
        kept["circuit_id"] = circuit_id(row["circuit"])
        kept["settings"] = packed(row.get("settings", {}))
        kept["result"] = None if row.get("result") is None else packed(row["result"])
        insert(db, "fault_searches", kept)
        for answer in linked(row.get("answers", ())):
            insert(
                db,
                "fault_search_answers",
                {
                    **{key: answer[key] for key in ("id", "seq", "at")},
                    "fault_search_id": row["id"],
                    "step": packed(answer["step"]),
                    "answer": packed(answer["answer"]),
                    "supersedes": answer.get("supersedes"),
                    "follows": answer["follows"],
                },
            )
