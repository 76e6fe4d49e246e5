# SPDX-License-Identifier: MIT
"""The manual on the phone; nothing of the registry is in it."""

from __future__ import annotations

from flask import Blueprint, Response, abort, render_template, send_from_directory
from markupsafe import Markup

from wiretrack.manual import PICTURES, html, topics

pages = Blueprint("manual", __name__)


@pages.get("/manual")
def list_of_topics() -> str:
    """Show which topics there are."""
    return render_template("manual.html", topic=None, topics=topics().values(), ending="")


@pages.get("/manual/<name>")
def topic(name: str) -> str:
    """Show a topic."""
    if name not in topics():
        abort(404)
    shown = topics()[name]
    return render_template("manual.html", topic=shown, body=Markup(html(shown)))


@pages.get("/manual/pictures/<name>")
def picture(name: str) -> Response:
    """Return a picture of the manual."""
    return send_from_directory(PICTURES, name)
