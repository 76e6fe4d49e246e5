# SPDX-License-Identifier: MIT
"""How many degrees of bend may lie between two pull points."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.electrical.findings import Finding, missing
from wiretrack.electrical.limits import between
from wiretrack.electrical.raceways import raceway_type
from wiretrack.electrical.tables import load_table

if TYPE_CHECKING:
    from wiretrack.electrical.codes import Code
    from wiretrack.electrical.runs import Run
    from wiretrack.model.knowledge import Outcome

# The table lists liquidtight nonmetallic and PVC once, whatever their wall.
_LISTED_AS = {"LFNC-B": "LFNC", "PVC-40": "PVC", "PVC-80": "PVC"}


def bends(run: Run, code: Code) -> list[Finding]:
    """Return the bends of one raceway between its two boxes against the NEC's 360 degrees.

    The figure stands in section .26 of each raceway's article; the IEC has none, and cable trays
    and troughs fall under other articles.
    """
    if not code.is_nec:
        return []
    row = load_table("nec_bends").find(raceway=_name(run.raceway.type))
    if row is None:
        return []
    source, limit = code.nec(row["section"]), float(row["degrees"])
    figure = run.raceway.bends_deg
    if figure is None:
        return [missing("bends", run.raceway.code, ["degrees of bend"], source, "°", limit)]
    between(0, 36_000, "Sum of bends", figure, "°")
    box = "; set a pull point in between" if figure > limit else ""
    reason = f"{figure:g}° of bend between boxes, at most {limit:g}°{box}"
    outcome: Outcome = "fail" if figure > limit else "pass"
    return [Finding("bends", run.raceway.code, outcome, figure, limit, "°", source, reason)]


def _name(text: str | None) -> str:
    kind = raceway_type(text) or (text or "").strip().upper()
    return _LISTED_AS.get(kind, kind)
