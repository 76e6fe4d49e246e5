# SPDX-License-Identifier: MIT
"""The wrap form: lines along the conductor, repeated round it, beside symbols that bend with it."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from wiretrack.labels.geometry import (
    SEEN_ARC_DEG,
    arc_deg,
    arc_limit_deg,
    circumference_mm,
    largest_module_dots,
    smallest_module_dots,
    wrap_band,
)
from wiretrack.labels.legend import set_legend
from wiretrack.labels.plan import Candidate, CodeSpot, PlacedLine, Plan
from wiretrack.labels.symbol import QUIET_ZONE_MODULES, side_modules

if TYPE_CHECKING:
    from collections.abc import Iterator

    from wiretrack.labels.legend import LetterLimits, Paragraph
    from wiretrack.labels.stocks import Stock
    from wiretrack.labels.symbol import Level

BLOCK_GAP_MM = 0.6


def wrap_candidates(
    legend: tuple[Paragraph, ...],
    stock: Stock,
    outer_diameter_mm: float,
    limits: LetterLimits,
    symbol: tuple[int, Level] | None,
) -> Iterator[Candidate]:
    """Yield the ways to wind this legend, and a symbol of that kind, round the conductor."""
    band = wrap_band(stock, outer_diameter_mm)
    top, height = math.ceil(stock.dots(band.top_mm)), stock.dots(band.height_mm)
    around = circumference_mm(outer_diameter_mm)
    blocks = max(1, round(band.height_mm / around * 360 / SEEN_ARC_DEG))
    version = symbol[0] if symbol else None
    for module in _modules(stock, outer_diameter_mm, symbol):
        side = module * (side_modules(version) + 2 * QUIET_ZONE_MODULES) if version else 0
        room = stock.dots(stock.zone.width_mm) - side
        if side > height or room <= 0:
            continue
        left = stock.dots(stock.zone.left_mm)
        lines, merit = _repeated(
            legend, limits, (left + side, top), (room, height), blocks, stock.dots(BLOCK_GAP_MM)
        )
        if lines:
            copies = min(blocks, height // side) if side else 0
            codes = (CodeSpot(left, top + n * (height // copies), side) for n in range(copies))
            plan = Plan(*stock.size_dots, lines=lines, codes=tuple(codes))
            tags = sum(line.text.startswith(legend[0].text[:4]) for line in lines)
            yield Candidate(plan, module or None, merit, tags)


def smallest_arc_deg(stock: Stock, outer_diameter_mm: float, version: int) -> float:
    """Return over how many degrees the symbol bends at its smallest module."""
    module_mm = stock.mm(smallest_module_dots(stock.dpi))
    return arc_deg(module_mm * side_modules(version), outer_diameter_mm)


def _modules(stock: Stock, outer_diameter_mm: float, symbol: tuple[int, Level] | None) -> list[int]:
    """Return the module sizes whose symbol isn't bent too far, largest first, in dots."""
    if symbol is None:
        return [0]
    sizes = range(largest_module_dots(stock.dpi), smallest_module_dots(stock.dpi) - 1, -1)
    side = side_modules(symbol[0])
    return [
        dots
        for dots in sizes
        if arc_deg(stock.mm(dots * side), outer_diameter_mm)
        <= arc_limit_deg(*symbol, stock.mm(dots))
    ]


def _repeated(
    legend: tuple[Paragraph, ...],
    limits: LetterLimits,
    corner: tuple[int, int],
    room: tuple[int, int],
    blocks: int,
    apart: int,
) -> tuple[tuple[PlacedLine, ...], float]:
    """Return the lines, repeated as often as they fit up to `blocks` times, and the merit."""
    (left, top), (width, height) = corner, room
    wanted = [(legend, count) for count in range(blocks, 0, -1)]
    wanted.insert(-1, ((*legend, legend[0]), 1))  # the name once more, rather than not at all
    for block, count in wanted:
        gap = apart if count > 1 else 0
        setting = set_legend(block, width, height // count - gap, limits)
        if setting is not None:
            starts = (top + n * (height // count) for n in range(count))
            lines = (line for start in starts for line in setting.placed(left, start))
            return tuple(lines), setting.merit
    return (), 0.0
