# SPDX-License-Identifier: MIT
"""Where a measured fault lies: a form for each method, the place drawn and marked on the map."""

from __future__ import annotations

import re
from contextlib import suppress
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from flask import Blueprint, redirect, render_template, request

from wiretrack.errors import BadInputError, FieldError
from wiretrack.render.records import drawing_markup
from wiretrack.tasks.find.map_part import map_around
from wiretrack.tasks.find.site_map import Place
from wiretrack.tasks.test.plan import instrument_codes
from wiretrack.tasks.trouble.locating import cautions_of, find_fault
from wiretrack.tasks.trouble.measured import FaultReadings
from wiretrack.web.addresses import address_of
from wiretrack.web.failures import LABELS, field_at_fault, said
from wiretrack.web.registries import for_reading

if TYPE_CHECKING:
    from collections.abc import Mapping

    from werkzeug.wrappers import Response

    from wiretrack.store.store import Registry
    from wiretrack.tasks.trouble.locating import BadJoint, LocatedFault

pages = Blueprint("faults", __name__)


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
def ask() -> str | Response:
    """Ask for the conductor; its page holds the form."""
    typed = request.args.get("tag", "").strip()
    if typed:
        return redirect(address_of("fault", typed), 303)
    return _page({}, {}, None)


@pages.get("/faults/<path:tags>")
def place(tags: str) -> str | tuple[str, int]:
    """Show the form of a method, and where the fault lies once it is filled in."""
    typed = {"tags": tags, **{name: text.strip() for name, text in request.args.items()}}
    method = _method(typed.get("method", ""))
    if method is None or not any(typed.get(name) for name in (*method.needed, *method.more)):
        return _page(typed, {}, method)
    with for_reading() as registry:
        try:
            found = _found(registry, method, typed)
        except BadInputError as error:
            name = error.field if isinstance(error, FieldError) else ""
            name = name or field_at_fault(
                error, {n: typed.get(n, "") for n in (*LABELS, "instrument")}
            )
            return _page(typed, {name: said(error)}, method), 422
        if found.distance_m is None:
            return _page(typed, {}, method, found=found)
        part, spot = found.part_of_raceway, None
        if found.raceway and part is not None:
            spot = Place(found.raceway, found.between[0], part)
        lit = [stretch.raceway for stretch in found.route if stretch.raceway]
        drawing = map_around(registry, lit, spot)
    picture = drawing_markup(found.svg())
    return _page(typed, {}, method, found=found, picture=picture, drawing=drawing)


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


def _page(
    typed: Mapping[str, str], faults: Mapping[str, str], method: Method | None, **found: Any
) -> str:
    tags = typed.get("tags", "").replace(",", " ").split()
    warned: tuple[str, ...] = ()
    with for_reading() as registry:
        meters = instrument_codes(registry)
        with suppress(BadInputError):  # what is wrong with the tag is said beside its field
            warned = cautions_of(registry, tags[0]) if tags else ()
    return render_template(
        "fault.html", typed=typed, faults=faults, method=method, methods=METHODS, labels=LABELS,
        hints=HINTS, instruments=meters, cautions=warned, **found,
    )  # fmt: skip
