# SPDX-License-Identifier: MIT
"""The words on a label, set as large as their room allows: shrunk, broken or refused, never cut."""

from __future__ import annotations

import math
import re
from functools import lru_cache
from typing import TYPE_CHECKING

from wiretrack.labels.fonts import check_text, face
from wiretrack.labels.geometry import TAG_LETTER_MM, TEXT_LETTER_MM
from wiretrack.labels.plan import MM_PER_INCH, PlacedLine
from wiretrack.late import cached_property, dataclass

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from wiretrack.labels.plan import Stock
    from wiretrack.labels.subject import Contents, EndSubject

GOOD_TEXT_MM, MAX_TEXT_MM, MAX_TAG_MM = 2.2, 3.0, 5.0
BREAK_COST, INNER_BREAK_COST, JOIN_COST = 0.12, 0.18, 0.06
MAX_HEADING_MM = 12.0
TAG_TO_TEXT, HEADING_TO_TEXT = 1.35, 2.6
CAPS_LINE, MIXED_LINE = 1.3, 1.5  # line height in letter heights, without and with descenders
_DESCENDING = re.compile(r"[^A-Z0-9 .:+\-→←↑↓⏚]")
_BREAK_AFTER = re.compile(r"(?<=[-/:.,_])")
_SPACES = re.compile(r"(?<!→) ")  # an arrow stays with what it points to
_JOIN = "  "
_UNIT_DOTS = 200


@dataclass(frozen=True)
class Paragraph:
    """One item of the legend, which starts a line of its own where there is room."""

    text: str
    is_tag: bool = False
    is_bold: bool = False


@dataclass(frozen=True)
class LetterLimits:
    """The least, good and most height of capitals, for the tag and for other text, in dots."""

    tag_min: int
    tag_max: int
    text_min: int
    text_good: int
    text_max: int
    tag_to_text: float = TAG_TO_TEXT


@dataclass(frozen=True)
class _Way:
    """Whether names may be broken, and whether short ones may share a line."""

    breaks: bool
    joins: bool

    @property
    def best_merit(self) -> float:
        """Return the merit that no setting of this way exceeds."""
        return 1.0 - (BREAK_COST if self.breaks else 0.0) - (JOIN_COST if self.joins else 0.0)


_WAYS = (_Way(False, False), _Way(False, True), _Way(True, False), _Way(True, True))


@lru_cache(maxsize=16384)
def _line(text: str) -> float:
    """Return the height of a line of this text, in heights of its letters."""
    return MIXED_LINE if _DESCENDING.search(text) else CAPS_LINE


@dataclass(frozen=True)
class SetLine:
    """A line of text at its letter height, in a box `height` dots high."""

    text: str
    is_tag: bool
    capital_dots: int
    is_bold: bool = False

    @cached_property
    def height(self) -> int:
        """Return the height of the line's box, in dots."""
        return math.ceil(_line(self.text) * self.capital_dots)

    @property
    def baseline(self) -> int:
        """Return how far the letters stand below the top of the box, in dots."""
        return math.ceil((CAPS_LINE + 1) / 2 * self.capital_dots)


@dataclass(frozen=True)
class Setting:
    """A legend broken into lines; `merit` is 1 for large letters and nothing broken."""

    lines: tuple[SetLine, ...]
    merit: float

    @property
    def height(self) -> int:
        """Return the height of all lines, in dots."""
        return sum(line.height for line in self.lines)

    def placed(self, left: int, top: int) -> Iterator[PlacedLine]:
        """Yield the lines with their places, the block's upper left corner given, in dots."""
        for line in self.lines:
            bold = line.is_tag or line.is_bold
            yield PlacedLine(left, top + line.baseline, line.text, line.capital_dots, bold)
            top += line.height


def make_legend(subject: EndSubject, contents: Contents = "full") -> tuple[Paragraph, ...]:
    """Return the items of a label, its name first.

    Raises `GlyphError` if a name holds a character that can't be printed.
    """
    name, *items = (check_text(item) for item in subject.legend(contents) if item)
    return Paragraph(name, is_tag=True), *map(Paragraph, items)


def letter_limits(stock: Stock, *, squeeze: float = 1.0, heading: bool = False) -> LetterLimits:
    """Return the letter heights that labels of this stock may have.

    `squeeze` is what a sleeve leaves of a height once it has shrunk; with `heading` the name is
    to be read from afar.
    """
    dots_a_mm = stock.dpi / MM_PER_INCH / squeeze
    return LetterLimits(
        tag_min=math.ceil(TAG_LETTER_MM * dots_a_mm),
        tag_max=round((MAX_HEADING_MM if heading else MAX_TAG_MM) * dots_a_mm),
        text_min=math.ceil(TEXT_LETTER_MM * dots_a_mm),
        text_good=round(GOOD_TEXT_MM * dots_a_mm),
        text_max=round(MAX_TEXT_MM * dots_a_mm),
        tag_to_text=HEADING_TO_TEXT if heading else TAG_TO_TEXT,
    )


@lru_cache(maxsize=4096)
def set_legend(
    legend: tuple[Paragraph, ...],
    width: int,
    height: int,
    limits: LetterLimits,
    better_than: float = -math.inf,
) -> Setting | None:
    """Return the legend set as well as it goes in a room, or `None` where it doesn't fit, in dots.

    Large letters are weighed against broken names and names that share a line. A setting whose
    merit isn't `better_than` that isn't looked for.
    """
    best, merit = None, better_than
    whole_tag = all(_goes_on_one_line(item, width, limits) for item in legend if item.is_tag)
    for way in _WAYS:
        if way.joins and len(legend) < 3:
            continue  # there are no two names to share a line
        if merit >= way.best_merit - (0.0 if whole_tag else INNER_BREAK_COST):
            continue
        setting = _largest(legend, width, height, limits, way) if way.breaks or whole_tag else None
        if setting is not None and setting.merit > merit:
            best, merit = setting, setting.merit
    return best


def _goes_on_one_line(item: Paragraph, width: int, limits: LetterLimits) -> bool:
    return limits.tag_min * _unit_length(item.text, bold=True) <= width


def smallest_room(
    legend: tuple[Paragraph, ...], width: int, limits: LetterLimits
) -> tuple[int, int | None]:
    """Return the least width that the legend needs, and its height in the given width, in dots.

    The height is `None` where the width isn't enough.
    """
    least = 0
    for item in legend:
        measure = face(limits.tag_min if item.is_tag else limits.text_min, bold=item.is_tag).length
        pieces = (piece for _, piece in _pieces(item.text, measure, 0))
        least = max(least, *(math.ceil(measure(piece)) for piece in pieces))
    setting = _set(legend, width, limits, limits.text_min, _WAYS[-1])
    return least, setting.height if setting else None


def _largest(
    legend: tuple[Paragraph, ...], width: int, height: int, limits: LetterLimits, way: _Way
) -> Setting | None:
    best, low, high = None, limits.text_min, _upper_bound(legend, width, height, limits, way)
    middle = high
    while low <= high:
        setting = _set(legend, width, limits, middle, way)
        if setting is not None and setting.height <= height:
            best, low = setting, middle + 1
        else:
            high = middle - 1
        middle = (low + high) // 2
    return best


def _upper_bound(
    legend: tuple[Paragraph, ...], width: int, height: int, limits: LetterLimits, way: _Way
) -> int:
    """Return a letter height above which this way can't fit, so that the search is short."""
    tags = [item.text for item in legend if item.is_tag]
    texts = [item.text for item in legend if not item.is_tag]
    if not texts:
        return min(limits.text_max, int(height / CAPS_LINE / limits.tag_to_text) + 1)
    least_lines = 1 if way.joins else len(texts)
    high = min(
        limits.text_max, int((height / CAPS_LINE - limits.tag_min * len(tags)) / least_lines)
    )
    return high + 1 if way.breaks else min(high, int(width / max(map(_unit_length, texts)))) + 1


def _set(
    legend: tuple[Paragraph, ...], width: int, limits: LetterLimits, text_dots: int, way: _Way
) -> Setting | None:
    tag_dots = min(limits.tag_max, max(limits.tag_min, round(limits.tag_to_text * text_dots)))
    lines: list[SetLine] = []
    merit = min(text_dots / limits.text_good, 1.0)
    for item in legend:
        dots = _tag_that_fits(item.text, width, tag_dots, limits) if item.is_tag else text_dots
        broken = _broken(item.text, width, dots, item.is_tag, item.is_bold)
        if broken is None or (len(broken) > 1 and not way.breaks):
            return None
        if breaks := len(broken) - 1:
            inside = sum(len(line.text) for line in broken) + breaks - len(item.text)
            merit -= breaks * BREAK_COST + inside * INNER_BREAK_COST
        lines += broken
    if way.joins:
        merit, lines = merit - JOIN_COST, _joined(lines, width)
    return Setting(tuple(lines), merit)


def _tag_that_fits(text: str, width: int, wanted: int, limits: LetterLimits) -> int:
    """Return the largest height up to `wanted` at which the tag stays on one line, if any does."""
    likely = int(width / _unit_length(text, bold=True)) + 1
    for dots in range(min(wanted, likely), limits.tag_min - 1, -1):
        if face(dots, bold=True).length(text) <= width:
            return dots
    return limits.tag_min


@lru_cache(maxsize=16384)
def _unit_length(text: str, *, bold: bool = False) -> float:
    """Return the length of `text` per dot of letter height, before hinting."""
    return face(_UNIT_DOTS, bold=bold).length(text) / _UNIT_DOTS or 1.0


def _joined(lines: list[SetLine], width: int) -> list[SetLine]:
    """Return the lines with neighbours on one line where that fits."""
    result: list[SetLine] = []
    for line in lines:
        last = result[-1] if result else None
        if last is not None and not (last.is_tag or line.is_tag or last.is_bold):
            both = f"{last.text}{_JOIN}{line.text}"
            if face(line.capital_dots).length(both) <= width:
                result[-1] = SetLine(both, False, line.capital_dots)
                continue
        result.append(line)
    return result


@lru_cache(maxsize=16384)
def _broken(
    text: str, width: int, dots: int, is_tag: bool, is_bold: bool
) -> tuple[SetLine, ...] | None:
    """Return `text` in lines no wider than `width`, broken at spaces, then after signs."""
    measure = face(dots, bold=is_tag or is_bold).length
    if measure(text) <= width:
        return (SetLine(text, is_tag, dots, is_bold),)
    lines: list[str] = []
    for before, piece in _pieces(text, measure, width):
        if lines and measure(lines[-1] + before + piece) <= width:
            lines[-1] += before + piece
        elif measure(piece) <= width:
            lines.append(piece)
        else:
            return None
    return tuple(SetLine(line, is_tag, dots, is_bold) for line in lines)


def _pieces(text: str, measure: Callable[[str], float], width: int) -> Iterator[tuple[str, str]]:
    """Yield what can't be broken further, each with what stands before it on the same line."""
    for word in _SPACES.split(text):
        if measure(word) <= width:
            yield " ", word
            continue
        before = " "
        for piece in filter(None, _BREAK_AFTER.split(word)):
            yield before, piece
            before = ""
