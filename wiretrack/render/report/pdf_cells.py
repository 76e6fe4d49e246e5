# SPDX-License-Identifier: MIT
"""The cells of a table on a PDF sheet: how wide they want to be, how high they come out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.late import dataclass
from wiretrack.pdf import line_mm
from wiretrack.render.report.blocks import SHORT, Blank, Cell, Ticks, text_of, tone_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.pdf import Typeface
    from wiretrack.render.report.blocks import Table, Tone

SIZE_PT = 7.5
GAP_MM = 2.0  # between two columns
BLANK_LINE_MM = 6.5  # room for handwriting
SQUARE_MM, SQUARE_GAP_MM, TICK_GAP_MM = 2.4, 1.0, 3.0
_BLANK_LEAST_MM, _BLANK_LIKED_MM = 20.0, 40.0
_TICKS_MOST_MM = 40.0  # squares that fit in that width stay in one line
_WORD_MOST_MM = 32.0  # a longer word is cut rather than given a column of its length
BOLD: tuple[Tone, ...] = ("fail", "doubt", "strong")


@dataclass(frozen=True)
class Laid:
    """A cell broken into lines for the width of its column; `ticks` are lines of words."""

    lines: tuple[str, ...] = ()
    tone: Tone = ""
    ticks: tuple[tuple[str, ...], ...] = ()
    blanks: int = 0

    @property
    def count(self) -> int:
        """Return how many lines it has, of whatever kind."""
        return max(len(self.lines), len(self.ticks), self.blanks)

    @property
    def line_mm(self) -> float:
        """Return the height of one of its lines."""
        return BLANK_LINE_MM if self.blanks else line_mm(SIZE_PT)

    def part(self, first: int, last: int) -> Laid:
        """Return its lines from `first` up to `last`."""
        blanks = max(0, min(self.blanks, last) - first)
        return Laid(self.lines[first:last], self.tone, self.ticks[first:last], blanks)


def bold(tone: Tone) -> bool:
    """Return whether text of that tone is printed bold."""
    return tone in BOLD


def laid(cell: Cell, width_mm: float, face: Typeface) -> Laid:
    """Return a cell broken into lines of at most that width."""
    if isinstance(cell, Blank):
        return Laid(blanks=cell.lines)
    if isinstance(cell, Ticks):
        return Laid(ticks=_tick_lines(cell, width_mm, face))
    tone = tone_of(cell)
    return Laid(tuple(face.lines(text_of(cell), width_mm, SIZE_PT, bold=bold(tone))), tone)


def tick_mm(word: str, face: Typeface) -> float:
    """Return how wide a square with its word comes out, with the gap behind it."""
    return SQUARE_MM + SQUARE_GAP_MM + face.width_mm(word, SIZE_PT) + TICK_GAP_MM


def _tick_lines(cell: Ticks, width_mm: float, face: Typeface) -> tuple[tuple[str, ...], ...]:
    lines: list[list[str]] = [[]]
    used = 0.0
    for word in cell.words:
        wide = tick_mm(word, face)
        if lines[-1] and used + wide - TICK_GAP_MM > width_mm:
            lines.append([])
            used = 0.0
        lines[-1].append(word)
        used += wide
    return tuple(map(tuple, lines))


def column_widths(table: Table, width_mm: float, face: Typeface) -> list[float]:
    """Return the width of each column: none narrower than its longest word where that can be."""
    columns: list[Sequence[Cell]] = [list(column) for column in zip(*table.rows, strict=True)]
    columns = columns or [[] for _ in table.head]
    least, liked = [], []
    for head, cells in zip(table.head, columns, strict=True):
        narrow, wide = _wanted(head, face, head=True)
        for cell in dict.fromkeys(cells):
            one = _wanted(cell, face)
            narrow, wide = max(narrow, one[0]), max(wide, one[1])
        least.append(narrow + GAP_MM)
        liked.append(max(narrow, wide) + GAP_MM)
    return _shared(least, liked, width_mm)


def _shared(least: list[float], liked: list[float], width_mm: float) -> list[float]:
    if sum(least) >= width_mm:
        return [width * width_mm / sum(least) for width in least]
    if sum(liked) <= width_mm:
        spare = width_mm - sum(liked)
        return [width + spare * width / sum(liked) for width in liked]
    part = (width_mm - sum(least)) / (sum(liked) - sum(least))
    return [low + (high - low) * part for low, high in zip(least, liked, strict=True)]


def _wanted(cell: Cell, face: Typeface, *, head: bool = False) -> tuple[float, float]:
    """Return the least width that cuts no word of a cell, and the one that it likes best."""
    if isinstance(cell, Blank):
        return _BLANK_LEAST_MM, _BLANK_LIKED_MM
    if isinstance(cell, Ticks):
        wide = [tick_mm(word, face) for word in cell.words]
        row = sum(wide) - TICK_GAP_MM
        return row if row <= _TICKS_MOST_MM else max(wide) - TICK_GAP_MM, row
    text, heavy = face.printable(text_of(cell)), head or bold(tone_of(cell))
    words = [face.width_mm(word, SIZE_PT, bold=heavy) for word in text.split()] or [0.0]
    whole = sum(words) + (len(words) - 1) * face.width_mm(" ", SIZE_PT, bold=heavy)
    return (whole if len(text) <= SHORT else min(max(words), _WORD_MOST_MM)), whole
