# SPDX-License-Identifier: MIT
"""A printer's offset: the page that shows it, and the stock file that keeps it."""

from __future__ import annotations

from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

from wiretrack.encoding import document
from wiretrack.errors import BadInputError, Hint
from wiretrack.labels.calibration import (
    calibration_page as stated_page,
)
from wiretrack.labels.calibration import (
    print_calibration,
    save_stock,
    with_measured_cross,
)
from wiretrack.labels.pages import page_mm
from wiretrack.labels.stocks import get_stock, load_stocks
from wiretrack.tasks.label.spooling import print_pdf, printer_checked

if TYPE_CHECKING:
    from collections.abc import Sequence


def calibration_page(
    stock: str,
    user_files: Sequence[Path] = (),
    out: Path | None = None,
    printer: str | None = None,
) -> dict[str, Any]:
    """Write or print the calibration page of a stock, and return what should be measured on it.

    Raises
    ------
    BadInputError
        If neither a PDF nor a printer is named, or it can't be written or printed.
    """
    if out is None and printer is None:
        raise BadInputError("Where the page goes isn't said.", Hint("Give {out} or {printer}."))
    if out is not None and out.suffix.lower() != ".pdf":
        raise BadInputError(f"'{out.name}' isn't a .pdf, which keeps the page's true size.")
    chosen = get_stock(stock, load_stocks(*user_files))
    name = printer and printer_checked(printer)
    with TemporaryDirectory() as folder:
        page = print_calibration(chosen, out or Path(folder) / "calibration.pdf")
        job = document(print_pdf(page.file, name, page_mm(chosen))) if name else {}
    return {
        "file": str(out) if out else None,
        "cross_x_mm": page.cross_x_mm,
        "cross_y_mm": page.cross_y_mm,
        "bar_mm": page.bar_mm,
        **job,
    }


def save_measured(
    stock: str, user_files: Sequence[Path], measured_x_mm: float, measured_y_mm: float, save: Path
) -> dict[str, Any]:
    """Keep, in a user's stock file, what the printer is off by; return the offset.

    Raises
    ------
    OutOfRangeError
        If the cross would be far from its place.
    StockFileError, BadInputError
        If the file can't be read or written.
    """
    chosen = get_stock(stock, load_stocks(*user_files))
    moved = with_measured_cross(chosen, stated_page(chosen, save), measured_x_mm, measured_y_mm)
    save_stock(moved, save)
    return {
        "name": moved.name,
        "offset_x_mm": moved.offset_x_mm,
        "offset_y_mm": moved.offset_y_mm,
        "file": str(save),
    }
