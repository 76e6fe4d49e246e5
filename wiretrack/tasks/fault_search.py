# SPDX-License-Identifier: MIT
"""A guided search for a fault: the next reading, the log, and answers that can be taken back."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wiretrack.electrical import symptoms
from wiretrack.electrical.cautions import cautions
from wiretrack.electrical.symptoms import symptom_of
from wiretrack.errors import BadInputError, ChangedMeanwhileError, FaultLocationError
from wiretrack.registry import fault_searches, service
from wiretrack.registry.dumping import called, circuits, conductors, enclosures
from wiretrack.registry.searching import resolve
from wiretrack.tasks.free_text import check_text
from wiretrack.tasks.suspects import lineup
from wiretrack.topology.questions import SOURCE, Question, next_question, remaining

if TYPE_CHECKING:
    from wiretrack.registry.fault_searches import FaultSearch
    from wiretrack.registry.store import Registry

OUTCOMES = ("good", "bad", "skip")


def start(
    registry: Registry,
    symptom: str,
    what: str,
    *,
    at: str | None = None,
    who: str | None = None,
) -> dict[str, Any]:
    """Begin a search for the cause of a symptom at a conductor or circuit; return its state.

    `at` is the box that stands open already.
    """
    box = resolve(registry, at, ("enclosure",)).code if at else None
    made = lineup(registry, symptom_of(symptom), what)
    settings = {**made.as_json(), "box": box}
    search = fault_searches.start_search(registry, made.circuit, symptom, settings, who=who)
    return state(registry, search)


def status(registry: Registry, what: str) -> dict[str, Any]:
    """Return the state of the latest search on a circuit, or on that of a conductor."""
    return state(registry, _latest(registry, what))


def answer(
    registry: Registry,
    what: str,
    outcome: str,
    *,
    value: str | None = None,
    note: str | None = None,
    who: str | None = None,
    seen: str | None = None,
) -> dict[str, Any]:
    """Store the answer to the question that is open, and return the state after it.

    ``skip`` says that the reading can't be taken: another one is chosen.

    Raises
    ------
    ChangedMeanwhileError
        If `seen` is given and isn't the version of the search: somebody else answered.
    """
    search = _latest(registry, what, seen)
    number = _next(search)
    if number is None:
        raise BadInputError(
            "The search asks nothing any more. Start another, or correct an answer of this one."
        )
    step = {"question": number, "ask": search.settings["questions"][number]["ask"]}
    given = _checked(outcome, value, note)
    fault_searches.add_search_answer(registry, search, step, given, who=who)
    return _after(registry, search.circuit, who)


def correct(
    registry: Registry,
    what: str,
    number: int,
    outcome: str,
    *,
    value: str | None = None,
    note: str | None = None,
    who: str | None = None,
    seen: str | None = None,
) -> dict[str, Any]:
    """Supersede answer `number`; what followed from it is concluded anew."""
    search = _latest(registry, what, seen)
    old = fault_searches.answer_of(search, number)
    given = _checked(outcome, value, note)
    fault_searches.add_search_answer(registry, search, old.step, given, old.id, who=who)
    return _after(registry, search.circuit, who)


def undo(
    registry: Registry, what: str, *, who: str | None = None, seen: str | None = None
) -> dict[str, Any]:
    """Take the last answer back, so that its question is open again."""
    search = _latest(registry, what, seen)
    last = fault_searches.answer_of(search, len(search.answers))
    undone = fault_searches.UNDONE
    fault_searches.add_search_answer(registry, search, last.step, undone, last.id, who=who)
    return _after(registry, search.circuit, who)


def version(registry: Registry, what: str) -> str:
    """Return a text that changes with every answer to the latest search on a circuit."""
    return _version(_latest(registry, what))


def searches(registry: Registry) -> list[dict[str, Any]]:
    """Return ``circuit``, ``symptom`` and ``finished`` of every circuit's latest search."""
    return fault_searches.circuits_searched(registry)


def _version(search: FaultSearch) -> str:
    return f"{search.id}.{search.stored}"


def state(registry: Registry, search: FaultSearch) -> dict[str, Any]:
    """Return a search as a document: suspects, log, what is found or asked next."""
    suspects, questions = search.settings["suspects"], _questions(search)
    left = remaining(len(suspects), _answers(search, questions))
    total = sum(s["weight"] for n, s in enumerate(suspects) if left >> n & 1)
    symptom = symptom_of(search.symptom)
    number = _next(search)
    return {
        "circuit": search.circuit,
        "subject": search.settings["subject"],
        "symptom": search.symptom,
        "title": symptom.title,
        "at": search.at,
        "version": _version(search),
        "suspects": [
            {
                "name": s["name"],
                "because": s["because"],
                "left": bool(left >> n & 1),
                "likelihood": s["weight"] / total if left >> n & 1 else 0.0,
            }
            for n, s in enumerate(suspects)
        ],
        "log": [_logged(given) for given in search.answers],
        "next": None if number is None else _asked(registry, search, number),
        "found": [s["name"] for n, s in enumerate(suspects) if left >> n & 1]
        if number is None
        else None,
        "confirm": symptom.confirm if number is None and left else None,
        "contradiction": _contradiction(search, left),
        "remarks": search.settings["remarks"],
        "cautions": _cautions(registry, search.circuit, symptom.kind),
        "source": f"{SOURCE}; {symptoms.SOURCE}",
    }


def _after(registry: Registry, circuit: str, who: str | None) -> dict[str, Any]:
    """Return the state after an answer, its result stored where the search is at its end."""
    search = _latest(registry, circuit)
    found = state(registry, search)
    if found["next"] is None:
        result = {"found": found["found"], "contradiction": found["contradiction"]}
        fault_searches.finish_search(registry, search, result, who=who)
    return found


def _latest(registry: Registry, what: str, seen: str | None = None) -> FaultSearch:
    named = resolve(registry, what, ("conductor", "circuit"))
    circuit = named.code
    if named.what == "conductor":
        circuit = conductors(registry, "c.tag = ?", [named.code])[0].circuit
    search = fault_searches.latest_search(registry, circuit)
    if search is None:
        raise FaultLocationError(
            f"No fault of {circuit} is searched for",
            "Begin with: wiretrack symptom start SYMPTOM TAG",
        )
    if seen is not None and seen != _version(search):
        raise ChangedMeanwhileError("The search")
    return search


def _questions(search: FaultSearch) -> list[Question]:
    return [
        Question(q["ask"], q["box"], sum(1 << n for n in q["bad"]))
        for q in search.settings["questions"]
    ]


def _answers(search: FaultSearch, questions: list[Question]) -> list[tuple[Question, bool]]:
    return [
        (questions[given.step["question"]], given.answer["outcome"] == "bad")
        for given in search.answers
        if given.answer["outcome"] != "skip"
    ]


def _next(search: FaultSearch) -> int | None:
    """Return the number of the question to ask now; `None` at the end of the search."""
    suspects, questions = search.settings["suspects"], _questions(search)
    left = remaining(len(suspects), _answers(search, questions))
    if not left:
        return None
    asked = {given.step["question"] for given in search.answers}
    box = search.settings.get("box")
    for given in search.answers:
        if given.answer["outcome"] != "skip":
            box = questions[given.step["question"]].box
    open_ones = [n for n in range(len(questions)) if n not in asked]
    plan = next_question(
        [s["weight"] for s in suspects], [questions[n] for n in open_ones], left, box
    )
    return None if plan.question is None else open_ones[plan.question]


def _asked(registry: Registry, search: FaultSearch, number: int) -> dict[str, Any]:
    question = search.settings["questions"][number]
    symptom = symptom_of(search.symptom)
    where = next((e.where for e in enclosures(registry, "code = ?", [question["box"]])), None)
    return {
        "number": len(search.answers) + 1,
        "box": question["box"],
        "where": where,
        "ask": question["ask"],
        "kind": symptom.kind,
        "good": symptom.good,
        "bad": symptom.bad,
    }


def _checked(outcome: str, value: str | None, note: str | None) -> dict[str, Any]:
    if outcome not in OUTCOMES:
        raise BadInputError(f"'{outcome}' is no answer. Answers: {', '.join(OUTCOMES)}.")
    given = {
        "outcome": outcome,
        "value": check_text("The value", value),
        "note": check_text("The note", note),
    }
    return {key: text for key, text in given.items() if text is not None}


def _logged(given: fault_searches.SearchAnswer) -> dict[str, Any]:
    return {
        "number": given.number,
        "ask": given.step["ask"],
        "outcome": given.answer["outcome"],
        "value": given.answer.get("value"),
        "note": given.answer.get("note"),
        "at": given.at,
        "by": given.by,
        "superseded": given.superseded,
    }


def _contradiction(search: FaultSearch, left: int) -> str | None:
    if left or not search.answers:
        return None
    return (
        "no suspect agrees with all the answers: one of them is wrong, or there are two faults; "
        "repeat the reading that you trust least and correct its answer"
    )


def _cautions(registry: Registry, circuit: str, kind: str) -> list[str]:
    system = circuits(registry, "code = ?", [circuit])[0].system
    boxes = {
        end.enclosure
        for c in service.conductors(registry, "k.code = ?", [circuit])
        for end in (c.from_end, c.to_end)
    }
    kinds = {e.kind for e in enclosures(registry, *called(boxes)) if e.kind}
    return list(cautions(kind, system, tuple(sorted(kinds))))
