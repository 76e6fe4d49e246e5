# SPDX-License-Identifier: MIT
"""Proof reading: an independent decoder reads each code back from the dots that will be printed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.errors import LabelError

if TYPE_CHECKING:
    from PIL.Image import Image

    from wiretrack.labels.plan import Fit

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


def proofread(raster: Image, fit: Fit, corner: tuple[int, int], payload: str) -> int:
    """Return how many codes of one label were read back, all of them, from the final raster.

    `corner` is where the label's upper left corner lies on the raster, in dots.

    Raises
    ------
    LabelError
        If a code isn't read, or reads as something else.
    """
    boxes = fit.plan.code_boxes() if fit.plan else ()
    left, top = corner
    for x0, y0, x1, y1 in boxes:
        texts = decode(raster.crop((left + x0, top + y0, left + x1, top + y1)))
        if texts != [payload]:
            read = f"reads '{texts[0]}'" if texts else "can't be read back"
            raise LabelError(
                fit.tag, fit.end or "", f"its code {read}, should be '{payload}'", _HINT
            )
    return len(boxes)
