# SPDX-License-Identifier: MIT
from __future__ import annotations

import string
from itertools import product

import pytest
from PIL import Image, ImageChops, ImageDraw

from tests.drawing import each
from wiretrack.errors import GlyphError
from wiretrack.labels.fonts import check_text, face, has_glyph

TRADE_SIGNS = "Ω±°µ²³×½≤≥√Δ·–→←↑↓⏚"
EUROPEAN = "ÄÖÜäöüßÅåÆæØøÉéÈèÊêÇçÑñÍíÓóÚúŁłŻżŹźŚśĆćŃńĄąĘęŠšČčŘřŽžÝýĚěŮůŐőŰűıŞşÐðÞþ"


def ink(text: str, dots: int, *, bold: bool = False) -> Image.Image:
    picture = Image.new("1", (40 + 2 * dots * len(text), 4 * dots), 1)
    canvas = ImageDraw.Draw(picture)
    canvas.fontmode = "1"
    face(dots, bold=bold).draw(canvas, 20, 2 * dots, text)
    return ImageChops.invert(picture.convert("L"))


@each(product(string.ascii_letters + string.digits + "-:/.+_()#&'\",;%*=", [False, True]))
def test_each_letter_figure_and_mark_has_a_glyph_of_its_own(character: str, bold: bool) -> None:
    assert has_glyph(character)
    assert ink(character, 24, bold=bold).getbbox() is not None


@each(TRADE_SIGNS + EUROPEAN)
def test_each_sign_of_the_trade_and_letter_of_europe_is_drawn(character: str) -> None:
    assert has_glyph(character)
    assert ink(character, 17).getbbox() is not None


def test_no_two_characters_of_a_tag_look_alike() -> None:
    pictures = {
        character: ink(character, 17, bold=True)
        for character in string.digits + string.ascii_uppercase
    }
    for one, first in pictures.items():
        for other, second in pictures.items():
            if one < other:
                assert ImageChops.difference(
                    first.crop(first.getbbox()), second.crop(first.getbbox())
                ).getbbox(), f"{one} and {other}"


@each(product(range(8, 70), [False, True]))
def test_capitals_are_as_high_as_asked_within_a_dot(dots: int, bold: bool) -> None:
    box = ink("HEH", dots, bold=bold).getbbox()
    assert box is not None
    assert box[3] == 2 * dots
    assert dots <= box[3] - box[1] <= dots + 1


@pytest.mark.parametrize("text", ["7KQ-2MBH", "MDB Q4:1", "→ PH1 X1:2", "Gehäuse ⏚ 4 mm²", "jgpqy"])
@pytest.mark.parametrize("dots", [8, 17, 24, 33, 60])
def test_ink_stays_inside_the_length_that_is_reckoned(text: str, dots: int) -> None:
    box = ink(text, dots).getbbox()
    assert box is not None
    assert box[0] >= 20 - 1
    assert box[2] <= 20 + face(dots).length(text) + 1


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            "Жук",
            "'Жук' can't be printed: the labels' font has no cyrillic capital letter zhe (U+0416).",
        ),
        (
            "配電",
            "'配電' can't be printed: the labels' font has no cjk unified ideograph-914d (U+914D).",
        ),
        (
            "a\x1bb",
            r"'a\x1bb' can't be printed: the labels' font has no control character (U+001B).",
        ),
        ("a\nb", r"'a\nb' can't be printed: the labels' font has no control character (U+000A)."),
        (
            "a\u202eb",
            "'a\\u202eb' can't be printed: the labels' font has no right-to-left override "
            "(U+202E).",
        ),
        (
            "\U000fffff",
            r"'\U000fffff' can't be printed: the labels' font has no such character (U+FFFFF).",
        ),
    ],
)
def test_what_cannot_be_printed_is_refused_by_name(text: str, message: str) -> None:
    with pytest.raises(GlyphError) as caught:
        check_text(text)
    assert str(caught.value) == f"{message} Write it with Latin letters, figures and punctuation."


def test_letters_written_with_loose_accents_are_put_together() -> None:
    assert check_text("Ku\u0308hler  2") == "Kühler 2"
    with pytest.raises(GlyphError, match="diaeresis"):
        check_text("x\u0308")
