# SPDX-License-Identifier: MIT
"""Guided searches for a fault as stored: suspects, answers in order, and what came of them."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from wiretrack import days
from wiretrack.errors import BadInputError, ChangedMeanwhileError
from wiretrack.store.branching import standing, superseding
from wiretrack.store.fault_search_rows import SEARCHES
from wiretrack.store.identity import new_id
from wiretrack.store.writing import id_of, insert, packed

if TYPE_CHECKING:
    from collections.abc import Mapping

    from wiretrack.store.store import Registry

Row = dict[str, Any]
UNDONE: Row = {"outcome": "undone"}  # supersedes an answer that was taken back without another


@dataclass(frozen=True)
class SearchAnswer:
    """One question and the answer that counts now; `superseded` earlier ones were replaced.

    `by` is who gave it, where that was said.
    """

    number: int
    id: str
    step: Row
    answer: Row
    at: str
    superseded: int = 0
    by: str | None = None


@dataclass(frozen=True)
class FaultSearch:
    """A search with its answers so far, in the order of their questions; those undone left out.

    `stored` counts every answer, the superseded ones too.
    """

    id: str
    circuit: str
    symptom: str
    settings: Row
    at: str
    result: Row | None
    answers: tuple[SearchAnswer, ...]
    stored: int = 0


def start_search(
    registry: Registry,
    circuit: str,
    symptom: str,
    settings: Mapping[str, Any],
    *,
    who: str | None = None,
) -> FaultSearch:
    """Begin a search and return it."""
    row = {
        "id": new_id(),
        "circuit_id": id_of(registry, "circuits", circuit),
        "symptom": symptom,
        "settings": packed(settings),
        "at": days.now(),
    }
    with registry.write(who) as db:
        insert(db, "fault_searches", row)
    return FaultSearch(row["id"], circuit, symptom, dict(settings), row["at"], None, ())


def latest_search(registry: Registry, circuit: str) -> FaultSearch | None:
    """Return the latest search on a circuit, with its answers."""
    row = registry.row(
        f"{SEARCHES} WHERE k.code = ? ORDER BY julianday(s.at) DESC, s.rowid DESC LIMIT 1",
        [circuit],
    )
    if row is None:
        return None
    row["settings"] = json.loads(row["settings"])
    row["result"] = json.loads(row["result"]) if row["result"] else None
    rows = _answer_rows(registry, row["id"])
    return FaultSearch(**row, answers=_answers(rows), stored=len(rows))


def circuits_searched(registry: Registry) -> list[Row]:
    """Return ``circuit``, ``symptom``, ``finished`` of each circuit's latest search, new first."""
    sql = (
        "SELECT k.code AS circuit, s.symptom, s.result IS NOT NULL AS finished"
        " FROM fault_searches AS s JOIN circuits AS k ON k.id = s.circuit_id"
        " WHERE s.id = (SELECT x.id FROM fault_searches AS x WHERE x.circuit_id = s.circuit_id"
        " ORDER BY julianday(x.at) DESC, x.rowid DESC LIMIT 1)"
        " ORDER BY julianday(s.at) DESC, s.rowid DESC LIMIT 200"
    )
    return registry.rows(sql)


def add_search_answer(
    registry: Registry,
    search: FaultSearch,
    step: Mapping[str, Any],
    answer: Mapping[str, Any],
    supersedes: str | None = None,
    *,
    who: str | None = None,
) -> None:
    """Store what was asked and answered durably; a finished search is open again.

    Raises
    ------
    ChangedMeanwhileError
        If somebody answered since `search` was read.
    """
    given = {**answer, "by": who} if who else answer
    with registry.write(who) as db:
        rows = _answer_rows(registry, search.id)
        if len(rows) != search.stored:
            raise ChangedMeanwhileError("The search")
        last = rows[-1]["id"] if rows else None
        db.execute(
            "INSERT INTO fault_search_answers"
            " (id, fault_search_id, step, answer, at, supersedes, seq, follows)"
            " VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            [new_id(), search.id, packed(step), packed(given), days.now(), supersedes,
             len(rows) + 1, last],
        )  # fmt: skip
        db.execute(
            "UPDATE fault_searches SET result = NULL WHERE id = ? AND result IS NOT NULL",
            [search.id],
        )


def finish_search(
    registry: Registry, search: FaultSearch, result: Mapping[str, Any], *, who: str | None = None
) -> None:
    """Store what a search has found."""
    with registry.write(who) as db:
        db.execute("UPDATE fault_searches SET result = ? WHERE id = ?", [packed(result), search.id])


def answer_of(search: FaultSearch, number: int) -> SearchAnswer:
    """Return the answer to question `number` of a search."""
    if not 1 <= number <= len(search.answers):
        raise BadInputError(
            f"The search has no answer {number}. Its answers are 1 to {len(search.answers)}."
            if search.answers
            else f"The search has no answer {number}: nothing was answered yet. Look at its status."
        )
    return search.answers[number - 1]


def _answer_rows(registry: Registry, search_id: str) -> list[Row]:
    """Return the answers that count, in their order; see `branching`."""
    rows = registry.rows(
        "SELECT id, seq, step, answer, at, supersedes, follows FROM fault_search_answers"
        " WHERE fault_search_id = ? ORDER BY seq",
        [search_id],
    )
    return standing(rows)


def _answers(rows: list[Row]) -> tuple[SearchAnswer, ...]:
    kept = [
        c for c in superseding(rows) if json.loads(c[-1]["answer"])["outcome"] != UNDONE["outcome"]
    ]
    return tuple(_answer(number, chain) for number, chain in enumerate(kept, 1))


def _answer(number: int, chain: list[Row]) -> SearchAnswer:
    given = json.loads(chain[-1]["answer"])
    by = given.pop("by", None)
    return SearchAnswer(
        number, chain[-1]["id"], json.loads(chain[0]["step"]), given, chain[-1]["at"],
        len(chain) - 1, by,
    )  # fmt: skip
