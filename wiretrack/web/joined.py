# SPDX-License-Identifier: MIT
"""What is joined with what: as a tree and a drawing, and what a device leaves dead and live."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from flask import Blueprint, render_template, request

from wiretrack.errors import BadInputError
from wiretrack.tasks.find.lists import AT_ONCE
from wiretrack.tasks.find.topology import isolation, tree_of, tree_picture
from wiretrack.web.drawings import part_of_page
from wiretrack.web.opened import opened
from wiretrack.web.parts import counted
from wiretrack.web.wording import said

if TYPE_CHECKING:
    from collections.abc import Sequence

    from markupsafe import Markup

    from wiretrack.store.store import Registry

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
            return _page(found, typed, {"sources": said(error)}), 422


def _page(found: dict[str, Any], typed: str, faults: dict[str, str] | None = None) -> str:
    return render_template(
        "device.html",
        found=found,
        live=_part("live", found["stays_live"], found["enclosure"]),
        dead=_part("dead", found["goes_dead"], found["enclosure"]),
        unknown=_part("unknown", found["unknown"], found["enclosure"]),
        typed={"sources": typed},
        faults=faults or {},
    )


def _part(name: str, rows: Sequence[dict[str, Any]], box: str) -> dict[str, Any]:
    """Return the part of a list that the address asks for: what ends in `box` comes first."""
    start = counted(name)
    near = sorted(rows, key=lambda row: box not in row["between"])
    following = start + AT_ONCE if len(near) > start + AT_ONCE else None
    return {
        "name": name,
        "rows": near[start : start + AT_ONCE],
        "count": len(near),
        "start": start,
        "next": following,
    }


def trend_pictures(registry: Registry, tag: str) -> list[tuple[dict[str, Any], Markup]]:
    """Return each series of a conductor's readings that has two points, and its plot."""
    from wiretrack.render.trend import plot_svg
    from wiretrack.tasks.test.trending import trend

    try:
        found = trend(registry, tag)
    except BadInputError:
        return []
    return [
        (series, part_of_page(plot_svg(found, number)))
        for number, series in enumerate(found["series"])
        if len(series["points"]) > 1
    ]
