# SPDX-License-Identifier: MIT
from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from PIL import Image

from wiretrack.errors import OutOfRangeError
from wiretrack.labels.draw import draw_label, preview
from wiretrack.labels.forms import fit
from wiretrack.labels.scan import decode
from wiretrack.labels.stocks import shipped_stocks

if TYPE_CHECKING:
    from collections.abc import Callable

    from wiretrack.labels.subject import LabelSubject

# The Unicode Standard, chapter 21, Braille patterns: dots 1-2-3-7 down the left, 4-5-6-8 the right.
DOTS = {0: (0, 0), 1: (0, 1), 2: (0, 2), 3: (1, 0), 4: (1, 1), 5: (1, 2), 6: (0, 3), 7: (1, 3)}


def read(text: str) -> Image.Image:
    """Return the picture that the Braille signs show."""
    lines = text.split("\n")
    width = 2 * max(map(len, lines))
    picture = Image.new("L", (width + 8, 4 * len(lines) + 8), 255)
    for row, line in enumerate(lines):
        for column, sign in enumerate(line):
            for bit, (x, y) in DOTS.items():
                if ord(sign) - 0x2800 >> bit & 1:
                    picture.putpixel((4 + 2 * column + x, 4 + 4 * row + y), 0)
    return picture


def test_a_preview_wide_enough_shows_codes_that_a_decoder_reads(
    make_subject: Callable[..., LabelSubject],
) -> None:
    stock, subject = shipped_stocks()["flag-70x16-300"], make_subject(outer_diameter_mm=3.3)
    label = draw_label(subject, fit(subject, stock), stock)
    assert decode(read(preview(label, columns=500))) == 2 * [subject.payload]


@pytest.mark.parametrize("columns", [1, 20, 80, 1000])
def test_a_preview_is_no_wider_than_asked(
    make_subject: Callable[..., LabelSubject], columns: int
) -> None:
    stock, subject = shipped_stocks()["flag-70x16-300"], make_subject()
    text = preview(draw_label(subject, fit(subject, stock), stock), columns)
    assert max(map(len, text.split("\n"))) <= columns


def test_a_width_that_cannot_be_is_refused() -> None:
    with pytest.raises(OutOfRangeError) as caught:
        preview(Image.new("1", (10, 10)), 0)
    assert str(caught.value) == "Preview's width is 0 columns; it must be 1 to 1000."
