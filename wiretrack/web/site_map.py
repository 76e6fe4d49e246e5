# SPDX-License-Identifier: MIT
"""The site overview: its enclosures and raceways as a drawing, a route lit up."""

from __future__ import annotations

from flask import Blueprint, render_template, request

from wiretrack.errors import BadInputError
from wiretrack.tasks.find.map_part import FARTHEST, WITHIN, map_around
from wiretrack.tasks.find.site_map import route_codes
from wiretrack.web.opened import opened
from wiretrack.web.parts import counted
from wiretrack.web.wording import said

pages = Blueprint("site_map", __name__)


@pages.get("/map")
def overview() -> str:
    """Show the drawing; `lit` names a conductor, pull or raceway whose route is lit up.

    Of a large site a part is drawn: `around` names the enclosure that it is about, `within` says
    how many raceways around it.
    """
    typed = {name: request.args.get(name, "").strip() for name in ("lit", "around")}
    within, lit = counted("within") or WITHIN, list[str]()
    faults: dict[str, str] = {}
    with opened() as registry:
        if typed["lit"]:
            try:
                lit = route_codes(registry, typed["lit"])
            except BadInputError as error:
                faults["lit"] = said(error)
        try:
            drawing = map_around(registry, lit, around=typed["around"], within=within)
        except BadInputError as error:
            faults["around"] = said(error)
            drawing = map_around(registry, lit, within=within)
    return render_template(
        "map.html", drawing=drawing, typed=typed, within=within, lit=lit, faults=faults,
        farthest=FARTHEST,
    )  # fmt: skip
