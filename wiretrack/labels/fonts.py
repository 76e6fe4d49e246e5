# SPDX-License-Identifier: MIT
"""The labels' typeface: Atkinson Hyperlegible, made for poor sight, with signs it lacks drawn.

Letter height here is that of a capital H, in whole printer dots.
"""

from __future__ import annotations

import json
import unicodedata
from dataclasses import field
from functools import cache, lru_cache
from importlib.resources import as_file, files
from typing import TYPE_CHECKING

from wiretrack.errors import GlyphError
from wiretrack.late import dataclass

if TYPE_CHECKING:
    from pathlib import Path

    from PIL.Image import Image
    from PIL.ImageDraw import ImageDraw
    from PIL.ImageFont import FreeTypeFont

_PACKAGE = "fontpkg_atkinson_hyperlegible"
_FILES = {False: "AtkinsonHyperlegible-Regular.ttf", True: "AtkinsonHyperlegible-Bold.ttf"}
CAPITAL_PER_EM = 0.668  # the height of H in this typeface, measured at 1000 units
_PROBE_SIZE = 64
_UNASSIGNED = "\U000fffff"
_REACHING = frozenset("jîï")
_REFUSED = ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp")

_Polygon = list[tuple[float, float]]


@cache
def _signs() -> dict[str, tuple[float, list[_Polygon]]]:
    """Return the signs drawn by us: width, then filled polygons, in letter heights.

    y grows upwards from the line.
    """
    text = (files("wiretrack.labels") / "data" / "signs.json").read_text("utf-8")
    return {sign: (row["width"], row["polygons"]) for sign, row in json.loads(text).items()}


@dataclass(frozen=True)
class Face:
    """The typeface at one letter height, regular or bold."""

    capital_dots: int
    bold: bool
    _font: FreeTypeFont = field(repr=False, compare=False)
    _advances: dict[str, float] = field(default_factory=dict, repr=False, compare=False)
    _glyphs: dict[str, tuple[Image, int, int]] = field(
        default_factory=dict, repr=False, compare=False
    )

    def length(self, text: str) -> float:
        """Return how wide `text` comes out, in dots."""
        advances = self._advances
        total = self._overhang(text)
        for character in text:
            width = advances.get(character)
            if width is None:
                width = advances[character] = self._advance(character)
            total += width
        return total

    def draw(self, canvas: ImageDraw, left: float, baseline: int, text: str) -> None:
        """Draw `text` in black with its line of letters standing on `baseline`."""
        left += self._overhang(text)
        for character in text:
            glyph = self._glyphs.get(character)
            if glyph is None:
                glyph = self._glyphs[character] = self._draw_glyph(character)
            picture, across, down = glyph
            canvas.bitmap((round(left) + across, baseline + down), picture, fill=0)
            left += self._advances[character]

    def _draw_glyph(self, character: str) -> tuple[Image, int, int]:
        """Return a character as white on black, and where it lies from its place on the line."""
        from PIL import Image, ImageDraw

        self.length(character)  # so that its advance is known
        margin = 2 * self.capital_dots
        picture = Image.new("1", (3 * margin, 2 * margin), 0)
        canvas = ImageDraw.Draw(picture)
        canvas.fontmode = "1"
        if character in _signs():
            self._draw_sign(canvas, margin, margin, character)
        else:
            canvas.text((margin, margin), character, font=self._font, fill=1, anchor="ls")
        box = picture.getbbox() or (margin, margin, margin + 1, margin + 1)
        return picture.crop(box), box[0] - margin, box[1] - margin

    def _overhang(self, text: str) -> float:
        """Return how far the first letter reaches out to the left, as a j does."""
        first = text[:1]
        if first not in _REACHING:
            return 0.0
        return max(0.0, -float(self._font.getbbox(first)[0]))

    def _advance(self, character: str) -> float:
        if character in _signs():
            return _signs()[character][0] * self.capital_dots
        return self._font.getlength(character)

    def _draw_sign(self, canvas: ImageDraw, left: float, baseline: int, sign: str) -> None:
        scale = self.capital_dots
        for polygon in _signs()[sign][1]:
            points = [(round(left + x * scale), round(baseline - y * scale)) for x, y in polygon]
            canvas.polygon(points, fill=1)


@lru_cache(maxsize=512)
def face(capital_dots: int, *, bold: bool = False) -> Face:
    """Return the typeface whose capitals are at least that many dots high, hinted to whole dots."""
    size = capital_dots / CAPITAL_PER_EM
    while _capital_height(_load(size, bold)) < capital_dots:
        size += 0.25
    return Face(capital_dots, bold, _load(size, bold))


def _capital_height(font: FreeTypeFont) -> int:
    _, top, _, bottom = font.getbbox("H", mode="1")
    return round(bottom - top)


def check_text(text: str) -> str:
    """Return `text` composed (NFC) and with single spaces, each character of which can be printed.

    Raises `GlyphError` if it holds a control character or one that neither the font nor we can
    draw.
    """
    composed = unicodedata.normalize("NFC", " ".join(filter(None, text.split(" "))))
    for character in composed:
        if not has_glyph(character):
            raise GlyphError(_visible(text), character, _name(character))
    return composed


@lru_cache(maxsize=4096)
def has_glyph(character: str) -> bool:
    """Return whether a label can show this character, in regular and in bold."""
    if character in _signs():
        return True
    if unicodedata.category(character) in _REFUSED or unicodedata.combining(character):
        return False
    return all(_differs_from_missing(character, bold) for bold in (False, True))


def _differs_from_missing(character: str, bold: bool) -> bool:
    font = _load(_PROBE_SIZE, bold)
    drawn, missing = font.getmask(character), font.getmask(_UNASSIGNED)
    return drawn.size != missing.size or bytes(drawn) != bytes(missing)


def _visible(text: str) -> str:
    return "".join(sign if sign.isprintable() else ascii(sign)[1:-1] for sign in text)


def _name(character: str) -> str:
    if unicodedata.category(character) == "Cc":
        return "control character"
    return unicodedata.name(character, "such character").lower()


@lru_cache(maxsize=2)
def _font_path(bold: bool) -> Path:
    with as_file(files(_PACKAGE) / "files" / _FILES[bold]) as path:
        return path


@lru_cache(maxsize=512)
def _load(size: float, bold: bool) -> FreeTypeFont:
    from PIL import ImageFont

    return ImageFont.truetype(_font_path(bold), size, layout_engine=ImageFont.Layout.BASIC)
