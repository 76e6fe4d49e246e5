# SPDX-License-Identifier: MIT
"""Text on a PDF sheet: the typeface, how wide words come out, where lines break.

The typeface is Arimo (SIL Open Font Licence), which has every Latin, Greek and Cyrillic letter
and the signs of the trade. A character that it lacks is written as its Unicode number.
"""

from __future__ import annotations

import atexit
import unicodedata
from functools import cache
from importlib.resources import as_file, files
from pathlib import Path
from shutil import rmtree
from tempfile import mkdtemp
from typing import TYPE_CHECKING

from wiretrack.plain import safe

if TYPE_CHECKING:
    from fpdf import FPDF

FAMILY = "report"
_WEIGHTS = {"": 400.0, "B": 700.0}
_SHAPING = {"GPOS", "GSUB", "GDEF"}
_MEASURED_AT_PT = 10.0
_PT_MM = 25.4 / 72
_ROUNDING_MM = 0.01


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
            made[style] = folder / f"{FAMILY}{style}.ttf"
            font.save(made[style])
    return made


class Typeface:
    """The typeface of one document, with the widths of the words met so far."""

    def __init__(self, pdf: FPDF) -> None:
        self._pdf = pdf
        for style, file in _font_files().items():
            pdf.add_font(FAMILY, style, file)
        self._has = frozenset(pdf.fonts[FAMILY].cmap)  # type: ignore[union-attr]
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
            self._pdf.set_font(FAMILY, "B" if bold else "", _MEASURED_AT_PT)
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
