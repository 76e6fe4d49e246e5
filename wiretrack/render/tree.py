# SPDX-License-Identifier: MIT
"""A tree of points as a drawing: conductors as lines, devices as contacts, open or closed.

The ways on from a point leave a plumb line through it, each on a level of its own; words stand over
their line and under their point, in columns as wide as they need. So no word lies on a line.
Enclosures and the raceways between them are an indented tree: no line crosses another.
"""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

from wiretrack import svg
from wiretrack.late import dataclass
from wiretrack.model.path import link_words
from wiretrack.model.wiring import ALWAYS_JOINED, box_point
from wiretrack.svg import DIM, INK, LIT

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Sequence

    from wiretrack.model.path import Branch
    from wiretrack.model.wiring import Link, Network

ROW, MARGIN, TOP, TITLE, LEGEND_ROW = 64, 30, 72, 15, 16  # user units of the drawing
SIZE, CHARACTER = 11, 7.2  # of words, and the room for each of their characters: a broad face
CONTACT, SPACE = 22, 14  # width of a contact; between words and lines
_LEGEND = (
    "line: a conductor, broad on the path asked for",
    "contact: a device, drawn open or closed, dashed where that is unknown",
    "cross: breaker · bar: disconnect · box: fuse · half ring: contactor · ring: a loop",
)
_BAND = "#eef2f4"


@dataclass(frozen=True)
class _Layout:
    """Where each branch's point lies, by its identity, and the size of the drawing."""

    at: dict[int, tuple[float, float]]
    width: float
    height: float


def tree_svg(top: Branch, title: str, lit: Collection[str] = ()) -> str:
    """Return a tree as an SVG document; the conductors tagged in `lit` are drawn broad."""
    layout = _layout(top, title)
    width, height = layout.width, layout.height
    body = [svg.text(MARGIN, 24, title, TITLE, font_weight="bold")]
    ways = [(branch, way) for _, branch in top.walk() for way in branch.ways]
    for branch, way in ways:
        body += _band(layout.at[id(branch)], layout.at[id(way)], way)
    for branch, way in ways:
        body += _way(layout.at[id(branch)], layout.at[id(way)], way, lit)
    body += [_point(layout.at[id(branch)], branch) for _, branch in top.walk()]
    first = height - 12 - LEGEND_ROW * (len(_LEGEND) - 1)
    body += [svg.text(MARGIN, first + LEGEND_ROW * n, w, SIZE, DIM) for n, w in enumerate(_LEGEND)]
    return svg.document(width, height, title, body)


def _layout(top: Branch, title: str) -> _Layout:
    """Return the places: the first way on from a point on its level, each other one below."""
    firsts = {id(branch.ways[0]) for _, branch in top.walk() if branch.ways}
    rooms: defaultdict[int, float] = defaultdict(float)
    rows, row = dict[int, tuple[int, int]](), -1
    for depth, branch in top.walk():
        row += id(branch) not in firsts
        rows[id(branch)] = depth, row
        rooms[depth] = max(rooms[depth], _room(_name(branch)))
        if branch.link is not None:
            words = _room(link_words(branch.link))
            rooms[depth - 1] = max(rooms[depth - 1], words, CONTACT + 4 * SPACE)
    lefts = [MARGIN + 6.0]
    for depth in range(len(rooms)):
        lefts.append(lefts[-1] + rooms[depth] + 2 * SPACE)
    at = {key: (lefts[depth], float(TOP + ROW * level)) for key, (depth, level) in rows.items()}
    least = max(_room(words) for words in (*_LEGEND, title * 2)) + 2 * MARGIN
    height = TOP + ROW * (row + 1) + LEGEND_ROW * len(_LEGEND)
    return _Layout(at, max(lefts[-1], least), height)


def _room(words: str) -> float:
    return CHARACTER * len(words)


def _name(branch: Branch) -> str:
    return f"{branch.point}: a loop" if branch.stop == "loop" else str(branch.point)


XY = tuple[float, float]


def _band(start: XY, end: XY, way: Branch) -> Iterator[str]:
    """Yield a band behind the two points that a device joins."""
    if way.link is not None and way.link.what == "device":
        x, right, y = start[0] - 8, end[0] + 8, end[1]
        yield svg.rect(x, y - 30, right - x, 56, _BAND, rx="6")


def _way(start: XY, end: XY, way: Branch, lit: Collection[str]) -> Iterator[str]:
    """Yield the line of a way: down from its point, then across, with a contact in a device's."""
    link = way.link
    if link is None:
        return
    (x, top), (right, y) = start, end
    colour, width = (LIT, 5) if link.name in lit else (INK, 2)
    down = f"M{x:g} {top:g}V{y:g}" if y > top else f"M{x:g} {y:g}"
    if link.what != "device" or link.kind in ALWAYS_JOINED:
        yield svg.path(f"{down}H{right:g}", colour, width, data_name=link.name)
    else:
        near = (x + right - CONTACT) / 2
        yield svg.path(f"{down}H{near:g}", colour, width, data_name=link.name)
        yield svg.path(f"M{near + CONTACT:g} {y:g}H{right:g}", colour, width)
        yield from _contact(link, near, y, colour)
    yield svg.text(x + SPACE, y - 16, link_words(link), SIZE, colour)


def _contact(link: Link, x: float, y: float, colour: str) -> Iterator[str]:
    """Yield a device's contact from `x` on, after IEC 60617 (read as: memory).

    The blade is lifted off the fixed contact while the device is open, and lies on it while it is
    closed; it is dashed where that isn't known. A load and a source have a circle in its place.
    """
    right = x + CONTACT
    if link.kind in ("load", "source"):
        yield svg.ring(x + CONTACT / 2, y, CONTACT / 2, colour)
        return
    state = "open" if link.is_open else "unknown" if link.is_unsure else "closed"
    lift = {"open": 11, "unknown": 6, "closed": 0}[state]
    dashes = "3 3" if state == "unknown" else None
    tip = right - 3 if lift else right
    yield svg.path(
        f"M{x:g} {y:g}L{tip:g} {y - lift:g}", colour, data_state=state, stroke_dasharray=dashes
    )
    marks = {
        "breaker": f"M{right - 3:g} {y - 3:g}l6 6m0 -6l-6 6",
        "disconnect": f"M{right:g} {y - 5:g}v10",
        "fuse": f"M{x - 16:g} {y - 4:g}h14v8h-14z",
        "contactor": f"M{right:g} {y - 4:g}a4 4 0 0 1 0 8",
    }
    if link.kind in marks:
        yield svg.path(marks[link.kind], colour)


def _point(place: XY, branch: Branch) -> str:
    x, y = place
    is_loop = branch.stop == "loop"
    mark = svg.ring(x, y, 6, LIT) if is_loop else svg.circle(x, y, 5, INK)
    return mark + svg.text(x + 10, y + 20, _name(branch), SIZE, LIT if is_loop else DIM)


@dataclass(frozen=True)
class Row:
    """An enclosure and the raceway that leads to it, or a raceway back to one that is above.

    `parent` is the number of the row that it hangs on; `None` at the start of a tree.
    """

    enclosure: str
    depth: int = 0
    raceway: str | None = None
    parent: int | None = None
    is_back: bool = False


def rows_of(codes: Sequence[str], network: Network, first: str | None = None) -> list[Row]:
    """Return a row for each enclosure and one for each raceway that closes a loop.

    A tree begins at the enclosure where most raceways meet, the first tree at `first` if that is
    given; each enclosure hangs on the one that leads to it from there through fewest raceways.
    Those without a raceway come last.
    """
    starts = sorted(codes, key=lambda code: (code != first, -len(network.at(box_point(code)))))
    rows, at, drawn = list[Row](), dict[str, int](), set[str]()
    for start in starts:
        if start in at:
            continue
        below = _below(start, network)
        waiting: list[tuple[str, str | None, str | None]] = [(start, None, None)]
        while waiting:
            code, way, above = waiting.pop()
            parent = None if above is None else at[above]
            depth = 0 if parent is None else rows[parent].depth + 1
            at[code] = len(rows)
            rows.append(Row(code, depth, way, parent))
            drawn |= {way} if way else set()
            tree = {p for _, p in below[code]}
            for link in network.at(box_point(code)):
                there, back = link.beyond(box_point(code)).enclosure, link.name
                if there in at and back not in drawn and back not in tree:
                    rows.append(Row(there, depth + 1, back, at[code], is_back=True))
                    drawn.add(back)
            ways = sorted(below[code], key=lambda way: bool(below[way[0]]))  # short ones first
            waiting += [(there, p, code) for there, p in reversed(ways)]
    return rows


def _below(start: str, network: Network) -> dict[str, list[tuple[str, str]]]:
    """Return what hangs on each enclosure reached from one, through fewest raceways."""
    below: defaultdict[str, list[tuple[str, str]]] = defaultdict(list)
    for there, step in network.came_from(box_point(start)).items():
        if step is not None:
            below[step[0].enclosure].append((there.enclosure, step[1].name))
    return below
