# SPDX-License-Identifier: MIT
"""The site as a drawing: where each enclosure stands on the sheet, and the raceways between.

The record has no coordinates. Enclosures are laid in rows by their distance, in raceways, from the
one where most raceways meet; so the drawing shows what leads where, not where things are.
"""

from __future__ import annotations

from collections import Counter, defaultdict, deque
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from wiretrack.registry import wiring
from wiretrack.registry.dumping import enclosures, raceways, site
from wiretrack.registry.searching import resolve

if TYPE_CHECKING:
    from collections.abc import Iterable

    from wiretrack.records import Enclosure, Raceway
    from wiretrack.registry.store import Registry

MOST = 300
ACROSS = 3
WIDTH, PITCH_X, PITCH_Y = 372, 124, 104
BOX_WIDTH, BOX_HEIGHT = 104, 52
MARK = 8  # how near to a box a mark may stand
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
    shining, found, pipes = set(lit), enclosures(registry), raceways(registry)
    drawn = found if len(found) <= MOST else _first(found, _ends_of(pipes, shining))
    return drawing_of(registry, drawn, pipes, shining, mark, left_out=len(found) - len(drawn))


def drawing_of(
    registry: Registry,
    drawn: list[Enclosure],
    pipes: list[Raceway],
    lit: set[str],
    mark: Place | None = None,
    *,
    left_out: int = 0,
    around: str | None = None,
) -> dict[str, Any]:
    """Return the drawing of some enclosures and the raceways between them, as `site_map` does.

    It begins with the enclosure `around`, else with the one where most raceways meet.
    """
    ends = _ends_of(pipes, lit)
    codes = {e.code for e in drawn}
    pipes = [r for r in pipes if _joins(codes, r)]
    places = _places(drawn, pipes, around)
    lines = _lines(pipes, places, lit)
    return {
        "name": site(registry).name,
        "width": WIDTH,
        "height": max((y for _, y in places.values()), default=0) + PITCH_Y - 20,
        "box_width": BOX_WIDTH,
        "box_height": BOX_HEIGHT,
        "boxes": [
            {"code": e.code, "name": e.name, "kind": e.kind, "lit": e.code in ends,
             "x": places[e.code][0], "y": places[e.code][1]}
            for e in drawn
        ],
        "lines": lines,
        "mark": mark and _marked(pipes, lines, mark, places),
        "left_out": left_out,
    }  # fmt: skip


def _ends_of(pipes: list[Raceway], lit: set[str]) -> set[str]:
    """Return the enclosures that the raceways with a code in `lit` join."""
    return {end for r in pipes if r.code in lit for end in (r.from_enclosure, r.to_enclosure)}


def _first(found: list[Enclosure], ends: set[str]) -> list[Enclosure]:
    """Return as many enclosures as are drawn, those in `ends` before the others."""
    return sorted(found, key=lambda e: e.code not in ends)[:MOST]


def _marked(
    pipes: list[Raceway],
    lines: list[dict[str, Any]],
    mark: Place,
    places: dict[str, tuple[int, int]],
) -> dict[str, Any] | None:
    """Return where a place lies on its line, between the edges of the boxes that it joins."""
    for pipe, line in zip(pipes, lines, strict=True):
        if pipe.code == mark.raceway:
            part = mark.part if pipe.from_enclosure == mark.from_box else 1 - mark.part
            across, down = abs(line["x2"] - line["x1"]), abs(line["y2"] - line["y1"])
            hidden = min(
                BOX_WIDTH / 2 / across if across else 1, BOX_HEIGHT / 2 / down if down else 1, 0.45
            )
            t = hidden + (1 - 2 * hidden) * min(max(part, 0.0), 1.0)
            return _beside_boxes(line, t, hidden, places)
    return None


def _beside_boxes(
    line: dict[str, Any], wanted: float, hidden: float, places: dict[str, tuple[int, int]]
) -> dict[str, Any]:
    """Return the point of a line nearest to the wanted one that no box on its way covers."""
    steps = [hidden + (1 - 2 * hidden) * n / 40 for n in range(41)]
    points = [
        {axis: _on_curve(line, axis, t) for axis in ("x", "y")}
        for t in sorted([wanted, *steps], key=lambda t: abs(t - wanted))
    ]

    def is_free(point: dict[str, int]) -> bool:
        return not any(
            -MARK < point["x"] - x < BOX_WIDTH + MARK and -MARK < point["y"] - y < BOX_HEIGHT + MARK
            for x, y in places.values()
        )

    return next((point for point in points if is_free(point)), points[0])


def _on_curve(line: dict[str, Any], axis: str, t: float) -> int:
    """Return a coordinate of the point at `t` of a line, which is a quadratic Bézier curve."""
    one, mid, two = (float(line[name]) for name in (f"{axis}1", f"mid_{axis}", f"{axis}2"))
    return round((1 - t) ** 2 * one + 2 * t * (1 - t) * mid + t * t * two)


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
    from wiretrack.tasks.showing import show

    kind, record = show(registry, what)
    if kind == "conductor":
        return list(record["route"])
    if kind == "pull":
        return [code for code, *_ in wiring.route(registry, record["code"])]
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


def _places(
    drawn: list[Enclosure], pipes: list[Raceway], around: str | None
) -> dict[str, tuple[int, int]]:
    near = _neighbours((r.code, r.from_enclosure, r.to_enclosure) for r in pipes)
    left = [e.code for e in drawn if e.code in near]
    places: dict[str, tuple[int, int]] = {}
    row = 0
    while left:
        start = around if around in left else _hub(left, near)
        for layer in _layers(start, near):
            row = _put(_beside_parents(layer, near, places), row, places)
        left = [code for code in left if code not in places]
    _put([e.code for e in drawn if e.code not in places], row, places)
    return places


def _layers(start: str, near: Neighbours) -> list[list[str]]:
    seen, layers = {start}, [[start]]
    while layers[-1]:
        found = dict.fromkeys(
            there for here in layers[-1] for there, _ in near[here] if there not in seen
        )
        seen |= found.keys()
        layers.append(list(found))
    return layers[:-1]


def _beside_parents(layer: list[str], near: Neighbours, places: dict[str, Any]) -> list[str]:
    """Return a layer in the order of the mean place of what each is joined to above."""

    def mean_x(code: str) -> float:
        above = [places[there][0] for there, _ in near[code] if there in places]
        return sum(above) / len(above) if above else 0.0

    return sorted(layer, key=mean_x)


def _put(codes: list[str], row: int, places: dict[str, tuple[int, int]]) -> int:
    """Give each code a place, `ACROSS` a row, rows centred; return the next free row."""
    for at in range(0, len(codes), ACROSS):
        part = codes[at : at + ACROSS]
        left = (WIDTH - PITCH_X * len(part)) // 2
        for column, code in enumerate(part):
            x = left + PITCH_X * column + (PITCH_X - BOX_WIDTH) // 2
            places[code] = (x, row * PITCH_Y + 10)
        row += 1
    return row


def _label(
    one: tuple[int, int], other: tuple[int, int], bend: int, at_lower: bool
) -> dict[str, int]:
    """Return where a line's label is written: in the gap below its upper box, where none is.

    `at_lower` says that it is written in the gap above its lower box.
    """
    (x1, y1), (x2, y2) = sorted((one, other), key=lambda point: point[1])
    if y1 == y2:
        return {"label_x": (x1 + x2) // 2, "label_y": y1 + bend}
    down = y2 - y1 - PITCH_Y // 2 if at_lower else PITCH_Y // 2
    return {"label_x": round(x1 + (x2 - x1) * down / (y2 - y1)), "label_y": y1 + down}


def _lines(
    pipes: list[Raceway], places: dict[str, tuple[int, int]], lit: set[str]
) -> list[dict[str, Any]]:
    """Return a line for each raceway, those between the same two boxes side by side.

    Its label stands at the box where fewer raceways end, so that those of a hub lie apart.
    """
    beside: defaultdict[frozenset[str], int] = defaultdict(int)
    met = Counter(end for pipe in pipes for end in (pipe.from_enclosure, pipe.to_enclosure))
    rows = []
    for pipe in pipes:
        pair = frozenset((pipe.from_enclosure, pipe.to_enclosure))
        shift = 14 * ((beside[pair] + 1) // 2) * (-1) ** beside[pair]
        beside[pair] += 1
        (x1, y1), (x2, y2) = places[pipe.from_enclosure], places[pipe.to_enclosure]
        half_x, half_y = BOX_WIDTH // 2 + shift, BOX_HEIGHT // 2
        upper, lower = sorted(
            (pipe.from_enclosure, pipe.to_enclosure), key=lambda code: places[code][1]
        )
        bend = 34 if y1 == y2 and abs(x1 - x2) > PITCH_X else 0
        rows.append(
            {
                "code": pipe.code,
                "lit": pipe.code in lit,
                "x1": x1 + half_x, "y1": y1 + half_y, "x2": x2 + half_x, "y2": y2 + half_y,
                "mid_x": (x1 + x2) // 2 + half_x, "mid_y": (y1 + y2) // 2 + half_y + bend * 2,
                **_label((x1 + half_x, y1 + half_y), (x2 + half_x, y2 + half_y), bend,
                         met[lower] < met[upper]),
            }
        )  # fmt: skip
    return rows


def site_name(registry: Registry) -> str | None:
    """Return the site's name, if it has one."""
    return site(registry).name
