# SPDX-License-Identifier: MIT
"""The pieces of an SVG drawing (SVG 1.1), as text; whatever is written in one is escaped."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import TYPE_CHECKING
from xml.sax.saxutils import escape, quoteattr

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

NAMESPACE = "http://www.w3.org/2000/svg"
INK, DIM, ALARM, LIT, PAPER = "#22313f", "#5d6d7a", "#b3261e", "#c2560c", "#ffffff"


def document(width: float, height: float, title: str, body: Iterable[str]) -> str:
    """Return a drawing on white paper, with its title; sizes in user units."""
    inner = "\n".join((f"<title>{escape(title)}</title>", rect(0, 0, width, height, PAPER), *body))
    return (
        f'<svg xmlns="{NAMESPACE}" width="{width:g}" height="{height:g}" '
        f'viewBox="0 0 {width:g} {height:g}" role="img" font-family="sans-serif" '
        f'data-by="wiretrack">\n{inner}\n'
        "</svg>\n"
    )


def size(drawing: str) -> tuple[float, float]:
    """Return the width and the height of a drawing, in user units."""
    found = re.search(r'viewBox="0 0 (\S+) (\S+)"', drawing)
    assert found, "document() writes one"
    return float(found[1]), float(found[2])


def text(
    x: float, y: float, words: str, size: float = 11, colour: str = INK, **more: str | None
) -> str:
    """Return words that begin at `x`, their feet at `y`; ``text_anchor`` may say otherwise.

    >>> text(1, 2, "<W1>", 11, "#000", text_anchor="middle")
    '<text x="1" y="2" font-size="11" fill="#000" text-anchor="middle">&lt;W1&gt;</text>'
    """
    return (
        f"<text x={_value(x)} y={_value(y)} font-size={_value(size)} fill={_value(colour)}"
        f"{_said(more)}>{escape(words)}</text>"
    )


def path(d: str, colour: str, width: float = 2, **more: str | None) -> str:
    """Return a line along the path data `d`."""
    return (
        f'<path d={quoteattr(d)} stroke={_value(colour)} stroke-width={_value(width)} fill="none"'
        f"{_said(more)}/>"
    )


def shape(d: str, colour: str) -> str:
    """Return a filled shape with the outline `d`."""
    return f"<path d={quoteattr(d)} fill={_value(colour)}/>"


def rect(x: float, y: float, width: float, height: float, colour: str, **more: str | None) -> str:
    """Return a filled rectangle from its upper left corner."""
    return (
        f"<rect x={_value(x)} y={_value(y)} width={_value(width)} height={_value(height)}"
        f" fill={_value(colour)}{_said(more)}/>"
    )


def circle(x: float, y: float, radius: float, colour: str, **more: str | None) -> str:
    """Return a filled circle round its middle."""
    place = f"cx={_value(x)} cy={_value(y)} r={_value(radius)}"
    return f"<circle {place} fill={_value(colour)}{_said(more)}/>"


def ring(x: float, y: float, radius: float, colour: str) -> str:
    """Return the line of a circle round its middle."""
    return circle(x, y, radius, "none", stroke=colour, stroke_width="2")


def _said(more: Mapping[str, str | None]) -> str:
    """Return further attributes as SVG writes them, each after a space; `None` is left out."""
    given = [(name, value) for name, value in more.items() if value is not None]
    return "".join([f" {name.replace('_', '-')}={_value(value)}" for name, value in given])


@lru_cache(maxsize=4096)  # drawings say the same again and again
def _value(value: float | str) -> str:
    """Return the value of an attribute, a number to a tenth of a unit; never a zero below zero."""
    return quoteattr(value) if isinstance(value, str) else f'"{round(value, 1) + 0.0:g}"'
