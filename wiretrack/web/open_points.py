# SPDX-License-Identifier: MIT
"""The punch list: what is still open on the site."""

from __future__ import annotations

from flask import Blueprint, render_template, request

from wiretrack.tasks.punchlist import punch_list
from wiretrack.web.opened import opened

pages = Blueprint("open_points", __name__)
AT_ONCE = 200


@pages.get("/punchlist")
def punchlist() -> str:
    """Show how much of each kind is open, and the rows of one kind."""
    with opened() as registry:
        rows = punch_list(registry)
    counts: dict[str, int] = {}
    for row in rows:
        counts[row["what"]] = counts.get(row["what"], 0) + 1
    chosen = request.args.get("what") or next(iter(counts), None)
    shown = [row for row in rows if row["what"] == chosen]
    return render_template(
        "punchlist.html", counts=counts, chosen=chosen, rows=shown[:AT_ONCE], total=len(shown)
    )
