# SPDX-License-Identifier: MIT
"""CSV files, one a table, to a raw document: RFC 4180, and as spreadsheets save them elsewhere.

Where decimals are written with a comma, spreadsheets put semicolons between the cells.
"""

from __future__ import annotations

import codecs
import csv
import io
import re
from collections import Counter
from contextlib import suppress
from dataclasses import field
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING

from wiretrack.exchange import raw as limits
from wiretrack.exchange.cells import bare
from wiretrack.exchange.layout import Sheet
from wiretrack.exchange.places import harmless
from wiretrack.exchange.raw import RawSite, fatal, read_bytes
from wiretrack.exchange.schema import csv_tables
from wiretrack.exchange.sheets import read_sheets
from wiretrack.late import dataclass
from wiretrack.plain import few

if TYPE_CHECKING:
    from collections.abc import Iterator

    from wiretrack.exchange.layout import Line, SheetRules

TEXTS = (".csv", ".tsv", ".tab")
_MAX_CELL = 64 * 2**20


def read_csv(file: Path, rules: SheetRules) -> RawSite:
    """Return the document in a CSV file of one table, or with headings of its own.

    Raises `SiteFileError` if it can't be read or isn't CSV.
    """
    notes: list[str] = []
    raw = read_sheets([CsvSheet(file.name, file.stem.lower(), path=file, notes=notes)], rules)
    raw.faults.notes[:0] = notes
    return raw


def read_folder(folder: Path, rules: SheetRules) -> RawSite:
    """Return the document in a folder of CSV files; files with another ending are passed over.

    Raises `SiteFileError` if a file can't be read or isn't CSV, or the folder holds none of them.
    """
    files = _files(folder)
    known = [file for file in files if file.stem.lower() in csv_tables()]
    notes: list[str] = []
    sheets = (CsvSheet(file.name, file.stem.lower(), path=file, notes=notes) for file in known)
    raw = read_sheets(sheets, rules)
    raw.faults.notes[:0] = notes
    names = ", ".join(f"{table}.csv" for table in csv_tables())
    for file in files:
        if file not in known:
            message = f"The file is none of a site's tables. Known: {names}."
            raw.faults.add_at((), harmless(file.name), message)
    return raw


def _files(folder: Path) -> list[Path]:
    try:
        entries = sorted(folder.iterdir())
    except OSError as error:
        raise fatal(folder, "", f"It can't be read: {error.strerror or error}.") from error
    files = [entry for entry in entries if entry.suffix.lower() == ".csv"]
    if not files:
        message = "The folder holds no CSV file, such as conductors.csv."
        others = [entry.name for entry in entries if entry.suffix.lower() in (".json", ".xlsx")]
        more = f" Load one of its files: {few([*map(harmless, others)], 3)}." if others else ""
        raise fatal(folder, "", message + more)
    return files


@dataclass
class CsvSheet(Sheet):
    """A CSV file; it is read when its rows are asked for, and then says how in `notes`."""

    path: Path = Path()
    notes: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.lines = self._lines()

    def _lines(self) -> Iterator[Line]:
        """Yield the cells of each row with the line it begins in."""
        text, encoding = _decoded(self.path, self.name)
        if text.count("\n") > limits.MAX_ITEMS:
            message = f"The file holds more than {limits.MAX_ITEMS} rows."
            raise fatal(self.path, self.name, f"{message} Load the site in smaller parts.")
        separator = _separator(text)
        self.decimal_comma = separator != ","
        self._tell(encoding, separator)
        limit = csv.field_size_limit(_MAX_CELL)
        reader = csv.reader(io.StringIO(text, newline=""), strict=True, delimiter=separator)
        line = 1
        try:
            for cells in reader:
                if line > 1 or not _SAID.match("".join(cells)):
                    yield line, [bare(cell) for cell in cells]
                line = reader.line_num + 1
        except csv.Error as error:
            message = f"The file is not CSV: {harmless(str(error))}. Check its quotation marks."
            raise fatal(self.path, f"{self.name}:{reader.line_num}", message) from error
        finally:
            csv.field_size_limit(limit)

    def _tell(self, encoding: str, separator: str) -> None:
        told = [] if encoding == "UTF-8" else [f"as {encoding}"]
        if separator != ",":
            told.append(f"with {_SEPARATORS[separator]} between cells and decimal commas")
        if told:
            self.notes.append(f"{harmless(self.name)} was read {', '.join(told)}.")


def _decoded(file: Path, place: str) -> tuple[str, str]:
    """Return the text of a file and the encoding that it is in.

    A byte order mark says it; else it is UTF-8 if it can be, and Windows-1252 where it can't.
    """
    content = read_bytes(file, place)
    encoding, name = "utf-8-sig", "UTF-8"
    if content.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        encoding, name = "utf-16", "UTF-16"
    elif b"\0" in content[:200:2] or b"\0" in content[1:200:2]:
        encoding, name = "utf-16-be" if b"\0" in content[:200:2] else "utf-16-le", "UTF-16"
    try:
        return content.decode(encoding), name
    except UnicodeDecodeError as error:
        at = f"the byte {content[error.start]:#04x} at offset {error.start}"
    try:
        return content.decode("cp1252"), "Windows-1252"
    except UnicodeDecodeError as error:
        message = f"The file is neither UTF-8 nor Windows-1252: {at}. Save it as UTF-8."
        raise fatal(file, place, message) from error


_SEPARATORS = {",": "commas", ";": "semicolons", "\t": "tabs"}
_SAID = re.compile(r"sep=(.?)$", re.IGNORECASE)  # how spreadsheets note it in a first line
_LOOKED_AT = 50


def _separator(text: str) -> str:
    """Return what stands between the cells: what cuts most of the first rows into as many cells."""
    first = text.split("\n", 1)[0].strip("\r\ufeff")
    said = _SAID.match(first)
    if said:
        return said[1] if said[1] in _SEPARATORS else "\t" if len(first) == 4 else ","
    best, found = (0, 0), ","
    for separator in _SEPARATORS:
        reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator)
        widths: Counter[int] = Counter()
        with suppress(csv.Error):
            widths.update(len(row) for row in islice(reader, _LOOKED_AT) if len(row) > 1)
        width, rows = widths.most_common(1)[0] if widths else (0, 0)
        if (rows, width) > best:
            best, found = (rows, width), separator
    return found
