# SPDX-License-Identifier: MIT
"""Pictures and documents as they are kept: known by what they hold, not by what they are called.

A picture is read, turned upright, scaled down and saved again, so that nothing else is left of its
file: neither where it was taken nor anything hidden in it. A PDF is kept as it is. Nothing in
either is ever executed.
"""

from __future__ import annotations

import re
import threading
import warnings
from contextlib import contextmanager
from io import BytesIO
from typing import TYPE_CHECKING

from wiretrack.errors import PictureError
from wiretrack.late import dataclass
from wiretrack.plain import safe

if TYPE_CHECKING:
    from collections.abc import Iterator

    from PIL.Image import Image

MOST_BYTES = 20 * 2**20  # of a file that is attached
MOST_DOTS = 64_000_000  # of a picture before it is scaled
LONGEST_SIDE = 2048  # of one that is kept
_MOST_PNG = 2 * 2**20  # one that takes more becomes a JPEG
_FORMATS = ("JPEG", "PNG", "WEBP")
_ALLOWED = "Attach a JPEG, PNG or WebP picture, or a PDF."
SUFFIXES = {"image/jpeg": ".jpg", "image/png": ".png", "application/pdf": ".pdf"}
_PDF_END = re.compile(rb"%%EOF[\r\n \t\x00]*\Z")  # ISO 32000-2, 7.5.5
_HEIC = re.compile(rb"....ftyp(?:hei[cmsx]|hevc|mif1|msf1|avif)", re.DOTALL)
_UNSAFE = re.compile("[\x00-\x1f\x7f-\x9f\u2028-\u202e\u2066-\u2069\ud800-\udfff]")
_one_at_a_time = threading.Lock()  # a picture takes some hundred MB while it is read


@dataclass(frozen=True)
class KeptFile:
    """What is kept of a file: a name that its type fits, the type and the content."""

    name: str
    type: str
    content: bytes


def to_keep(name: str, data: bytes) -> KeptFile:
    """Return what is kept of a file that somebody attaches."""
    shown = safe(name)
    _check_size(shown, data)
    if data.startswith(b"%PDF-"):
        _check_pdf(shown, data)
        return KeptFile(plain_name(name, "application/pdf"), "application/pdf", data)
    with _one_at_a_time:
        found, content = _saved(shown, data)
    return KeptFile(plain_name(name, found), found, content)


def plain_name(name: str, found: str) -> str:
    r"""Return the last part of a file's name, harmless, with the ending of its type.

    >>> plain_name("C:\\roof\\IMG 1.webp", "image/jpeg"), plain_name("../..", "image/png")
    ('IMG 1.jpg', 'file.png')
    """
    last = _UNSAFE.sub("_", re.split(r"[/\\]", name)[-1]).strip(" .")
    stem = last.rpartition(".")[0] or last
    return f"{stem.strip(' .')[:120] or 'file'}{SUFFIXES[found]}"


@contextmanager
def reading_picture(name: str, hint: str = _ALLOWED) -> Iterator[None]:
    """Turn what goes wrong while a picture is read into an error for people."""
    from PIL import Image, UnidentifiedImageError

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            yield
    except PictureError:
        raise
    except (Image.DecompressionBombWarning, Image.DecompressionBombError, MemoryError):
        raise PictureError(name, "has too many dots to be a photograph", hint) from None
    except UnidentifiedImageError:
        raise PictureError(name, "is not a picture that can be read", hint) from None
    except OSError as error:
        why = f"can't be read: {error.strerror or 'the picture is damaged'}"
        raise PictureError(name, why, hint) from None
    except (ValueError, SyntaxError, EOFError, TypeError, KeyError, IndexError, OverflowError):
        raise PictureError(name, "is a damaged picture", hint) from None


def check_kept(kept_as: str, content: bytes) -> None:
    """Refuse a content that isn't as one of this type is kept."""
    _check_size("it", content)
    if kept_as == "application/pdf":
        _check_pdf("it", content)
        return
    from PIL import Image

    with reading_picture("it"), Image.open(BytesIO(content), formats=("JPEG", "PNG")) as picture:
        if f"image/{(picture.format or '').lower()}" != kept_as:
            raise PictureError("it", f"is no {kept_as}", _ALLOWED)
        if max(picture.size) > LONGEST_SIDE or picture.getexif() or "xmp" in picture.info:
            raise PictureError("it", "is not as a picture is kept", "Attach the picture itself.")


def _check_size(name: str, data: bytes) -> None:
    if not data:
        raise PictureError(name, "is empty", _ALLOWED)
    if len(data) > MOST_BYTES:
        why = f"has {len(data) / 2**20:.0f} MB, over {MOST_BYTES >> 20}"
        raise PictureError(name, why, "Take a smaller picture.")


def _check_pdf(name: str, data: bytes) -> None:
    if not data.startswith(b"%PDF-") or not _PDF_END.search(data[-1024:]):
        raise PictureError(name, "is no whole PDF", "Save it again.")


def _saved(name: str, data: bytes) -> tuple[str, bytes]:
    from PIL import Image, ImageOps

    with (
        reading_picture(name, _heic_hint(data)),
        Image.open(BytesIO(data), formats=_FORMATS) as picture,
    ):
        if picture.width * picture.height > MOST_DOTS:
            why = f"has {picture.width} x {picture.height} dots, over {MOST_DOTS // 10**6} million"
            raise PictureError(name, why, "Take a smaller picture.")
        lossless = picture.format == "PNG" or _is_transparent(picture)
        if picture.format != "PNG":
            picture.draft("RGB", (LONGEST_SIDE, LONGEST_SIDE))
        upright = ImageOps.exif_transpose(picture)
        plain = upright.convert("RGBA" if _is_transparent(upright) else "RGB")
        plain.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
        plain.info = {}
    if lossless:
        content = _written(plain, "PNG", optimize=True)
        if len(content) <= _MOST_PNG:
            return "image/png", content
    if plain.mode == "RGBA":
        on_white = Image.new("RGB", plain.size, "white")
        on_white.paste(plain, mask=plain.getchannel("A"))
        plain = on_white
    return "image/jpeg", _written(plain, "JPEG", quality=85, progressive=True, optimize=True)


def _heic_hint(data: bytes) -> str:
    """Return what to do about a file that is no picture known here."""
    is_heic = _HEIC.match(data[:16])
    return "It is HEIC or AVIF: let the phone save JPEG." if is_heic else _ALLOWED


def _is_transparent(picture: Image) -> bool:
    return picture.mode in ("RGBA", "LA", "PA") or "transparency" in picture.info


def _written(picture: Image, form: str, **options: object) -> bytes:
    stream = BytesIO()
    picture.save(stream, form, **options)
    return stream.getvalue()
