# SPDX-License-Identifier: MIT
"""QR codes out of a photograph, however it was held."""

from __future__ import annotations

import warnings
from typing import TYPE_CHECKING

from wiretrack.errors import PictureError

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from PIL.Image import Image

MAX_FILE_BYTES = 100_000_000
MAX_DOTS = 120_000_000
FIRST_SIDE, LAST_SIDE = 3000, 1200
_FORMATS = ("JPEG", "PNG", "TIFF", "WEBP", "GIF", "BMP", "PPM")
_HINT = "Take a JPEG or PNG photograph."


def read_codes(image_path: Path) -> list[str]:
    """Return the texts of all QR codes in a photograph, from top to bottom; none gives none.

    Raises
    ------
    PictureError
        If the file can't be read as a picture, or is too large.
    """
    picture = _open(image_path)
    for variant in _variants(picture):
        if found := _decode(variant):
            return found
    return []


def _open(path: Path) -> Image:
    from PIL import Image, ImageOps, UnidentifiedImageError

    try:
        if path.stat().st_size > MAX_FILE_BYTES:
            raise PictureError(str(path), f"is over {MAX_FILE_BYTES // 10**6} MB", _HINT)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            with Image.open(path, formats=_FORMATS) as picture:
                _check_size(path, picture)
                upright = ImageOps.exif_transpose(picture)
                return _on_white(upright)
    except PictureError:
        raise
    except (Image.DecompressionBombWarning, Image.DecompressionBombError, MemoryError):
        raise PictureError(str(path), "has too many dots to be a photograph", _HINT) from None
    except UnidentifiedImageError:
        raise PictureError(str(path), "is not a picture that can be read", _HINT) from None
    except OSError as error:
        why = f"can't be read: {error.strerror or 'the picture is damaged'}"
        raise PictureError(str(path), why, _HINT) from None
    except (ValueError, SyntaxError, EOFError, TypeError, KeyError, IndexError, OverflowError):
        raise PictureError(str(path), "is a damaged picture", _HINT) from None


def _check_size(path: Path, picture: Image) -> None:
    if picture.width * picture.height > MAX_DOTS:
        why = f"has {picture.width} x {picture.height} dots, over {MAX_DOTS // 10**6} million"
        raise PictureError(str(path), why, "Take a smaller photograph.")


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
