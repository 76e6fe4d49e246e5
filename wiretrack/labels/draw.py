# SPDX-License-Identifier: MIT
"""One label as a picture at whole printer dots, as an SVG drawing, and as text to look at."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Any, BinaryIO

from wiretrack.errors import Hint, LabelError, OutOfRangeError
from wiretrack.labels.fonts import face
from wiretrack.labels.plan import MM_PER_INCH
from wiretrack.labels.symbol import QUIET_ZONE_MODULES, make_symbol, side_modules

if TYPE_CHECKING:
    from collections.abc import Iterator

    from PIL.Image import Image

    from wiretrack.labels.plan import Fit, Stock
    from wiretrack.labels.subject import Subject
    from wiretrack.labels.symbol import Symbol


# What a printer is sent for each ink; a ribbon of white gets the dots that another would print.
INKS = {"black": (0, 0, 0), "white": (0, 0, 0), "red": (200, 16, 46)}


def draw_label(subject: Subject, fit: Fit, stock: Stock) -> Image:
    """Return the label, true to size at the stock's dots per inch, 0 for black.

    Raises `LabelError` if the stock can't carry what `fit` found.
    """
    from PIL import Image, ImageChops, ImageDraw

    plan = fit.plan
    if plan is None:
        raise LabelError(fit.tag, fit.end or "", fit.why_not, Hint(fit.hint))
    label = Image.new("1", (plan.width, plan.height), 1)
    canvas = ImageDraw.Draw(label)
    canvas.fontmode = "1"
    for line in plan.lines:
        typeface = face(line.capital_dots, bold=line.bold)
        typeface.draw(canvas, line.left, line.baseline, line.text)
    for bar in plan.bars:
        corner = (bar.left + bar.width - 1, bar.top + bar.height - 1)
        canvas.rectangle(((bar.left, bar.top), corner), fill=0)
    if plan.codes and fit.qr_version and fit.error_correction and fit.module_dots:
        symbol = make_symbol(subject.payload, fit.qr_version, fit.error_correction)
        picture = draw_symbol(symbol, fit.module_dots)
        quiet = QUIET_ZONE_MODULES * fit.module_dots
        for spot in plan.codes:
            label.paste(picture, (spot.left + quiet, spot.top + quiet))
    if plan.inverted:
        label = ImageChops.invert(label.convert("L")).convert("1", dither=Image.Dither.NONE)
    return label.transpose(Image.Transpose.ROTATE_90) if plan.quarter_turn else label


def draw_symbol(symbol: Symbol, module_dots: int) -> Image:
    """Return a symbol without its quiet zone, each module a square of `module_dots`."""
    from PIL import Image

    side = side_modules(symbol.version)
    grey = Image.frombytes("L", (side, side), b"".join(symbol.rows).translate(_dark()))
    size = (side * module_dots, side * module_dots)
    return grey.resize(size, Image.Resampling.NEAREST).convert("1", dither=Image.Dither.NONE)


@lru_cache(maxsize=1)
def _dark() -> bytes:
    return bytes((255, 0)) + bytes(range(2, 256))


def inked(picture: Image, ink: str) -> Image:
    """Return a bilevel picture with its black dots in the colour of an ink."""
    if INKS[ink] == (0, 0, 0):
        return picture
    coloured = picture.convert("P")
    coloured.putpalette(bytes(INKS[ink]) + bytes(range(3)) * 254 + b"\xff\xff\xff")
    return coloured


def save_png(picture: Image, stream: BinaryIO, **more: Any) -> None:
    """Write a picture that tells which program made it."""
    from PIL.PngImagePlugin import PngInfo

    made_by = PngInfo()
    made_by.add_text("Software", "wiretrack")
    picture.save(stream, "PNG", optimize=True, pnginfo=made_by, **more)


def svg_document(picture: Image, dpi: int, ink: str = "black") -> str:
    """Return the drawing; its units are dots, its width and height millimetres."""
    width_mm, height_mm = (dots * MM_PER_INCH / dpi for dots in picture.size)
    red, green, blue = INKS[ink]
    path = "".join(
        f"M{left} {top}h{right - left}v{bottom - top}h{left - right}z"
        for left, top, right, bottom in _blocks(picture)
    )
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width_mm:.4f}mm" '
        f'height="{height_mm:.4f}mm" viewBox="0 0 {picture.width} {picture.height}" '
        'shape-rendering="crispEdges" data-by="wiretrack">\n'
        f'<rect width="{picture.width}" height="{picture.height}" fill="#ffffff"/>\n'
        f'<path fill="#{red:02x}{green:02x}{blue:02x}" d="{path}"/>\n</svg>\n'
    )


def _blocks(picture: Image) -> Iterator[tuple[int, int, int, int]]:
    """Yield rectangles that cover the black dots once: equal runs of rows below one another."""
    dots, width = picture.convert("L").tobytes(), picture.width
    open_runs: dict[tuple[int, int], int] = {}
    for row in range(picture.height + 1):
        line = dots[row * width : (row + 1) * width]
        runs = set(_runs(line))
        for run in [run for run in open_runs if run not in runs]:
            yield run[0], open_runs.pop(run), run[1], row
        for run in sorted(runs - open_runs.keys()):
            open_runs[run] = row


def _runs(line: bytes) -> Iterator[tuple[int, int]]:
    """Yield where each run of black dots begins and ends."""
    end = 0
    while (start := line.find(b"\0", end)) >= 0:
        end = line.find(b"\xff", start)
        end = len(line) if end < 0 else end
        yield start, end


_FIRST = 0x2800
_BITS = ((0x01, 0x08), (0x02, 0x10), (0x04, 0x20), (0x40, 0x80))
MOST_COLUMNS = 1000
GAP_MM, BEHIND = 2.0, (176, 176, 176)


def preview(picture: Image, columns: int = 80) -> str:
    """Return a drawn label as lines of text, no wider than so many columns.

    Raises `OutOfRangeError` if there is no column, or more than 1000.
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
