# SPDX-License-Identifier: MIT
"""Troubleshooting: where to begin, and the path through a conductor or terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from flask import Blueprint, render_template, request

from wiretrack.electrical.symptoms import SYMPTOMS
from wiretrack.errors import BadInputError
from wiretrack.tasks.trouble.path_doubts import path_doubts
from wiretrack.tasks.trouble.searching import searches
from wiretrack.web.failures import said
from wiretrack.web.registries import for_reading

if TYPE_CHECKING:
    from collections.abc import Mapping

    from wiretrack.store.store import Registry

pages = Blueprint("troubleshooting", __name__)


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
        searches=searches(registry),
        **shown,
    )
