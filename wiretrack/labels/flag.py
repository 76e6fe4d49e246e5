# SPDX-License-Identifier: MIT
"""The flag form: two faces mirrored about the fold where the conductor lies, both upright."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from wiretrack.labels.geometry import fold_mm, largest_module_dots, smallest_module_dots
from wiretrack.labels.legend import letter_limits, set_legend
from wiretrack.labels.plan import Candidate, CodeSpot, Plan, Tick
from wiretrack.labels.stocks import Zone
from wiretrack.labels.symbol import QUIET_ZONE_MODULES, side_modules

if TYPE_CHECKING:
    from collections.abc import Iterator

    from wiretrack.labels.legend import LetterLimits, Paragraph, Setting
    from wiretrack.labels.plan import PlacedLine
    from wiretrack.labels.stocks import Stock

    _Laid = tuple[tuple[PlacedLine, ...], tuple[CodeSpot, ...], float]

TICK_MM = 1.0
FOLD_SLACK_MM = 1.0


@dataclass(frozen=True)
class Faces:
    """The two faces of a flag: where each begins, and what both measure, in dots."""

    left: int
    right: int
    top: int
    width: int
    height: int


def lay_across(stock: Stock) -> Stock:
    """Return a wrap stock without a clear tail as a flag stock, turned to lie across the wire."""
    zone = stock.zone
    bottom = zone.top_mm + zone.height_mm
    turned = Zone(stock.height_mm - bottom, zone.left_mm, zone.height_mm, zone.width_mm)
    return replace(
        stock, form="flag", width_mm=stock.height_mm, height_mm=stock.width_mm, zone=turned
    )


def flag_faces(stock: Stock, outer_diameter_mm: float | None) -> Faces:
    """Return the faces that the fold leaves on this stock; their width can be nil."""
    zone, middle = stock.zone, stock.width_mm / 2
    half = min(middle - zone.left_mm, zone.left_mm + zone.width_mm - middle)
    fold = fold_mm(stock, outer_diameter_mm)
    if outer_diameter_mm is not None:
        fold = max(stock.fold_mm, fold + FOLD_SLACK_MM)
    return Faces(
        left=stock.dots(middle - half),
        right=stock.dots(middle + fold / 2),
        top=stock.dots(zone.top_mm),
        width=max(0, stock.dots(half - fold / 2)),
        height=stock.dots(zone.height_mm),
    )


def flag_candidates(
    legend: tuple[Paragraph, ...],
    stock: Stock,
    outer_diameter_mm: float | None,
    version: int | None,
    *,
    quarter_turn: bool = False,
) -> Iterator[Candidate]:
    """Yield the ways to put this legend, and a symbol of that version, on both faces."""
    faces, limits = flag_faces(stock, outer_diameter_mm), letter_limits(stock)
    sizes = range(largest_module_dots(stock.dpi), smallest_module_dots(stock.dpi) - 1, -1)
    for module in sizes if version else (0,):
        side = module * (side_modules(version) + 2 * QUIET_ZONE_MODULES) if version else 0
        if side > min(faces.width, faces.height):
            continue
        for layout in _LAYOUTS if side else (_beside,):
            laid = layout(legend, faces, side, limits)
            if laid is not None:
                lines, codes, merit = laid
                ticks = _fold_ticks(stock, faces)
                plan = Plan(*stock.size_dots, lines, codes, ticks, quarter_turn)
                yield Candidate(plan, module or None, merit)
                if merit >= 1.0:
                    break


def _beside(
    legend: tuple[Paragraph, ...], faces: Faces, side: int, limits: LetterLimits
) -> _Laid | None:
    """Lay the code at each outer end, all the legend beside it."""
    setting = set_legend(legend, faces.width - side, faces.height, limits)
    if setting is None:
        return None
    top = faces.top + (faces.height - setting.height) // 2
    lines = _on_both(setting, faces, side, top)
    codes = _codes(faces, side, faces.top + (faces.height - side) // 2)
    return lines, codes, setting.merit


def _under(
    legend: tuple[Paragraph, ...], faces: Faces, side: int, limits: LetterLimits
) -> _Laid | None:
    """Lay the code at each outer end on top, all the legend under it."""
    setting = set_legend(legend, faces.width, faces.height - side, limits)
    if setting is None:
        return None
    free = (faces.height - side - setting.height) // 2
    lines = _on_both(setting, faces, 0, faces.top + side + free)
    return lines, _codes(faces, side, faces.top), setting.merit


def _headed(
    legend: tuple[Paragraph, ...], faces: Faces, side: int, limits: LetterLimits
) -> _Laid | None:
    """Lay the tag along the top, under it the code at each outer end beside the other words."""
    room = faces.height - side
    head = set_legend(legend[:1], faces.width, room, replace(limits, text_max=limits.tag_max))
    if head is None or len(legend) == 1:
        return None
    height = faces.height - head.height
    setting = set_legend(legend[1:], faces.width - side, height, limits)
    if setting is None:
        return None
    top = faces.top + head.height
    lines = (
        *_on_both(head, faces, 0, faces.top),
        *_on_both(setting, faces, side, top + (height - setting.height) // 2),
    )
    merit = min(1.0, setting.merit) + head.merit - 1.0
    return lines, _codes(faces, side, top + (height - side) // 2), merit


def _on_both(setting: Setting, faces: Faces, side: int, top: int) -> tuple[PlacedLine, ...]:
    lefts = (faces.left + side, faces.right)
    return tuple(line for left in lefts for line in setting.placed(left, top))


def _codes(faces: Faces, side: int, top: int) -> tuple[CodeSpot, ...]:
    if not side:
        return ()
    outer = (faces.left, faces.right + faces.width - side)
    return tuple(CodeSpot(left, top, side) for left in outer)


_LAYOUTS = (_headed, _beside, _under)


def _fold_ticks(stock: Stock, faces: Faces) -> tuple[Tick, ...]:
    """Return a short line at either edge that shows where the middle of the fold is."""
    length, thick = stock.dots(TICK_MM), max(1, stock.dots(0.15))
    middle = (faces.left + faces.right + faces.width - thick) // 2
    tops = (faces.top, faces.top + faces.height - length)
    return tuple(Tick(middle, top, thick, length) for top in tops)
