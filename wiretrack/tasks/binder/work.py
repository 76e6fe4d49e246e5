# SPDX-License-Identifier: MIT
"""What was done and what to mind, for a binder's pages: ring-outs, fault searches, cautions."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from wiretrack.days import moment
from wiretrack.electrical.symptoms import symptom_of
from wiretrack.errors import WiretrackError
from wiretrack.procedure import answers_of
from wiretrack.readings import KINDS
from wiretrack.tasks.change.retired import ABANDONED_CAUTION, is_in_place
from wiretrack.tasks.identify.record import ringout_record

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from wiretrack.electrical.symptoms import Symptom
    from wiretrack.model.entities import Circuit, Conductor
    from wiretrack.procedure import Answered
    from wiretrack.ringout.results import RingoutRecord
    from wiretrack.tasks.binder.records import SiteRecords

Row = dict[str, Any]
NOT_STATED = "not stated"


@dataclass(frozen=True)
class ShownRingout:
    """A ring-out as a page shows it: its facts and what came of it in words, and its record."""

    facts: list[tuple[str, str]]
    lists: list[tuple[str, Sequence[str]]]
    record: RingoutRecord


@dataclass(frozen=True)
class ShownSearch:
    """A guided search for a fault: when it began, what came of it, and its answers in words."""

    at: str
    symptom: str
    state: str
    steps: list[str]


def ringout_of(records: SiteRecords, pull: str) -> tuple[ShownRingout | None, str]:
    """Return the record of a pull's latest ring-out, and what else is to be said of ring-outs."""
    stored = records.ringouts_of.get(pull, [])
    if not stored:
        return None, ""
    earlier = f"{len(stored) - 1} earlier: in site.json" if len(stored) > 1 else ""
    try:
        found = ringout_record(records.registry, pull)
    except WiretrackError as error:
        return None, f"Its {len(stored)} stored ring-outs are in site.json. {error}"
    facts = [
        ("Between", f"{found.near} and {found.far}"),
        ("State", "finished" if found.finished else "not finished"),
        ("Begun", moment(found.begun)),
        ("Last step", moment(found.ended) if found.ended else NOT_STATED),
        ("Instrument", found.instrument or NOT_STATED),
        ("References", ", ".join(found.references) or "none"),
        ("Effort", f"{found.walks} walks, {found.joins} joins, {found.probes} touches"),
        ("Others", earlier),
    ]
    lists: list[tuple[str, Sequence[str]]] = [
        ("Not identified", found.unresolved),
        ("Faults", [f"{fault.kind}: {fault.evidence}" for fault in found.faults]),
        ("Readings to look at again", [query.reason for query in found.questions]),
        ("Notes", found.notes),
    ]
    return ShownRingout(facts, lists, found), ""


def searches_of(records: SiteRecords, circuit: str) -> list[ShownSearch]:
    """Return the guided searches for a fault of a circuit, each with its answers in words."""
    return [
        ShownSearch(
            at=search["at"],
            symptom=search["symptom"],
            state=_outcome(search.get("result")),
            steps=[
                _answered(symptom_of(search["symptom"]), given)
                for given in answers_of(search["answers"])
            ],
        )
        for search in records.searches_of.get(circuit, ())
    ]


def _answered(symptom: Symptom, given: Answered) -> str:
    answer = given.answer
    details = (answer.get("value"), answer.get("note"), given.by and f"by {given.by}")
    words = ", ".join(str(detail) for detail in details if detail)
    said = symptom.answer(answer.get("outcome", "")).replace("cant", "can't")
    return f"{given.step.get('ask', '')} {said}{', ' if words else ''}{words}".strip()


def _outcome(result: Row | None) -> str:
    """Return what came of a search; an older one may hold names as text or a list."""
    if not result:
        return "not finished"
    found = result.get("found") or ()
    if isinstance(found, Mapping):
        found = (found.get("name") or found.get("code"),)
    elif isinstance(found, str):
        found = (found,)
    left = ", ".join(str(one.get("name")) for one in result.get("undecided") or ())
    told = f"found: {', '.join(map(str, found)) or 'nothing'}"
    told += f"; not decided: {left}" if left else ""
    return told + (f"; {result['contradiction']}" if result.get("contradiction") else "")


def cautions_of(records: SiteRecords, circuit: Circuit, members: Iterable[Conductor]) -> list[str]:
    """Return what to read before any work on a circuit, the last word last."""
    there = [c for c in members if is_in_place(c)]
    boxes = {end.enclosure for c in there for end in (c.from_end, c.to_end)}
    kinds = tuple(sorted({records.enclosures[box].kind or "" for box in boxes}))
    lines = [ABANDONED_CAUTION] if any(c.retired_at for c in there) else []
    lines += [
        line for kind in KINDS if kind.is_guarded for line in kind.cautions(circuit.system, kinds)
    ]
    return [*dict.fromkeys(line for line in lines if line != lines[-1]), lines[-1]]
