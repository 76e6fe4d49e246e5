# SPDX-License-Identifier: MIT
"""A report as PDF: text that can be selected, an outline, page numbers, heads that are repeated.

This module imports a heavy library; import it only where a PDF is made.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack import svg
from wiretrack.late import dataclass
from wiretrack.manner import words
from wiretrack.pdf import BLACK, Pdf, baseline_mm, line_mm
from wiretrack.plain import one_line
from wiretrack.render.anchor import code_of
from wiretrack.render.report.blocks import (
    BY_HAND,
    CODE_MM,
    Bullets,
    Code,
    Drawing,
    Facts,
    Heading,
    Paragraph,
    Table,
    Text,
)
from wiretrack.render.report.pdf_cells import (
    BLANK_LINE_MM,
    GAP_MM,
    SIZE_PT,
    SQUARE_GAP_MM,
    SQUARE_MM,
    bold,
    column_widths,
    laid,
    tick_mm,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from wiretrack.pdf import Colour
    from wiretrack.render.report.blocks import Block, Printed, Tone
    from wiretrack.render.report.pdf_cells import Laid

_HEADINGS_PT = {1: 13.0, 2: 10.5, 3: 9.0}
_BODY_PT, _DIM_PT, _LARGE_PT, _TITLE_PT = 8.5, 7.0, 14.0, 16.0
# What must be free for a heading of each level, or it goes to the next page.
_KEEP_MM = {1: 48.0, 2: 36.0, 3: 28.0}
_PAD_MM = 0.7  # above and below the text of a row
_FACT_PART = 0.32  # of the width, for the names of facts
_SIDE_MM, _TOP_MM, _BOTTOM_MM = 14.0, 14.0, 17.0
_FOOT_PT, _HAND_PT = 6.5, 5.5
_UNIT_MM = 0.23  # of a drawing: its smallest words come out at 7 pt
_GREY, _RED, _BROWN, _CAUTION = (85, 85, 85), (150, 0, 0), (107, 66, 0), (179, 89, 0)
_INKS: dict[Tone, Colour] = {
    "fail": _RED,
    "doubt": _BROWN,
    "dim": _GREY,
    "gone": _GREY,
    "large": _RED,
}


@dataclass(frozen=True)
class Made:
    """A finished PDF, how many pages it has, and the characters that its typeface lacks."""

    data: bytes
    pages: int
    lacking: tuple[str, ...] = ()


def pdf_bytes(printed: Printed, paper: str) -> Made:
    """Return a report as PDF on ``A4`` or ``Letter``."""
    pdf = Pdf(paper, one_line(printed.title), printed.made_at)
    flow = _Flow(_Pen(pdf, one_line(printed.foot)))
    flow.title(printed.title)
    for block in printed.blocks:
        flow.add(block)
    flow.pen.number_pages()
    return Made(pdf.data(), pdf.pages, tuple(sorted(flow.face.lacking)))


class _Flow:
    """Puts one block below the other, on as many pages as that takes."""

    def __init__(self, pen: _Pen) -> None:
        self.pen, self.face = pen, pen.face

    def title(self, text: str) -> None:
        self._paragraph(text, _TITLE_PT)
        self.pen.skip(2)

    def add(self, block: Block) -> None:
        """Draw one block of the report below what stands already."""
        if isinstance(block, Heading):
            self._heading(block)
        elif isinstance(block, Paragraph):
            self._told(block.text, block.tone)
        elif isinstance(block, Bullets):
            for line in block.lines:
                self._told(line, block.tone, mark="•")
            self.pen.skip(1)
        elif isinstance(block, Facts):
            self._facts(block)
        elif isinstance(block, Drawing):
            self.pen.draw(block.svg)
        elif isinstance(block, Code):
            symbol = code_of(block.head)
            self.pen.keep(CODE_MM + 2)
            self.pen.squares(symbol.runs, CODE_MM / len(symbol.rows))
            self.pen.skip(CODE_MM + 2)
        else:
            self._table(block)

    def _heading(self, block: Heading) -> None:
        if block.new_page and not self.pen.at_top:
            self.pen.new_page()
        self.pen.skip({1: 5.0, 2: 3.5, 3: 2.5}[block.level])
        self.pen.keep(_KEEP_MM[block.level])
        self.pen.bookmark(self.face.printable(one_line(block.text)), block.level - 1)
        self._paragraph(block.text, _HEADINGS_PT[block.level])
        if block.level < 3:
            self.pen.rule(0.4 if block.level == 1 else 0.2)
        self.pen.skip(1)

    def _told(self, text: str, tone: Tone, mark: str = "") -> None:
        size = {"dim": _DIM_PT, "large": _LARGE_PT}.get(tone, _BODY_PT)
        framed = tone in ("large", "caution")
        indent = 3.5 if framed or mark else 0.0
        heavy = bold(tone) or tone == "large"
        lines = self.face.lines(text, self.pen.width_mm - indent - 1, size, bold=heavy)
        for number, line in enumerate(lines):
            self.pen.keep(line_mm(size))
            if framed:
                self.pen.bar(line_mm(size))
            if mark and not number:
                self.pen.write(mark, 1.6, size, tone)
            self.pen.write(line, indent, size, tone)
            self.pen.skip(line_mm(size))
        self.pen.skip(1)

    def _paragraph(self, text: str, size_pt: float) -> None:
        for line in self.face.lines(text, self.pen.width_mm, size_pt, bold=True):
            self.pen.keep(line_mm(size_pt))
            self.pen.write(line, 0, size_pt, "strong")
            self.pen.skip(line_mm(size_pt))

    def _facts(self, block: Facts) -> None:
        left = self.pen.width_mm * _FACT_PART
        widths = [left, self.pen.width_mm - left]
        for name, value in block.rows:
            self._row([laid(words(name), widths[0] - GAP_MM, self.face),
                       laid(value, widths[1] - GAP_MM, self.face)], widths, None)  # fmt: skip
        self.pen.skip(2)

    def _table(self, block: Table) -> None:
        widths = column_widths(block, self.pen.width_mm, self.face)
        head = [
            laid(_head(name), width - GAP_MM, self.face)
            for name, width in zip(block.head, widths, strict=True)
        ]
        first = True
        for row in block.rows:
            cells = [
                laid(cell, width - GAP_MM, self.face)
                for cell, width in zip(row, widths, strict=True)
            ]
            if first:
                self.pen.keep(_height(head) + min(_height(cells), _KEEP_MM[3]))
                self._draw(head, widths, heavy_rule=True)
                first = False
            self._row(cells, widths, head)
        self.pen.skip(2)

    def _row(self, cells: list[Laid], widths: Sequence[float], head: list[Laid] | None) -> None:
        """Draw a row whole, on the next page where it doesn't fit; cut it only if no page would."""
        top = _height(head) if head else 0.0
        if _height(cells) > self.pen.free_mm and not self.pen.at_top:
            self._next_page(head, widths)
        while _height(cells) > self.pen.free_mm:
            room = self.pen.page_mm - top - 2 * _PAD_MM
            fits = max(1, int(room / max(cell.line_mm for cell in cells)))
            if max(cell.count for cell in cells) <= fits:
                break
            self._draw([cell.part(0, fits) for cell in cells], widths)
            cells = [cell.part(fits, cell.count) for cell in cells]
            self._next_page(head, widths)
        self._draw(cells, widths)

    def _next_page(self, head: list[Laid] | None, widths: Sequence[float]) -> None:
        self.pen.new_page()
        if head:
            self._draw(head, widths, heavy_rule=True)

    def _draw(
        self, cells: Sequence[Laid], widths: Sequence[float], *, heavy_rule: bool = False
    ) -> None:
        left = 0.0
        for cell, width in zip(cells, widths, strict=True):
            self.pen.cell(cell, left, width - GAP_MM)
            left += width
        self.pen.skip(_height(cells))
        self.pen.rule(0.3 if heavy_rule else 0.1)


def _height(cells: Sequence[Laid]) -> float:
    return max(cell.count * cell.line_mm for cell in cells) + 2 * _PAD_MM


def _head(name: str) -> Text:
    return Text(name, "strong")


class _Pen:
    """Stands at some height of the last page; all lengths are in mm."""

    def __init__(self, pdf: Pdf, foot: str) -> None:
        self._pdf, self.face = pdf, pdf.typeface
        self._foot = self.face.printable(foot)
        self.width_mm = pdf.width_mm - 2 * _SIDE_MM
        self.page_mm = pdf.height_mm - _TOP_MM - _BOTTOM_MM
        self._y = 0.0
        self.new_page()

    @property
    def at_top(self) -> bool:
        """Return whether nothing stands on this page yet."""
        return self._y <= _TOP_MM

    @property
    def free_mm(self) -> float:
        """Return how much room is left on this page."""
        return self._pdf.height_mm - _BOTTOM_MM - self._y

    def new_page(self) -> None:
        self._pdf.new_page()
        self._y = _TOP_MM

    def keep(self, height_mm: float) -> None:
        """Begin a page unless there is so much room."""
        if self.free_mm < height_mm and not self.at_top:
            self.new_page()

    def skip(self, height_mm: float) -> None:
        self._y += height_mm

    def bookmark(self, text: str, level: int) -> None:
        self._pdf.bookmark(text, level, self._y)

    def rule(self, thick_mm: float) -> None:
        """Draw a line across the page."""
        self._pdf.line(_SIDE_MM, self._y, _SIDE_MM + self.width_mm, thick_mm)

    def bar(self, height_mm: float) -> None:
        """Draw a piece of the bar that stands beside a caution."""
        self._pdf.bar(_SIDE_MM, self._y, (1.2, height_mm), _CAUTION)

    def squares(self, dark: Iterable[tuple[int, int, int]], side_mm: float) -> None:
        """Draw runs of black squares: column, row and length, in squares."""
        for x, y, length in dark:
            left, top = _SIDE_MM + x * side_mm, self._y + y * side_mm
            self._pdf.bar(left, top, (length * side_mm, side_mm), BLACK)

    def draw(self, drawing: str) -> None:
        """Draw an SVG drawing below what stands already, as wide as the page at most."""
        width, height = svg.size(drawing)
        scale = min(_UNIT_MM, self.width_mm / width)
        self.keep(height * scale)
        self._pdf.drawing(drawing, _SIDE_MM, self._y, width * scale)
        self.skip(height * scale + 1)

    def write(self, text: str, left_mm: float, size_pt: float, tone: Tone = "") -> None:
        """Write one line, its top where the pen stands."""
        self._text(text, _SIDE_MM + left_mm, self._y, size_pt, tone)

    def cell(self, cell: Laid, left_mm: float, width_mm: float) -> None:
        """Draw the lines of a cell, its top where the pen stands."""
        left, top = _SIDE_MM + left_mm, self._y + _PAD_MM
        for number, line in enumerate(cell.lines):
            self._text(line, left, top + number * line_mm(SIZE_PT), SIZE_PT, cell.tone)
        for number, ticks in enumerate(cell.ticks):
            self._ticks(ticks, left, top + number * line_mm(SIZE_PT))
        for number in range(cell.blanks):
            self._blank(left, top + number * BLANK_LINE_MM, width_mm, first=not number)

    def number_pages(self) -> None:
        """Write the foot of every page, now that it is known how many there are."""
        room = self.width_mm - 25
        for number in range(1, self._pdf.pages + 1):
            self._pdf.go_to_page(number)
            top = self._pdf.height_mm - _BOTTOM_MM + 5
            self._pdf.line(_SIDE_MM, top - 1, _SIDE_MM + self.width_mm, 0.1)
            lines = self.face.lines(self._foot, room, _FOOT_PT)
            for row, line in enumerate(lines[:2]):
                self._text(line, _SIDE_MM, top + row * line_mm(_FOOT_PT), _FOOT_PT, "dim")
            words = f"page {number} of {self._pdf.pages}"
            left = _SIDE_MM + self.width_mm - self.face.width_mm(words, _FOOT_PT)
            self._text(words, left, top, _FOOT_PT, "dim")

    def _ticks(self, words: tuple[str, ...], left: float, top: float) -> None:
        for word in words:
            foot = top + baseline_mm(SIZE_PT)
            self._pdf.square(left, foot - SQUARE_MM + 0.2, SQUARE_MM)
            self._text(word, left + SQUARE_MM + SQUARE_GAP_MM, top, SIZE_PT, "")
            left += tick_mm(word, self.face)

    def _blank(self, left: float, top: float, width: float, *, first: bool) -> None:
        foot = top + BLANK_LINE_MM - 0.8
        self._pdf.line(left, foot, left + width, 0.2, dashed=True)
        if first:
            self._text(BY_HAND, left, foot - line_mm(_HAND_PT), _HAND_PT, "dim")

    def _text(self, text: str, left: float, top: float, size_pt: float, tone: Tone) -> None:
        heavy = bold(tone) or tone == "large"
        self._pdf.text(text, left, top, size_pt, heavy, _INKS.get(tone, BLACK))
        if tone == "gone" and text:
            wide = self.face.width_mm(text, size_pt)
            self._pdf.line(left, top + baseline_mm(size_pt) * 0.68, left + wide, 0.2)
