# SPDX-License-Identifier: MIT
"""Ringing out by phone: one step at a time, the same for everybody who looks."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from flask import Blueprint, jsonify, redirect, render_template, request

from wiretrack.encoding import document
from wiretrack.errors import FieldError
from wiretrack.render.records import drawing_markup
from wiretrack.render.ringout_step import step_svg
from wiretrack.ringout.bundle import RACEWAY
from wiretrack.ringout.prompts import Names
from wiretrack.store.lists import pull_list
from wiretrack.tasks.find.records import PullRecord
from wiretrack.tasks.find.showing import show_as
from wiretrack.tasks.identify import state as ringout_state
from wiretrack.tasks.identify.request import Wanted
from wiretrack.tasks.identify.ringing import ring_out_cautions
from wiretrack.tasks.identify.settings import GEAR, GearAsked
from wiretrack.tasks.report.standing import steps_after
from wiretrack.tasks.test.plan import instrument_codes
from wiretrack.web.access import needs, who
from wiretrack.web.api import body, whole
from wiretrack.web.registries import for_reading, for_writing
from wiretrack.web.shared import Outcome, Work, address_of, number_asked, said

if TYPE_CHECKING:
    from collections.abc import Mapping

    from werkzeug.wrappers import Response as AnyResponse

    from wiretrack.store.store import Registry
    from wiretrack.tasks.identify.state import RingoutState

pages = Blueprint("ringouts", __name__)


@pages.get("/ringouts")
def every() -> str:
    """List the pulls and how far each has come."""
    with for_reading() as registry:
        rows, following = pull_list(registry, number_asked("after"))
    return render_template("ringouts.html", rows=rows, following=following)


@pages.get("/ringouts/<pull>")
def one(pull: str) -> str | AnyResponse:
    """Show the step to do now, or the form that begins a ring-out."""
    with for_reading() as registry:
        if ringout_state.version_of(registry, pull) is None:
            return _begin_form(registry, pull)
        state = ringout_state.state(registry, pull)
    return RINGOUT.page(Outcome(state))


@pages.get("/ringouts/<pull>/again")
def again(pull: str) -> str:
    """Show the form that begins a ring-out again."""
    with for_reading() as registry:
        return _begin_form(registry, pull)


@pages.get("/ringouts/<pull>/step")
def step(pull: str) -> AnyResponse:
    """Return the step alone, for a page that is open already; 304 while nothing changed."""
    return RINGOUT.part_now(pull)


@pages.post("/ringouts/<pull>/begin")
@needs("log")
def begin(pull: str) -> Any:
    """Begin, or say beside the field why that can't be."""
    form = request.form
    with for_writing() as registry:
        try:
            wanted = Wanted(
                **vars(_gear(form)),
                pull=pull,
                near=form.get("near", ""),
                far=",".join(filter(None, (form.get("far", ""), form.get("also", "")))),
                references=_references(form),
                start="far" if form.get("start") == "far" else "near",
                far_colours=form.get("far_colours", "").strip() or None,
                far_ends=_count(form.get("far_ends", "")),
                near_numbers=bool(form.get("near_numbers")),
                near_colours=form.get("near_colours", "").strip() or None,
                again=bool(form.get("again")),
            )
            state = ringout_state.begin(registry, wanted)
        except FieldError as error:
            faults = {error.field or "near": said(error)}
            return _begin_form(registry, pull, typed=form, faults=faults), 422
    return redirect(address_of("ringout", state.pull), 303)


def _count(typed: str) -> int | None:
    """Return a number of ends as it was typed; 0 for what is none, which is refused."""
    return (int(typed) if typed.strip().isdecimal() else 0) if typed.strip() else None


@pages.post("/ringouts/<pull>/answers")
@needs("log")
def answer(pull: str) -> Any:
    """Take the answer to the step that the page shows."""
    typed = request.form.get("typed", "") or request.form.get("ohms", "")
    seen = request.form.get("seen", "")
    return RINGOUT.take(pull, lambda r: ringout_state.answer(r, pull, seen, typed, who()))


@pages.post("/ringouts/<pull>/corrections")
@needs("log")
def correct(pull: str) -> Any:
    """Take the right answer to an earlier touch."""
    form = request.form
    typed, seen = form.get("typed", "") or form.get("ohms", ""), form.get("seen", "")
    number = int(form["number"]) if form.get("number", "").isdecimal() else 0
    return RINGOUT.take(pull, lambda r: ringout_state.correct(r, pull, seen, number, typed, who()))


@pages.post("/ringouts/<pull>/undo")
@needs("log")
def undo(pull: str) -> Any:
    """Take the last step back, or the one that the form names, so that it is asked again."""
    seen, typed = request.form.get("seen", ""), request.form.get("number", "")
    number = int(typed) if typed.isdecimal() else None
    return RINGOUT.take(pull, lambda r: ringout_state.undo(r, pull, seen, number, who()))


@pages.post("/ringouts/<pull>/gear")
@needs("log")
def switch(pull: str) -> Any:
    """Go on with other gear, crew, references or colours from the step on that the page shows."""
    form = request.form
    seen, colours = form.get("seen", ""), form.get("far_colours", "").strip()

    def said() -> dict[str, Any]:
        known = {"references": _references(form)} if form.get("known") else {}
        return vars(_gear(form)) | known | ({"far_colours": colours} if colours else {})

    return RINGOUT.take(pull, lambda r: ringout_state.switch(r, pull, said(), seen, who()))


@pages.post("/ringouts/<pull>/check")
@needs("log")
def check(pull: str) -> Any:
    """Go on with a finished ring-out, to check some of its matches once more."""
    seen = request.form.get("seen", "")
    return RINGOUT.take(pull, lambda r: ringout_state.check(r, pull, seen, who()))


@pages.get("/ringouts/<pull>/log")
def log(pull: str) -> str:
    """Show all that was done and answered, by whom; each touch can be corrected."""
    with for_reading() as registry:
        return render_template("ringout_log.html", state=ringout_state.log(registry, pull))


@pages.get("/api/ringouts/<pull>")
def as_json(pull: str) -> Any:
    """Return the state of a ring-out as JSON."""
    with for_reading() as registry:
        state = ringout_state.state(registry, pull)
    return jsonify(document(state))


@pages.post("/api/ringouts/<pull>/answers")
@needs("log")
def answer_json(pull: str) -> Any:
    """Take an answer as JSON: ``{"seen": VERSION, "typed": "c", "o" or ohms}``."""
    seen, typed = whole(body(), "seen", "typed")
    for name, value in (("seen", seen), ("typed", typed)):
        if not isinstance(value, str):
            raise FieldError(name, f"{name}: It is not text.")
    with for_writing() as registry:
        return jsonify(document(ringout_state.answer(registry, pull, seen, typed, who())))


@pages.post("/api/ringouts/<pull>/gear")
@needs("log")
def switch_json(pull: str) -> Any:
    """Go on with other gear or crew: ``{"seen": VERSION, "gear": all of it, as the state has it}``.

    Nothing is written if the gear is what it was.
    """
    seen, gear = whole(body(), "seen", "gear")
    if not isinstance(gear, dict):
        raise FieldError("gear", "gear: It is not an object.")
    wanted = dict(zip(GEAR, whole(gear, *GEAR), strict=True))
    for name, value in (("seen", seen), *wanted.items()):
        kind, told = _GEAR_TYPES.get(name, (str, "text"))
        if type(value) is not kind and not (value is None and name in _MAY_LACK):
            raise FieldError(name, f"{name}: It is not {told}.")
    with for_writing() as registry:
        return jsonify(document(ringout_state.switch(registry, pull, wanted, seen, who())))


_GEAR_TYPES: dict[str, tuple[type, str]] = {
    "crew": (int, "a whole number"),
    "diode": (bool, "true or false"),
    "tone": (bool, "true or false"),
    "ohms": (bool, "true or false"),
}
_MAY_LACK = ("resistors", "instrument")


def _references(form: Mapping[str, str]) -> list[str]:
    """Return what a form says is known at both boxes."""
    raceway = [RACEWAY] if form.get("raceway") else []
    return raceway + form.get("tags", "").replace(",", " ").split()


def _gear(form: Mapping[str, str]) -> GearAsked:
    """Return the gear and crew that a form names."""
    crew = form.get("crew", "1")
    if crew not in ("1", "2"):
        raise FieldError("crew", f"'{crew[:40]}' is no crew. It must be 1 or 2.")
    return GearAsked(
        joins=form.get("joins", "any"),
        screen=form.get("screen", "auto"),
        check=form.get("check", "auto"),
        crew=int(crew),
        diode=bool(form.get("diode")),
        tone=bool(form.get("tone")),
        ohms=bool(form.get("read_ohms")),
        resistors=form.get("resistors", "").strip() or None,
        instrument=form.get("instrument", "").strip() or None,
    )


def _shown(template: str, outcome: Outcome) -> str:
    """Return the step as it stands; of what can't be taken the fault and the text too."""
    form = request.form if outcome.fault else {}
    correcting = form.get("number", "")
    changing = bool(form) and request.endpoint == "ringouts.switch"
    with for_reading() as registry:
        meters = instrument_codes(registry)
    return render_template(
        template,
        state=outcome.state,
        drawing=_drawing(outcome.state),
        following=_following(outcome.state),
        fault=None if outcome.field else outcome.fault,
        typed=form.get("ohms", ""),
        correcting=int(correcting) if correcting.isdecimal() else None,
        changing=changing,
        gear=form if changing else _gear_form(outcome.state),
        gear_faults={outcome.field: outcome.fault} if outcome.field else {},
        instruments=meters,
        cautions=ring_out_cautions(),
    )


# What follows a ring-out, where there is a page for it: the words, and what its page shows.
_FOLLOWING = {
    "land": ("Land the ends: begin with", "conductor"),
    "print": ("Print labels for", "pull"),
    "placed": ("Stick the labels on:", "pull"),
    "test": ("Measure circuit", "tests"),
}


def _following(state: RingoutState) -> list[tuple[str, str, str]]:
    """Return what to do after a finished ring-out: the words, what with, and its page."""
    if not state.finished or not state.result.matches:
        return []
    with for_reading() as registry:
        steps = [step for step in steps_after(registry, state.pull) if step.job in _FOLLOWING]
    found = []
    for step in steps:
        words, what = _FOLLOWING[step.job]
        code = state.pull if what == "pull" else str(step.about[0])
        found.append((words, code, address_of(what, code)))
    return found


def _gear_form(state: RingoutState) -> Mapping[str, Any]:
    """Return what the form for other gear, references and colours holds at first."""
    tags = [name for name in state.references if name != RACEWAY]
    colours = [end.colour for end in state.marks if end.colour]
    return vars(state.gear) | {
        "raceway": RACEWAY in state.references,
        "tags": " ".join(tags),
        "far_colours": ",".join(colours) if len(colours) == len(state.marks) else "",
    }


def _drawing(state: RingoutState) -> str:
    """Return the step as a drawing, or nothing where there is none."""
    if state.step is None:
        return ""
    names = Names({"near": state.near, "far": state.step.box or state.far}, state.ends)
    return drawing_markup(step_svg(state.step, names, state.all_ends, state.held))


RINGOUT = Work("ringout", "step", "pull", ringout_state.state, ringout_state.version_of, _shown)


def _begin_form(registry: Registry, pull: str, **extra: Any) -> str:
    code = show_as(registry, PullRecord, pull).pull.code
    return render_template(
        "ringout_begin.html",
        code=code,
        boxes=ringout_state.boxes_of(registry, code),
        instruments=instrument_codes(registry),
        cautions=ring_out_cautions(),
        **extra,
    )
