# SPDX-License-Identifier: MIT
"""A tree of points as a drawing: boxes as bands, conductors as lines, devices as bridges.

Open devices are gaps, what is lit is drawn broad, and a legend says so; colour alone says nothing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING
from xml.sax.saxutils import escape, quoteattr

from wiretrack.topology.tree import link_words

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator

    from wiretrack.topology.tree import Branch

COLUMN, ROW, MARGIN = 210, 58, 30  # user units of the drawing
_LEGEND = (
    "line: conductor (broad: the path asked for) · dots: device · short dots: open · ring: loop"
)
_INK, _LIT, _DIM, _BAND = "#22313f", "#c2560c", "#5d6d7a", "#eef2f4"


def tree_svg(top: Branch, title: str, lit: Collection[str] = ()) -> str:
    """Return a tree as an SVG document; the conductors tagged in `lit` are drawn broad."""
    places = _places(top)
    width = max(640, MARGIN * 2 + COLUMN * (max(x for x, _ in places.values()) + 1))
    height = MARGIN * 4 + ROW * (max(y for _, y in places.values()) + 1)
    body = [
        f"<title>{escape(title)}</title>",
        f'<rect width="{width}" height="{height:g}" fill="#ffffff"/>',
        _text(MARGIN, 24, title, 15, weight="bold"),
    ]
    body += _bands(top, places)
    for _, branch in top.walk():
        for way in branch.ways:
            body += _way(places[id(branch)], places[id(way)], way, lit)
    body += [_point(places[id(branch)], branch) for _, branch in top.walk()]
    body.append(_text(MARGIN, height - 12, _LEGEND, 11, _DIM))
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height:g}" '
        f'viewBox="0 0 {width} {height:g}" role="img" font-family="sans-serif">\n'
        + "\n".join(body)
        + "\n</svg>\n"
    )


def _places(top: Branch) -> dict[int, tuple[int, float]]:
    """Return each branch's column and row: leaves one below the other, the rest amid theirs."""
    places: dict[int, tuple[int, float]] = {}
    row = 0.0
    for depth, branch in reversed([*top.walk()]):
        if branch.ways:
            rows = [places[id(way)][1] for way in branch.ways]
            places[id(branch)] = (depth, (rows[0] + rows[-1]) / 2)
        else:
            places[id(branch)] = (depth, row)
            row += 1
    return {key: (x, row - 1 - y) for key, (x, y) in places.items()}


def _at(place: tuple[int, float]) -> tuple[float, float]:
    return MARGIN + COLUMN * place[0] + 12, MARGIN * 2 + ROW * place[1] + 10


def _bands(top: Branch, places: dict[int, tuple[int, float]]) -> Iterator[str]:
    """Yield a band behind points of one box that follow each other through its devices."""
    for _, branch in top.walk():
        for way in branch.ways:
            if way.link is not None and way.link.what == "device" and not way.stop:
                (x, y), (right, low) = _at(places[id(branch)]), _at(places[id(way)])
                yield (
                    f'<path d="M{x:g} {y:g}C{x + 60:g} {y:g} {right - 60:g} {low:g} {right:g} '
                    f'{low:g}" stroke="{_BAND}" stroke-width="34" stroke-linecap="round" '
                    'fill="none"/>'
                )


def _way(
    start: tuple[int, float], end: tuple[int, float], way: Branch, lit: Collection[str]
) -> Iterator[str]:
    (x, y), (right, low) = _at(start), _at(end)
    link = way.link
    if link is None:
        return
    is_lit = link.name in lit
    colour, width = (_LIT, 5) if is_lit else (_INK, 2)
    dashes = ' stroke-dasharray="3 7"' if link.what == "device" else ""
    if way.stop == "open":
        right = x + (right - x) * 0.45
        low = y + (low - y) * 0.45
        dashes = ' stroke-dasharray="2 9"'
    yield (
        f'<path d="M{x:g} {y:g}C{x + 60:g} {y:g} {right - 60:g} {low:g} {right:g} {low:g}" '
        f'stroke="{colour}" stroke-width="{width}" fill="none"{dashes} '
        f"data-name={quoteattr(link.name)}/>"
    )
    yield _text(right - 14, low - 8, link_words(link), 11, colour, anchor="end")
    if way.stop == "open":
        yield f'<path d="M{right:g} {low - 9:g}l14 -10" stroke="{colour}" stroke-width="2"/>'


def _point(place: tuple[int, float], branch: Branch) -> str:
    x, y = _at(place)
    if branch.stop == "loop":
        mark = f'<circle cx="{x:g}" cy="{y:g}" r="6" fill="none" stroke="{_LIT}" stroke-width="2"/>'
        return mark + _text(x, y + 20, f"{branch.point}: a loop", 11, _LIT)
    mark = f'<circle cx="{x:g}" cy="{y:g}" r="5" fill="{_INK}"/>'
    return mark + _text(x, y + 20, str(branch.point), 11, _DIM)


def _text(
    x: float, y: float, words: str, size: int, colour: str = _INK, *, weight: str = "normal",
    anchor: str = "start",
) -> str:  # fmt: skip
    return (
        f'<text x="{x:g}" y="{y:g}" font-size="{size}" font-weight="{weight}" '
        f'text-anchor="{anchor}" fill="{colour}">{escape(words)}</text>'
    )
