# SPDX-License-Identifier: MIT
"""The sleeve form: a tube printed flat, slipped over the conductor and shrunk on to it.

Lettering gets lower round the conductor as the tube shrinks, so it is drawn that much higher. A
symbol would be squeezed one way only, so a sleeve carries none.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from wiretrack.labels.faces import Faces, face_candidates
from wiretrack.sources import COMMON_PRACTICE

if TYPE_CHECKING:
    from collections.abc import Iterator

    from wiretrack.labels.legend import LetterLimits, Paragraph
    from wiretrack.labels.plan import Candidate
    from wiretrack.labels.stocks import Stock

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
        return f"this sleeve takes {takes}, not {outer_diameter_mm:g} mm", "Take another sleeve."
    return None


def sleeve_candidates(
    legend: tuple[Paragraph, ...], stock: Stock, limits: LetterLimits
) -> Iterator[Candidate]:
    """Yield the ways to put this legend on the flattened tube."""
    zone = stock.zone
    faces = Faces(
        lefts=(stock.dots(zone.left_mm),),
        top=stock.dots(zone.top_mm),
        width=stock.dots(zone.width_mm),
        height=stock.dots(zone.height_mm),
    )
    yield from face_candidates(legend, stock, faces, limits, None)
