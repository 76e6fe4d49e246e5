# SPDX-License-Identifier: MIT
"""A route to scale as a drawing: boxes, raceways between them, and where on it a fault lies."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING
from xml.sax.saxutils import escape, quoteattr

if TYPE_CHECKING:
    from collections.abc import Sequence

WIDTH, HEIGHT, MARGIN, LINE_Y = 760, 190, 50, 100  # user units of the drawing
_INK, _REACH, _MARK, _DIM = "#22313f", "#f3b27a", "#b3261e", "#5d6d7a"


@dataclass(frozen=True)
class Stretch:
    """One raceway of a route: its code if known, the boxes at both ends, its length."""

    raceway: str | None
    from_box: str
    to_box: str
    length_m: float


def route_svg(
    route: Sequence[Stretch],
    title: str,
    place_m: float | None = None,
    reach_m: tuple[float, float] | None = None,
    open_first: str | None = None,
) -> str:
    """Return a route as an SVG document, to scale from its first box.

    Parameters
    ----------
    place_m : float, optional
        Where the fault most likely lies. [m]
    reach_m : (float, float), optional
        From where to where it may lie; drawn as a broad band. [m]
    open_first : str, optional
        The box to open first; framed.
    """
    scale = (WIDTH - 2 * MARGIN) / sum(stretch.length_m for stretch in route)

    def across(distance_m: float) -> float:
        return MARGIN + distance_m * scale

    body = [f'<rect width="{WIDTH}" height="{HEIGHT}" fill="#ffffff"/>']
    body.append(f"<title>{escape(title)}</title>")
    body.append(_text(MARGIN, 26, title, 15, _INK, "start"))
    if reach_m:
        low, high = across(reach_m[0]), across(reach_m[1])
        body.append(
            f'<rect x="{low:.1f}" y="{LINE_Y - 14}" width="{max(high - low, 2):.1f}" height="28" '
            f'fill="{_REACH}"/>'
        )
    body += _stretches(route, across(0), scale)
    body += _boxes(route, scale, open_first)
    if place_m is not None:
        x = across(place_m)
        body.append(f'<path d="M{x:.1f} {LINE_Y - 24}v48" stroke="{_MARK}" stroke-width="3"/>')
        body.append(_text(x, LINE_Y - 30, f"{place_m:.1f} m", 12, _MARK))
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH}" height="{HEIGHT}" '
        f'viewBox="0 0 {WIDTH} {HEIGHT}" role="img" font-family="sans-serif">\n'
        + "\n".join(body)
        + "\n</svg>\n"
    )


def _stretches(route: Sequence[Stretch], start: float, scale: float) -> list[str]:
    found, x = [], start
    for stretch in route:
        end = x + stretch.length_m * scale
        found.append(
            f'<path d="M{x:.1f} {LINE_Y}H{end:.1f}" stroke="{_INK}" stroke-width="5" '
            f"data-raceway={quoteattr(stretch.raceway or '')}/>"
        )
        name = f"{stretch.raceway or '?'}  {stretch.length_m:.1f} m"
        found.append(_text((x + end) / 2, LINE_Y + 32, name, 11, _DIM))
        x = end
    return found


def _boxes(route: Sequence[Stretch], scale: float, open_first: str | None) -> list[str]:
    """Return a square for each box; names in two rows, so that near ones stay legible."""
    boxes = [(0.0, route[0].from_box)]
    for stretch in route:
        boxes.append((boxes[-1][0] + stretch.length_m, stretch.to_box))
    found = []
    for n, (distance_m, name) in enumerate(boxes):
        x = MARGIN + distance_m * scale
        frame = f'stroke="{_MARK}" stroke-width="4"' if name == open_first else f'stroke="{_INK}"'
        found.append(
            f'<rect x="{x - 9:.1f}" y="{LINE_Y - 9}" width="18" height="18" '
            f'fill="#ffffff" {frame}/>'
        )
        words = f"{name}: open first" if name == open_first else name
        found.append(_text(x, LINE_Y + 52 + 16 * (n % 2), words, 12, _INK))
    return found


def _text(x: float, y: float, words: str, size: int, colour: str, anchor: str = "middle") -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size}" text-anchor="{anchor}" '
        f'fill="{colour}">{escape(words)}</text>'
    )
