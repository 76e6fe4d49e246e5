# SPDX-License-Identifier: MIT
"""A ring-out as several people see it at once: its state, and answers that can't cross."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace
from functools import lru_cache, partial
from typing import TYPE_CHECKING, Any

from wiretrack.errors import BadInputError, ChangedMeanwhileError, FieldError
from wiretrack.procedure import RINGOUT
from wiretrack.ringout.forecast import forecast
from wiretrack.ringout.results import Result
from wiretrack.ringout.steps import FitDiode, Probe, ProveDead, Unjoin, parse_step
from wiretrack.store import procedures, records
from wiretrack.store.searching import resolve
from wiretrack.tasks.identify.gear import (
    GEAR,
    diode_hints,
    gear_lines,
    gear_of,
    gear_told,
    typed_gear,
)
from wiretrack.tasks.identify.request import Wanted, settings_for
from wiretrack.tasks.identify.ringing import Ringing

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from wiretrack.model.entities import Conductor
    from wiretrack.procedure import Answered
    from wiretrack.ringout.bundle import Bundle
    from wiretrack.ringout.steps import Names
    from wiretrack.store.store import Registry

State = dict[str, Any]
_OPTIONAL = ("references", "far_colours", *GEAR)


def version_of(registry: Registry, pull: str) -> str | None:
    """Return the id of the step that stands in the latest ring-out of a pull.

    It changes with every answer and with the gear; `None` if no ring-out was begun.
    """
    code = resolve(registry, pull, ("pull",)).code
    return procedures.version_now(registry, RINGOUT, pull=code)


def state(registry: Registry, pull: str) -> State:
    """Return all that a person at either box needs to see now.

    Raises
    ------
    BadInputError
        If no ring-out of the pull was begun.
    """
    return _state(Ringing.latest(registry, pull))


def begin(registry: Registry, wanted: Wanted) -> State:
    """Begin a ring-out, or go on with the same one, and return its state.

    Raises
    ------
    FieldError
        If a field of what is wanted can't be; it names the field.
    """
    try:
        Ringing.begin(registry, wanted)
    except BadInputError as error:
        raise FieldError(_field_at_fault(registry, wanted), error) from error
    return state(registry, wanted.pull)


def answer(registry: Registry, pull: str, seen: str, typed: str, who: str | None = None) -> State:
    """Store the answer to the step that `seen` is the version of, and return the new state.

    The last answer writes the result to the conductors' ends.

    Raises
    ------
    ChangedMeanwhileError
        If somebody answered since then.
    BadInputError
        If the answer can't be understood.
    """
    ringing = _as_seen(registry, pull, seen)
    step = ringing.next_step()
    if not isinstance(step, Result):
        ringing.answer_typed(step, typed, who=who)
    _finish_if_over(ringing, who)
    return state(registry, pull)


def _finish_if_over(ringing: Ringing, who: str | None) -> None:
    if isinstance(ringing.next_step(), Result):
        with suppress(ChangedMeanwhileError):  # somebody else finished it, or undid something
            ringing.finish(who)


def correct(
    registry: Registry, pull: str, seen: str, number: int, typed: str, who: str | None = None
) -> State:
    """Supersede the answer to touch `number`, as far as nobody answered since `seen`."""
    corrected = _as_seen(registry, pull, seen).correct(number, typed, who=who)
    _finish_if_over(corrected, who)
    return state(registry, pull)


def undo(registry: Registry, pull: str, seen: str, who: str | None = None) -> State:
    """Take the last step back, whatever it was, as far as nobody answered since `seen`."""
    _as_seen(registry, pull, seen).undo(who=who)
    return state(registry, pull)


def switch(registry: Registry, wanted: Wanted, seen: str, who: str | None = None) -> State:
    """Go on with other gear or crew, as far as nobody answered or changed it since `seen`.

    Raises
    ------
    ChangedMeanwhileError
        If somebody did.
    FieldError
        If a field can't be; it names the field.
    """
    _as_seen(registry, wanted.pull, seen).switch(wanted, who=who)
    return state(registry, wanted.pull)


def log(registry: Registry, pull: str) -> State:
    """Return the state of a ring-out with all that was done and answered so far, in order."""
    ringing = Ringing.latest(registry, pull)
    steps = [_done(ringing, answer) for answer in ringing.record.answers]
    return {**_state(ringing), "log": steps}


def _as_seen(registry: Registry, pull: str, seen: str) -> Ringing:
    """Return the ring-out at the step that a page showed; what is stored is checked again then."""
    ringing = Ringing.latest(registry, pull)
    if seen != ringing.step_id:
        raise ChangedMeanwhileError("The ring-out")
    return ringing


def _state(ringing: Ringing) -> State:
    status = ringing.status()
    step, names = ringing.next_step(), ringing.names
    over = isinstance(step, Result)
    asked = None if isinstance(step, Result) else step
    is_diode = isinstance(step, FitDiode)
    return {
        "version": ringing.step_id,
        "pull": status["pull"],
        "near": status["near"],
        "far": status["far"],
        "finished": status["finished"],
        "over": over,
        "number": ringing.steps_taken + 1,
        "kind": asked.kind if asked else "result",
        "diode": is_diode,
        "polar": isinstance(step, Probe) and step.plus is not None,
        "told": asked.told(names) if asked else None,
        "place": names.boxes[asked.place] if asked else None,
        "lines": asked.lines(_naming(names)) if asked else [],
        "hints": diode_hints(ringing.bundle) if is_diode else (),
        "left": None if over else _left(ringing.bundle, status),
        "known": len(status["matches"]),
        "of": ringing.bundle.size,
        "last": _last(ringing),
        "matches": [{**m, "colour": names.colours.get(m["near"])} for m in status["matches"]],
        "gear": typed_gear(ringing.record.settings),
        "gear_told": gear_told(gear_of(ringing.record.settings)),
        "gear_used": gear_lines(ringing.record.settings),
        "marks": [{"mark": e.name, "colour": e.colour} for e in ringing.bundle.far],
        **{key: status[key] for key in _SHOWN},
    }


def _left(bundle: Bundle, status: Mapping[str, Any]) -> dict[str, int]:
    """Return about how many touches, joins and walks are left."""
    expected = _expected(bundle)
    return {name: max(whole - status[name], 0) for name, whole in expected.items()}


@lru_cache(maxsize=64)
def _expected(bundle: Bundle) -> dict[str, int]:
    """Return how many touches, joins and walks a sound bundle takes on the mean."""
    found = forecast(bundle)
    return {"probes": round(found.expected), "joins": found.joins, "walks": found.walks}


_SHOWN = ("walks", "probes", "joins", "unresolved", "faults", "questions", "notes")


def _naming(names: Names) -> Callable[[str], str]:
    """Return how a phone writes an end: its name, then its colour."""
    return lambda end: f"{end} {names.colours[end]}" if names.colours.get(end) else end


def _last(ringing: Ringing) -> dict[str, Any] | None:
    answers = ringing.record.answers
    return _done(ringing, answers[-1]) if answers else None


def _done(ringing: Ringing, stored: Answered) -> dict[str, Any]:
    """Return a step that was carried out: what was to be done, what was answered, by whom."""
    step = parse_step(stored.step)
    is_told = isinstance(step, Probe | ProveDead | Unjoin)
    return {
        "number": stored.number,
        "kind": step.kind,
        "told": step.told(ringing.names),
        "lines": [] if is_told else step.lines(_naming(ringing.names)),
        "answer": step.parse(stored.answer).said,
        "at": stored.at,
        "by": stored.by,
        "superseded": stored.superseded,
    }


def _field_at_fault(registry: Registry, wanted: Wanted) -> str:
    bare = Wanted(pull=wanted.pull, near=wanted.near, far=wanted.far)
    trials: dict[str, Callable[[], object]] = {
        "near": partial(resolve, registry, wanted.near, ("enclosure",)),
        "far": partial(settings_for, registry, bare),
    }
    for name in _OPTIONAL:
        alone = replace(bare, **{name: getattr(wanted, name)})
        trials[name] = partial(settings_for, registry, alone)
    for name, trial in trials.items():
        try:
            trial()
        except BadInputError:
            return name
    return ""


def boxes_of(registry: Registry, pull: str) -> list[str]:
    """Return the boxes in which conductors of a pull end, those that have tags there first."""
    found = _conductors_of(registry, pull)
    ends = [c.from_end for c in found] + [c.to_end for c in found]
    return list(dict.fromkeys(end.enclosure for end in ends))


def _conductors_of(registry: Registry, pull: str) -> list[Conductor]:
    code = resolve(registry, pull, ("pull",)).code
    return records.conductors(registry, pull=code, in_service=True)
