# SPDX-License-Identifier: MIT
"""Signing in with the access code, and out."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from flask import Blueprint, make_response, redirect, render_template, request, session

from wiretrack.errors import BadInputError
from wiretrack.tasks.free_text import check_text
from wiretrack.web.access import NAME_LENGTH, open_session, public
from wiretrack.web.failures import said

if TYPE_CHECKING:
    from werkzeug.wrappers import Response

pages = Blueprint("signing_in", __name__)


@pages.get("/sign-in")
@public
def ask() -> str:
    """Show the sign-in form."""
    return render_template("sign_in.html", wanted=_local(request.args.get("next")), faults={})


@pages.post("/sign-in")
@public
def take() -> Response | tuple[str, int]:
    """Open a session and go on to the page that was wanted."""
    wanted, faults = _local(request.form.get("next")), {}
    name = request.form.get("name", "")
    try:
        name = check_text("The name", name, NAME_LENGTH) or ""
    except BadInputError as error:
        faults["name"] = said(error)
    if not faults and not open_session(request.form.get("code", "").strip(), name):
        faults["code"] = "This is not the access code. It is shown where the server was started."
    if not faults:
        return redirect(wanted, 303)
    status = 401 if "code" in faults else 422
    return render_template("sign_in.html", wanted=wanted, faults=faults, typed=request.form), status


@pages.post("/sign-out")
@public
def leave() -> Response:
    """End the session; the browser drops the pages it kept."""
    session.clear()
    answer: Any = make_response(redirect("/sign-in", 303))
    answer.headers["Clear-Site-Data"] = '"cache"'
    return answer  # type: ignore[no-any-return]


def _local(wanted: str | None) -> str:
    """Return a page of ours to go on to; anything that could lead elsewhere becomes the first."""
    plain = wanted or "/"
    harmless = plain.startswith("/") and not plain.startswith(("//", "/\\"))
    return plain if harmless and plain.isprintable() and "\\" not in plain else "/"
