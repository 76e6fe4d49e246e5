# SPDX-License-Identifier: MIT
"""What a label stock measures, in millimetres and dots; what goes where on one label, and why."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.errors import Hint
from wiretrack.late import dataclass

if TYPE_CHECKING:
    from collections.abc import Callable

    from wiretrack.labels.subject import Side
    from wiretrack.labels.symbol import Level

MM_PER_INCH = 25.4
PAGES_MM = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}  # ISO 216; ANSI/ASME Y14.1 A


@dataclass(frozen=True)
class Zone:
    """A rectangle on the label, from its upper left corner, in mm."""

    left_mm: float
    top_mm: float
    width_mm: float
    height_mm: float


@dataclass(frozen=True)
class Sheet:
    """How labels lie on a page: the first one's corner, and the pitch to the next, in mm."""

    page: str
    columns: int
    rows: int
    left_mm: float
    top_mm: float
    pitch_x_mm: float
    pitch_y_mm: float

    @property
    def places(self) -> int:
        """Return how many labels a page holds."""
        return self.columns * self.rows

    @property
    def page_mm(self) -> tuple[float, float]:
        """Return width and height of the page, in mm."""
        return PAGES_MM[self.page]


@dataclass(frozen=True)
class Stock:
    """One kind of label; a wrap's height and a flag's width go round the conductor.

    A sleeve's height is that of the tube laid flat. `offset_x_mm` and `offset_y_mm` are how far
    the printer was seen to print right of and below the right place.
    """

    name: str
    form: str
    width_mm: float
    height_mm: float
    dpi: int
    zone: Zone
    clear_tail_mm: float = 0.0
    fold_mm: float = 0.0
    sheet: Sheet | None = None
    gap_mm: float = 0.0
    inner_diameter_mm: float = 0.0
    shrink_ratio: float = 1.0
    paper_colour: str = "white"
    print_colour: str = "black"
    offset_x_mm: float = 0.0
    offset_y_mm: float = 0.0

    @property
    def labels_a_page(self) -> int:
        """Return how many labels a page holds; on a roll each is a page."""
        return self.sheet.places if self.sheet else 1

    def as_json(self) -> dict[str, object]:
        """Return what a list of stocks says of it."""
        return {
            "name": self.name,
            "form": self.form,
            "width_mm": self.width_mm,
            "height_mm": self.height_mm,
            "dpi": self.dpi,
            "page": self.sheet.page if self.sheet else None,
            "labels_a_page": self.labels_a_page,
            "clear_tail_mm": self.clear_tail_mm,
        }

    def dots(self, length_mm: float) -> int:
        """Return the whole number of printer dots nearest to a length."""
        return round(length_mm * self.dpi / MM_PER_INCH)

    def mm(self, dots: float) -> float:
        """Return the length of so many printer dots, in mm."""
        return dots * MM_PER_INCH / self.dpi

    def corner_dots(self, place: int, *, offset: bool = True) -> tuple[int, int]:
        """Return where a label's upper left corner goes on its page, in printer dots.

        Places are counted from 0, row by row; what the printer is off by is taken back.
        """
        left_mm, top_mm = (-self.offset_x_mm, -self.offset_y_mm) if offset else (0.0, 0.0)
        if self.sheet is not None:
            row, column = divmod(place, self.sheet.columns)
            left_mm += self.sheet.left_mm + column * self.sheet.pitch_x_mm
            top_mm += self.sheet.top_mm + row * self.sheet.pitch_y_mm
        return self.dots(left_mm), self.dots(top_mm)

    @property
    def size_dots(self) -> tuple[int, int]:
        """Return width and height of the label in printer dots."""
        return self.dots(self.width_mm), self.dots(self.height_mm)


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
        return self.told(str)

    def told(self, advice: Callable[[Hint], str]) -> str:
        """Return why this form, or why none, and what would do in a face's words."""
        said = (self.reason, self.why_not_sentence, advice(Hint(self.hint)))
        return " ".join(filter(None, said))

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
