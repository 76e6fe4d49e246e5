# SPDX-License-Identifier: MIT
"""One label stock: what a label, its print zone and its page measure, in millimetres and dots."""

from __future__ import annotations

from wiretrack.late import dataclass

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
