# SPDX-License-Identifier: MIT
"""The site overview: its enclosures and raceways as a drawing, a route lit up."""

from __future__ import annotations

from flask import Blueprint, render_template, request

from wiretrack.errors import BadInputError
from wiretrack.tasks.site_map import route_codes, site_map
from wiretrack.web.opened import opened

pages = Blueprint("site_map", __name__)


@pages.get("/map")
def overview() -> str:
    """Show the drawing; `lit` names a conductor, pull or raceway whose route is lit up."""
    wanted, fault = request.args.get("lit", "").strip(), None
    with opened() as registry:
        lit: list[str] = []
        if wanted:
            try:
                lit = route_codes(registry, wanted)
            except BadInputError as error:
                fault = str(error)
        drawing = site_map(registry, lit)
    return render_template("map.html", drawing=drawing, wanted=wanted, lit=lit, fault=fault)
