# SPDX-License-Identifier: MIT
"""A label as text for a terminal: eight dots of the picture in each Braille sign."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.errors import OutOfRangeError

if TYPE_CHECKING:
    from PIL.Image import Image

    from wiretrack.labels.stock import Stock

_FIRST = 0x2800
_BITS = ((0x01, 0x08), (0x02, 0x10), (0x04, 0x20), (0x40, 0x80))
MOST_COLUMNS = 1000
GAP_MM, BEHIND = 2.0, (176, 176, 176)


def preview(picture: Image, columns: int = 80) -> str:
    """Return a drawn label as lines of text, no wider than so many columns.

    Raises
    ------
    OutOfRangeError
        If there is no column, or more than 1000.
    """
    from PIL import Image as Pictures

    if not 1 <= columns <= MOST_COLUMNS:
        raise OutOfRangeError("Preview's width", columns, "columns", f"1 to {MOST_COLUMNS}")
    scale = min(1.0, 2 * columns / picture.width)
    size = (max(1, int(picture.width * scale)), max(1, round(picture.height * scale)))
    grey = picture.convert("L").resize(size, Pictures.Resampling.BOX)
    dots = grey.point(lambda level: 255 * (level < 150)).tobytes()
    return "\n".join(
        "".join(_sign(dots, size, left, top) for left in range(0, size[0], 2)).rstrip(chr(_FIRST))
        for top in range(0, size[1], 4)
    )


def _sign(dots: bytes, size: tuple[int, int], left: int, top: int) -> str:
    bits = 0
    for down, pair in enumerate(_BITS):
        for across, bit in enumerate(pair):
            x, y = left + across, top + down
            if x < size[0] and y < size[1] and dots[y * size[0] + x]:
                bits |= bit
    return chr(_FIRST + bits)


def preview_picture(pictures: list[Image], inks: list[str], stock: Stock) -> Image:
    """Return drawn labels one under the other in their colours, each with its edge, on grey."""
    from PIL import Image as Pictures
    from PIL import ImageColor

    gap = stock.dots(GAP_MM)
    width = max(picture.width for picture in pictures) + 2 * gap
    height = sum(picture.height + gap for picture in pictures) + gap
    sheet = Pictures.new("RGB", (width, height), BEHIND)
    paper, top = ImageColor.getrgb(stock.paper_colour), gap
    for picture, ink in zip(pictures, inks, strict=True):
        sheet.paste(paper, (gap, top, gap + picture.width, top + picture.height))
        mask = picture.convert("L").point(lambda level: 255 - level)
        sheet.paste(ImageColor.getrgb(ink), (gap, top), mask)
        top += picture.height + gap
    return sheet.quantize(8)
