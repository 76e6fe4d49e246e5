# SPDX-License-Identifier: MIT
"""Small sites in memory: a circuit with conductors, to plan its tests and judge its readings."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from wiretrack.model.entities import Circuit, Conductor, Pull, Raceway
from wiretrack.model.parts import End, SiteFacts
from wiretrack.model.site import Site
from wiretrack.model.source import DocumentSource, SiteDocument
from wiretrack.model.tags import Tag
from wiretrack.readings.judging import Judge

if TYPE_CHECKING:
    from collections.abc import Iterable

    from wiretrack.model.entity import PlannedTest

# One module with 1/4 of the string's open-circuit voltage.
IN_SERIES = 4


def wire(tag: str, function: str, between: Iterable[str] = "AB", **more: Any) -> Conductor:
    one, other = sorted(between)
    facts = {"circuits": ("K",), "size": "4 mm2", "metal": "Cu", "strands": 7, **more}
    return Conductor(tag=Tag(tag), function=function, from_end=End(enclosure=one),
                     to_end=End(enclosure=other), **facts)  # fmt: skip


def site_with(
    circuit: Circuit,
    conductors: Iterable[Conductor],
    metal: bool | None = None,
    **more: Any,
) -> Site:
    """Return a site of one circuit, whose conductors lie in one raceway where its metal is said."""
    members, more = tuple(conductors), {"site": SiteFacts(rules="IEC"), **more}
    if metal is not None:
        raceway = Raceway(code="W", from_enclosure="A", to_enclosure="B", metal=metal)
        more |= {"raceways": (raceway,), "pulls": (Pull(code="P", path=("W",)),)}
        members = tuple(replace(c, pull="P") for c in members)
    document = SiteDocument(circuits=(circuit,), conductors=members, **more)
    return Site(DocumentSource(document), Judge)


def planned(
    system: str | None, conductors: Iterable[Conductor], *, max_voltage_v: float | None = None,
    voc_stc_v: float | None = None, metal_raceway: bool | None = None,
) -> tuple[PlannedTest, ...]:  # fmt: skip
    """Return the readings that a circuit with these conductors owes."""
    circuit = Circuit(
        code="K", system=system, max_voltage_v=max_voltage_v,
        module_voc_v=voc_stc_v and voc_stc_v / IN_SERIES,
        modules_in_series=IN_SERIES if voc_stc_v else None,
    )  # fmt: skip
    site = site_with(circuit, conductors, metal_raceway)
    return site.knowledge.planned(site.one(Circuit, "K"))
