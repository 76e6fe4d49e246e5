# SPDX-License-Identifier: MIT
"""A route as a drawing: boxes, raceways between them, and where on it a fault lies.

It is to scale as far as words find room; what isn't to scale is said under it.
"""

from __future__ import annotations

from bisect import bisect_right
from itertools import accumulate
from typing import TYPE_CHECKING

from wiretrack import svg
from wiretrack.electrical.quantity_text import own_length
from wiretrack.late import dataclass
from wiretrack.svg import ALARM, DIM, INK, PAPER

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.model.routes import Route

WIDTH, MARGIN, LINE_Y, CHARACTER = 760, 50, 78, 7.2  # user units of the drawing; a broad letter
_REACH = "#f3b27a"


@dataclass(frozen=True)
class Stretch:
    """One raceway of a route: its code if known, the boxes at both ends, its length if known."""

    raceway: str | None
    between: tuple[str, str]
    length_m: float | None

    @property
    def words(self) -> tuple[str, str]:
        """What stands over it: its code and its length."""
        length = "unknown" if self.length_m is None else own_length(self.length_m)
        return self.raceway or "?", length


@dataclass(frozen=True)
class _Scale:
    """Where the boxes stand: how far along the route [m], and where in the drawing."""

    metres: Sequence[float]
    across: Sequence[float]
    told: str

    @classmethod
    def of(cls, route: Sequence[Stretch]) -> _Scale:
        """Return a scale on which each raceway has room for the words over it and at its ends."""
        lengths = [stretch.length_m or 0.0 for stretch in route]
        known = all(stretch.length_m for stretch in route)
        longest = max(len(word) for one in route for word in (*one.words, *one.between))
        least = max(60.0, CHARACTER * (longest + 1))
        spare = max(WIDTH - 2 * MARGIN - least * len(route), 0.0)
        parts = [one / sum(lengths) if known else 1 / len(route) for one in lengths]
        wide, told = [(spare + least * len(route)) * part for part in parts], ""
        if min(wide) < least:
            wide = [least + spare * part for part in parts]
            told = "Not to scale: short raceways are drawn longer."
        told = told if known else "Not to scale: a length isn't recorded."
        return cls(
            [*accumulate(lengths, initial=0.0)], [*accumulate(wide, initial=float(MARGIN))], told
        )

    def at(self, distance_m: float) -> float:
        """Return where a point of the route lies in the drawing."""
        n = min(max(bisect_right(self.metres, distance_m), 1), len(self.metres) - 1)
        (low, high), (left, right) = self.metres[n - 1 : n + 1], self.across[n - 1 : n + 1]
        return left + (right - left) * (distance_m - low) / ((high - low) or 1.0)


def route_drawn(route: Route, title: str) -> str:
    """Return a route as an SVG document; empty where it has no raceway."""
    found = [Stretch(leg.raceway, (leg.from_box, leg.to_box), leg.length_m) for leg in route.legs]
    return route_svg(found, title) if found else ""


def route_svg(
    route: Sequence[Stretch],
    title: str,
    place_m: float | None = None,
    reach_m: tuple[float, float] | None = None,
    open_first: str | None = None,
) -> str:
    """Return a route as an SVG document, from its first box on.

    The fault most likely lies at `place_m`, and anywhere in `reach_m`, a broad band; the box to
    open first is framed.
    """
    scale = _Scale.of(route)
    body, foot = [svg.text(MARGIN, 26, title, 15)], LINE_Y + 32
    if reach_m:
        low, high = map(scale.at, reach_m)
        body.append(svg.rect(low, LINE_Y - 14, max(high - low, 2), 28, _REACH))
    for n, stretch in enumerate(route):
        left, right = scale.across[n : n + 2]
        line = f"M{left:.1f} {LINE_Y}H{right:.1f}"
        body.append(svg.path(line, INK, 5, data_raceway=stretch.raceway or ""))
        for y, words in zip((LINE_Y - 29, LINE_Y - 16), stretch.words, strict=True):
            body.append(_words((left + right) / 2, y, words))
    boxes = [route[0].between[0], *(stretch.between[1] for stretch in route)]
    for x, name in zip(scale.across, boxes, strict=True):
        first = name == open_first
        frame = (ALARM, "4") if first else (INK, "1")
        body.append(
            svg.rect(x - 9, LINE_Y - 9, 18, 18, PAPER, stroke=frame[0], stroke_width=frame[1])
        )
        body.append(_words(x, LINE_Y + 26, name, 12))
        if first:
            body.append(_words(x, LINE_Y + 40, "open first", 12, ALARM))
    if place_m is not None:
        x, foot = scale.at(place_m), LINE_Y + 76
        body.append(svg.path(f"M{x:.1f} {LINE_Y - 14}v60", ALARM, 3))
        body.append(_words(x, LINE_Y + 58, own_length(place_m), 12, ALARM))
    if scale.told:
        body.append(svg.text(MARGIN, foot + 12, scale.told, 11, DIM))
    return svg.document(scale.across[-1] + MARGIN, foot + 20, title, body)


def _words(x: float, y: float, words: str, size: int = 11, colour: str = INK) -> str:
    return svg.text(x, y, words, size, colour, text_anchor="middle")
