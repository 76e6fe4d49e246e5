# SPDX-License-Identifier: MIT
"""A PDF of bilevel pages in true size, written page by page.

Pages are pictures packed with CCITT group 4 (ITU-T T.6), one dot of the printer for each dot of
the picture, laid at the upper left corner of a page of the stated size. The same labels give the
same bytes.
"""

from __future__ import annotations

import io
import struct
from dataclasses import dataclass
from typing import TYPE_CHECKING, BinaryIO

if TYPE_CHECKING:
    from PIL.Image import Image

POINTS_PER_MM = 72 / 25.4
# What a printer is sent for each ink; a ribbon of white gets the dots that another would print.
INKS = {"black": (0, 0, 0), "white": (0, 0, 0), "red": (200, 16, 46)}


@dataclass(frozen=True)
class PackedPage:
    """A page's picture, packed; what it measures in dots and in millimetres."""

    width_mm: float
    height_mm: float
    width_dots: int
    height_dots: int
    dpi: int
    packed: bytes
    ink: str = "black"


def pack_page(
    picture: Image, page_mm: tuple[float, float], dpi: int, ink: str = "black"
) -> PackedPage:
    """Return a bilevel picture packed for a page of that size, black dots printed in `ink`."""
    buffer = io.BytesIO()
    strip = (picture.width + 7) // 8 * picture.height
    picture.save(buffer, "TIFF", compression="group4", strip_size=strip)
    data = _only_strip(buffer.getvalue())
    return PackedPage(*page_mm, picture.width, picture.height, dpi, data, ink)


def _only_strip(tiff: bytes) -> bytes:
    """Return the packed dots of a TIFF picture of one strip (TIFF 6.0, tags 273 and 279)."""
    order = "<" if tiff[:2] == b"II" else ">"
    (directory,) = struct.unpack_from(f"{order}I", tiff, 4)
    (entries,) = struct.unpack_from(f"{order}H", tiff, directory)
    values = {}
    for number in range(entries):
        tag, kind, count = struct.unpack_from(f"{order}HHI", tiff, directory + 2 + 12 * number)
        if tag in (273, 279) and count == 1:
            width = "H" if kind == 3 else "I"
            at = directory + 2 + 12 * number + 8
            (values[tag],) = struct.unpack_from(f"{order}{width}", tiff, at)
    return tiff[values[273] : values[273] + values[279]]


def _colour_space(ink: str) -> str:
    """Return what the two values of a dot mean: ink and paper."""
    if INKS[ink] == (0, 0, 0):
        return "/DeviceGray"
    red, green, blue = INKS[ink]
    return f"[/Indexed /DeviceRGB 1 <{red:02X}{green:02X}{blue:02X}FFFFFF>]"


class PdfWriter:
    """Writes pages to a stream as they come; `finish` makes it a whole file."""

    def __init__(self, stream: BinaryIO) -> None:
        self._stream = stream
        self._offsets: list[int] = [0, 0]  # of the catalogue and the page list, filled at the end
        self._pages: list[int] = []
        self._position = 0
        self._write(b"%PDF-1.4\n%\xe2\xe3\xcf\xd3\n")

    def add_page(self, page: PackedPage) -> None:
        """Write one page."""
        width, height = page.width_mm * POINTS_PER_MM, page.height_mm * POINTS_PER_MM
        wide, high = (72 * dots / page.dpi for dots in (page.width_dots, page.height_dots))
        content = f"q {wide:.4f} 0 0 {high:.4f} 0 {height - high:.4f} cm /P Do Q".encode()
        decoding = f"/K -1 /Columns {page.width_dots} /Rows {page.height_dots} /BlackIs1 true"
        picture = self._add(
            f"/Type /XObject /Subtype /Image /Width {page.width_dots} /Height {page.height_dots} "
            f"/ColorSpace {_colour_space(page.ink)} /BitsPerComponent 1 /Filter /CCITTFaxDecode "
            f"/DecodeParms << {decoding} >>",
            page.packed,
        )
        contents = self._add("", content)
        self._pages.append(
            self._add(
                f"/Type /Page /Parent 2 0 R /MediaBox [0 0 {width:.4f} {height:.4f}] "
                f"/Resources << /XObject << /P {picture} 0 R >> >> /Contents {contents} 0 R"
            )
        )

    def finish(self) -> None:
        """Write what ties the pages together."""
        kids = " ".join(f"{number} 0 R" for number in self._pages)
        self._put(2, f"/Type /Pages /Count {len(self._pages)} /Kids [{kids}]")
        viewing = "/ViewerPreferences << /PrintScaling /None >>"
        self._put(1, f"/Type /Catalog /Pages 2 0 R {viewing}")
        start, size = self._position, len(self._offsets) + 1
        self._write(f"xref\n0 {size}\n0000000000 65535 f \n".encode())
        for offset in self._offsets:
            self._write(f"{offset:010d} 00000 n \n".encode())
        trailer = f"trailer\n<< /Size {size} /Root 1 0 R >>\nstartxref\n{start}\n%%EOF\n"
        self._write(trailer.encode())

    def _add(self, entries: str, stream: bytes | None = None) -> int:
        self._offsets.append(0)
        number = len(self._offsets)
        self._put(number, entries, stream)
        return number

    def _put(self, number: int, entries: str, stream: bytes | None = None) -> None:
        self._offsets[number - 1] = self._position
        length = f" /Length {len(stream)}" if stream is not None else ""
        self._write(f"{number} 0 obj\n<< {entries}{length} >>\n".encode())
        if stream is not None:
            self._write(b"stream\n" + stream + b"\nendstream\n")
        self._write(b"endobj\n")

    def _write(self, data: bytes) -> None:
        self._stream.write(data)
        self._position += len(data)
