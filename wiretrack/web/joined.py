# SPDX-License-Identifier: MIT
"""What is joined with what: as a tree and a drawing, and what a device leaves dead and live."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from flask import Blueprint, render_template, request

from wiretrack.errors import BadInputError
from wiretrack.tasks.topology import isolation, tree_of, tree_picture
from wiretrack.web.drawings import part_of_page
from wiretrack.web.opened import opened

if TYPE_CHECKING:
    from markupsafe import Markup

    from wiretrack.registry.store import Registry

pages = Blueprint("joined", __name__)


@pages.get("/trees/<path:what>")
def tree(what: str) -> str:
    """Show all that is joined with a conductor or terminal."""
    with opened() as registry:
        found = tree_of(registry, what)
        picture = part_of_page(tree_picture(registry, what))
    return render_template("tree.html", what=what, found=found, picture=picture)


@pages.get("/devices/<enclosure>/<device>")
def device(enclosure: str, device: str) -> str | tuple[str, int]:
    """Show what goes dead and what stays live when a device is opened."""
    typed = request.args.get("sources", "")
    sources = [word.strip() for word in typed.split(",") if word.strip()]
    with opened() as registry:
        try:
            return _page(isolation(registry, [enclosure, device], sources), typed)
        except BadInputError as error:
            if not sources:
                raise
            found = isolation(registry, [enclosure, device])
            return _page(found, typed, {"sources": str(error)}), 422


def _page(found: dict[str, Any], typed: str, faults: dict[str, str] | None = None) -> str:
    return render_template(
        "device.html", found=found, typed={"sources": typed}, faults=faults or {}
    )


def trend_pictures(registry: Registry, tag: str) -> list[tuple[dict[str, Any], Markup]]:
    """Return each series of a conductor's readings that has two points, and its plot."""
    from wiretrack.tasks.trend_drawing import plot_svg
    from wiretrack.tasks.trending import trend

    try:
        found = trend(registry, tag)
    except BadInputError:
        return []
    return [
        (series, part_of_page(plot_svg(found, number)))
        for number, series in enumerate(found["series"])
        if len(series["points"]) > 1
    ]
