# SPDX-License-Identifier: MIT
"""A guided search for a fault: the next reading, the log, and answers that can be taken back."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Any

from wiretrack.electrical import symptoms
from wiretrack.electrical.symptoms import symptom_of
from wiretrack.errors import BadInputError, ChangedMeanwhileError, FaultLocationError, Hint
from wiretrack.model.circuits import written
from wiretrack.procedure import FAULT_SEARCH, UNDONE
from wiretrack.readings import kind_of
from wiretrack.store import procedures, records
from wiretrack.store.searching import resolve
from wiretrack.tasks.free_text import check_text
from wiretrack.tasks.trouble.questions import SOURCE, Question, next_question, remaining
from wiretrack.tasks.trouble.suspects import lineup

if TYPE_CHECKING:
    from wiretrack.procedure import Answered, Procedure
    from wiretrack.store.store import Registry

OUTCOMES = ("yes", "no", "cant")
OLDER = "The search was begun by an older version. Start it again to go on"


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
    search = procedures.start(
        registry,
        FAULT_SEARCH,
        {"circuit": made.circuit, "symptom": symptom},
        settings,
        after=procedures.latest(registry, FAULT_SEARCH, circuit=made.circuit),
        who=who,
    )
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

    ``yes`` says that the voltage or the closed circuit asked for is there, ``cant`` that the
    reading can't be taken: another one is chosen.

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
    return _after(registry, procedures.add_answer(registry, search, step, given, who=who), who)


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
    return _superseded(registry, search, number, _checked(outcome, value, note), who)


def undo(
    registry: Registry, what: str, *, who: str | None = None, seen: str | None = None
) -> dict[str, Any]:
    """Take the last answer back, so that its question is open again."""
    search = _latest(registry, what, seen)
    return _superseded(registry, search, len(search.answers), UNDONE, who)


def _superseded(
    registry: Registry, search: Procedure, number: int, answer: dict[str, Any], who: str | None
) -> dict[str, Any]:
    """Store another answer to question `number` of those that count, and return the state."""
    count = len(search.answers)
    if not 1 <= number <= count:
        raise BadInputError(
            f"The search has no answer {number}. Its answers are 1 to {count}."
            if count
            else f"The search has no answer {number}: nothing was answered yet. Look at its status."
        )
    old = search.answers[number - 1]
    after = procedures.add_answer(registry, search, old.step, answer, supersedes=old, who=who)
    return _after(registry, after, who)


def version(registry: Registry, what: str) -> str:
    """Return a text that changes with every answer to the latest search on a circuit."""
    return _latest(registry, what).version


def searches(registry: Registry) -> list[dict[str, Any]]:
    """Return ``circuit``, ``symptom`` and ``finished`` of every circuit's latest search."""
    return procedures.circuits_searched(registry)


def state(registry: Registry, search: Procedure) -> dict[str, Any]:
    """Return a search as a document: suspects, log, what is found or asked next."""
    suspects, left = search.settings["suspects"], _left(search)
    total = sum(s["weight"] for n, s in enumerate(suspects) if left >> n & 1)
    symptom, measured = symptom_of(search.symptom), _measured(search)
    if not left & (left - 1) and left.bit_length() - 1 not in measured:
        total += symptoms.OTHER_WEIGHT  # nothing is certain that no reading tells of
    number = _next(search)
    found = _found(search, left) if number is None else None
    return {
        "circuit": search.circuit,
        "subject": search.settings.get("subject", search.circuit),
        "symptom": search.symptom,
        "title": symptom.title,
        "at": search.at,
        "version": search.version,
        "suspects": [
            {
                "name": s["name"],
                "because": s["because"],
                "left": bool(left >> n & 1),
                "likelihood": s["weight"] / total if left >> n & 1 else 0.0,
                "measured": n in measured,
            }
            for n, s in enumerate(suspects)
        ],
        "log": [_logged(search, *numbered) for numbered in enumerate(search.answers, 1)],
        "next": None if number is None else _asked(registry, search, number),
        "found": found,
        "undecided": _undecided(search, left) if number is None and found is None else [],
        "confirm": symptom.confirm.words if found else None,
        "confirm_by": symptom.confirm.job if found else None,
        "contradiction": _contradiction(search, left),
        "remarks": [*search.settings.get("remarks", ()), *([OLDER] if _is_older(search) else [])],
        "cautions": _cautions(registry, search.circuit, symptom.kind),
        "source": f"{SOURCE}; {symptoms.SOURCE}",
    }


def _is_older(search: Procedure) -> bool:
    """Return whether a search was begun when its readings couldn't say what they measure."""
    return not all("between" in q for q in search.settings.get("questions", [{}]))


def _left(search: Procedure) -> int:
    """Return the suspects that agree with every answer, a bit for each."""
    questions = _questions(search)
    return remaining(len(search.settings["suspects"]), _answers(search, questions))


def _measured(search: Procedure) -> set[int]:
    """Return the numbers of the suspects that a reading that was taken tells of."""
    questions = search.settings.get("questions", [])
    return {
        n
        for given in search.answers
        if _said(search, given) != "cant"
        for n in questions[given.step["question"]]["bad"]
    }


def _found(search: Procedure, left: int) -> dict[str, Any] | None:
    """Return what is left where a bad reading showed it and it is one thing; else `None`.

    The poles of a device are one thing.
    """
    is_shown = any(bad for _, bad in _answers(search, _questions(search)))
    suspects = [s for n, s in enumerate(search.settings["suspects"]) if left >> n & 1]
    things = {(s.get("what"), s.get("code")) for s in suspects}
    if not is_shown or len(things) != 1 or suspects[0].get("code") is None:
        return None
    return {key: suspects[0].get(key) for key in ("what", "code", "name")}


def _undecided(search: Procedure, left: int) -> list[dict[str, Any]]:
    """Return what is left, and what would decide it; of answers that contradict, what they name."""
    questions = _questions(search)
    for question, bad in _answers(search, questions) if not left else ():
        left |= question.bad if bad else 0
    return [
        {key: s.get(key) for key in ("what", "code", "name", "decide")}
        for n, s in enumerate(search.settings["suspects"])
        if left >> n & 1
    ]


def _after(registry: Registry, search: Procedure, who: str | None) -> dict[str, Any]:
    """Return the state after an answer, its result stored where the search is at its end."""
    found = state(registry, search)
    if found["next"] is not None:
        return found
    result = {key: found[key] for key in ("found", "undecided", "contradiction")}
    try:
        return state(registry, procedures.finish(registry, search, result, who=who))
    except ChangedMeanwhileError:  # somebody else answered or undid something since
        return state(registry, procedures.as_it_is_now(registry, search))


def _latest(registry: Registry, what: str, seen: str | None = None) -> Procedure:
    named = resolve(registry, what, ("conductor", "circuit"))
    codes: tuple[str, ...] = (named.code,)
    if named.what == "conductor":
        codes = records.conductor(registry, named.code).circuits
    searches = (procedures.latest(registry, FAULT_SEARCH, circuit=code) for code in codes)
    search = next((each for each in searches if each is not None), None)
    if search is None:
        raise FaultLocationError(
            f"No fault of {written(codes)} is searched for",
            Hint(job="symptom"),
        )
    if seen is not None and seen != search.version:
        raise ChangedMeanwhileError("The search")
    return search


def _questions(search: Procedure) -> list[Question]:
    return [
        Question(q["ask"], q["box"], sum(1 << n for n in q["bad"]))
        for q in search.settings.get("questions", [])
    ]


def _said(search: Procedure, given: Answered) -> str:
    return symptom_of(search.symptom).answer(given.answer["outcome"])


def _answers(search: Procedure, questions: list[Question]) -> list[tuple[Question, bool]]:
    bad_if = symptom_of(search.symptom).bad_if
    return [
        (questions[given.step["question"]], _said(search, given) == bad_if)
        for given in search.answers
        if _said(search, given) != "cant" and given.step["question"] < len(questions)
    ]


def _next(search: Procedure) -> int | None:
    """Return the number of the question to ask now; `None` at the end of the search."""
    suspects, questions = search.settings["suspects"], _questions(search)
    left = _left(search)
    if not left or _is_older(search):
        return None
    asked = {given.step["question"] for given in search.answers}
    box = search.settings.get("box")
    for given in search.answers:
        if _said(search, given) != "cant":
            box = questions[given.step["question"]].box
    open_ones = [n for n in range(len(questions)) if n not in asked]
    weights = tuple(s["weight"] for s in suspects)
    plan = _planned(weights, tuple(questions[n] for n in open_ones), left, box)
    return None if plan.question is None else open_ones[plan.question]


_planned = lru_cache(maxsize=8)(next_question)


_READING = ("kind", "ask", "between", "disconnected", "loads", "live")


def _asked(registry: Registry, search: Procedure, number: int) -> dict[str, Any]:
    question = search.settings["questions"][number]
    symptom = symptom_of(search.symptom)
    where = next((e.where for e in records.enclosures(registry, [question["box"]])), None)
    return {
        "number": len(search.answers) + 1,
        "box": question["box"],
        "where": where,
        **{key: question[key] for key in _READING},
        "yes": symptom.yes,
        "no": symptom.no,
    }


def _checked(outcome: str, value: str | None, note: str | None) -> dict[str, Any]:
    outcome = "cant" if outcome == "can't" else outcome
    if outcome not in OUTCOMES:
        raise BadInputError(f"'{outcome}' is no answer. Answers: {', '.join(OUTCOMES)}.")
    given = {
        "outcome": outcome,
        "value": check_text("The value", value),
        "note": check_text("The note", note),
    }
    return {key: text for key, text in given.items() if text is not None}


def _logged(search: Procedure, number: int, given: Answered) -> dict[str, Any]:
    return {
        "number": number,
        "ask": given.step.get("ask", ""),
        "outcome": _said(search, given),
        "value": given.answer.get("value"),
        "note": given.answer.get("note"),
        "at": given.at,
        "by": given.by,
        "superseded": given.superseded,
    }


def _contradiction(search: Procedure, left: int) -> str | None:
    if left or not search.answers or not search.settings["suspects"]:
        return None
    return (
        "no suspect agrees with all the answers: one of them is wrong, or there are two faults; "
        "repeat the reading that you trust least and correct its answer"
    )


def _cautions(registry: Registry, circuit: str, kind: str) -> list[str]:
    system = records.circuit(registry, circuit).system
    boxes = {
        end.enclosure
        for c in records.conductors(registry, circuits=[circuit], in_service=True)
        for end in (c.from_end, c.to_end)
    }
    kinds = {e.kind for e in records.enclosures(registry, boxes) if e.kind}
    return list(kind_of(kind).cautions(system, tuple(sorted(kinds))))
