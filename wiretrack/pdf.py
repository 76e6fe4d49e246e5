# SPDX-License-Identifier: MIT
"""The one writer of PDF: sheets of text with an outline, and pages that are a picture in true size.

Lengths are millimetres from the upper left corner of the page. This module imports a heavy
library; import it only where a PDF is made.
"""

from __future__ import annotations

import atexit
import io
import re
import unicodedata
from datetime import UTC, datetime
from functools import cache
from importlib.resources import as_file, files
from pathlib import Path
from shutil import rmtree
from tempfile import mkdtemp

from fpdf import FPDF
from fpdf.prefs import ViewerPreferences

from wiretrack.late import cached_property
from wiretrack.plain import one_line, safe

_FAMILY = "report"
_WEIGHTS = {"": 400.0, "B": 700.0}
_SHAPING = {"GPOS", "GSUB", "GDEF"}
_MEASURED_AT_PT = 10.0
_PT_MM = 25.4 / 72
_ROUNDING_MM = 0.01
_UNDATED = datetime(1970, 1, 1, tzinfo=UTC)  # so that the same pages give the same bytes

Colour = tuple[int, int, int]
BLACK: Colour = (0, 0, 0)


class Pdf:
    """A PDF in the making, its pages of one paper (``A4`` or ``Letter``) or each of its own size.

    `made_at` is an ISO 8601 time; a file without it doesn't say when it was made.
    """

    def __init__(self, paper: str = "A4", title: str = "", made_at: str | None = None) -> None:
        self._pdf = FPDF(format=paper)
        if title:
            self._pdf.set_title(title)
        self._pdf.set_lang("en")
        self._pdf.set_creator("wiretrack")
        self._pdf.set_creation_date(datetime.fromisoformat(made_at) if made_at else _UNDATED)
        self._pdf.set_auto_page_break(False)
        self._pdf.set_margin(0)

    @property
    def width_mm(self) -> float:
        """The width of the paper."""
        return self._pdf.w

    @property
    def height_mm(self) -> float:
        """The height of the paper."""
        return self._pdf.h

    @property
    def pages(self) -> int:
        """How many pages there are."""
        return self._pdf.pages_count

    @cached_property
    def typeface(self) -> Typeface:
        """The typeface of its text."""
        return Typeface(self._pdf)

    def new_page(self) -> None:
        """Begin a page."""
        self._pdf.add_page()

    def go_to_page(self, number: int) -> None:
        """Draw on a page that was left, counted from 1."""
        self._pdf.page = number
        self._pdf.current_font_is_set_on_page = False

    def picture_page(
        self, picture: bytes, page_mm: tuple[float, float], size_mm: tuple[float, float]
    ) -> None:
        """Add a page of a size of its own, with a picture file at its upper left corner.

        A TIFF packed by CCITT group 4 (ITU-T T.6) is taken over dot for dot. The file asks to be
        printed without scaling.
        """
        self._pdf.viewer_preferences = ViewerPreferences(print_scaling="None")
        self._pdf.add_page(format=page_mm)
        self._pdf.image(io.BytesIO(picture), 0, 0, *size_mm)

    def drawing(self, drawing: str, left: float, top: float, width_mm: float) -> None:
        """Draw an SVG drawing of `svg.document`, its words in the typeface of the text."""
        drawn = re.sub(r"<title>.*?</title>", "", self.typeface.printable(one_line(drawing)))
        drawn = drawn.replace("sans-serif", _FAMILY, 1)
        self._pdf.image(io.BytesIO(drawn.encode()), left, top, width_mm)

    def bookmark(self, text: str, level: int, top_mm: float) -> None:
        """Put a line into the outline that leads to this height of the page."""
        self._pdf.set_y(top_mm)
        self._pdf.start_section(text, level, strict=False)

    def line(
        self, left: float, y: float, right: float, thick_mm: float, *, dashed: bool = False
    ) -> None:
        """Draw a line across; a thin one is grey."""
        if dashed:
            self._pdf.set_dash_pattern(dash=0.4, gap=0.6)
        self._pdf.set_draw_color(0 if thick_mm > 0.15 else 120)
        self._pdf.set_line_width(thick_mm)
        self._pdf.line(left, y, right, y)
        if dashed:
            self._pdf.set_dash_pattern()

    def square(self, left: float, top: float, side_mm: float) -> None:
        """Draw an empty square."""
        self._pdf.set_draw_color(0)
        self._pdf.set_line_width(0.2)
        self._pdf.rect(left, top, side_mm, side_mm)

    def bar(self, left: float, top: float, size_mm: tuple[float, float], colour: Colour) -> None:
        """Draw a filled rectangle."""
        self._pdf.set_fill_color(*colour)
        self._pdf.rect(left, top, *size_mm, style="F")

    def text(
        self, text: str, left: float, top: float, size_pt: float, bold: bool, colour: Colour
    ) -> None:
        """Write one line of printable text."""
        self._pdf.set_font(_FAMILY, "B" if bold else "", size_pt)
        self._pdf.set_text_color(*colour)
        self._pdf.text(left, top + baseline_mm(size_pt), text)

    def data(self) -> bytes:
        """Return the finished file."""
        return bytes(self._pdf.output())


@cache
def _font_files() -> dict[str, Path]:
    """Return a file for each style, cut once from the one that holds every weight.

    What shapes other scripts is left out: it takes most of the time, and nothing here uses it.
    """
    from fontTools.ttLib import TTFont  # type: ignore[import-untyped]
    from fontTools.varLib.instancer import (  # type: ignore[import-untyped]
        instantiateVariableFont,
    )

    folder = Path(mkdtemp(prefix="wiretrack-"))
    atexit.register(rmtree, folder, ignore_errors=True)
    made = {}
    with as_file(files("fontpkg_arimo") / "files" / "Arimo[wght].ttf") as whole:
        for style, weight in _WEIGHTS.items():
            font = TTFont(whole, recalcTimestamp=False)
            for table in _SHAPING & set(font.keys()):
                del font[table]
            instantiateVariableFont(font, {"wght": weight}, inplace=True, static=True)
            made[style] = folder / f"{_FAMILY}{style}.ttf"
            font.save(made[style])
    return made


class Typeface:
    """The typeface of one document, with the widths of the words met so far.

    It is Arimo (SIL Open Font Licence), which has every Latin, Greek and Cyrillic letter and the
    signs of the trade. A character that it lacks is written as its Unicode number.
    """

    def __init__(self, pdf: FPDF) -> None:
        self._pdf = pdf
        for style, file in _font_files().items():
            pdf.add_font(_FAMILY, style, file)
        self._has = frozenset(pdf.fonts[_FAMILY].cmap)  # type: ignore[union-attr]
        self._widths: dict[tuple[str, bool], float] = {}
        self.lacking: set[str] = set()

    def printable(self, text: str) -> str:
        """Return `text` with nothing in it that can't be shown."""
        plain = unicodedata.normalize("NFC", safe(text))
        lacking = {sign for sign in plain if ord(sign) not in self._has}
        if not lacking:
            return plain
        self.lacking |= lacking
        return "".join(f"[U+{ord(sign):04X}]" if sign in lacking else sign for sign in plain)

    def width_mm(self, text: str, size_pt: float, *, bold: bool = False) -> float:
        """Return how wide a printable text comes out."""
        known = self._widths.get((text, bold))
        if known is None:
            self._pdf.set_font(_FAMILY, "B" if bold else "", _MEASURED_AT_PT)
            known = self._widths[text, bold] = self._pdf.get_string_width(text)
        return known * size_pt / _MEASURED_AT_PT

    def lines(self, text: str, width_mm: float, size_pt: float, *, bold: bool = False) -> list[str]:
        """Return `text` broken into lines of at most that width, at blanks where it can be."""
        found: list[str] = []
        for paragraph in text.split("\n"):
            found += self._folded(self.printable(paragraph).split(), width_mm, size_pt, bold)
        return found

    def _folded(self, words: list[str], width_mm: float, size_pt: float, bold: bool) -> list[str]:
        blank = self.width_mm(" ", size_pt, bold=bold)
        lines: list[list[str]] = [[]]
        used = 0.0
        for word in words:
            for piece in self._pieces(word, width_mm, size_pt, bold):
                wide = self.width_mm(piece, size_pt, bold=bold)
                if lines[-1] and used + blank + wide > width_mm:
                    lines.append([])
                used = wide if not lines[-1] else used + blank + wide
                lines[-1].append(piece)
        return [" ".join(line) for line in lines]

    def _pieces(self, word: str, width_mm: float, size_pt: float, bold: bool) -> list[str]:
        """Return a word, cut where it is wider than a whole line."""
        if self.width_mm(word, size_pt, bold=bold) <= width_mm + _ROUNDING_MM:
            return [word]
        pieces, used = [""], 0.0
        for sign in word:
            wide = self.width_mm(sign, size_pt, bold=bold)
            if pieces[-1] and used + wide > width_mm:
                pieces.append("")
                used = 0.0
            pieces[-1] += sign
            used += wide
        return pieces


def line_mm(size_pt: float) -> float:
    """Return how far one line of letters lies below the other."""
    return size_pt * _PT_MM * 1.25


def baseline_mm(size_pt: float) -> float:
    """Return how far below the top of its line the letters stand."""
    return size_pt * _PT_MM * 1.0
