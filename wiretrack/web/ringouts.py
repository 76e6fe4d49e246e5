# SPDX-License-Identifier: MIT
"""Ringing out by phone: one step at a time, the same for everybody who looks."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from flask import Blueprint, Response, make_response, redirect, render_template, request

from wiretrack.errors import BadInputError, ChangedMeanwhileError, FieldError, NotFoundError
from wiretrack.tasks import ringout_state
from wiretrack.tasks.instruments import instrument_codes
from wiretrack.tasks.lists import pull_list
from wiretrack.tasks.ringing import ring_out_cautions
from wiretrack.tasks.ringout_request import Wanted
from wiretrack.web.access import needs, who
from wiretrack.web.addresses import address_of
from wiretrack.web.api import answered, body, whole
from wiretrack.web.opened import for_writing, opened
from wiretrack.web.parts import counted

if TYPE_CHECKING:
    from collections.abc import Callable

    from werkzeug.wrappers import Response as AnyResponse

    from wiretrack.registry.store import Registry
    from wiretrack.tasks.ringout_state import State

pages = Blueprint("ringouts", __name__)
UNDERWAY = "Somebody else answered meanwhile. This is the step now."


@pages.get("/ringouts")
def every() -> str:
    """List the pulls and how far each has come."""
    with opened() as registry:
        rows, following = pull_list(registry, counted("after"))
    return render_template("ringouts.html", rows=rows, following=following)


@pages.get("/ringouts/<pull>")
def one(pull: str) -> str:
    """Show the step to do now, or the form that begins a ring-out."""
    with opened() as registry:
        if ringout_state.version_of(registry, pull) is None:
            return _begin_form(registry, pull)
        state = ringout_state.state(registry, pull)
    return render_template("ringout.html", state=state, cautions=ring_out_cautions())


@pages.get("/ringouts/<pull>/again")
def again(pull: str) -> str:
    """Show the form that begins a ring-out anew."""
    with opened() as registry:
        return _begin_form(registry, pull)


@pages.get("/ringouts/<pull>/step")
def step(pull: str) -> AnyResponse:
    """Return the step alone, for a page that is open already; 304 while nothing changed."""
    with opened() as registry:
        version = ringout_state.version_of(registry, pull) or ""
        if version in request.if_none_match.as_set():
            return Response(status=304)
        return _step(ringout_state.state(registry, pull))


@pages.post("/ringouts/<pull>/begin")
@needs("log")
def begin(pull: str) -> Any:
    """Begin, or say beside the field why that can't be."""
    form = request.form
    tags = form.get("tags", "").replace(",", " ").split()
    wanted = Wanted(
        pull=pull,
        near=form.get("near", ""),
        far=form.get("far", ""),
        references=(["raceway"] if form.get("raceway") else []) + tags,
        start="far" if form.get("start") == "far" else "near",
        crew=2 if form.get("crew") == "2" else 1,
        diode=bool(form.get("diode")),
        far_colours=form.get("far_colours", "").strip() or None,
        resistors=form.get("resistors", "").strip() or None,
        instrument=form.get("instrument", "").strip() or None,
        again=bool(form.get("again")),
    )
    with for_writing() as registry:
        try:
            state = ringout_state.begin(registry, wanted)
        except FieldError as error:
            faults = {error.field or "near": str(error)}
            return _begin_form(registry, pull, typed=form, faults=faults), 422
    return redirect(address_of("ringout", state["pull"]), 303)


@pages.post("/ringouts/<pull>/answers")
@needs("log")
def answer(pull: str) -> Any:
    """Take the answer to the step that the page shows."""
    typed = request.form.get("typed", "") or request.form.get("ohms", "")
    seen = request.form.get("seen", "")
    return _taken(pull, lambda r: ringout_state.answer(r, pull, seen, typed, who()))


@pages.post("/ringouts/<pull>/corrections")
@needs("log")
def correct(pull: str) -> Any:
    """Take the right answer to an earlier touch."""
    form = request.form
    typed, seen = form.get("typed", "") or form.get("ohms", ""), form.get("seen", "")
    number = int(form["number"]) if form.get("number", "").isdecimal() else 0
    return _taken(pull, lambda r: ringout_state.correct(r, pull, seen, number, typed, who()))


@pages.post("/ringouts/<pull>/undo")
@needs("log")
def undo(pull: str) -> Any:
    """Take the last step back, whatever it was, so that it is asked again."""
    seen = request.form.get("seen", "")
    return _taken(pull, lambda r: ringout_state.undo(r, pull, seen, who()))


@pages.get("/ringouts/<pull>/log")
def log(pull: str) -> str:
    """Show all that was done and answered, by whom; each touch can be corrected."""
    with opened() as registry:
        return render_template("ringout_log.html", state=ringout_state.log(registry, pull))


@pages.get("/api/ringouts/<pull>")
def as_json(pull: str) -> Any:
    """Return the state of a ring-out as JSON."""
    with opened() as registry:
        state = ringout_state.state(registry, pull)
    return answered(state)


@pages.post("/api/ringouts/<pull>/answers")
@needs("log")
def answer_json(pull: str) -> Any:
    """Take an answer as JSON: ``{"seen": VERSION, "typed": "c", "o" or ohms}``."""
    seen, typed = whole(body(), "seen", "typed")
    for name, value in (("seen", seen), ("typed", typed)):
        if not isinstance(value, str):
            raise FieldError(name, f"{name}: It is not text.")
    with for_writing() as registry:
        return answered(ringout_state.answer(registry, pull, seen, typed, who()))


def _taken(pull: str, take: Callable[[Registry], State]) -> Any:
    """Return the page after an answer, with what is wrong with it or was answered meanwhile."""
    fault, status = None, 200
    with for_writing() as registry:
        try:
            state = take(registry)
        except NotFoundError:
            raise
        except ChangedMeanwhileError:
            fault, status = UNDERWAY, 409
        except BadInputError as error:
            fault, status = str(error), 422
        if fault:
            state = ringout_state.state(registry, pull)
    if request.headers.get("X-Part"):
        return _step(state, fault=fault, status=status)
    if not fault:
        return redirect(address_of("ringout", state["pull"]), 303)
    page = render_template(
        "ringout.html", state=state, cautions=ring_out_cautions(), **_at_fault(fault)
    )
    return page, status


def _at_fault(fault: str | None) -> dict[str, Any]:
    """Return what the step shows of an answer that can't be taken: the fault, what was typed."""
    correcting = request.form.get("number", "") if fault else ""
    return {
        "fault": fault,
        "typed": request.form.get("ohms", "") if fault else "",
        "correcting": int(correcting) if correcting.isdecimal() else None,
    }


def _step(state: State, status: int = 200, fault: str | None = None) -> AnyResponse:
    page = render_template("ringout_step.html", state=state, **_at_fault(fault))
    response = make_response(page)
    response.set_etag(state["version"])
    response.status_code = status
    return response


def _begin_form(registry: Registry, pull: str, **extra: Any) -> str:
    from wiretrack.tasks.showing import show

    kind, record = show(registry, pull)
    if kind != "pull":
        raise NotFoundError("pull", pull)
    return render_template(
        "ringout_begin.html",
        record=record,
        boxes=ringout_state.boxes_of(registry, record["code"]),
        instruments=instrument_codes(registry),
        cautions=ring_out_cautions(),
        **extra,
    )
