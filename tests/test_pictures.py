# SPDX-License-Identifier: MIT
"""What is attached is known by what it holds; it is upright, scaled, and a picture and no more."""

from __future__ import annotations

import struct
import zlib
from io import BytesIO
from typing import TYPE_CHECKING, Any

import pytest
from PIL import Image, ImageDraw
from PIL.PngImagePlugin import PngInfo

from tests.tasks.test_remarks import PDF
from wiretrack.errors import PictureError
from wiretrack.pictures import LONGEST_SIDE, MOST_BYTES, check_kept, plain_name, to_keep

if TYPE_CHECKING:
    from collections.abc import Iterator

SECRET = b"48.1351 N 11.5820 E"


def photo(form: str = "JPEG", size: tuple[int, int] = (600, 400), mode: str = "RGB",
          **options: Any) -> bytes:  # fmt: skip
    """Return a picture whose upper left quarter is red and the rest blue."""
    picture = Image.new("RGB", size, "blue")
    ImageDraw.Draw(picture).rectangle((0, 0, size[0] // 2, size[1] // 2), fill="red")
    stream = BytesIO()
    picture.convert(mode).save(stream, form, **options)
    return stream.getvalue()


def exif(orientation: int) -> Image.Exif:
    """Return EXIF as a phone writes it: the orientation, the maker, the place, the time."""
    found = Image.Exif()
    found[0x0112], found[0x010F], found[0x9286] = orientation, "invented", SECRET.decode()
    found.get_ifd(0x8825).update({1: "N", 2: (48.0, 8.0, 6.5), 3: "E", 4: (11.0, 34.0, 55.2)})
    return found


def segments(jpeg: bytes) -> Iterator[tuple[int, bytes]]:
    """Yield marker and content of a JPEG's segments up to its scan (ITU-T T.81, annex B.1.1)."""
    at = 2
    while at < len(jpeg):
        assert jpeg[at] == 0xFF
        marker, (length,) = jpeg[at + 1], struct.unpack(">H", jpeg[at + 2 : at + 4])
        yield marker, jpeg[at + 4 : at + 2 + length]
        if marker == 0xDA:
            return
        at += 2 + length


def chunks(png: bytes) -> Iterator[tuple[bytes, bytes]]:
    """Yield name and content of a PNG's chunks (ISO/IEC 15948, 5.3)."""
    at = 8
    while at < len(png):
        (length,) = struct.unpack(">I", png[at : at + 4])
        yield png[at + 4 : at + 8], png[at + 8 : at + 8 + length]
        at += 12 + length


def test_a_jpeg_keeps_no_segment_but_those_of_its_picture() -> None:
    data = photo(exif=exif(1), comment=SECRET, icc_profile=b"profile" + SECRET, xmp=SECRET)
    assert data.count(SECRET) == 4
    kept = to_keep("IMG_1.JPG", data + SECRET)
    # T.81 table B.1: APP0 (JFIF), tables, frame, scan; no APP1 (EXIF, XMP), APP2 (ICC), COM
    assert {marker for marker, _ in segments(kept.content)} <= {0xE0, 0xDB, 0xC0, 0xC2, 0xC4, 0xDA}
    assert SECRET not in kept.content
    assert kept.content.endswith(b"\xff\xd9")
    assert (kept.name, kept.type) == ("IMG_1.jpg", "image/jpeg")


@pytest.mark.parametrize("mode", ["RGB", "RGBA", "P", "L", "1"])
def test_a_png_keeps_no_chunk_but_those_of_its_picture(mode: str) -> None:
    told = PngInfo()
    told.add_text("Comment", SECRET.decode())
    data = photo("PNG", mode=mode, pnginfo=told, exif=exif(1), icc_profile=SECRET)
    kept = to_keep("a.png", data + b"<script>")
    assert {name for name, _ in chunks(kept.content)} == {b"IHDR", b"IDAT", b"IEND"}
    unpacked = b"".join(zlib.decompress(c) for name, c in chunks(kept.content) if name == b"IDAT")
    assert SECRET not in kept.content + unpacked
    assert b"script" not in kept.content
    assert kept.type == "image/png"


# Where the first row and the first column of the stored picture are seen (EXIF 2.32, 4.6.5.A):
# the corner that the red quarter is seen in, as one looks at it.
SEEN = {1: "top left", 2: "top right", 3: "bottom right", 4: "bottom left", 5: "top left",
        6: "top right", 7: "bottom right", 8: "bottom left"}  # fmt: skip


@pytest.mark.parametrize("orientation", SEEN)
def test_a_photograph_is_turned_upright(orientation: int) -> None:
    kept = to_keep("a.jpg", photo(exif=exif(orientation)))
    with Image.open(BytesIO(kept.content)) as picture:
        assert picture.size == ((600, 400) if orientation < 5 else (400, 600))
        across, down = picture.width - 1, picture.height - 1
        corners = {"top left": (0, 0), "top right": (across, 0), "bottom left": (0, down),
                   "bottom right": (across, down)}  # fmt: skip
        red = [name for name, at in corners.items() if _is_red(picture.getpixel(at))]
    assert red == [SEEN[orientation]]


def _is_red(colour: Any) -> bool:
    return bool(colour[0] > 200 and colour[2] < 60)


@pytest.mark.parametrize(
    ("size", "kept_as"),
    [((LONGEST_SIDE, 100), (2048, 100)), ((LONGEST_SIDE + 1, 100), (2048, 100)),
     ((4000, 3000), (2048, 1536)), ((3000, 6000), (1024, 2048)), ((30, 20), (30, 20))],
)  # fmt: skip
def test_a_picture_is_scaled_to_2048_dots_and_never_up(
    size: tuple[int, int], kept_as: tuple[int, int]
) -> None:
    with Image.open(BytesIO(to_keep("a.jpg", photo(size=size)).content)) as picture:
        assert picture.size == kept_as


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
def test_what_it_is_called_doesn_t_matter(form: str) -> None:
    kept = to_keep("../../etc/pass\nwd.html", photo(form))
    assert kept.name == ("pass_wd.png" if form == "PNG" else "pass_wd.jpg")
    check_kept(kept.type, kept.content)


@pytest.mark.parametrize(
    ("name", "plain"),
    [("../../x.jpg", "x.jpg"), ("C:\\a\\b.jpg", "b.jpg"), ("..", "file.jpg"), ("", "file.jpg"),
     ("a\r\nb.jpg", "a__b.jpg"), ("a\u202egpj.exe", "a_gpj.jpg"), ("x" * 300, "x" * 120 + ".jpg"),
     ("tür 1.jpeg", "tür 1.jpg"), (".htaccess", "htaccess.jpg"), ("a.tar.gz", "a.tar.jpg")],
)  # fmt: skip
def test_a_name_is_the_last_part_of_it_and_harmless(name: str, plain: str) -> None:
    assert plain_name(name, "image/jpeg") == plain


SVG = b'<svg xmlns="http://www.w3.org/2000/svg" onload="alert(1)"/>'
NEITHER = {
    "svg": SVG,
    "html": b"<!doctype html><script>alert(1)</script>",
    "text": b"a remark",
    "empty": b"",
    "zip": b"PK\x03\x04" + bytes(60),
    "gif": photo("GIF"),
    "tiff": photo("TIFF"),
    "bmp": photo("BMP"),
    "heic": b"\x00\x00\x00\x18ftypheic" + bytes(60),
    "half a jpeg": photo()[:900],
    "half a png": photo("PNG")[:300],
    "html before pdf": b"<html>" + PDF,
    "pdf cut off": PDF[:-6],
    "html after pdf": PDF + b"<script>alert(1)</script>",
    "too large": PDF[:9] + bytes(MOST_BYTES) + PDF[9:],
}


@pytest.mark.parametrize("what", NEITHER)
def test_what_is_neither_picture_nor_pdf_is_refused_in_one_line(what: str) -> None:
    with pytest.raises(PictureError) as caught:
        to_keep(f"{what}.jpg", NEITHER[what])
    told = str(caught.value)
    assert what in told
    assert "\n" not in told
    assert any(word in told for word in ("PDF", "Save it again", "smaller picture", "JPEG"))


def test_a_pdf_of_the_largest_size_is_kept_byte_for_byte() -> None:
    data = PDF[:9] + bytes(MOST_BYTES - len(PDF)) + PDF[9:]
    assert to_keep("a.pdf", data).content == data
    assert to_keep("a.pdf", PDF + b"\r\n").content == PDF + b"\r\n"


def test_a_picture_that_unpacks_into_far_more_than_it_weighs_is_refused() -> None:
    def chunk(name: bytes, data: bytes) -> bytes:
        return (struct.pack(">I", len(data)) + name + data
                + struct.pack(">I", zlib.crc32(name + data)))  # fmt: skip

    for side in (9000, 40_000, 2**31 - 1):
        header = struct.pack(">IIBBBBB", side, side, 1, 0, 0, 0, 0)
        rows = zlib.compress(bytes((1 + -(-side // 8)) * side)) if side < 2**16 else b""
        bomb = (b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", rows)
                + chunk(b"IEND", b""))  # fmt: skip
        with pytest.raises(PictureError, match="dots"):
            to_keep("bomb.png", bomb)


def test_only_what_attaching_keeps_may_come_with_a_file() -> None:
    check_kept("image/jpeg", photo())
    for kept_as, content in (("image/png", photo()), ("image/jpeg", photo(exif=exif(1))),
                             ("image/jpeg", photo(size=(LONGEST_SIDE + 1, 10))),
                             ("image/jpeg", photo("WEBP")), ("application/pdf", SVG)):  # fmt: skip
        with pytest.raises(PictureError):
            check_kept(kept_as, content)
