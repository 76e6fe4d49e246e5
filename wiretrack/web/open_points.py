# SPDX-License-Identifier: MIT
"""The punch list: what is still open on the site, a part at a time."""

from __future__ import annotations

from flask import Blueprint, render_template, request

from wiretrack.tasks.report.punchlist import punch_part
from wiretrack.web.opened import opened
from wiretrack.web.parts import counted

pages = Blueprint("open_points", __name__)
AT_ONCE = 200


@pages.get("/punchlist")
def punchlist() -> str:
    """Show how much of each kind is open in a part of the circuits, and the rows of one kind."""
    after, first = counted("after"), counted("first")
    with opened() as registry:
        part = punch_part(registry, after)
    counts: dict[str, int] = {}
    for row in part["rows"]:
        counts[row["what"]] = counts.get(row["what"], 0) + 1
    chosen = request.args.get("what")
    if chosen not in counts:
        chosen = next(iter(counts), None)
    shown = [row for row in part["rows"] if row["what"] == chosen]
    return render_template(
        "punchlist.html",
        part=part,
        after=after,
        counts=counts,
        chosen=chosen,
        rows=shown[first : first + AT_ONCE],
        more=first + AT_ONCE if len(shown) > first + AT_ONCE else None,
    )
