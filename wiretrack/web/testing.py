# SPDX-License-Identifier: MIT
"""Tests by phone: a circuit's plan to work down, the form for one reading, a PV string's volts."""

from __future__ import annotations

import uuid
from contextlib import nullcontext, suppress
from typing import TYPE_CHECKING, Any

from flask import Blueprint, redirect, render_template, request, session

from wiretrack import days
from wiretrack.errors import (
    BadInputError,
    FaultLocationError,
    FieldError,
    NotFoundError,
    RetiredError,
)
from wiretrack.readings import KINDS
from wiretrack.readings.base import with_unit
from wiretrack.store.lists import circuit_list
from wiretrack.tasks.change.retired import ABANDONED
from wiretrack.tasks.test.expecting import READ_AS, StringMeasured, string_voltage
from wiretrack.tasks.test.plan import instrument_codes, reading_form, working_plan
from wiretrack.tasks.test.testing import OPTIONAL, post_reading, to_supersede
from wiretrack.web.access import needs, who
from wiretrack.web.registries import for_reading, for_writing
from wiretrack.web.shared import address_of, field_at_fault, number_asked, said

if TYPE_CHECKING:
    from collections.abc import Mapping

    from wiretrack.store.store import Registry

pages = Blueprint("testing", __name__)
# What a form may hold beside the value, in its order.
FIELDS = tuple(f for key, f in OPTIONAL.items() if key not in ("at", "by", "supersedes"))
ENTRIES = {kind.name: kind.entry() for kind in KINDS}
# The cautions of these are confirmed before the first of a visit.
GUARDED = tuple(name for name, entry in ENTRIES.items() if entry.guarded)
PREFIXES = ("", "m", "k", "M", "G")


@pages.get("/tests")
def every() -> str:
    """List the circuits."""
    with for_reading() as registry:
        rows, following = circuit_list(registry, number_asked("after"))
    return render_template("tests.html", rows=rows, following=following)


@pages.get("/tests/<circuit>")
def plan(circuit: str) -> str:
    """Show the readings that a circuit owes, in working order, ready to be logged one by one."""
    with for_reading() as registry:
        found = working_plan(registry, circuit)
        meters = instrument_codes(registry)
    return _entering_page("test_plan.html", meters, plan=found)


def _entering_page(template: str, meters: list[tuple[str, str | None]], **more: Any) -> str:
    """Return a page with the fields of a reading."""
    return render_template(
        template, instruments=meters, entries=ENTRIES, fields=FIELDS, prefixes=PREFIXES, **more
    )


@pages.get("/readings/new")
def ask() -> str:
    """Show the form for one reading, filled in as far as the address says.

    Of a conductor that is gone, show what became of it; the form is for what was read before.
    """
    with for_reading() as registry:
        return _form(registry, request.args, {})


@pages.post("/readings/new")
@needs("log")
def take() -> Any:
    """Store the reading that the form holds, or show the form again with its faults."""
    form = request.form
    kind = form.get("kind", "")
    if kind in GUARDED and not (form.get("cautions") or kind in session.get("cautions", ())):
        with for_reading() as registry:
            faults = {"cautions": "Read these first, then tick."}
            return _form(registry, form, faults), 422
    if form.get("late") and not form.get("at", "").strip():
        with for_reading() as registry:
            return _form(registry, form, {"at": "Say on which day and at what time."}), 422
    session["cautions"] = sorted({*session.get("cautions", ()), kind} & set(GUARDED))
    with for_writing() as registry:
        try:
            posted = post_reading(registry, _document(form), who=who())
        except NotFoundError:
            raise
        except BadInputError as error:
            name = error.field if isinstance(error, FieldError) else ""
            if form.get("late") and isinstance(error.__cause__, RetiredError):
                name = "at"
            return _form(registry, form, {name: said(error)}), 422
    if form.get("circuit"):
        return redirect(address_of("tests", form["circuit"]), 303)
    return redirect(address_of("subject", form["subject"]) + f"#{posted.answer.id}", 303)


def _document(form: Mapping[str, str]) -> dict[str, str]:
    """Return the reading as the API takes it: number, prefix and over-range as one text."""
    keys = ("at", "supersedes", *(fact.key for fact in FIELDS))
    given = {key: form.get(key, "").strip() for key in keys}
    with suppress(BadInputError):
        given["at"] = days.typed_time(given["at"])  # a form's time has no zone
    return {
        "id": form.get("id", "") or str(uuid.uuid4()),
        "kind": form.get("kind", ""),
        "subject": form.get("subject", "").strip(),
        "value": value_text(form.get("value", ""), form),
        **{name: text for name, text in given.items() if text},
    }


def value_text(number: str, form: Mapping[str, str]) -> str:
    """Return a value as one types it in full.

    >>> value_text("2000", {"prefix": "M", "over": "1", "kind": "insulation"})
    '>2000 Mohm'
    >>> value_text("0.31 ohm", {"kind": "continuity"})
    '0.31 ohm'
    """
    plain = number.strip()
    if not plain:
        return "OL" if form.get("over") else ""
    entry = ENTRIES.get(form.get("kind", ""))
    full = with_unit(plain, form.get("prefix", ""), entry.unit if entry else "")
    if full != plain:
        plain = f"-{full}" if form.get("minus") and not plain.startswith("-") else full
    return f">{plain}" if form.get("over") and not plain.startswith(">") else plain


def _form(registry: Registry, typed: Mapping[str, str], faults: dict[str, str]) -> str:
    form = reading_form(registry, typed.get("subject", ""), typed.get("kind", ""))
    gone = form.retired is not None and form.retired.because != ABANDONED
    wrong = None
    if text := typed.get("supersedes"):
        with suppress(BadInputError) if faults else nullcontext():
            wrong = to_supersede(registry, form.kind, form.of.name, text)
            typed = {"against": wrong.against or "", **typed, "supersedes": wrong.id or ""}
    return _entering_page(
        "reading.html",
        instrument_codes(registry),
        form=form,
        wrong=wrong,
        gone=gone,
        asked=not gone or bool(faults) or bool(typed.get("late")),
        typed=typed,
        faults=faults,
        new_id=typed.get("id") or str(uuid.uuid4()),
    )


STRING_FIELDS = ("cell_temp", "irradiance", "reading", "instrument")


@pages.get("/strings/<circuit>")
def string(circuit: str) -> str | tuple[str, int]:
    """Show what a string should read, and what its reading fits."""
    typed = {name: text.strip() for name, text in request.args.items()}
    asked: dict[str, Any] = {name: typed[name] for name in STRING_FIELDS if typed.get(name)}
    asked["beside"] = typed.get("beside", "").replace(",", " ").split()
    faults: dict[str, str] = {}
    with for_reading() as registry:
        meters = instrument_codes(registry)
        try:
            found = string_voltage(registry, circuit, StringMeasured(**asked))
        except NotFoundError as error:
            if error.name == circuit:
                raise
            found, faults = None, {field_at_fault(error, typed) or "beside": said(error)}
        except BadInputError as error:
            name = field_at_fault(error, {n: typed.get(n, "") for n in (*STRING_FIELDS, "beside")})
            if not name and isinstance(error, FaultLocationError) and typed.get("reading"):
                name = "cell_temp"
            found, faults = None, {name: said(error)}
    confirmed = READ_AS in session.get("cautions", ()) or bool(typed.get("cautions"))
    page = render_template(
        "string.html", circuit=circuit, found=found, typed=typed, faults=faults,
        instruments=meters, confirmed=confirmed,
    )  # fmt: skip
    return (page, 422) if faults else page
