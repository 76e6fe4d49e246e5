# SPDX-License-Identifier: MIT
"""A bilevel picture as an SVG drawing in true size: each black dot a square, none lost."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.labels.pages import INKS
from wiretrack.labels.stock import MM_PER_INCH

if TYPE_CHECKING:
    from collections.abc import Iterator

    from PIL.Image import Image


def svg_document(picture: Image, dpi: int, ink: str = "black") -> str:
    """Return the drawing; its units are dots, its width and height millimetres."""
    width_mm, height_mm = (dots * MM_PER_INCH / dpi for dots in picture.size)
    red, green, blue = INKS[ink]
    path = "".join(
        f"M{left} {top}h{right - left}v{bottom - top}h{left - right}z"
        for left, top, right, bottom in _blocks(picture)
    )
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width_mm:.4f}mm" '
        f'height="{height_mm:.4f}mm" viewBox="0 0 {picture.width} {picture.height}" '
        'shape-rendering="crispEdges">\n'
        f'<rect width="{picture.width}" height="{picture.height}" fill="#ffffff"/>\n'
        f'<path fill="#{red:02x}{green:02x}{blue:02x}" d="{path}"/>\n</svg>\n'
    )


def _blocks(picture: Image) -> Iterator[tuple[int, int, int, int]]:
    """Yield rectangles that cover the black dots once: equal runs of rows below one another."""
    dots, width = picture.convert("L").tobytes(), picture.width
    open_runs: dict[tuple[int, int], int] = {}
    for row in range(picture.height + 1):
        line = dots[row * width : (row + 1) * width]
        runs = set(_runs(line))
        for run in [run for run in open_runs if run not in runs]:
            yield run[0], open_runs.pop(run), run[1], row
        for run in sorted(runs - open_runs.keys()):
            open_runs[run] = row


def _runs(line: bytes) -> Iterator[tuple[int, int]]:
    """Yield where each run of black dots begins and ends."""
    end = 0
    while (start := line.find(b"\0", end)) >= 0:
        end = line.find(b"\xff", start)
        end = len(line) if end < 0 else end
        yield start, end
