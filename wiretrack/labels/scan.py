# SPDX-License-Identifier: MIT
"""QR codes read: out of a photograph however held, and back from dots before they are printed.

An independent decoder proofreads each code as the dots are, then as a printer would leave them with
too much ink and with too little: each edge moved by half a dot.
"""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

from wiretrack.errors import LabelError, PictureError
from wiretrack.pictures import reading_picture

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from PIL.Image import Image

    from wiretrack.labels.plan import Fit


MAX_FILE_BYTES = 100_000_000
MAX_DOTS = 120_000_000
FIRST_SIDE, LAST_SIDE = 3000, 1200
_FORMATS = ("JPEG", "PNG", "TIFF", "WEBP", "GIF", "BMP", "PPM")
_HINT = "Take a JPEG or PNG photograph."


def read_codes(image: Path | bytes) -> list[str]:
    """Return the texts of all QR codes in a photograph, from top to bottom; none gives none.

    `image` is its file, or what that holds.

    Raises `PictureError` if the file can't be read as a picture, or is too large.
    """
    picture = _open(image)
    for variant in _variants(picture):
        if found := _decode(variant):
            return found
    return []


def _open(image: Path | bytes) -> Image:
    from PIL import Image, ImageOps

    name = "the photo" if isinstance(image, bytes) else str(image)
    with reading_picture(name, _HINT):
        size = len(image) if isinstance(image, bytes) else image.stat().st_size
        if size > MAX_FILE_BYTES:
            raise PictureError(name, f"is over {MAX_FILE_BYTES // 10**6} MB", _HINT)
        source = io.BytesIO(image) if isinstance(image, bytes) else image
        with Image.open(source, formats=_FORMATS) as picture:
            _check_size(name, picture)
            return _on_white(ImageOps.exif_transpose(picture))


def _check_size(name: str, picture: Image) -> None:
    if picture.width * picture.height > MAX_DOTS:
        why = f"has {picture.width} x {picture.height} dots, over {MAX_DOTS // 10**6} million"
        raise PictureError(name, why, "Take a smaller photograph.")


def _on_white(picture: Image) -> Image:
    """Return the picture in greys, what was transparent being white."""
    from PIL import Image

    if picture.mode in ("RGBA", "LA", "PA") or "transparency" in picture.info:
        layer = picture.convert("RGBA")
        white = Image.new("RGBA", layer.size, "white")
        return Image.alpha_composite(white, layer).convert("L")
    return picture.convert("L")


def _variants(picture: Image) -> Iterator[Image]:
    """Yield the picture as it is, smaller, with more contrast, smoothed, and turned half-way."""
    from PIL import Image, ImageFilter, ImageOps

    yield picture
    for side in (FIRST_SIDE, LAST_SIDE):
        if max(picture.size) > side:
            smaller = picture.copy()
            smaller.thumbnail((side, side), Image.Resampling.LANCZOS)
            yield smaller
    base = picture.copy()
    base.thumbnail((FIRST_SIDE, FIRST_SIDE), Image.Resampling.LANCZOS)
    yield ImageOps.autocontrast(base, cutoff=2)
    yield base.filter(ImageFilter.GaussianBlur(1.2))
    yield base.filter(ImageFilter.UnsharpMask(radius=3, percent=200))
    if max(base.size) < LAST_SIDE:
        yield base.resize((base.width * 3, base.height * 3), Image.Resampling.BICUBIC)
    for angle in (30, 60):
        yield base.rotate(angle, Image.Resampling.BICUBIC, expand=True, fillcolor=255)


def _decode(picture: Image) -> list[str]:
    import zxingcpp

    formats = zxingcpp.BarcodeFormats(zxingcpp.BarcodeFormat.QRCode)
    found = zxingcpp.read_barcodes(picture, formats=formats)
    ordered = sorted(found, key=lambda code: (code.position.top_left.y, code.position.top_left.x))
    return list(dict.fromkeys(code.text for code in ordered))


# common practice: half a dot of gain, or of loss, at each edge; twice as large that is one dot
_ZOOM = 2
_GAIN = bytes(255) + b"\xff"  # black wherever a neighbour is
_LOSS = b"\x00" + bytes([255]) * 255  # black only where all neighbours are
_LARGER_MODULES = "Nothing was written; take a stock with room for larger modules."


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
    from PIL import Image

    size = (picture.width * _ZOOM, picture.height * _ZOOM)
    # each small dot is weighed with those that touch it: neither all black nor all white is grey
    near = picture.convert("L").resize(size, Image.Resampling.BILINEAR)
    return near.point(_GAIN), near.point(_LOSS)


def proofread(raster: Image, fit: Fit, corner: tuple[int, int], payload: str) -> int:
    """Return how many codes of one label were read back, all of them, from the final raster.

    `corner` is where the label's upper left corner lies on the raster, in dots.

    Raises `LabelError` if a code isn't read, or reads as something else, as drawn or as printed.
    """
    boxes = fit.plan.code_boxes() if fit.plan else ()
    left, top = corner
    seen: set[bytes] = set()
    for x0, y0, x1, y1 in boxes:
        code = _cut_out(raster, (left + x0, top + y0, left + x1, top + y1))
        dots = code.tobytes()
        if dots not in seen:  # the same dots are read, and print, the same
            seen.add(dots)
            _check(decode(code), fit, payload, "")
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
    raise LabelError(fit.tag, fit.end or "", why, _LARGER_MODULES)
