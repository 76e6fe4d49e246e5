# SPDX-License-Identifier: MIT
"""Proof reading: an independent decoder reads each code back from the dots that will be printed.

It reads the dots as they are, then as a printer would leave them with too much ink and with too
little: each edge moved by half a dot.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.errors import LabelError

if TYPE_CHECKING:
    from PIL.Image import Image

    from wiretrack.labels.plan import Fit

# common practice: half a dot of gain, or of loss, at each edge; twice as large that is one dot
_ZOOM = 2
_GAIN = bytes(255) + b"\xff"  # black wherever a neighbour is
_LOSS = b"\x00" + bytes([255]) * 255  # black only where all neighbours are
_HINT = "Nothing was written; take a stock with room for larger modules."


def decode(picture: Image) -> list[str]:
    """Return the texts of the QR symbols that are seen in an upright picture."""
    import zxingcpp

    found = zxingcpp.read_barcodes(
        picture.convert("L"),
        formats=zxingcpp.BarcodeFormats(zxingcpp.BarcodeFormat.QRCode),
        try_rotate=False,
        try_downscale=False,
        try_invert=False,
    )
    return [code.text for code in found]


def as_printed(picture: Image) -> tuple[Image, Image]:
    """Return the dots as a printer leaves them: black edges half a dot further out, and in.

    The pictures are twice as large.
    """
    from PIL import Image, ImageFilter

    size = (picture.width * _ZOOM, picture.height * _ZOOM)
    large = picture.convert("L").resize(size, Image.Resampling.NEAREST)
    near = large.filter(ImageFilter.BoxBlur(1))  # a dot's share of white neighbours
    return near.point(_GAIN), near.point(_LOSS)


def proofread(raster: Image, fit: Fit, corner: tuple[int, int], payload: str) -> int:
    """Return how many codes of one label were read back, all of them, from the final raster.

    `corner` is where the label's upper left corner lies on the raster, in dots.

    Raises
    ------
    LabelError
        If a code isn't read, or reads as something else, as drawn or as printed.
    """
    boxes = fit.plan.code_boxes() if fit.plan else ()
    left, top = corner
    seen: set[bytes] = set()
    for x0, y0, x1, y1 in boxes:
        code = _cut_out(raster, (left + x0, top + y0, left + x1, top + y1))
        _check(decode(code), fit, payload, "")
        dots = code.tobytes()
        if dots not in seen:  # the same dots print the same
            seen.add(dots)
            for printed, ink in zip(as_printed(code), ("more", "less"), strict=True):
                _check(decode(printed), fit, payload, f" printed with {ink} ink")
    return len(boxes)


def _cut_out(raster: Image, box: tuple[int, int, int, int]) -> Image:
    """Return a part of the raster; what lies beyond its edges is white."""
    from PIL import Image

    x0, y0, x1, y1 = box
    if x0 >= 0 <= y0 and x1 <= raster.width and y1 <= raster.height:
        return raster.crop(box)
    part = Image.new("1", (x1 - x0, y1 - y0), 1)
    part.paste(raster, (-x0, -y0))
    return part


def _check(texts: list[str], fit: Fit, payload: str, how: str) -> None:
    if texts == [payload]:
        return
    read = f"reads '{texts[0]}'" if texts else "can't be read back"
    why = f"its code{how} {read}, should be '{payload}'"
    raise LabelError(fit.tag, fit.end or "", why, _HINT)
