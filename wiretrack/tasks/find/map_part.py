# SPDX-License-Identifier: MIT
"""The map of a large site: an enclosure or a route, and what lies within so many raceways of it."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any

from wiretrack.model.entities import Enclosure, Raceway
from wiretrack.store import wiring
from wiretrack.store.searching import resolve
from wiretrack.store.source import site_of
from wiretrack.tasks.find.site_map import Place, drawing_of, site_map

if TYPE_CHECKING:
    from collections.abc import Iterable

    from wiretrack.store.store import Registry

MOST_DRAWN = 60
WITHIN, FARTHEST = 2, 6  # raceways


def map_around(
    registry: Registry,
    lit: Iterable[str] = (),
    mark: Place | None = None,
    *,
    around: str = "",
    within: int = WITHIN,
) -> dict[str, Any]:
    """Return the drawing of a small site, or of a part of a large one, as `site_map` does.

    A part is drawn where more than `MOST_DRAWN` enclosures are recorded, or `around` is given. It
    begins with that enclosure, else with the route whose raceways are `lit`, else where most
    raceways meet; what is nearest comes first, up to `MOST_DRAWN`. ``around`` and ``within`` say
    what is drawn (``around`` is empty for a whole site or a route), and ``onward`` where
    raceways lead to what isn't: rows of ``code`` and ``raceways``.

    Raises
    ------
    NotFoundError
        If no enclosure is called `around`.
    """
    count, lit = wiring.enclosures_counted(registry), list(lit)
    box = resolve(registry, around, ("enclosure",)).code if around else ""
    if not box and count <= MOST_DRAWN:
        return {**site_map(registry, lit, mark), "around": "", "within": None, "onward": []}
    within = min(max(within, 1), FARTHEST)
    starts = [box] if box else []
    for pipe in site_of(registry).find(Raceway, "code", lit):
        starts += [pipe.from_enclosure, pipe.to_enclosure]
    if not starts:
        box = wiring.hub(registry) or site_of(registry).all(Enclosure)[0].code
    codes = _nearest(registry, starts or [box], within)
    met = wiring.raceways_at(registry, codes)
    between = [code for code, *ends in met if codes.keys() >= set(ends)]
    onward = Counter(end for _, *ends in met if not codes.keys() >= set(ends) for end in ends)
    drawn = site_of(registry).find(Enclosure, "code", codes)
    site = site_of(registry)
    pipes = site.find(Raceway, "code", between)
    drawing = drawing_of(drawn, pipes, set(lit), mark, box or starts[0])
    leads = [{"code": code, "raceways": onward[code]} for code in codes if code in onward]
    told = {"name": site.facts.name, **drawing, "left_out": count - len(drawn)}
    return {**told, "around": box, "within": within, "onward": leads}


def _nearest(registry: Registry, starts: list[str], within: int) -> dict[str, int]:
    """Return the enclosures within so many raceways, nearest first, and how far each is."""
    found = dict.fromkeys(list(dict.fromkeys(starts))[:MOST_DRAWN], 0)
    layer = list(found)
    for distance in range(1, within + 1):
        here = set(layer)
        near = [
            other
            for _, *ends in wiring.raceways_at(registry, layer)
            for one, other in (ends, ends[::-1])
            if one in here and other not in found
        ]
        layer = list(dict.fromkeys(near))[: MOST_DRAWN - len(found)]
        found |= dict.fromkeys(layer, distance)
        if not layer:
            break
    return found
