# SPDX-License-Identifier: MIT
"""Troubleshooting: where to begin, a guided search, and where a measured fault lies."""

from __future__ import annotations

import re
from contextlib import suppress
from typing import TYPE_CHECKING, Any

from flask import Blueprint, redirect, render_template, request, session

from wiretrack.electrical.symptoms import SYMPTOMS
from wiretrack.errors import BadInputError, FaultLocationError, FieldError
from wiretrack.late import dataclass
from wiretrack.readings.continuity import CONTINUITY
from wiretrack.render.records import drawing_markup
from wiretrack.store import procedures
from wiretrack.tasks.find.site_map import PlaceInRaceway, map_around
from wiretrack.tasks.find.tracing import path_doubts
from wiretrack.tasks.test.cautions import cautions_for
from wiretrack.tasks.test.plan import instrument_codes
from wiretrack.tasks.trouble import searching
from wiretrack.tasks.trouble.locating import find_fault
from wiretrack.tasks.trouble.measured import FaultReadings
from wiretrack.tasks.trouble.search import Answer
from wiretrack.web.access import needs, who
from wiretrack.web.registries import for_reading, for_writing
from wiretrack.web.shared import LABELS, Outcome, Work, address_of, field_at_fault, said

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from werkzeug.wrappers import Response as AnyResponse

    from wiretrack.store.store import Registry
    from wiretrack.tasks.trouble.locating import BadJoint, LocatedFault
    from wiretrack.tasks.trouble.search import Search

pages = Blueprint("trouble", __name__)
MOST_CONFIRMED = 20  # searches remembered in a session, which travels as a cookie


@pages.get("/trouble")
def trouble() -> str:
    """Show the path through what `q` names, and the ways to find what is wrong with it."""
    with for_reading() as registry:
        return trouble_page(registry)


def trouble_page(
    registry: Registry,
    typed: Mapping[str, str] | None = None,
    faults: Mapping[str, str] | None = None,
) -> str:
    """Return the page; `typed` and `faults` are those of a search that couldn't be begun."""
    q, found, faults = request.args.get("q", "").strip(), None, dict(faults or {})
    if q:
        try:
            found = path_doubts(registry, q)
        except BadInputError as error:
            faults["q"] = said(error)
    shown: dict[str, Any] = {"q": q, "found": found, "faults": faults}
    return render_template(
        "trouble.html",
        typed=typed or {"what": q},
        symptoms=SYMPTOMS.values(),
        searches=procedures.circuits_searched(registry),
        **shown,
    )


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
    return SEARCH.page(Outcome(state))


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
    return SEARCH.part_now(circuit)


@pages.post("/searches/<circuit>/answers")
@needs("log")
def answer(circuit: str) -> Any:
    """Take the answer to the question that the page shows."""
    return _answered(
        circuit,
        lambda registry, given: searching.answer(registry, circuit, _answer(), **given),
    )


@pages.post("/searches/<circuit>/corrections")
@needs("log")
def correct(circuit: str) -> Any:
    """Take the right answer to an earlier question."""
    number = request.form.get("number", "")
    return _answered(
        circuit,
        lambda registry, given: searching.correct(
            registry, circuit, int(number) if number.isdecimal() else 0, _answer(), **given
        ),
    )


@pages.post("/searches/<circuit>/undo")
@needs("log")
def undo(circuit: str) -> Any:
    """Take the last answer back, so that it is asked again."""
    return _answered(circuit, lambda registry, given: searching.undo(registry, circuit, **given))


def _answer() -> Answer:
    form = request.form
    return Answer(form.get("outcome", ""), form.get("value"), form.get("note"))


def _answered(circuit: str, take: Callable[[Registry, dict[str, Any]], Search]) -> AnyResponse:
    given = {"who": who(), "seen": request.form.get("seen", "")}
    return SEARCH.take(circuit, lambda registry: take(registry, given))


def _shown(template: str, outcome: Outcome) -> str:
    state, fault = outcome.state, outcome.fault
    confirmed = state.next is None or state.circuit in session.get("searches", ())
    typed = request.form if fault else {}
    return render_template(template, state=state, fault=fault, typed=typed, confirmed=confirmed)


SEARCH = Work("search", "question", "circuit", searching.status, searching.version, _shown)


@dataclass(frozen=True)
class Method:
    """One way to measure: its fields, those that it can't do without first."""

    name: str
    title: str
    told: str
    needed: tuple[str, ...]
    more: tuple[str, ...] = ()


METHODS = (
    Method("both-ends", "Short, read from both ends", "Each reading with the other end open.",
           ("against", "near", "far"), ("raceway_ohms", "at", "leads")),
    Method("joined", "Short, read twice at one end",
           "Once with the far ends apart, once with them joined.",
           ("against", "near", "near_joined"), ("raceway_ohms", "at", "leads")),
    Method("one-end", "Short, read once", "The roughest: the fault's own resistance is unknown.",
           ("against", "near"), ("fault_ohms", "raceway_ohms", "at", "leads")),
    Method("murray", "Murray loop", "Ratio arms at balance, the far end joined to a good one.",
           ("murray", "good"), ("loop", "at")),
    Method("varley", "Varley loop", "Fixed arms, and the ohms set at balance.",
           ("varley", "set_ohms", "good"), ("loop", "at")),
    Method("joint", "A bad joint", "End to end, compared with its record or a like conductor.",
           ("along",), ("like", "leads")),
    Method("break", "A break, by capacitance", "From either end, the other end open.",
           ("near", "far"), ("at",)),
)  # fmt: skip
HINTS = {
    "near": "0.42 ohm", "far": "0.61 ohm", "near_joined": "0.35 ohm", "murray": "668:332",
    "varley": "250:250", "set_ohms": "184 ohm", "loop": "1.2 ohm", "fault_ohms": "0.1 ohm",
    "raceway_ohms": "0.05 ohm", "along": "0.52 ohm", "like": "TAG=0.31", "leads": "0.2 ohm",
    "temps": "20 C, or W13=12 C", "against": "TAG or raceway", "tags": "TAG",
}  # fmt: skip
MANY = ("tags", "against", "good", "like", "temps")  # fields that may name several
_NUMBER = re.compile(r"[0-9.,]+")


@pages.get("/faults")
def ask() -> str | AnyResponse:
    """Ask for the conductor; its page holds the form."""
    typed = request.args.get("tag", "").strip()
    if typed:
        return redirect(address_of("fault", typed), 303)
    return _fault_page({}, {}, None)


@pages.get("/faults/<path:tags>")
def fault(tags: str) -> str | tuple[str, int]:
    """Show the form of a method, and where the fault lies once it is filled in."""
    typed = {"tags": tags, **{name: text.strip() for name, text in request.args.items()}}
    method = _method(typed.get("method", ""))
    if method is None or not any(typed.get(name) for name in (*method.needed, *method.more)):
        return _fault_page(typed, {}, method)
    with for_reading() as registry:
        try:
            found = _found(registry, method, typed)
        except BadInputError as error:
            name = error.field if isinstance(error, FieldError) else ""
            name = name or field_at_fault(
                error, {n: typed.get(n, "") for n in (*LABELS, "instrument")}
            )
            return _fault_page(typed, {name: said(error)}, method), 422
        if found.distance_m is None:
            return _fault_page(typed, {}, method, found=found)
        part, spot = found.part_of_raceway, None
        if found.raceway and part is not None:
            spot = PlaceInRaceway(found.raceway, found.between[0], part)
        lit = [stretch.raceway for stretch in found.route if stretch.raceway]
        drawing = map_around(registry, lit, spot)
    picture = drawing_markup(found.svg())
    return _fault_page(typed, {}, method, found=found, picture=picture, drawing=drawing)


def _found(registry: Registry, method: Method, typed: Mapping[str, str]) -> LocatedFault | BadJoint:
    """Return the located fault, from the fields that the method has and no others."""
    for name in method.needed:
        if not typed.get(name):
            raise FieldError(name, f"{LABELS[name]}: it is missing.")
    asked: dict[str, Any] = {}
    for name in ("tags", *method.needed, *method.more, "temps", "instrument"):
        text = typed.get(name, "")
        if name in MANY:
            asked[name] = tuple(_several(name, text))
        elif text:
            asked[name] = _with_unit(method, name, text)
    return find_fault(registry, FaultReadings(**asked))


def _several(name: str, text: str) -> list[str]:
    parts = text.split(",") if name == "temps" else text.replace(",", " ").split()
    return [part.strip() for part in parts if part.strip()]


def _with_unit(method: Method, name: str, text: str) -> str:
    """Return what was typed; at a break a bare number is nF, as the form says."""
    if method.name != "break" or name not in ("near", "far"):
        return text
    return f"{text} nF" if _NUMBER.fullmatch(text) else text


def _method(name: str) -> Method | None:
    return next((method for method in METHODS if method.name == name), None)


def _fault_page(
    typed: Mapping[str, str], faults: Mapping[str, str], method: Method | None, **found: Any
) -> str:
    tags = typed.get("tags", "").replace(",", " ").split()
    warned: tuple[str, ...] = ()
    with for_reading() as registry:
        meters = instrument_codes(registry)
        with suppress(BadInputError):  # what is wrong with the tag is said beside its field
            warned = cautions_for(registry, CONTINUITY.name, tags[0]) if tags else ()
    return render_template(
        "fault.html", typed=typed, faults=faults, method=method, methods=METHODS, labels=LABELS,
        hints=HINTS, instruments=meters, cautions=warned, **found,
    )  # fmt: skip
