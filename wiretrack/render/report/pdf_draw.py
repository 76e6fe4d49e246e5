# SPDX-License-Identifier: MIT
"""The pen on a PDF sheet: where it stands, and what it draws there."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.render.report.blocks import BY_HAND
from wiretrack.render.report.pdf_cells import (
    BLANK_LINE_MM,
    SQUARE_GAP_MM,
    SQUARE_MM,
    Laid,
    bold,
    tick_mm,
)
from wiretrack.render.report.pdf_text import FAMILY, Typeface, baseline_mm, line_mm

if TYPE_CHECKING:
    from fpdf import FPDF

    from wiretrack.render.report.blocks import Tone

_SIDE_MM, _TOP_MM, _BOTTOM_MM = 14.0, 14.0, 17.0
_FOOT_PT, _HAND_PT = 6.5, 5.5
_BLACK, _GREY, _RED, _BROWN = (0, 0, 0), (85, 85, 85), (150, 0, 0), (107, 66, 0)
_INKS: dict[Tone, tuple[int, int, int]] = {
    "fail": _RED,
    "doubt": _BROWN,
    "dim": _GREY,
    "gone": _GREY,
    "large": _RED,
}


class Pen:
    """Stands at some height of the last page; all lengths are in mm."""

    def __init__(self, pdf: FPDF, foot: str) -> None:
        self._pdf, self.face = pdf, Typeface(pdf)
        self._foot = self.face.printable(foot)
        pdf.set_auto_page_break(False)
        pdf.set_margins(_SIDE_MM, _TOP_MM, _SIDE_MM)
        self.width_mm = pdf.w - 2 * _SIDE_MM
        self.page_mm = pdf.h - _TOP_MM - _BOTTOM_MM
        self._y = 0.0
        self.new_page()

    @property
    def at_top(self) -> bool:
        """Return whether nothing stands on this page yet."""
        return self._y <= _TOP_MM

    @property
    def free_mm(self) -> float:
        """Return how much room is left on this page."""
        return self._pdf.h - _BOTTOM_MM - self._y

    def new_page(self) -> None:
        """Begin a page."""
        self._pdf.add_page()
        self._y = _TOP_MM

    def keep(self, height_mm: float) -> None:
        """Begin a page unless there is so much room."""
        if self.free_mm < height_mm and not self.at_top:
            self.new_page()

    def skip(self, height_mm: float) -> None:
        """Go down."""
        self._y += height_mm

    def bookmark(self, text: str, level: int) -> None:
        """Put a line into the document's outline that leads here."""
        self._pdf.set_y(self._y)
        self._pdf.start_section(text, level, strict=False)

    def rule(self, thick_mm: float) -> None:
        """Draw a line across the page."""
        self._line(_SIDE_MM, self._y, _SIDE_MM + self.width_mm, thick_mm)

    def bar(self, height_mm: float) -> None:
        """Draw a piece of the bar that stands beside a caution."""
        self._pdf.set_fill_color(179, 89, 0)
        self._pdf.rect(_SIDE_MM, self._y, 1.2, height_mm, style="F")

    def write(self, text: str, left_mm: float, size_pt: float, tone: Tone = "") -> None:
        """Write one line, its top where the pen stands."""
        self._text(text, _SIDE_MM + left_mm, self._y, size_pt, tone)

    def cell(
        self, cell: Laid, left_mm: float, width_mm: float, pad_mm: float, size_pt: float
    ) -> None:
        """Draw the lines of a cell, its top where the pen stands."""
        left, top = _SIDE_MM + left_mm, self._y + pad_mm
        for number, line in enumerate(cell.lines):
            self._text(line, left, top + number * line_mm(size_pt), size_pt, cell.tone)
        for number, words in enumerate(cell.ticks):
            self._ticks(words, left, top + number * line_mm(size_pt), size_pt)
        for number in range(cell.blanks):
            self._blank(left, top + number * BLANK_LINE_MM, width_mm, first=not number)

    def number_pages(self) -> None:
        """Write the foot of every page, now that it is known how many there are."""
        total = self._pdf.pages_count
        room = self.width_mm - 25
        for number in range(1, total + 1):
            self._pdf.page = number
            self._pdf.current_font_is_set_on_page = False
            top = self._pdf.h - _BOTTOM_MM + 5
            self._line(_SIDE_MM, top - 1, _SIDE_MM + self.width_mm, 0.1)
            lines = self.face.lines(self._foot, room, _FOOT_PT)
            for row, line in enumerate(lines[:2]):
                self._text(line, _SIDE_MM, top + row * line_mm(_FOOT_PT), _FOOT_PT, "dim")
            words = f"page {number} of {total}"
            left = _SIDE_MM + self.width_mm - self.face.width_mm(words, _FOOT_PT)
            self._text(words, left, top, _FOOT_PT, "dim")

    def _ticks(self, words: tuple[str, ...], left: float, top: float, size_pt: float) -> None:
        self._pdf.set_draw_color(0)
        self._pdf.set_line_width(0.2)
        for word in words:
            foot = top + baseline_mm(size_pt)
            self._pdf.rect(left, foot - SQUARE_MM + 0.2, SQUARE_MM, SQUARE_MM)
            self._text(word, left + SQUARE_MM + SQUARE_GAP_MM, top, size_pt, "")
            left += tick_mm(word, self.face)

    def _blank(self, left: float, top: float, width: float, *, first: bool) -> None:
        foot = top + BLANK_LINE_MM - 0.8
        self._pdf.set_dash_pattern(dash=0.4, gap=0.6)
        self._line(left, foot, left + width, 0.2)
        self._pdf.set_dash_pattern()
        if first:
            self._text(BY_HAND, left, foot - line_mm(_HAND_PT), _HAND_PT, "dim")

    def _line(self, left: float, y: float, right: float, thick_mm: float) -> None:
        self._pdf.set_draw_color(0 if thick_mm > 0.15 else 120)
        self._pdf.set_line_width(thick_mm)
        self._pdf.line(left, y, right, y)

    def _text(self, text: str, left: float, top: float, size_pt: float, tone: Tone) -> None:
        heavy = bold(tone) or tone == "large"
        self._pdf.set_font(FAMILY, "B" if heavy else "", size_pt)
        self._pdf.set_text_color(*_INKS.get(tone, _BLACK))
        self._pdf.text(left, top + baseline_mm(size_pt), text)
        if tone == "gone" and text:
            wide = self.face.width_mm(text, size_pt)
            self._line(left, top + baseline_mm(size_pt) * 0.68, left + wide, 0.2)
