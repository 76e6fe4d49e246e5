# SPDX-License-Identifier: MIT
"""Signing in and out, and the name that a session enters things by."""

from __future__ import annotations

import secrets
from contextlib import suppress
from typing import TYPE_CHECKING, Any

from flask import Blueprint, abort, g, make_response, redirect, render_template, request, session

from wiretrack.errors import BadInputError, RegistryError
from wiretrack.exchange.places import check_text
from wiretrack.store.sessions import end_session
from wiretrack.web.access import access, address, form_token, needs, public
from wiretrack.web.registries import for_writing
from wiretrack.web.shared import said

if TYPE_CHECKING:
    from werkzeug.wrappers import Response as AnyResponse

pages = Blueprint("signing_in", __name__)
NAME_LENGTH = 80


@pages.get("/sign-in")
@public
def ask() -> str:
    """Show the sign-in form."""
    return render_template("sign_in.html", wanted=_local(request.args.get("next")), faults={})


@pages.post("/sign-in")
@public
def take() -> AnyResponse | tuple[str, int]:
    """Open a session and go on to the page that was wanted."""
    wanted, faults = _local(request.form.get("next")), {}
    name = request.form.get("name", "")
    try:
        name = check_text("The name", name, NAME_LENGTH) or ""
    except BadInputError as error:
        faults["name"] = said(error)
    found = None if faults else access().check(request.form.get("code", "").strip(), address())
    if found:
        session.clear()
        session.permanent = True
        session["code"], session["name"] = found[1], name
        session["id"] = secrets.token_urlsafe(24)
        form_token()
        return redirect(wanted, 303)
    if not faults:
        faults["code"] = "This is not the access code. It is shown where the server was started."
    status = 401 if "code" in faults else 422
    return render_template("sign_in.html", wanted=wanted, faults=faults, typed=request.form), status


@pages.post("/sign-out")
@public
def leave() -> AnyResponse:
    """End the session, also for copies of its cookie; the browser drops what it kept."""
    if "id" in session:
        with suppress(RegistryError), for_writing() as registry:  # a full disk keeps nobody in
            end_session(registry, str(session["id"]))
    session.clear()
    answer: Any = make_response(redirect("/sign-in", 303))
    answer.headers["Clear-Site-Data"] = '"cache", "storage"'
    return answer  # type: ignore[no-any-return]


@pages.post("/name")
@needs("read")
def rename() -> AnyResponse | tuple[str, int]:
    """Take the name of whoever has the phone now: it stands in the log beside what is entered."""
    try:
        name = check_text("The name", request.form.get("name", ""), NAME_LENGTH) or ""
    except BadInputError as error:
        abort(400, description=said(error))
    if not g.visitor.bearer:
        session["name"] = name
    return redirect("/", 303)


def _local(wanted: str | None) -> str:
    """Return a page of ours to go on to; anything that could lead elsewhere becomes the first."""
    plain = wanted or "/"
    harmless = plain.startswith("/") and not plain.startswith(("//", "/\\"))
    return plain if harmless and plain.isprintable() and "\\" not in plain else "/"
