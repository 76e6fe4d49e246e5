# SPDX-License-Identifier: MIT
"""Workbooks (.xlsx) to sheets, with everything about a hostile one bounded."""

from __future__ import annotations

import re
import warnings
from contextlib import closing, contextmanager
from datetime import date, datetime, time
from itertools import zip_longest
from typing import TYPE_CHECKING, Any, ClassVar
from zipfile import ZipFile

from wiretrack.errors import SiteFileError
from wiretrack.exchange.layout import DayCell, OddCell, Sheet
from wiretrack.exchange.places import harmless
from wiretrack.exchange.raw import MAX_BYTES, fatal
from wiretrack.exchange.sheets import read_sheets
from wiretrack.late import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from pathlib import Path

    from wiretrack.exchange.layout import Line, SheetRules
    from wiretrack.exchange.raw import RawSite

WORKBOOKS = (".xlsx", ".xlsm")
OWN = ("about", "fields", "words")  # sheets of an export that explain the others
MAX_UNPACKED, MAX_ROWS, MAX_CELLS = 200 * 2**20, 200_000, 20_000_000
_FORMULA = re.compile(rb"<(?:\w+:)?f[\s/>]")
_MERGED = re.compile(rb"<(?:\w+:)?mergeCell\s[^>]*?ref=[\"']([A-Z]+[0-9]+:[A-Z]+[0-9]+)")
_HIDDEN_CHARACTER = re.compile(r"_x([0-9A-Fa-f]{4})_")
_NO_VALUE = "The cell has a formula without a value. Open the file in the spreadsheet and save it."
_TOO_MANY = "The sheet holds more than {} rows or {} cells. Load it in smaller parts."
_MERGED_CELLS = "The cells {} are merged. Unmerge them and write the value in each."
_CHUNK = _LAST_ROW = 2**20


@dataclass
class BookSheet(Sheet):
    """A sheet of a workbook."""

    even: bool = False
    otherwise: ClassVar[str] = " Hide the sheet to leave it out."

    def place(self, row: int, heading: str = "", at: int | None = None) -> str:
        """Return the place, like ``conductors row 14 from.enclosure (D14)``."""
        from openpyxl.utils import get_column_letter

        cell = "" if at is None else f"({get_column_letter(at + 1)}{row})"
        return " ".join(filter(None, (self.name, f"row {row}", harmless(heading), cell)))


@dataclass(frozen=True)
class _Part:
    """What the text of a sheet tells of it beside its cells."""

    has_formulas: bool
    merged: tuple[str, ...]


def read_workbook(file: Path, rules: SheetRules) -> RawSite:
    """Return the document in a workbook, read by these rules where it has headings of its own.

    Raises `SiteFileError` if it can't be read, is no workbook, or is too large.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of styles, extensions and dates that are none
        notes: list[str] = []
        with _opened(file) as book:
            raw = read_sheets(_visible(file, book, notes), rules)
    raw.faults.notes[:0] = notes
    return raw


@contextmanager
def _opened(file: Path, *, values: bool = True) -> Iterator[Any]:
    """Give the open workbook, with the `values` of formulas or the formulas themselves."""
    _check_size(file)
    import openpyxl

    with file.open("rb") as stream:  # which its reader leaves open where it stumbles
        try:
            book = openpyxl.load_workbook(stream, read_only=True, data_only=values)
        except Exception as error:  # whatever a broken part makes it stumble over
            raise _no_workbook(file, error) from error
        with closing(book):
            yield book


def _visible(file: Path, book: Any, notes: list[str]) -> list[BookSheet]:
    """Return the sheets to be read; `notes` says which are left out."""
    found = []
    for sheet in book.worksheets:
        if sheet.title.lower() in OWN:
            continue
        if sheet.sheet_state != "visible":
            notes.append(f"The sheet {harmless(sheet.title)} is hidden and was left out.")
            continue
        found.append(BookSheet(sheet.title, sheet.title.strip().lower(), _lines(file, sheet)))
    return found


def _no_workbook(file: Path, error: Exception) -> Exception:
    why = harmless(" ".join(str(error).split())) or type(error).__name__
    return fatal(file, "", f"The file is no workbook that can be read ({why}). Save it as .xlsx.")


def _check_size(file: Path) -> None:
    """Refuse a file that unpacks to more than memory should hold, before anything is unpacked."""
    try:
        if file.stat().st_size > MAX_BYTES:
            raise fatal(file, "", f"The file is larger than {MAX_BYTES >> 20} MB. Split it.")
        with ZipFile(file) as parts:
            unpacked = sum(part.file_size for part in parts.infolist())
            if unpacked <= MAX_UNPACKED:
                _check_rows(file, parts)
    except SiteFileError:
        raise
    except OSError as error:
        raise fatal(file, "", f"It can't be read: {error.strerror or error}.") from error
    except Exception as error:  # whatever a broken part makes its reader stumble over
        raise _no_workbook(file, error) from error
    if unpacked > MAX_UNPACKED:
        message = f"It unpacks to {unpacked >> 20} MB, more than {MAX_UNPACKED >> 20} MB."
        raise fatal(file, "", f"{message} Load it in smaller parts.")


def _check_rows(file: Path, parts: ZipFile) -> None:
    """Refuse a sheet of countless rows before it is parsed, which takes a minute a million."""
    for name in parts.namelist():
        if not name.startswith("xl/worksheets/") or not name.endswith(".xml"):
            continue
        rows, rest = 0, b""
        with parts.open(name) as stream:
            while piece := stream.read(_CHUNK):
                *whole, rest = (rest + piece).split(b"<row")
                rows += sum(b"</v>" in row or b"</is>" in row for row in whole)
                if rows > MAX_ROWS + 1 or len(rest) > MAX_CELLS:
                    raise fatal(file, "", _TOO_MANY.format(MAX_ROWS, MAX_CELLS))


def _lines(file: Path, sheet: Any) -> Iterator[Line]:
    """Yield the rows of a sheet that hold anything, each cell as a person would have typed it."""
    rows = seen = 0
    try:
        part = _look_at(sheet)
        merged = _merged_rows(part.merged)
        for number, cells in enumerate(_cells(file, sheet, part), 1):
            seen += len(cells)
            rows += any(cells)
            if rows > MAX_ROWS + 1 or seen > MAX_CELLS or number > _LAST_ROW:
                raise fatal(file, sheet.title, _TOO_MANY.format(MAX_ROWS, MAX_CELLS))
            if not any(cells):
                continue
            for at, name in merged.get(number, ()):
                cells += [""] * (at + 1 - len(cells))
                cells[at] = OddCell(name, _MERGED_CELLS.format(name))
            yield number, cells
    except SiteFileError:
        raise
    except Exception as error:  # whatever a broken part makes its reader stumble over
        raise _no_workbook(file, error) from error


def _look_at(sheet: Any) -> _Part:
    """Return what the sheet's own text says of formulas and merged cells, read piece by piece."""
    has_formulas, merged, rest = False, list[str](), b""
    with sheet.parent._archive.open(sheet._worksheet_path) as stream:
        while piece := stream.read(_CHUNK):
            text = rest + piece
            has_formulas = has_formulas or bool(_FORMULA.search(text))
            found = list(_MERGED.finditer(text))
            merged += [each[1].decode() for each in found]
            rest = text[max(len(text) - 200, found[-1].end() if found else 0) :]
    return _Part(has_formulas, tuple(merged))


def _merged_rows(ranges: Iterable[str]) -> dict[int, list[tuple[int, str]]]:
    """Return, by row, the columns that a merge leaves without a value."""
    from openpyxl.utils import range_boundaries

    found: dict[int, list[tuple[int, str]]] = {}
    covered = 0
    for name in ranges:
        left, top, right, bottom = range_boundaries(name)
        covered += (bottom - top + 1) * (right - left + 1)
        if covered > MAX_ROWS:
            raise ValueError(f"more than {MAX_ROWS} cells are merged")
        for row in range(top, bottom + 1):
            first = left + 1 if row == top else left
            found.setdefault(row, []).extend((at - 1, name) for at in range(first, right + 1))
    return found


def _cells(file: Path, sheet: Any, part: _Part) -> Iterator[list[str]]:
    """Yield the cells of each row; formulas are looked at in a second reading side by side."""
    sheet.reset_dimensions()  # they may lie
    if not part.has_formulas:
        yield from ([_text(cell) for cell in row] for row in sheet.iter_rows())
        return
    with _opened(file, values=False) as twin:
        formulas = twin[sheet.title]
        formulas.reset_dimensions()
        for row, other in zip_longest(sheet.iter_rows(), formulas.iter_rows(), fillvalue=()):
            cells = [_text(cell) for cell in row] + [""] * (len(other) - len(row))
            for at, cell in enumerate(other):
                if cell.data_type == "f" and not cells[at]:
                    cells[at] = OddCell(str(cell.value)[:60], _NO_VALUE)
            yield cells


def _text(cell: Any) -> str:
    """Return what somebody would have typed to get a cell's value."""
    value = cell.value
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return f"{value:.15g}" if abs(value) < 1e15 else str(value)
    if isinstance(value, datetime):
        is_day = value.time() == time()
        return DayCell(value.date().isoformat() if is_day else value.isoformat())
    if isinstance(value, date):
        return DayCell(value.isoformat())
    text = _HIDDEN_CHARACTER.sub(lambda found: chr(int(found[1], 16)), str(value))
    if cell.data_type == "e":
        return OddCell(text, f"The cell shows the error {harmless(text)}. Mend its formula.")
    return text if isinstance(value, str) else OddCell(text, "The cell holds a time of day.")
