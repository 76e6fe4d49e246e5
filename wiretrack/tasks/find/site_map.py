# SPDX-License-Identifier: MIT
"""The site as a drawing: its enclosures as an indented tree, joined by the raceways between them.

The record has no coordinates. The tree begins where most raceways meet, or at an enclosure that is
asked about; so the drawing shows what leads where, not where things are.
"""

from __future__ import annotations

import textwrap
from collections import Counter
from dataclasses import replace
from itertools import permutations
from typing import TYPE_CHECKING

from wiretrack.late import dataclass
from wiretrack.model.entities import Enclosure, Raceway
from wiretrack.model.wiring import raceway_network
from wiretrack.model.words import PANELBOARD
from wiretrack.render.tree import rows_of
from wiretrack.store import lists
from wiretrack.store.searching import resolve
from wiretrack.store.source import site_of
from wiretrack.tasks.find.records import ConductorRecord, PullRecord, RacewayRecord
from wiretrack.tasks.find.showing import show

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from wiretrack.model.entity import Records
    from wiretrack.model.site import Site
    from wiretrack.render.tree import Row
    from wiretrack.store.store import Registry

MOST, MOST_AROUND = 300, 60  # enclosures of a whole site, and of a part of it
WITHIN, FARTHEST = 2, 6  # raceways
WIDTH = 288  # of the drawing, in CSS px: what the narrowest phone, of 320, has room for
TOUCHED = 44  # least height and width of what a finger hits: of a raceway's row, too
INDENT, RAIL, EDGE = 20, 9, 6
TEXT_X, NAME_Y, NAME_PITCH = 10, 39, 15
CODE_CHARACTER, NAME_CHARACTER = 9.2, 7.8  # wide: 15 of a monospaced face, 12 of a broad one
LEAST_NAME, MARK = 14, 9  # characters of a name a line; radius of a mark


@dataclass(frozen=True)
class PlaceInRaceway:
    """A place in a raceway: which part of it, from 0 to 1, lies before it as seen from a box."""

    raceway: str
    from_box: str
    part: float


@dataclass(frozen=True)
class Area:
    """A rectangle of the drawing."""

    x: int
    y: int
    width: int
    height: int


@dataclass(frozen=True)
class Box(Area):
    """An enclosure as it is drawn, with the lines of its name."""

    code: str
    name: str | None
    kind: str | None
    lines: list[str]
    lit: bool

    @property
    def text_x(self) -> int:
        """Where its texts begin."""
        return self.x + TEXT_X

    @property
    def named(self) -> list[tuple[int, str]]:
        """The lines of its name, and how far down each stands."""
        return [(self.y + NAME_Y + NAME_PITCH * n, words) for n, words in enumerate(self.lines)]


@dataclass(frozen=True)
class Line:
    """A raceway as it is drawn; one that closes a loop says where it leads back `to`."""

    code: str
    lit: bool
    points: list[tuple[int, int]]
    to: str | None
    text: str
    label_x: int
    label_y: int
    hit: Area

    @property
    def d(self) -> str:
        """Its points as SVG writes a path."""
        return "M" + "L".join(f"{x} {y}" for x, y in self.points)


@dataclass(frozen=True)
class Mark:
    """Where a place lies on the drawing."""

    x: int
    y: int
    radius: int = MARK


@dataclass(frozen=True)
class Onward:
    """An enclosure that more raceways lead on from than are drawn."""

    code: str
    raceways: int


@dataclass(frozen=True, kw_only=True)
class SiteMap:
    """A drawing, in its own units; of a part of a site, what it is around and where it leads on.

    `around` is empty for a whole site or a route, `within` is `None` for a whole site.
    """

    name: str | None
    width: int
    height: int
    boxes: list[Box]
    lines: list[Line]
    mark: Mark | None
    left_out: int
    around: str = ""
    within: int | None = None
    onward: tuple[Onward, ...] = ()


def site_map(
    registry: Registry, lit: Iterable[str] = (), mark: PlaceInRaceway | None = None
) -> SiteMap:
    """Return the drawing of the site; raceways in `lit` are marked, and the enclosures they join.

    A site of more than `MOST` enclosures shows those, then the first others.
    """
    site, lit = site_of(registry), set(lit)
    found, pipes = site.all(Enclosure), site.all(Raceway)
    ends = _ends_of(pipes, lit)
    drawn = found if len(found) <= MOST else sorted(found, key=lambda e: e.code not in ends)[:MOST]
    drawing = _drawn(site, drawn, pipes, lit, mark)
    return replace(drawing, left_out=len(found) - len(drawn))


def map_around(
    registry: Registry,
    lit: Iterable[str] = (),
    mark: PlaceInRaceway | None = None,
    *,
    around: str = "",
    within: int = WITHIN,
) -> SiteMap:
    """Return the drawing of a small site, or of a part of a large one.

    A part is drawn where more than `MOST_AROUND` enclosures are recorded, or `around` is given. It
    begins with that enclosure, else with the route whose raceways are `lit`, else where most
    raceways meet; what is nearest comes first.
    """
    count, lit = lists.enclosures_counted(registry), list(lit)
    box = resolve(registry, around, ("enclosure",)).code if around else ""
    if not box and count <= MOST_AROUND:
        return site_map(registry, lit, mark)
    site, within = site_of(registry), min(max(within, 1), FARTHEST)
    starts = [box] if box else []
    for pipe in site.find(Raceway, "code", lit):
        starts += [pipe.from_enclosure, pipe.to_enclosure]
    if not starts:
        box = lists.hub(registry) or site.all(Enclosure)[0].code
    near = _nearest(site, starts or [box], within)
    between, onward = list[Raceway](), Counter[str]()
    for pipe in site.find(Raceway, "enclosure", near):
        ends = (pipe.from_enclosure, pipe.to_enclosure)
        if set(ends) <= set(near):
            between.append(pipe)
        else:
            onward.update(ends)
    boxes = site.find(Enclosure, "code", near)
    drawing = _drawn(site, boxes, between, set(lit), mark, box or starts[0])
    return replace(
        drawing,
        left_out=count - len(boxes),
        around=box,
        within=within,
        onward=tuple(Onward(code, onward[code]) for code in near if code in onward),
    )


def _nearest(site: Site, starts: list[str], within: int) -> list[str]:
    """Return the enclosures within so many raceways, nearest first; no more than are drawn."""
    found = list(dict.fromkeys(starts))[:MOST_AROUND]
    layer = found
    for _ in range(within):
        near = [
            other
            for pipe in site.find(Raceway, "enclosure", layer)
            for one, other in permutations((pipe.from_enclosure, pipe.to_enclosure))
            if one in layer and other not in found
        ]
        layer = list(dict.fromkeys(near))[: MOST_AROUND - len(found)]
        found = found + layer
    return found


def _drawn(
    site: Site,
    drawn: list[Enclosure],
    pipes: list[Raceway],
    lit: set[str],
    mark: PlaceInRaceway | None = None,
    around: str | None = None,
) -> SiteMap:
    """Return the drawing of some enclosures and the raceways between them.

    It begins with the enclosure `around`, else with the one where most raceways meet.
    """
    known = {e.code: e for e in drawn}
    between = [r for r in pipes if known.keys() >= {r.from_enclosure, r.to_enclosure}]
    rows = rows_of([*known], raceway_network(between), around)
    boxes, spans, height = _placed(rows, known, _ends_of(pipes, lit))
    lines = _lines(rows, spans, lit)
    areas = [*boxes, *(line.hit for line in lines)]
    return SiteMap(
        name=site.facts.name,
        width=max([WIDTH, *(area.x + area.width + EDGE for area in areas)]),
        height=height,
        boxes=boxes,
        lines=lines,
        mark=_marked(rows, lines, mark) if mark else None,
        left_out=0,
    )


def _ends_of(pipes: Iterable[Raceway], lit: set[str]) -> set[str]:
    return {end for r in pipes if r.code in lit for end in (r.from_enclosure, r.to_enclosure)}


def _placed(
    rows: list[Row], drawn: dict[str, Enclosure], lit: set[str]
) -> tuple[list[Box], list[tuple[int, int]], int]:
    boxes, spans, y = list[Box](), list[tuple[int, int]](), EDGE
    for row in rows:
        x = EDGE + INDENT * row.depth
        if row.raceway and not row.is_back:
            y += TOUCHED
        if row.is_back:
            spans.append((y, y + TOUCHED))
            y += TOUCHED
            continue
        found = drawn[row.enclosure]
        most = max(LEAST_NAME, int((WIDTH - x - EDGE - 2 * TEXT_X) / NAME_CHARACTER))
        names = textwrap.wrap(found.name or found.kind or "", most)
        longest = max((len(name) for name in names), default=0) * NAME_CHARACTER
        width = round(max(len(found.code) * CODE_CHARACTER, longest, TOUCHED)) + 2 * TEXT_X
        height = NAME_Y + NAME_PITCH * max(len(names) - 1, 0) + 10
        is_lit = found.code in lit
        boxes.append(Box(x, y, width, height, found.code, found.name, found.kind, names, is_lit))
        spans.append((y, y + height))
        y += height + EDGE
    return boxes, spans, y + EDGE


def _lines(rows: list[Row], spans: list[tuple[int, int]], lit: set[str]) -> list[Line]:
    lines = list[Line]()
    for row, (top, bottom) in zip(rows, spans, strict=True):
        if row.raceway is None or row.parent is None:
            continue
        middle = (top + bottom) // 2
        x = EDGE + INDENT * row.depth
        rail = x - INDENT + RAIL
        text = f"{row.raceway} back to {row.enclosure}" if row.is_back else row.raceway
        top -= 0 if row.is_back else TOUCHED
        lines.append(
            Line(
                code=row.raceway,
                lit=row.raceway in lit,
                points=[(rail, spans[row.parent][1]), (rail, middle), (x, middle)],
                to=row.enclosure if row.is_back else None,
                text=text,
                label_x=x + EDGE,
                label_y=top + TOUCHED // 2 + 5,
                hit=Area(
                    x, top, max(TOUCHED, round(len(text) * CODE_CHARACTER) + 2 * EDGE), TOUCHED
                ),
            )
        )
    return lines


def _marked(rows: list[Row], lines: list[Line], mark: PlaceInRaceway) -> Mark | None:
    """Return where a place lies on the part of its line that leads down beside the boxes."""
    above = {row.raceway: rows[row.parent].enclosure for row in rows if row.parent is not None}
    for line in lines:
        if line.code == mark.raceway:
            (x, top), (_, low), _ = line.points
            part = mark.part if above[mark.raceway] == mark.from_box else 1 - mark.part
            y = top + MARK + (low - top - MARK) * min(max(part, 0.0), 1.0)
            return Mark(x, round(y))
    return None


@dataclass(frozen=True)
class Step:
    """An enclosure on a way, and the raceway that leads to it; the first one has none."""

    raceway: str
    enclosure: str


def way_to(site: Records, code: str) -> Sequence[Step]:
    """Return the shortest way along raceways to an enclosure from a panelboard; none if none leads.

    Raceways are read outwards from the enclosure, and no farther than to the nearest panelboard.
    """
    came: dict[str, Step] = {}  # by an enclosure: what leads from it towards the wanted one
    edge = [code]
    while edge:
        site.find(Raceway, "enclosure", edge)  # in one go
        reached = {
            other: Step(raceway.code, box)
            for box in edge
            for raceway in site.at(Raceway, "enclosure", box)
            for other in (raceway.from_enclosure, raceway.to_enclosure)
            if other not in came and other != code
        }
        came |= reached
        edge = [*reached]
        for box in site.find(Enclosure, "code", edge):
            if box.kind == PANELBOARD:
                return _way(came, box.code)
    return ()


def _way(came: Mapping[str, Step], start: str) -> list[Step]:
    steps = [Step("", start)]
    while (step := came.get(steps[-1].enclosure)) is not None:
        steps.append(step)
    return steps


def route_codes(registry: Registry, what: str) -> list[str]:
    """Return the raceways of what is to be lit up: a conductor, a pull or a raceway."""
    record = show(registry, what)
    if isinstance(record, ConductorRecord):
        return [*record.conductor.route.raceways]
    if isinstance(record, PullRecord):
        return [*record.pull.path]
    return [record.raceway.code] if isinstance(record, RacewayRecord) else []
