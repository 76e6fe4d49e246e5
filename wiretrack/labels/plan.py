# SPDX-License-Identifier: MIT
"""What goes where on one label, in whole printer dots from its upper left corner, and why."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.late import dataclass

if TYPE_CHECKING:
    from wiretrack.labels.subject import Side
    from wiretrack.labels.symbol import Level


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
class Bar:
    """A filled rectangle: a fold's mark, a rule between rows, a terminal's limit."""

    left: int
    top: int
    width: int
    height: int


@dataclass(frozen=True)
class Plan:
    """One label before it is drawn.

    `quarter_turn` lays it on its side at the end; `inverted` leaves the letters blank on a
    background of `ink`.
    """

    width: int
    height: int
    lines: tuple[PlacedLine, ...] = ()
    codes: tuple[CodeSpot, ...] = ()
    bars: tuple[Bar, ...] = ()
    quarter_turn: bool = False
    inverted: bool = False
    ink: str = "black"

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


@dataclass(frozen=True)
class Fit:
    """The form for one label on one stock; `plan` is `None` where this stock can't carry it.

    `tag` is a conductor's tag, or the name of whatever else is labelled. `arc_deg` is how far the
    symbol bends, its quiet zone left out; for a flag, how far the smallest one would bend if it
    were wound round the conductor instead.
    """

    tag: str
    end: Side | None
    form: str
    reason: str
    qr_version: int | None = None
    error_correction: Level | None = None
    module_dots: int | None = None
    module_mm: float | None = None
    arc_deg: float | None = None
    letter_mm: float | None = None
    plan: Plan | None = None
    why_not: str = ""
    hint: str = ""

    @property
    def printable(self) -> bool:
        """Return whether a label of this stock can be drawn."""
        return self.plan is not None

    @property
    def why_not_sentence(self) -> str:
        """Return why this stock can't carry it, as a sentence; empty where it can."""
        return f"{self.why_not[0].upper()}{self.why_not[1:]}." if self.why_not else ""

    @property
    def why(self) -> str:
        """Return why this form, or why none, and what would do."""
        return " ".join(filter(None, (self.reason, self.why_not_sentence, self.hint)))

    def as_json(self) -> dict[str, object]:
        """Return what is shown of the fit."""
        return {
            "tag": self.tag,
            "end": self.end,
            "form": self.form,
            "qr_version": self.qr_version,
            "error_correction": self.error_correction,
            "module_mm": self.module_mm and round(self.module_mm, 4),
            "arc_deg": None if self.arc_deg is None else round(self.arc_deg, 1),
            "letter_mm": self.letter_mm and round(self.letter_mm, 2),
            "printable": self.printable,
            "reason": self.why,
        }
