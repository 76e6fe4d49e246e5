# SPDX-License-Identifier: MIT
"""The site as a drawing: its enclosures as an indented tree, joined by the raceways between them.

The record has no coordinates. The tree begins where most raceways meet, or at an enclosure that is
asked about; so the drawing shows what leads where, not where things are.
"""

from __future__ import annotations

import textwrap
from collections import defaultdict, deque
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from wiretrack.model.entities import Enclosure, Raceway
from wiretrack.render.raceway_tree import Row, rows_of
from wiretrack.store import wiring
from wiretrack.store.searching import resolve
from wiretrack.store.source import site_of

if TYPE_CHECKING:
    from collections.abc import Iterable

    from wiretrack.store.store import Registry

MOST = 300
WIDTH = 372  # of the drawing, in its own units: a phone's width
INDENT, RAIL, GAP, EDGE = 30, 12, 28, 6
TEXT_X, CODE_Y, NAME_Y, NAME_PITCH, BACK_HEIGHT = 14, 21, 39, 14, 20
CODE_CHARACTER, NAME_CHARACTER = 9.2, 7.2  # wide: 15 of a monospaced face, 11 of a broad one
LEAST_NAME, MARK = 20, 13  # characters of a name a line; radius of a mark
Neighbours = dict[str, list[tuple[str, str]]]


@dataclass(frozen=True)
class Place:
    """A place in a raceway: which part of it, from 0 to 1, lies before it as seen from a box."""

    raceway: str
    from_box: str
    part: float


def site_map(
    registry: Registry, lit: Iterable[str] = (), mark: Place | None = None
) -> dict[str, Any]:
    """Return boxes and lines with their places, in units of the drawing, and its size.

    Raceways whose codes are in `lit` are marked, and so are the enclosures that they join. A site
    of more than `MOST` enclosures shows those, then the first others, and says how many are left
    out. ``mark`` is where on the drawing the place `mark` lies, if it is on it.
    """
    site = site_of(registry)
    shining, found, pipes = set(lit), site.all(Enclosure), site.all(Raceway)
    drawn = found if len(found) <= MOST else _first(found, _ends_of(pipes, shining))
    drawing = drawing_of(drawn, pipes, shining, mark)
    return {"name": site.facts.name, **drawing, "left_out": len(found) - len(drawn)}


def drawing_of(
    drawn: list[Enclosure],
    pipes: list[Raceway],
    lit: set[str],
    mark: Place | None = None,
    around: str | None = None,
) -> dict[str, Any]:
    """Return the drawing of some enclosures and the raceways between them.

    It is what `site_map` returns but for the site's name and what is left out. It begins with the
    enclosure `around`, else with the one where most raceways meet. A box has its place, size and
    the ``lines`` of its name, a line its ``points`` and the place of its label; one that closes a
    loop says where it leads back ``to``.
    """
    ends = _ends_of(pipes, lit)
    codes = {e.code for e in drawn}
    rows = rows_of(
        [e.code for e in drawn],
        [(r.code, r.from_enclosure, r.to_enclosure) for r in pipes if _joins(codes, r)],
        around,
    )
    boxes, spans, height = _placed(rows, {e.code: e for e in drawn})
    lines = _lines(rows, spans, lit)
    return {
        "width": _width(boxes, lines),
        "height": height,
        "boxes": [box | {"lit": box["code"] in ends} for box in boxes],
        "lines": lines,
        "mark": mark and _marked(rows, lines, mark),
    }


def _ends_of(pipes: list[Raceway], lit: set[str]) -> set[str]:
    """Return the enclosures that the raceways with a code in `lit` join."""
    return {end for r in pipes if r.code in lit for end in (r.from_enclosure, r.to_enclosure)}


def _first(found: list[Enclosure], ends: set[str]) -> list[Enclosure]:
    """Return as many enclosures as are drawn, those in `ends` before the others."""
    return sorted(found, key=lambda e: e.code not in ends)[:MOST]


def _placed(
    rows: list[Row], drawn: dict[str, Enclosure]
) -> tuple[list[dict[str, Any]], list[tuple[int, int]], int]:
    """Return the boxes, the top and bottom of each row, and the height of all of them."""
    boxes, spans, y = list[dict[str, Any]](), list[tuple[int, int]](), EDGE
    for row in rows:
        x = EDGE + INDENT * row.depth
        if row.raceway and not row.is_back:
            y += GAP
        if row.is_back:
            spans.append((y, y + BACK_HEIGHT))
            y += BACK_HEIGHT
            continue
        found = drawn[row.enclosure]
        most = max(LEAST_NAME, int((WIDTH - x - EDGE - 2 * TEXT_X) / NAME_CHARACTER))
        names = textwrap.wrap(found.name or found.kind or "", most)
        longest = max((len(name) for name in names), default=0) * NAME_CHARACTER
        width = round(max(len(row.enclosure) * CODE_CHARACTER, longest)) + 2 * TEXT_X
        height = NAME_Y + NAME_PITCH * max(len(names) - 1, 0) + 10
        boxes.append({
            "code": row.enclosure, "name": found.name, "kind": found.kind, "lines": names,
            "x": x, "y": y, "width": width, "height": height,
        })  # fmt: skip
        spans.append((y, y + height))
        y += height + EDGE
    return boxes, spans, y + EDGE


def _lines(rows: list[Row], spans: list[tuple[int, int]], lit: set[str]) -> list[dict[str, Any]]:
    """Return a line for each raceway: down from its parent's box, then to the row's own."""
    lines = list[dict[str, Any]]()
    for row, (top, bottom) in zip(rows, spans, strict=True):
        if row.raceway is None or row.parent is None:
            continue
        middle = (top + bottom) // 2
        x = EDGE + INDENT * row.depth
        rail = x - INDENT + RAIL
        points = [(rail, spans[row.parent][1]), (rail, middle), (x, middle)]
        text = f"{row.raceway} back to {row.enclosure}" if row.is_back else row.raceway
        height = BACK_HEIGHT if row.is_back else GAP
        top -= 0 if row.is_back else GAP
        lines.append({
            "code": row.raceway, "lit": row.raceway in lit, "points": points,
            "d": "M" + "L".join(f"{a} {b}" for a, b in points),
            "to": row.enclosure if row.is_back else None, "text": text,
            "label_x": x + EDGE, "label_y": top + height // 2 + 5,
            "hit": {"x": x, "y": top, "width": round(len(text) * CODE_CHARACTER) + 2 * EDGE,
                    "height": height},
        })  # fmt: skip
    return lines


def _width(boxes: list[dict[str, Any]], lines: list[dict[str, Any]]) -> int:
    """Return the width that holds every box and label, a phone's at least."""
    found: list[int] = [box["x"] + box["width"] for box in boxes]
    found += [line["hit"]["x"] + line["hit"]["width"] for line in lines]
    return max([WIDTH, *(right + EDGE for right in found)])


def _marked(rows: list[Row], lines: list[dict[str, Any]], mark: Place) -> dict[str, Any] | None:
    """Return where a place lies on the part of its line that leads down beside the boxes."""
    above = {row.raceway: rows[row.parent].enclosure for row in rows if row.parent is not None}
    for line in lines:
        if line["code"] == mark.raceway:
            (x, top), (_, low), _ = line["points"]
            part = mark.part if above[mark.raceway] == mark.from_box else 1 - mark.part
            y = top + MARK + (low - top - MARK) * min(max(part, 0.0), 1.0)
            return {"x": x, "y": round(y), "radius": MARK}
    return None


def way_to(registry: Registry, code: str) -> list[dict[str, str]]:
    """Return the raceways that lead to an enclosure from the one where most raceways meet.

    Rows of ``raceway`` and the ``enclosure`` that it leads to; empty where none leads there.
    """
    goal = resolve(registry, code, ("enclosure",)).code
    return _way(_came_from(_neighbours(wiring.joined_by_raceways(registry))), goal)


def ways_from_hub(pipes: Iterable[Raceway]) -> dict[str, list[dict[str, str]]]:
    """Return `way_to` of every enclosure that such a way leads to, by its code."""
    came = _came_from(_neighbours((r.code, r.from_enclosure, r.to_enclosure) for r in pipes))
    return {code: _way(came, code) for code in came}


def _came_from(near: Neighbours) -> dict[str, tuple[str, str]]:
    """Return how each enclosure is reached from the hub: by which other one and raceway."""
    if not near:
        return {}
    start = _hub(near, near)
    came = {start: ("", "")}
    waiting = deque([start])
    while waiting:
        here = waiting.popleft()
        for there, pipe in near[here]:
            if there not in came:
                came[there] = (here, pipe)
                waiting.append(there)
    return came


def _way(came: dict[str, tuple[str, str]], goal: str) -> list[dict[str, str]]:
    steps = []
    while goal in came:
        before, pipe = came[goal]
        steps.append({"raceway": pipe, "enclosure": goal})
        goal = before
    return steps[::-1]


def route_codes(registry: Registry, what: str) -> list[str]:
    """Return the raceways of what is to be lit up: a conductor, a pull or a raceway."""
    from wiretrack.tasks.find.showing import show

    kind, record = show(registry, what)
    if kind == "conductor":
        return list(record["route"])
    if kind == "pull":
        return list(record["path"])
    return [record["code"]] if kind == "raceway" else []


def _joins(codes: set[str], raceway: Raceway) -> bool:
    return raceway.from_enclosure in codes and raceway.to_enclosure in codes


def _neighbours(pipes: Iterable[tuple[str, str, str]]) -> Neighbours:
    """Return what each enclosure is joined with, of raceways by code and both enclosures."""
    near: defaultdict[str, list[tuple[str, str]]] = defaultdict(list)
    for code, one, other in pipes:
        near[one].append((other, code))
        near[other].append((one, code))
    return dict(near)


def _hub(codes: Iterable[str], near: Neighbours) -> str:
    """Return the enclosure where most raceways meet; of equals, the first."""
    return max(codes, key=lambda code: len(near.get(code, ())))


def site_name(registry: Registry) -> str | None:
    """Return the site's name, if it has one."""
    return site_of(registry).facts.name
