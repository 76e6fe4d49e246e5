# SPDX-License-Identifier: MIT
"""A printer's offset: the page that shows it, and the stock file that keeps it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

from wiretrack.errors import BadInputError, Hint
from wiretrack.labels import calibration
from wiretrack.labels.pages import page_mm
from wiretrack.labels.stocks import get_stock, load_stocks
from wiretrack.tasks.label.spooling import print_pdf, printer_checked

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.tasks.label.spooling import Job


@dataclass(frozen=True)
class PageMade:
    """The calibration page that was written or printed, and what should be measured on it."""

    file: str | None
    cross_x_mm: float
    cross_y_mm: float
    bar_mm: float
    job: Job | None = None

    def as_json(self) -> dict[str, Any]:
        """Return it, with a printer's job where there is one."""
        found = {name: value for name, value in vars(self).items() if name != "job"}
        return found | (vars(self.job) if self.job else {})


@dataclass(frozen=True)
class SavedOffset:
    """What a printer is off by on a stock, and the stock file that keeps it."""

    name: str
    offset_x_mm: float
    offset_y_mm: float
    file: str


def calibration_page(
    stock: str,
    user_files: Sequence[Path] = (),
    out: Path | None = None,
    printer: str | None = None,
) -> PageMade:
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
        page = calibration.print_calibration(chosen, out or Path(folder) / "calibration.pdf")
        job = print_pdf(page.file, name, page_mm(chosen)) if name else None
    file = str(out) if out else None
    return PageMade(file, page.cross_x_mm, page.cross_y_mm, page.bar_mm, job)


def save_measured(
    stock: str, user_files: Sequence[Path], measured_x_mm: float, measured_y_mm: float, save: Path
) -> SavedOffset:
    """Keep, in a user's stock file, what the printer is off by; return the offset.

    Raises
    ------
    OutOfRangeError
        If the cross would be far from its place.
    StockFileError, BadInputError
        If the file can't be read or written.
    """
    chosen = get_stock(stock, load_stocks(*user_files))
    page = calibration.calibration_page(chosen, save)
    moved = calibration.with_measured_cross(chosen, page, measured_x_mm, measured_y_mm)
    calibration.save_stock(moved, save)
    return SavedOffset(moved.name, moved.offset_x_mm, moved.offset_y_mm, str(save))
