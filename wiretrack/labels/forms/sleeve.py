# SPDX-License-Identifier: MIT
"""The sleeve form: a tube printed flat, slipped over the conductor and shrunk on to it.

Lettering gets lower round the conductor as the tube shrinks, so it is drawn that much higher. A
symbol would be squeezed one way only, so a sleeve carries none.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, ClassVar

from wiretrack.labels.faces import face_candidates, flat_face
from wiretrack.labels.forms.base import Case, EndCase, Form, best_of, why_no_face
from wiretrack.labels.legend import letter_limits
from wiretrack.late import dataclass
from wiretrack.sources import COMMON_PRACTICE

if TYPE_CHECKING:
    from collections.abc import Iterator

    from wiretrack.labels.plan import Fit, Stock

FLATTENED_WITHIN_MM = 1.5  # a tube's wall makes it wider, rounding narrower
SLIP_SHARE = 0.9  # common practice: a tube slips over nine tenths of its inner diameter
SLIP_SOURCE = COMMON_PRACTICE.key


@dataclass(frozen=True)
class Tube:
    """A sleeve as supplied: its inner diameter, and how many times it shrinks."""

    inner_diameter_mm: float
    shrink_ratio: float

    @property
    def flattened_mm(self) -> float:
        """Return the width of the tube laid flat, half its way round, in mm.

        >>> round(Tube(6.4, 2.0).flattened_mm, 2)
        10.05
        """
        return math.pi * self.inner_diameter_mm / 2

    @property
    def smallest_mm(self) -> float:
        """Return the diameter of the thinnest conductor that it grips, in mm."""
        return self.inner_diameter_mm / self.shrink_ratio

    @property
    def largest_mm(self) -> float:
        """Return the diameter of the thickest conductor that it slips over, in mm."""
        return self.inner_diameter_mm * SLIP_SHARE

    def squeeze(self, outer_diameter_mm: float) -> float:
        """Return what is left of a height, drawn flat, once the tube sits on the conductor."""
        return outer_diameter_mm / self.inner_diameter_mm


def why_no_sleeve(tube: Tube, outer_diameter_mm: float | None) -> tuple[str, str] | None:
    """Return why this tube doesn't suit that conductor and what would do; `None` if it does."""
    takes = f"{tube.smallest_mm:.1f} to {tube.largest_mm:.1f} mm ({SLIP_SOURCE})"
    if outer_diameter_mm is None:
        why = f"the conductor's outer diameter isn't known, and this sleeve takes {takes}"
        return why, "Enter the diameter."
    if not tube.smallest_mm <= outer_diameter_mm <= tube.largest_mm:
        return f"this sleeve takes {takes}, not {outer_diameter_mm:.3g} mm", "Take another sleeve."
    return None


class Sleeve(Form):
    """The legend alone on a tube, its letters high enough once the tube has shrunk."""

    name = stock_form = "sleeve"
    order = 3
    stock_fields: ClassVar = {"inner_diameter_mm": "inner diameter", "shrink_ratio": "shrink ratio"}

    def stock_faults(self, stock: Stock) -> Iterator[tuple[str, str]]:
        """Yield what such a tube can't be."""
        if not stock.inner_diameter_mm or stock.shrink_ratio <= 1:
            yield "", "a sleeve needs inner_diameter_mm and a shrink_ratio above 1"
            return
        flattened = Tube(stock.inner_diameter_mm, stock.shrink_ratio).flattened_mm
        if abs(stock.height_mm - flattened) > FLATTENED_WITHIN_MM:
            yield (
                "height_mm",
                f"a tube of {stock.inner_diameter_mm:g} mm lies {flattened:.1f} mm wide when flat, "
                f"not {stock.height_mm:g} mm",
            )

    def fit(self, case: Case) -> Fit:
        """Return the plan of the flattened tube."""
        end = EndCase.of(case)
        stock, diameter = end.stock, end.diameter
        tube = Tube(stock.inner_diameter_mm, stock.shrink_ratio)
        reason = "A sleeve carries the legend alone: a code would be squeezed one way only."
        unfit = why_no_sleeve(tube, diameter)
        if unfit or diameter is None:
            return end.refused(self, reason, *(unfit or ("", "")))
        squeeze = tube.squeeze(diameter)
        limits = letter_limits(stock, squeeze=squeeze)
        best = best_of(face_candidates(end.legend, stock, flat_face(stock), limits, None), stock)
        if best is None:
            return end.refused(self, reason, *why_no_face(end.legend, stock, "", limits))
        found = end.found(self, reason, best, None)
        return replace(found, letter_mm=stock.mm(best.letter_dots) * squeeze)


SLEEVE = Sleeve()
