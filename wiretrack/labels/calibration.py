# SPDX-License-Identifier: MIT
"""A page to hold a ruler to, and the offset that was measured, put into a user's stock file.

On the page stand a cross at a stated place, a bar of a stated length and the labels' outlines.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from wiretrack.errors import OutOfRangeError
from wiretrack.files import file_in_place
from wiretrack.labels.fonts import face
from wiretrack.labels.output import packed, page_mm
from wiretrack.late import dataclass

if TYPE_CHECKING:
    from pathlib import Path

    from PIL.ImageDraw import ImageDraw

    from wiretrack.labels.stock import Stock

LARGEST_OFFSET_MM = 20.0
LINE_MM, LARGEST_ARM_MM, LETTER_MM = 0.25, 4.0, 2.5


@dataclass(frozen=True)
class CalibrationPage:
    """What should be measured: the cross from the left and upper edge, the bar under it."""

    file: Path
    cross_x_mm: float
    cross_y_mm: float
    bar_mm: float
    bar_y_mm: float


def calibration_page(stock: Stock, out_path: Path) -> CalibrationPage:
    """Return what should be measured on the calibration page of a stock."""
    width_mm, height_mm = page_mm(stock)
    cross_y_mm = _tidy(height_mm / 2)
    return CalibrationPage(
        file=out_path,
        cross_x_mm=_tidy(width_mm / 2),
        cross_y_mm=cross_y_mm,
        bar_mm=_tidy(0.8 * width_mm),
        bar_y_mm=cross_y_mm + 1.4 * _arm_mm(height_mm),
    )


def print_calibration(stock: Stock, out_path: Path) -> CalibrationPage:
    """Write the calibration page of a stock as a PDF, and return what should be measured on it.

    Raises `BadInputError` if the file can't be written.
    """
    from PIL import Image, ImageDraw

    from wiretrack.pdf import Pdf

    stated = calibration_page(stock, out_path)
    width_mm, height_mm = page_mm(stock)
    picture = Image.new("1", (stock.dots(width_mm), stock.dots(height_mm)), 1)
    canvas = ImageDraw.Draw(picture)
    _draw_outlines(canvas, stock)
    _draw_cross(canvas, stock, stated)
    _draw_bar(canvas, stock, stated)
    pdf = Pdf()
    size_mm = stock.mm(picture.width), stock.mm(picture.height)
    pdf.picture_page(packed(picture), (width_mm, height_mm), size_mm)
    with file_in_place(out_path) as stream:
        stream.write(pdf.data())
    return stated


def with_measured_cross(
    stock: Stock, page: CalibrationPage, measured_x_mm: float, measured_y_mm: float
) -> Stock:
    """Return the stock with the offset that follows from where the cross was measured.

    Raises `OutOfRangeError` if the cross would be more than 20 mm away from its place.
    """
    offsets = (measured_x_mm - page.cross_x_mm, measured_y_mm - page.cross_y_mm)
    for name, offset in zip(("Offset to the right", "Offset downwards"), offsets, strict=True):
        if not abs(offset) <= LARGEST_OFFSET_MM:
            allowed = f"within {LARGEST_OFFSET_MM:g} mm; measure from the page's edge to the cross"
            raise OutOfRangeError(name, offset, "mm", allowed)
    return replace(stock, offset_x_mm=round(offsets[0], 2), offset_y_mm=round(offsets[1], 2))


def _tidy(length_mm: float) -> float:
    """Return the length in whole millimetres, as a ruler shows them best."""
    return max(1.0, float(int(length_mm)))


def _draw_outlines(canvas: ImageDraw, stock: Stock) -> None:
    width, height = stock.size_dots
    for place in range(stock.labels_a_page):
        left, top = stock.corner_dots(place, offset=False)
        canvas.rectangle((left, top, left + width - 1, top + height - 1), outline=0)


def _arm_mm(height_mm: float) -> float:
    """Return the length of the cross's arms, shorter on a low label."""
    return min(LARGEST_ARM_MM, 0.22 * height_mm)


def _draw_cross(canvas: ImageDraw, stock: Stock, page: CalibrationPage) -> None:
    """Draw the cross, and over it what should be measured."""
    width_mm, height_mm = page_mm(stock)
    x, y = stock.dots(page.cross_x_mm), stock.dots(page.cross_y_mm)
    arm, thick = stock.dots(_arm_mm(height_mm)), stock.dots(LINE_MM)
    canvas.line((x - arm, y, x + arm, y), fill=0, width=thick)
    canvas.line((x, y - arm, x, y + arm), fill=0, width=thick)
    text = (
        f"cross {page.cross_x_mm:g} mm from the left, {page.cross_y_mm:g} mm from the top; "
        f"bar {page.bar_mm:g} mm"
    )
    width, dots = stock.dots(0.95 * width_mm), stock.dots(min(LETTER_MM, 0.15 * height_mm))
    while dots > 4 and face(dots).length(text) > width:
        dots -= 1
    left = (stock.dots(width_mm) - face(dots).length(text)) / 2
    face(dots).draw(canvas, left, y - arm - thick, text)


def _draw_bar(canvas: ImageDraw, stock: Stock, page: CalibrationPage) -> None:
    """Draw the bar, in the middle of the page's width."""
    length, thick = stock.dots(page.bar_mm), stock.dots(LINE_MM)
    left, y = (stock.dots(page_mm(stock)[0]) - length) // 2, stock.dots(page.bar_y_mm)
    canvas.rectangle((left, y, left + length - 1, y + thick), fill=0)
