# SPDX-License-Identifier: MIT
"""Flat faces: a legend and a code side by side, one over the other, or under a heading.

All faces of a label carry the same; the code sits at the outer end of each. In dots.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from wiretrack.labels.geometry import largest_module_dots, smallest_module_dots
from wiretrack.labels.legend import set_legend
from wiretrack.labels.plan import Candidate, CodeSpot, Plan
from wiretrack.labels.symbol import QUIET_ZONE_MODULES, side_modules

if TYPE_CHECKING:
    from collections.abc import Iterator

    from wiretrack.labels.legend import LetterLimits, Paragraph, Setting
    from wiretrack.labels.plan import PlacedLine
    from wiretrack.labels.stock import Stock

    _Laid = tuple[tuple[PlacedLine, ...], tuple[CodeSpot, ...], float]

HEADING_SHARE = 0.6  # of the height, at most, where no code stands under the heading


@dataclass(frozen=True)
class Faces:
    """One face or two: where each begins, and what all measure."""

    lefts: tuple[int, ...]
    top: int
    width: int
    height: int


def flat_face(stock: Stock) -> Faces:
    """Return the one face of a label that is laid flat."""
    zone = stock.zone
    return Faces(
        lefts=(stock.dots(zone.left_mm),),
        top=stock.dots(zone.top_mm),
        width=stock.dots(zone.width_mm),
        height=stock.dots(zone.height_mm),
    )


def face_candidates(
    legend: tuple[Paragraph, ...],
    stock: Stock,
    faces: Faces,
    limits: LetterLimits,
    version: int | None,
) -> Iterator[Candidate]:
    """Yield the ways to put a legend, and a symbol of that version, on all faces."""
    sizes = range(largest_module_dots(stock.dpi), smallest_module_dots(stock.dpi) - 1, -1)
    for module in sizes if version else (0,):
        side = module * (side_modules(version) + 2 * QUIET_ZONE_MODULES) if version else 0
        if side > min(faces.width, faces.height):
            continue
        best = -math.inf
        for layout in (_headed, _beside, _under) if side else (_headed, _beside):
            laid = layout(legend, faces, side, limits, best)
            if laid is not None:
                lines, codes, best = laid
                yield Candidate(Plan(*stock.size_dots, lines, codes), module or None, best)


def _beside(
    legend: tuple[Paragraph, ...],
    faces: Faces,
    side: int,
    limits: LetterLimits,
    better_than: float,
) -> _Laid | None:
    """Lay the code at each outer end, all the legend beside it."""
    setting = set_legend(legend, faces.width - side, faces.height, limits, better_than)
    if setting is None:
        return None
    top = faces.top + (faces.height - setting.height) // 2
    codes = _codes(faces, side, faces.top + (faces.height - side) // 2)
    return _on_all(setting, faces, side, top), codes, setting.merit


def _under(
    legend: tuple[Paragraph, ...],
    faces: Faces,
    side: int,
    limits: LetterLimits,
    better_than: float,
) -> _Laid | None:
    """Lay the code at each outer end on top, all the legend under it."""
    setting = set_legend(legend, faces.width, faces.height - side, limits, better_than)
    if setting is None:
        return None
    free = (faces.height - side - setting.height) // 2
    lines = _on_all(setting, faces, 0, faces.top + side + free)
    return lines, _codes(faces, side, faces.top), setting.merit


def _headed(
    legend: tuple[Paragraph, ...],
    faces: Faces,
    side: int,
    limits: LetterLimits,
    better_than: float,
) -> _Laid | None:
    """Lay the tag along the top, under it the code at each outer end beside the other words."""
    room = faces.height - side if side else round(HEADING_SHARE * faces.height)
    head = set_legend(legend[:1], faces.width, room, replace(limits, text_max=limits.tag_max))
    if head is None or len(legend) == 1:
        return None
    height = faces.height - head.height
    wanted = better_than - head.merit + 1.0
    setting = set_legend(legend[1:], faces.width - side, height, limits, wanted)
    if setting is None:
        return None
    top = faces.top + head.height
    lines = (
        *_on_all(head, faces, 0, faces.top),
        *_on_all(setting, faces, side, top + (height - setting.height) // 2),
    )
    merit = min(1.0, setting.merit) + head.merit - 1.0
    return lines, _codes(faces, side, top + (height - side) // 2), merit


def _on_all(setting: Setting, faces: Faces, side: int, top: int) -> tuple[PlacedLine, ...]:
    """Place the lines on the first face right of its code, on a second left of it."""
    starts = (left + (side if left == faces.lefts[0] else 0) for left in faces.lefts)
    return tuple(line for left in starts for line in setting.placed(left, top))


def _codes(faces: Faces, side: int, top: int) -> tuple[CodeSpot, ...]:
    if not side:
        return ()
    first, *others = faces.lefts
    outer = (first, *(left + faces.width - side for left in others))
    return tuple(CodeSpot(left, top, side) for left in outer)
