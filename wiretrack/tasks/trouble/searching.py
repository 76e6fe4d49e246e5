# SPDX-License-Identifier: MIT
"""A search for a fault begun, answered, corrected and taken back, by several people at once."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wiretrack.electrical.symptoms import symptom_of
from wiretrack.encoding import document
from wiretrack.errors import BadInputError, ChangedMeanwhileError, FaultLocationError, Hint
from wiretrack.model.circuits import written
from wiretrack.model.entities import Conductor
from wiretrack.procedure import FAULT_SEARCH, UNDONE
from wiretrack.store import procedures
from wiretrack.store.searching import resolve
from wiretrack.store.source import site_of
from wiretrack.tasks.trouble.search import Answer, Search
from wiretrack.tasks.trouble.suspects import suspected

if TYPE_CHECKING:
    from collections.abc import Mapping

    from wiretrack.procedure import Procedure
    from wiretrack.store.store import Registry


def start(
    registry: Registry,
    symptom: str,
    what: str,
    *,
    at: str | None = None,
    who: str | None = None,
) -> Search:
    """Begin a search for the cause of a symptom at a conductor or circuit, and return it.

    `at` is the box that stands open already.
    """
    box = resolve(registry, at, ("enclosure",)).code if at else None
    begun = suspected(registry, symptom_of(symptom), what)
    record = procedures.start(
        registry,
        FAULT_SEARCH,
        {"circuit": begun.circuit, "symptom": symptom},
        {**document(begun), "box": box},
        after=procedures.latest(registry, FAULT_SEARCH, circuit=begun.circuit),
        who=who,
    )
    return _state(registry, record)


def status(registry: Registry, what: str) -> Search:
    """Return the latest search on a circuit, or on that of a conductor."""
    return _state(registry, _latest(registry, what))


def answer(
    registry: Registry, what: str, given: Answer, *, who: str | None = None, seen: str | None = None
) -> Search:
    """Store the answer to the question that is open, and return the search after it.

    ``yes`` says that the voltage or the closed circuit asked for is there, ``cant`` that the
    reading can't be taken: another one is chosen. `ChangedMeanwhileError` if `seen` is given and
    isn't the version of the search: somebody else answered.
    """
    record = _latest(registry, what, seen)
    step = _state(registry, record).next
    if step is None:
        raise BadInputError(
            "The search asks nothing any more. Start another, or correct an answer of this one."
        )
    asked = {"question": step.question, "ask": step.ask}
    with registry.write(who):
        after = procedures.add_answer(registry, record, asked, given.stored(), who=who)
        return _after(registry, after, who)


def correct(
    registry: Registry,
    what: str,
    number: int,
    given: Answer,
    *,
    who: str | None = None,
    seen: str | None = None,
) -> Search:
    """Supersede answer `number`; what followed from it is concluded again."""
    record = _latest(registry, what, seen)
    return _superseded(registry, record, number, given.stored(), who)


def undo(
    registry: Registry, what: str, *, who: str | None = None, seen: str | None = None
) -> Search:
    """Take the last answer back, so that its question is open again."""
    record = _latest(registry, what, seen)
    return _superseded(registry, record, len(record.answers), UNDONE, who)


def version(registry: Registry, what: str) -> str:
    """Return a text that changes with every answer to the latest search on a circuit."""
    return _latest(registry, what).version


def _superseded(
    registry: Registry, record: Procedure, number: int, stored: Mapping[str, Any], who: str | None
) -> Search:
    count = len(record.answers)
    if not 1 <= number <= count:
        raise BadInputError(
            f"The search has no answer {number}. Its answers are 1 to {count}."
            if count
            else f"The search has no answer {number}: nothing was answered yet. Look at its status."
        )
    old = record.answers[number - 1]
    with registry.write(who):
        after = procedures.add_answer(registry, record, old.step, stored, supersedes=old, who=who)
        return _after(registry, after, who)


def _after(registry: Registry, record: Procedure, who: str | None) -> Search:
    """Return the search after an answer, its result stored where it is at its end."""
    search = _state(registry, record)
    if search.next is not None:
        return search
    kept = ("found", "undecided", "contradiction")
    result = {key: document(getattr(search, key)) for key in kept}
    return _state(registry, procedures.finish(registry, record, result, who=who))


def _latest(registry: Registry, what: str, seen: str | None = None) -> Procedure:
    named = resolve(registry, what, ("conductor", "circuit"))
    codes: tuple[str, ...] = (named.code,)
    if named.what == "conductor":
        codes = site_of(registry).one(Conductor, named.code).circuits
    found = (procedures.latest(registry, FAULT_SEARCH, circuit=code) for code in codes)
    record = next((each for each in found if each is not None), None)
    if record is None:
        raise FaultLocationError(
            f"No fault of {written(codes)} is searched for",
            Hint(job="symptom"),
        )
    if seen is not None and seen != record.version:
        raise ChangedMeanwhileError("The search")
    return record


def _state(registry: Registry, record: Procedure) -> Search:
    return Search.of(site_of(registry), record)
