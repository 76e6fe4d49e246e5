# SPDX-License-Identifier: MIT
"""A PV string by phone: what it should read now, and what a reading says of its modules."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, render_template, request, session

from wiretrack.errors import BadInputError, FaultLocationError, NotFoundError
from wiretrack.tasks.test.instruments import instrument_codes
from wiretrack.tasks.test.pv_strings import READ_AS, string_voltage
from wiretrack.web.opened import opened
from wiretrack.web.wording import field_at_fault, said

pages = Blueprint("strings", __name__)
FIELDS = ("cell_temp", "irradiance", "reading", "instrument")


@pages.get("/strings/<circuit>")
def string(circuit: str) -> str | tuple[str, int]:
    """Show what a string should read, and what its reading fits."""
    typed = {name: text.strip() for name, text in request.args.items()}
    asked: dict[str, Any] = {name: typed[name] for name in FIELDS if typed.get(name)}
    asked["beside"] = typed.get("beside", "").replace(",", " ").split()
    faults: dict[str, str] = {}
    with opened() as registry:
        meters = instrument_codes(registry)
        try:
            found = string_voltage(registry, circuit, **asked)
        except NotFoundError as error:
            if error.name == circuit:
                raise
            found, faults = None, {field_at_fault(error, typed) or "beside": said(error)}
        except BadInputError as error:
            name = field_at_fault(error, {n: typed.get(n, "") for n in (*FIELDS, "beside")})
            if not name and isinstance(error, FaultLocationError) and typed.get("reading"):
                name = "cell_temp"
            found, faults = None, {name: said(error)}
    confirmed = READ_AS in session.get("cautions", ()) or bool(typed.get("cautions"))
    page = render_template(
        "string.html", circuit=circuit, found=found, typed=typed, faults=faults,
        instruments=meters, confirmed=confirmed,
    )  # fmt: skip
    return (page, 422) if faults else page
