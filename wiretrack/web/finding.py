# SPDX-License-Identifier: MIT
"""The first page, and looking things up: by tag, by code, by words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from flask import Blueprint, redirect, render_template, request

from wiretrack.errors import NotFoundError, TagError
from wiretrack.model.tags import format_tag
from wiretrack.store.searching import resolve
from wiretrack.tasks.find.looking import find
from wiretrack.web.addresses import address_of
from wiretrack.web.opened import opened
from wiretrack.web.wording import said

if TYPE_CHECKING:
    from werkzeug.wrappers import Response

    from wiretrack.store.store import Registry

pages = Blueprint("finding", __name__)


@pages.get("/")
@pages.get("/find")
def look_up() -> str | Response:
    """Show what carries the words; a tag, or a code that is typed in full, leads to its page."""
    typed = request.args.get("q", "").strip()
    if not typed:
        return render_template("find.html", q="", hits=None, fault=None)
    with opened() as registry:
        place, fault = _named(registry, typed)
        if place:
            return redirect(place, 303)
        hits = find(registry, typed)
    return render_template("find.html", q=typed, hits=hits, fault=None if hits else fault)


def _named(registry: Registry, typed: str) -> tuple[str | None, str | None]:
    """Return the page of what is called so, or why there is none."""
    try:
        named = resolve(registry, typed)
    except (NotFoundError, TagError) as error:
        return None, said(error)
    code = format_tag(named.code) if named.what == "conductor" else named.code
    return address_of(named.what, code), None
