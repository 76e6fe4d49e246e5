# SPDX-License-Identifier: MIT
"""How many degrees of bend may lie between two pull points."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.electrical.dimensions import raceway_type
from wiretrack.electrical.findings import Clause, Finding, raceways, rule
from wiretrack.electrical.limits import between
from wiretrack.electrical.tables import load_table

if TYPE_CHECKING:
    from wiretrack.electrical.runs import Run
    from wiretrack.electrical.tables import Code

# The table lists liquidtight nonmetallic and PVC once, whatever their wall.
_LISTED_AS = {"LFNC-B": "LFNC", "PVC-40": "PVC", "PVC-80": "PVC"}


@rule("bends", raceways)
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
    clause = Clause("bends", run.raceway.code, code.nec(row["section"]), "°")
    figure, limit = run.raceway.bends_deg, float(row["degrees"])
    if figure is None:
        return [clause.lacks("degrees of bend", limit=limit)]
    between(0, 36_000, "Sum of bends", figure, "°")
    box = "; set a pull point in between" if figure > limit else ""
    reason = f"{figure:g}° of bend between boxes, at most {limit:g}°{box}"
    return [clause.finds("fail" if figure > limit else "pass", reason, figure, limit)]


def _name(text: str | None) -> str:
    kind = raceway_type(text) or (text or "").strip().upper()
    return _LISTED_AS.get(kind, kind)
