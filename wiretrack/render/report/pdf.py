# SPDX-License-Identifier: MIT
"""A report as PDF: text that can be selected, an outline, page numbers, heads that are repeated.

This module imports a heavy library; import it only where a PDF is made.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from fpdf import FPDF

from wiretrack.plain import one_line
from wiretrack.render.report.blocks import Bullets, Facts, Heading, Paragraph, Table, Text
from wiretrack.render.report.pdf_cells import GAP_MM, SIZE_PT, bold, column_widths, laid
from wiretrack.render.report.pdf_draw import Pen
from wiretrack.render.report.pdf_text import line_mm

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.render.report.blocks import Block, Printed, Tone
    from wiretrack.render.report.pdf_cells import Laid

_HEADINGS_PT = {1: 13.0, 2: 10.5, 3: 9.0}
_BODY_PT, _DIM_PT, _LARGE_PT, _TITLE_PT = 8.5, 7.0, 14.0, 16.0
# What must be free for a heading of each level, or it goes to the next page.
_KEEP_MM = {1: 48.0, 2: 36.0, 3: 28.0}
_PAD_MM = 0.7  # above and below the text of a row
_FACT_PART = 0.32  # of the width, for the names of facts


@dataclass(frozen=True)
class Made:
    """A finished PDF, how many pages it has, and the characters that its typeface lacks."""

    data: bytes
    pages: int
    lacking: tuple[str, ...] = ()


def pdf_bytes(printed: Printed, paper: str) -> Made:
    """Return a report as PDF on ``A4`` or ``Letter``."""
    pdf = FPDF(format=paper)
    pdf.set_title(one_line(printed.title))
    pdf.set_lang("en")
    pdf.set_creator("wiretrack")
    if printed.made_at:
        pdf.set_creation_date(datetime.fromisoformat(printed.made_at))
    flow = _Flow(Pen(pdf, one_line(printed.foot)))
    flow.title(printed.title)
    for block in printed.blocks:
        flow.add(block)
    flow.pen.number_pages()
    return Made(bytes(pdf.output()), pdf.pages_count, tuple(sorted(flow.face.lacking)))


class _Flow:
    """Puts one block below the other, on as many pages as that takes."""

    def __init__(self, pen: Pen) -> None:
        self.pen, self.face = pen, pen.face

    def title(self, text: str) -> None:
        self._paragraph(text, _TITLE_PT, heavy=True)
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
        else:
            self._table(block)

    def _heading(self, block: Heading) -> None:
        if block.new_page and not self.pen.at_top:
            self.pen.new_page()
        self.pen.skip({1: 5.0, 2: 3.5, 3: 2.5}[block.level])
        self.pen.keep(_KEEP_MM[block.level])
        self.pen.bookmark(self.face.printable(one_line(block.text)), block.level - 1)
        self._paragraph(block.text, _HEADINGS_PT[block.level], heavy=True)
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

    def _paragraph(self, text: str, size_pt: float, *, heavy: bool) -> None:
        for line in self.face.lines(text, self.pen.width_mm, size_pt, bold=heavy):
            self.pen.keep(line_mm(size_pt))
            self.pen.write(line, 0, size_pt, "strong" if heavy else "")
            self.pen.skip(line_mm(size_pt))

    def _facts(self, block: Facts) -> None:
        left = self.pen.width_mm * _FACT_PART
        widths = [left, self.pen.width_mm - left]
        for name, value in block.rows:
            self._row([laid(name, widths[0] - GAP_MM, self.face),
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
            self.pen.cell(cell, left, width - GAP_MM, _PAD_MM, SIZE_PT)
            left += width
        self.pen.skip(_height(cells))
        self.pen.rule(0.3 if heavy_rule else 0.1)


def _height(cells: Sequence[Laid]) -> float:
    return max(cell.count * cell.line_mm for cell in cells) + 2 * _PAD_MM


def _head(name: str) -> Text:
    return Text(name, "strong")
