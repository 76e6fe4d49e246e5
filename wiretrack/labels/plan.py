# SPDX-License-Identifier: MIT
"""Where everything on one label goes, in whole printer dots from its upper left corner."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class PlacedLine:
    """A line of text; its letters stand on `baseline`."""

    left: int
    baseline: int
    text: str
    capital_dots: int
    bold: bool


@dataclass(frozen=True)
class CodeSpot:
    """A symbol with its quiet zone: upper left corner and side."""

    left: int
    top: int
    side: int


@dataclass(frozen=True)
class Tick:
    """A short black line, drawn as a filled rectangle: where to fold."""

    left: int
    top: int
    width: int
    height: int


@dataclass(frozen=True)
class Plan:
    """One label before it is drawn; `quarter_turn` lays it on its side at the end."""

    width: int
    height: int
    lines: tuple[PlacedLine, ...] = ()
    codes: tuple[CodeSpot, ...] = ()
    ticks: tuple[Tick, ...] = ()
    quarter_turn: bool = False

    def code_boxes(self) -> tuple[tuple[int, int, int, int], ...]:
        """Return the codes' left, upper, right and lower edges on the drawn label."""
        boxes = ((spot.left, spot.top, spot.side) for spot in self.codes)
        if not self.quarter_turn:
            return tuple((x, y, x + side, y + side) for x, y, side in boxes)
        return tuple((y, self.width - x - side, y + side, self.width - x) for x, y, side in boxes)


@dataclass(frozen=True)
class Candidate:
    """A plan that fits, with what it is judged by; `module_dots` is `None` without a code."""

    plan: Plan
    module_dots: int | None
    merit: float
    tags_around: int = 1

    @property
    def letter_dots(self) -> int:
        """Return the smallest letter height, in dots."""
        return min(line.capital_dots for line in self.plan.lines)
