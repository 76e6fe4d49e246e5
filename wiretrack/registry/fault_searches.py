# SPDX-License-Identifier: MIT
"""Guided searches for a fault as stored: suspects, answers in order, and what came of them."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from wiretrack.errors import BadInputError
from wiretrack.registry.fault_search_rows import SEARCHES
from wiretrack.registry.identity import new_id
from wiretrack.registry.keeping import id_of, insert, now, packed

if TYPE_CHECKING:
    from collections.abc import Mapping

    from wiretrack.registry.store import Registry

Row = dict[str, Any]


@dataclass(frozen=True)
class SearchAnswer:
    """One question and the answer that counts now; `superseded` earlier ones were replaced."""

    number: int
    id: str
    step: Row
    answer: Row
    at: str
    superseded: int = 0


@dataclass(frozen=True)
class FaultSearch:
    """A search with its answers so far, in the order of their questions."""

    id: str
    circuit: str
    symptom: str
    settings: Row
    at: str
    result: Row | None
    answers: tuple[SearchAnswer, ...]


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
        "at": now(),
    }
    with registry.write(who) as db:
        insert(db, "fault_searches", row)
    return FaultSearch(row["id"], circuit, symptom, dict(settings), row["at"], None, ())


def latest_search(registry: Registry, circuit: str) -> FaultSearch | None:
    """Return the latest search on a circuit, with its answers."""
    row = registry.row(f"{SEARCHES} WHERE k.code = ? ORDER BY s.rowid DESC LIMIT 1", [circuit])
    if row is None:
        return None
    row["settings"] = json.loads(row["settings"])
    row["result"] = json.loads(row["result"]) if row["result"] else None
    return FaultSearch(**row, answers=_answers(registry, row["id"]))


def add_search_answer(
    registry: Registry,
    search: FaultSearch,
    step: Mapping[str, Any],
    answer: Mapping[str, Any],
    supersedes: str | None = None,
    *,
    who: str | None = None,
) -> None:
    """Store what was asked and answered durably; a finished search is open again."""
    seq = "(SELECT coalesce(max(seq), 0) + 1 FROM fault_search_answers WHERE fault_search_id = ?)"
    with registry.write(who) as db:
        db.execute(
            "INSERT INTO fault_search_answers"
            " (id, fault_search_id, step, answer, at, supersedes, seq)"
            f" VALUES (?, ?, ?, ?, ?, ?, {seq})",
            [new_id(), search.id, packed(step), packed(answer), now(), supersedes, search.id],
        )
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


def _answers(registry: Registry, search_id: str) -> tuple[SearchAnswer, ...]:
    chains: dict[str, list[Row]] = {}
    order: list[list[Row]] = []
    for row in registry.rows(
        "SELECT id, step, answer, at, supersedes FROM fault_search_answers"
        " WHERE fault_search_id = ? ORDER BY seq",
        [search_id],
    ):
        chain = chains.get(row["supersedes"] or "")
        if chain is None:
            chain = []
            order.append(chain)
        chain.append(row)
        chains[row["id"]] = chain
    return tuple(
        SearchAnswer(
            number, chain[-1]["id"], json.loads(chain[0]["step"]),
            json.loads(chain[-1]["answer"]), chain[-1]["at"], len(chain) - 1,
        )
        for number, chain in enumerate(order, 1)
    )  # fmt: skip
