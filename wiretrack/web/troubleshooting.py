# SPDX-License-Identifier: MIT
"""Troubleshooting: the path through a conductor or terminal, and what is suspect along it."""

from __future__ import annotations

from flask import Blueprint, render_template, request

from wiretrack.errors import BadInputError
from wiretrack.tasks.path_doubts import path_doubts
from wiretrack.web.opened import opened

pages = Blueprint("troubleshooting", __name__)


@pages.get("/trouble")
def trouble() -> str:
    """Show the path through what `q` names, with the readings along it that aren't sound."""
    typed, found, fault = request.args.get("q", "").strip(), None, None
    if typed:
        with opened() as registry:
            try:
                found = path_doubts(registry, typed)
            except BadInputError as error:
                fault = str(error)
    return render_template("trouble.html", q=typed, found=found, fault=fault)
