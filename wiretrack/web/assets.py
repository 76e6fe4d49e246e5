# SPDX-License-Identifier: MIT
"""What a browser fetches beside the pages; nothing of the registry is in it."""

from __future__ import annotations

from flask import Blueprint, Response, current_app, send_from_directory

from wiretrack.web.access import public

pages = Blueprint("assets", __name__)


@pages.get("/worker.js")
@public
def worker() -> Response:
    """Return the service worker; from the root, so that it may keep every page."""
    return send_from_directory(current_app.static_folder or "", "worker.js")


@pages.get("/favicon.ico")
@public
def icon() -> Response:
    """Return the icon."""
    return send_from_directory(current_app.static_folder or "", "icon.svg")


@pages.get("/robots.txt")
@public
def robots() -> Response:
    """Ask crawlers to stay away."""
    return Response("User-agent: *\nDisallow: /\n", mimetype="text/plain")
