# SPDX-License-Identifier: MIT
"""A route to scale as a drawing: boxes, raceways between them, and where on it a fault lies."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from wiretrack import svg
from wiretrack.electrical.quantity_text import own_length
from wiretrack.svg import ALARM, DIM, INK, PAPER

if TYPE_CHECKING:
    from collections.abc import Sequence

WIDTH, HEIGHT, MARGIN, LINE_Y = 760, 190, 50, 100  # user units of the drawing
_REACH = "#f3b27a"


@dataclass(frozen=True)
class Stretch:
    """One raceway of a route: its code if known, the boxes at both ends, its length."""

    raceway: str | None
    between: tuple[str, str]
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

    body = [svg.text(MARGIN, 26, title, 15)]
    if reach_m:
        low, high = across(reach_m[0]), across(reach_m[1])
        body.append(svg.rect(low, LINE_Y - 14, max(high - low, 2), 28, _REACH))
    body += _stretches(route, across(0), scale)
    body += _boxes(route, scale, open_first)
    if place_m is not None:
        x = across(place_m)
        body.append(svg.path(f"M{x:.1f} {LINE_Y - 24}v48", ALARM, 3))
        body.append(_words(x, LINE_Y - 30, own_length(place_m), 12, ALARM))
    return svg.document(WIDTH, HEIGHT, title, body)


def _stretches(route: Sequence[Stretch], start: float, scale: float) -> list[str]:
    found, x = [], start
    for stretch in route:
        end = x + stretch.length_m * scale
        line = f"M{x:.1f} {LINE_Y}H{end:.1f}"
        found.append(svg.path(line, INK, 5, data_raceway=stretch.raceway or ""))
        name = f"{stretch.raceway or '?'}  {own_length(stretch.length_m)}"
        found.append(_words((x + end) / 2, LINE_Y + 32, name, 11, DIM))
        x = end
    return found


def _boxes(route: Sequence[Stretch], scale: float, open_first: str | None) -> list[str]:
    """Return a square for each box; names in two rows, so that near ones stay legible."""
    boxes = [(0.0, route[0].between[0])]
    for stretch in route:
        boxes.append((boxes[-1][0] + stretch.length_m, stretch.between[1]))
    found = []
    for n, (distance_m, name) in enumerate(boxes):
        x = MARGIN + distance_m * scale
        colour, width = (ALARM, "4") if name == open_first else (INK, "1")
        found.append(svg.rect(x - 9, LINE_Y - 9, 18, 18, PAPER, stroke=colour, stroke_width=width))
        words = f"{name}: open first" if name == open_first else name
        found.append(_words(x, LINE_Y + 52 + 16 * (n % 2), words, 12, INK))
    return found


def _words(x: float, y: float, words: str, size: int, colour: str) -> str:
    return svg.text(x, y, words, size, colour, text_anchor="middle")
