# SPDX-License-Identifier: MIT
"""Flat faces: a legend and a code side by side, one over the other, or under a heading.

All faces of a label carry the same; the code sits at the outer end of each. In dots.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from wiretrack.labels.geometry import module_sizes
from wiretrack.labels.legend import set_legend
from wiretrack.labels.plan import Candidate, CodeSpot, Plan
from wiretrack.labels.symbol import side_with_quiet_zone
from wiretrack.late import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterator

    from wiretrack.labels.legend import LetterLimits, Paragraph, Setting
    from wiretrack.labels.plan import PlacedLine, Stock

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
    for module in module_sizes(stock.dpi) if version else (0,):
        side = module * side_with_quiet_zone(version) if version else 0
        if side > min(faces.width, faces.height):
            continue
        best, laying = -math.inf, _Laying(legend, faces, side, limits)
        for layout in (laying.headed, laying.at_side, laying.under):
            laid = layout(best)
            if laid is not None:
                lines, codes, best = laid
                yield Candidate(Plan(*stock.size_dots, lines, codes), module or None, best)


@dataclass(frozen=True)
class _Laying:
    """A legend to be laid on all faces with a code of that side, 0 for none; where it is better."""

    legend: tuple[Paragraph, ...]
    faces: Faces
    side: int
    limits: LetterLimits

    def at_side(self, better_than: float) -> _Laid | None:
        """Lay the code at each outer end, all the legend beside it."""
        width, height = self.faces.width - self.side, self.faces.height
        setting = set_legend(self.legend, width, height, self.limits, better_than)
        if setting is None:
            return None
        lines = self._on_all(setting, self.side, self.faces.top + (height - setting.height) // 2)
        return lines, self._codes(self.faces.top + (height - self.side) // 2), setting.merit

    def under(self, better_than: float) -> _Laid | None:
        """Lay the code at each outer end on top, all the legend under it."""
        height = self.faces.height - self.side
        setting = set_legend(self.legend, self.faces.width, height, self.limits, better_than)
        if setting is None or not self.side:
            return None
        free = (height - setting.height) // 2
        lines = self._on_all(setting, 0, self.faces.top + self.side + free)
        return lines, self._codes(self.faces.top), setting.merit

    def headed(self, better_than: float) -> _Laid | None:
        """Lay the tag along the top, under it the code at each outer end beside the other words."""
        faces, side, limits = self.faces, self.side, self.limits
        room = faces.height - side if side else round(HEADING_SHARE * faces.height)
        large = replace(limits, text_max=limits.tag_max)
        head = set_legend(self.legend[:1], faces.width, room, large)
        if head is None or len(self.legend) == 1:
            return None
        height, top = faces.height - head.height, faces.top + head.height
        wanted = better_than - head.merit + 1.0
        setting = set_legend(self.legend[1:], faces.width - side, height, limits, wanted)
        if setting is None:
            return None
        lines = self._on_all(head, 0, faces.top)
        lines += self._on_all(setting, side, top + (height - setting.height) // 2)
        merit = min(1.0, setting.merit) + head.merit - 1.0
        return lines, self._codes(top + (height - side) // 2), merit

    def _on_all(self, setting: Setting, side: int, top: int) -> tuple[PlacedLine, ...]:
        """Place the lines on the first face right of its code, on a second left of it."""
        first, *others = self.faces.lefts
        starts = (first + side, *others)
        return tuple(line for left in starts for line in setting.placed(left, top))

    def _codes(self, top: int) -> tuple[CodeSpot, ...]:
        if not self.side:
            return ()
        first, *others = self.faces.lefts
        outer = (first, *(left + self.faces.width - self.side for left in others))
        return tuple(CodeSpot(left, top, self.side) for left in outer)
