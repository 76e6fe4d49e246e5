# SPDX-License-Identifier: MIT
"""Guided work as a log of steps and answers: ring-outs, and searches for a fault. Pure.

An answer is never changed: a later one supersedes it, or says that it was undone. Each answer names
the one it follows. Where two follow the same one, two copies of a registry went on apart; every
answer stays, and the way with the most answers counts. Of ways equally long the one counts whose
first differing answer has the smaller identifier. So the choice depends on the answers alone, in
whatever order they came together.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Self

from wiretrack.late import dataclass

if TYPE_CHECKING:
    from collections.abc import Sequence

Row = Mapping[str, Any]
RINGOUT, FAULT_SEARCH = "ringouts", "fault_searches"  # the kinds, each as its table in a site file
NOUNS = {RINGOUT: "The ring-out", FAULT_SEARCH: "The search"}
UNDONE = {"undone": True}  # supersedes the answer to a step that was taken back without another


@dataclass(frozen=True)
class Answered:
    """One step and the answer that counts now; `number` is its place in the procedure.

    `id` and `at` are those of the answer, `by` who gave it, where that was said; `superseded` is
    how many earlier ones it replaced.
    """

    number: int
    id: str
    step: dict[str, Any]
    answer: dict[str, Any]
    at: str
    superseded: int = 0
    by: str | None = None


@dataclass(frozen=True, kw_only=True)
class Procedure:
    """A ring-out or a search with its answers so far, in the order of their steps.

    Answers that were undone are left out; `steps` counts them too, and `stored` also those that
    were superseded. `last` is the id of the answer stored last, `None` before the first one. A
    ring-out is of a pull between two boxes, a search of a circuit and a symptom.
    """

    id: str
    kind: str
    at: str
    settings: dict[str, Any]
    result: dict[str, Any] | None = None
    pull: str = ""
    near: str = ""
    far: str = ""
    circuit: str = ""
    symptom: str = ""
    answers: tuple[Answered, ...] = ()
    steps: int = 0
    stored: int = 0
    last: str | None = None

    @classmethod
    def of(cls, facts: Mapping[str, Any], rows: Sequence[Row]) -> Self:
        """Return the procedure of `facts` with these answers, all that its log holds, by ``seq``.

        Each has ``id``, ``seq``, ``step``, ``answer``, ``at``, ``supersedes`` and ``follows``.
        """
        way = way_that_counts(rows)
        chains = superseding(way)
        return cls(
            **facts,
            answers=_counting(chains),
            steps=len(chains),
            stored=len(way),
            last=way[-1]["id"] if way else None,
        )

    @property
    def amended(self) -> bool:
        """Whether any answer was corrected or undone."""
        return self.stored > len(self.answers)

    @property
    def version(self) -> str:
        """Return the id of the step that stands: another one after each answer, undo and change."""
        changes = len(self.settings.get("earlier", ()))
        return f"{self.last or self.id}.{changes}.{int(self.result is not None)}"


def way_that_counts(rows: Sequence[Row]) -> list[Row]:
    """Return the answers of the way that counts, of all of one procedure by ``seq``."""
    if not rows or len(rows) == rows[-1]["seq"]:
        return list(rows)
    by_id = {row["id"]: row for row in rows}
    deepest = rows[-1]["seq"]
    return min((_way(by_id, row) for row in rows if row["seq"] == deepest),
               key=lambda way: [row["id"] for row in way])  # fmt: skip


def superseding(rows: Sequence[Row]) -> list[list[Row]]:
    """Return the answers step by step: the first one, and those that superseded it in turn."""
    chains: dict[str, list[Row]] = {}
    order: list[list[Row]] = []
    for row in rows:
        chain = chains.get(row["supersedes"] or "")
        if chain is None:
            chain = []
            order.append(chain)
        chain.append(row)
        chains[row["id"]] = chain
    return order


def unlinked(rows: Sequence[Row]) -> list[Row]:
    """Return the answers without what each follows, if that is always the one before."""
    one_way = len({row["seq"] for row in rows}) == len(rows)
    return [{k: v for k, v in r.items() if k != "follows"} for r in rows] if one_way else list(rows)


def linked(rows: Sequence[Row]) -> list[Row]:
    """Return the answers by ``seq``, each with the one it follows: unsaid, the one before."""
    rows = [{"supersedes": None, "follows": None, **row} for row in rows]
    if any(row["follows"] for row in rows):
        return rows
    in_order = sorted(rows, key=lambda row: row["seq"])
    before = [None, *(row["id"] for row in in_order)]
    return [{**row, "follows": earlier} for row, earlier in zip(in_order, before, strict=False)]


def answers_of(rows: Sequence[Row]) -> tuple[Answered, ...]:
    """Return the answers that count of one procedure in a site file."""
    return _counting(superseding(way_that_counts(linked(rows))))


def _counting(chains: Sequence[list[Row]]) -> tuple[Answered, ...]:
    answers = (_answered(number, chain) for number, chain in enumerate(chains, 1))
    return tuple(one for one in answers if one.answer != UNDONE)


def _answered(number: int, chain: list[Row]) -> Answered:
    last = chain[-1]
    answer = {key: value for key, value in last["answer"].items() if key != "by"}
    by = last["answer"].get("by")
    return Answered(number, last["id"], chain[0]["step"], answer, last["at"], len(chain) - 1, by)


def _way(by_id: Mapping[str, Row], last: Row) -> list[Row]:
    way = [last]
    while (earlier := by_id.get(way[-1]["follows"] or "")) is not None:
        way.append(earlier)
    return way[::-1]
