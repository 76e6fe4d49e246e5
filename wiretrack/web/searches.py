# SPDX-License-Identifier: MIT
"""A guided search for a fault by phone: one reading at a time, the same for everybody who looks."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from flask import Blueprint, Response, make_response, redirect, render_template, request, session

from wiretrack.errors import BadInputError, FaultLocationError
from wiretrack.tasks.trouble import searching
from wiretrack.tasks.trouble.search import Answer
from wiretrack.web.access import needs, who
from wiretrack.web.addresses import address_of
from wiretrack.web.answering import Outcome, Work, take_answer
from wiretrack.web.failures import field_at_fault, said
from wiretrack.web.registries import for_reading, for_writing
from wiretrack.web.troubleshooting import trouble_page

if TYPE_CHECKING:
    from collections.abc import Callable

    from werkzeug.wrappers import Response as AnyResponse

    from wiretrack.store.store import Registry
    from wiretrack.tasks.trouble.search import Search

pages = Blueprint("searches", __name__)
MOST_CONFIRMED = 20  # of them are remembered in a session, which travels as a cookie


@pages.post("/searches")
@needs("log")
def begin() -> Any:
    """Begin a search, or say beside the field why that can't be."""
    form = request.form
    with for_writing() as registry:
        try:
            found = searching.start(
                registry,
                form.get("symptom", ""),
                form.get("what", "").strip(),
                at=form.get("at", "").strip() or None,
                who=who(),
            )
        except BadInputError as error:
            name = field_at_fault(error, {n: form.get(n, "") for n in ("symptom", "at")}) or "what"
            return trouble_page(registry, typed=form, faults={name: said(error)}), 422
    return redirect(address_of("search", found.circuit), 303)


@pages.get("/searches/<circuit>")
def one(circuit: str) -> AnyResponse:
    """Show the question that is open; before the first one, the cautions."""
    with for_reading() as registry:
        try:
            state = searching.status(registry, circuit)
        except FaultLocationError:
            return redirect(f"{address_of('trouble', circuit)}", 303)
    return _page(Outcome(state))


@pages.post("/searches/<circuit>/cautions")
@needs("read")
def confirm(circuit: str) -> AnyResponse:
    """Note that the cautions were read, and go on to the question."""
    confirmed = [code for code in session.get("searches", ()) if code != circuit]
    session["searches"] = [*confirmed, circuit][-MOST_CONFIRMED:]
    return redirect(address_of("search", circuit), 303)


@pages.get("/searches/<circuit>/step")
def step(circuit: str) -> AnyResponse:
    """Return the question alone, for a page that is open already; 304 while nothing changed."""
    with for_reading() as registry:
        if searching.version(registry, circuit) in request.if_none_match.as_set():
            return Response(status=304)
        return _step(Outcome(searching.status(registry, circuit)))


@pages.post("/searches/<circuit>/answers")
@needs("log")
def answer(circuit: str) -> Any:
    """Take the answer to the question that the page shows."""
    return _taken(
        circuit,
        lambda registry, given: searching.answer(registry, circuit, _answer(), **given),
    )


@pages.post("/searches/<circuit>/corrections")
@needs("log")
def correct(circuit: str) -> Any:
    """Take the right answer to an earlier question."""
    number = request.form.get("number", "")
    return _taken(
        circuit,
        lambda registry, given: searching.correct(
            registry, circuit, int(number) if number.isdecimal() else 0, _answer(), **given
        ),
    )


@pages.post("/searches/<circuit>/undo")
@needs("log")
def undo(circuit: str) -> Any:
    """Take the last answer back, so that it is asked again."""
    return _taken(circuit, lambda registry, given: searching.undo(registry, circuit, **given))


def _answer() -> Answer:
    form = request.form
    return Answer(form.get("outcome", ""), form.get("value"), form.get("note"))


def _taken(circuit: str, take: Callable[[Registry, dict[str, Any]], Search]) -> AnyResponse:
    given = {"who": who(), "seen": request.form.get("seen", "")}
    return take_answer(_work(circuit), lambda registry: take(registry, given))


def _work(circuit: str) -> Work:
    return Work(
        "question",
        lambda registry: searching.status(registry, circuit),
        _page,
        _step,
        lambda state: address_of("search", state.circuit),
    )


def _page(outcome: Outcome) -> AnyResponse:
    state = outcome.state
    confirmed = state.next is None or state.circuit in session.get("searches", ())
    return make_response(_shown("search.html", outcome, confirmed=confirmed), outcome.status)


def _step(outcome: Outcome) -> AnyResponse:
    response = make_response(_shown("search_step.html", outcome), outcome.status)
    response.set_etag(outcome.state.version)
    return response


def _shown(template: str, outcome: Outcome, **more: Any) -> str:
    typed = request.form if outcome.fault else {}
    return render_template(template, state=outcome.state, fault=outcome.fault, typed=typed, **more)
