# SPDX-License-Identifier: MIT
"""The wrap form: lines along the conductor, repeated round it, beside symbols that bend with it."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, ClassVar

from wiretrack.labels.forms.base import Case, EndCase, Form, best_of, no_room
from wiretrack.labels.forms.flag import FLAG, arc_rule
from wiretrack.labels.geometry import (
    SEEN_ARC_DEG,
    arc_deg,
    arc_limit_deg,
    circumference_mm,
    module_sizes,
    wrap_band,
)
from wiretrack.labels.legend import set_legend
from wiretrack.labels.plan import Candidate, CodeSpot, PlacedLine, Plan
from wiretrack.labels.symbol import side_modules, side_with_quiet_zone

if TYPE_CHECKING:
    from collections.abc import Iterator

    from wiretrack.labels.legend import LetterLimits, Paragraph
    from wiretrack.labels.plan import Fit, Stock
    from wiretrack.labels.symbol import Level

BLOCK_GAP_MM = 0.6


class Wrap(Form):
    """Wound round the conductor; a flag instead, where a code would bend too far or has no room."""

    name = stock_form = "wrap"
    order = 1
    stock_fields: ClassVar = {"clear_tail_mm": "clear tail"}
    flat_alike = True

    def fit(self, case: Case) -> Fit:
        """Return the plan of a wrap, or of a flag made of the same stock."""
        end = EndCase.of(case)
        diameter, stock = end.diameter, end.stock
        if diameter is None:
            return FLAG.fit(case)
        if unread := end.unread():
            return end.refused(self, "", *unread)
        for symbol in end.tries:
            found = wrap_candidates(end.legend, stock, diameter, end.limits, symbol)
            best = best_of(found, stock, most_tags=3)
            if best is not None:
                return end.found(self, _reason(end, diameter, best, symbol), best, symbol)
        if end.text_only:
            return end.refused(self, "", *_why_not(end.legend, stock, diameter))
        return FLAG.fit(case)


def _reason(
    case: EndCase, diameter: float, best: Candidate, symbol: tuple[int, Level] | None
) -> str:
    if symbol is None or best.module_dots is None:
        times = {1: "once", 2: "twice"}.get(best.tags_around, f"{best.tags_around} times")
        return f"Legend alone; its name shows {times} round the {diameter:.3g} mm conductor."
    module_mm = case.stock.mm(best.module_dots)
    arc = arc_deg(module_mm * side_modules(symbol[0]), diameter)
    bends = f"The code bends over {arc:.0f}° of the {diameter:.3g} mm conductor"
    return f"{bends}; {arc_rule(symbol, module_mm)}."


def _why_not(
    legend: tuple[Paragraph, ...], stock: Stock, outer_diameter_mm: float
) -> tuple[str, str]:
    """Return why the legend can't be wound round this conductor, and what would do."""
    band, width = wrap_band(stock, outer_diameter_mm), stock.zone.width_mm
    if band.height_mm == 0:
        return (
            f"once round is {circumference_mm(outer_diameter_mm):.1f} mm, which leaves no clear "
            f"tail of the {stock.height_mm:g} mm label to cover any print",
            "Take a longer stock.",
        )
    has = f"on this conductor {band.limited_by} leaves {width:.1f} x {band.height_mm:.1f} mm"
    return no_room(legend, stock, stock.dots(width), has)


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
        side = module * side_with_quiet_zone(version) if version else 0
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


def _modules(stock: Stock, outer_diameter_mm: float, symbol: tuple[int, Level] | None) -> list[int]:
    """Return the module sizes whose symbol isn't bent too far, largest first, in dots."""
    if symbol is None:
        return [0]
    side = side_modules(symbol[0])
    return [
        dots
        for dots in module_sizes(stock.dpi)
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


WRAP = Wrap()
