# SPDX-License-Identifier: MIT
"""A ring-out as several people see it at once: its state, and answers that can't cross."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace
from functools import lru_cache, partial
from typing import TYPE_CHECKING, Any

from wiretrack.errors import BadInputError, ChangedMeanwhileError, FieldError
from wiretrack.model.tags import format_tag
from wiretrack.procedure import RINGOUT
from wiretrack.ringout.forecast import forecast
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
from wiretrack.tasks.identify.typed import said

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from wiretrack.model.entities import Conductor
    from wiretrack.procedure import Answered
    from wiretrack.ringout.bundle import Bundle
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
    if step.to_json()["step"] != "result":
        ringing.answer_typed(step, typed, who=who)
    _finish_if_over(ringing, who)
    return state(registry, pull)


def _finish_if_over(ringing: Ringing, who: str | None) -> None:
    if ringing.next_step().to_json()["step"] == "result":
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
    step = ringing.next_step().to_json()
    over = step["step"] == "result"
    colours = ringing.colours()
    return {
        "version": ringing.step_id,
        "pull": status["pull"],
        "near": status["near"],
        "far": status["far"],
        "finished": status["finished"],
        "over": over,
        "number": ringing.steps_taken + 1,
        "kind": step["step"],
        "diode": "diode" in step,
        "polar": "plus" in step,
        "told": None if over else ringing.told(step),
        "place": None if over else _place(ringing, step),
        "lines": [] if over else _lines(step, colours),
        "hints": diode_hints(ringing.bundle) if "diode" in step else (),
        "left": None if over else _left(ringing.bundle, status),
        "known": len(status["matches"]),
        "of": ringing.bundle.size,
        "last": _last(ringing),
        "matches": [{**m, "colour": colours.get(m["near"])} for m in status["matches"]],
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


def _place(ringing: Ringing, step: Mapping[str, Any]) -> str:
    boxes = {"near": ringing.record.near, "far": ringing.record.far}
    return boxes[step["to"] if step["step"] == "walk" else step["at"]]


def _lines(step: Mapping[str, Any], colours: Mapping[str, str | None]) -> list[str]:
    """Return what to do end by end: joins, resistors, or the two ends to touch."""

    def named(end: str) -> str:
        return f"{end} {colours[end]}" if colours.get(end) else end

    if step["step"] == "join":
        return [" + ".join(map(named, group)) for group in step["groups"]]
    if "diode" in step:
        diode = step["diode"]
        return [f"band on {named(diode['cathode'])}", f"other leg on {named(diode['anode'])}"]
    if step["step"] == "fit":
        return [f"{named(one['end'])}: {one['ohms']:g} Ω" for one in step["resistors"]]
    ends = step.get("between") or step.get("ends", ())
    if step["step"] == "prove-dead":
        return [*map(named, ends), said(step)]
    if step.get("plus"):
        return [f"{'red' if end == step['plus'] else 'black'}: {end}" for end in ends]
    return [named(end) for end in ends]


def _last(ringing: Ringing) -> dict[str, Any] | None:
    answers = ringing.record.answers
    return _done(ringing, answers[-1]) if answers else None


def _done(ringing: Ringing, stored: Answered) -> dict[str, Any]:
    """Return a step that was carried out: what was to be done, what was answered, by whom."""
    is_told = stored.step["step"] in ("probe", "prove-dead", "unjoin")
    return {
        "number": stored.number,
        "kind": stored.step["step"],
        "told": ringing.told(stored.step),
        "lines": [] if is_told else _lines(stored.step, ringing.colours()),
        "answer": said(stored.answer),
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


def tags_of(registry: Registry, pull: str) -> list[str]:
    """Return the tags of a pull's conductors, as people write them."""
    return [format_tag(c.tag or "") for c in _conductors_of(registry, pull)]


def _conductors_of(registry: Registry, pull: str) -> list[Conductor]:
    code = resolve(registry, pull, ("pull",)).code
    return records.conductors(registry, pull=code, in_service=True)
