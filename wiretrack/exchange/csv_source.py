# SPDX-License-Identifier: MIT
"""A folder of CSV files (RFC 4180), one a table, to a raw document; cells to values and back.

An empty cell is unknown. One that doesn't read as its kind keeps its text, so that the check of the
shape names it.
"""

from __future__ import annotations

import csv
import io
import json
import re
import shlex
from collections import Counter
from contextlib import suppress
from typing import TYPE_CHECKING, Any

from wiretrack.errors import SiteFileError
from wiretrack.exchange import raw as limits
from wiretrack.exchange.places import CsvPlaces, Faults, TooManyFaultsError
from wiretrack.exchange.raw import Parser, RawSite, fatal, read_text
from wiretrack.exchange.rest import REST_NAMES
from wiretrack.exchange.schema import (
    FAR_ENDS,
    FORMAT,
    columns,
    csv_tables,
    required_columns,
    row_schema,
)
from wiretrack.exchange.shape import unknown_key
from wiretrack.exchange.texts import harmless, has_forbidden, shown

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

Row = dict[str, Any]
_MAX_CELL = 64 * 2**20


def read_folder(folder: Path) -> RawSite:
    """Return the document in a folder of CSV files; files with another ending are passed over.

    Raises
    ------
    SiteFileError
        If a file can't be read or isn't CSV, or the folder holds none of them.
    """
    files = _files(folder)
    places = CsvPlaces(columns={table: frozenset(columns(table)) for table in csv_tables()})
    raw = RawSite({"format": FORMAT}, Faults(places), suspect=False)
    names = [f"{table}.csv" for table in csv_tables()]
    for file in files:
        if file.name not in names:
            message = f"The file is none of a site's tables. Known: {', '.join(names)}."
            raw.faults.add_at((), harmless(file.name), message)
    with suppress(TooManyFaultsError):
        for table in csv_tables():
            if folder / f"{table}.csv" in files:
                _read_table(raw, places, folder / f"{table}.csv")
    raw.lost |= {table for table, _ in raw.absent}
    return raw


def _files(folder: Path) -> list[Path]:
    try:
        files = sorted(entry for entry in folder.iterdir() if entry.suffix.lower() == ".csv")
    except OSError as error:
        raise fatal(folder, "", f"It can't be read: {error.strerror or error}.") from error
    if not files:
        raise fatal(folder, "", "The folder holds no CSV file, such as conductors.csv.")
    return files


def _rows(raw: RawSite, file: Path, table: str) -> Iterator[tuple[int, Row]]:
    """Return each row with the line it begins in."""
    text = read_text(file, file.name)
    if text.count("\n") > limits.MAX_ITEMS:
        message = f"The file holds more than {limits.MAX_ITEMS} rows."
        raise fatal(file, file.name, f"{message} Load the site in smaller parts.")
    raw.suspect = raw.suspect or table in REST_NAMES or has_forbidden(text, but="\r\n")
    limit = csv.field_size_limit(_MAX_CELL)
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    try:
        header = _header(raw, table, next(reader, []))
        line = reader.line_num + 1
        for cells in reader:
            if any(cell.strip() for cell in cells):
                yield line, _row(raw, table, line, header, cells)
            raw.suspect = raw.suspect or reader.line_num > line  # a cell with a line break
            line = reader.line_num + 1
    except csv.Error as error:
        message = f"The file is not CSV: {harmless(str(error))}. Check its quotation marks."
        raise fatal(file, f"{file.name}:{reader.line_num}", message) from error
    finally:
        csv.field_size_limit(limit)


def _header(raw: RawSite, table: str, cells: list[str]) -> list[str]:
    """Return the names of the columns, having noted all that is wrong with them."""
    header = [cell.strip() for cell in cells]
    place, known = f"{table}.csv:1", columns(table)
    if len(header) == 1 and (";" in header[0] or "\t" in header[0]):
        separator = "semicolons" if ";" in header[0] else "tabs"
        message = f"The columns are separated by {separator}. Save the file with commas."
        raw.faults.add_at((table,), place, message)
        raw.absent |= {(table, column) for column in required_columns(table)}
        return []
    for name, count in Counter(header).items():
        if name and name not in known:
            sentence = unknown_key(name, f"{table}.csv", tuple(known), "column")
            raw.faults.add_at((table,), place, sentence)
        if name and count > 1:
            raw.faults.add_at((table,), place, f"The column '{harmless(name)}' is there twice.")
    for name in sorted(required_columns(table) - set(header)):
        raw.faults.add_at((table,), place, f"The column '{name}' is missing. Every row needs it.")
        raw.absent.add((table, name))
    return header


def _row(raw: RawSite, table: str, line: int, header: list[str], cells: list[str]) -> Row:
    """Return a row as a nested record of its known columns."""
    known = columns(table)
    extra = [cell for cell in cells[len(header) :] if cell.strip()]
    unnamed = [cell for cell, name in zip(cells, header, strict=False) if not name and cell.strip()]
    if header and (extra or unnamed):
        message = f"The cell {shown((extra + unnamed)[0])} stands under no column name."
        raw.faults.add_at((table,), f"{table}.csv:{line}", message)
    if len(cells) < len(header):
        message = f"The row has {len(cells)} cells, the header {len(header)}. Fill it up."
        raw.faults.add_at((table,), f"{table}.csv:{line}", message)
    row: Row = {}
    if table not in ("site", FAR_ENDS):
        row = {key: {} for key in _required_objects(table)}
    for name, cell in zip(header, cells, strict=False):
        if name in known and cell.strip():
            _put(row, name, read_cell(known[name], bare(cell)))
    return row


def _required_objects(table: str) -> list[str]:
    """Return the keys, like `from`, that hold an object with keys that are required."""
    schema = row_schema(table)
    inner = schema["properties"]
    return [key for key in schema.get("required", ()) if inner[key].get("required")]


def _put(row: Row, column: str, value: Any) -> None:
    *outer, last = column.split(".")
    for key in outer:
        row = row.setdefault(key, {})
    row[last] = value


def _read_table(raw: RawSite, places: CsvPlaces, file: Path) -> None:
    table = file.stem
    try:
        _take_table(raw, places, table, list(_rows(raw, file, table)))
    except SiteFileError as error:
        raw.lost.add(table)
        for fault in error.faults:
            raw.faults.add_at((table,), fault.place, fault.message)


def _take_table(raw: RawSite, places: CsvPlaces, table: str, rows: list[tuple[int, Row]]) -> None:
    if table == "site":
        _take_site(raw, places, rows)
    elif table == FAR_ENDS:
        _take_far_ends(raw, places, rows)
    elif rows or table in REST_NAMES:
        raw.data[table] = [row for _, row in rows]
        places.lines[table] = [line for line, _ in rows]


def _take_site(raw: RawSite, places: CsvPlaces, rows: list[tuple[int, Row]]) -> None:
    for line, _ in rows[1:]:
        message = "A second site is described. A file is of one site."
        raw.faults.add_at(("site",), f"site.csv:{line}", message)
    for line, row in rows[:1]:
        places.site_line = line
        if "format" in row:
            raw.data["format"] = row.pop("format")
        raw.data["site"] = row


def _take_far_ends(raw: RawSite, places: CsvPlaces, rows: list[tuple[int, Row]]) -> None:
    """Put each far end into the pull that its row names."""
    pulls = raw.data.get("pulls", [])
    by_code = {
        pull["code"]: number for number, pull in reversed([*enumerate(pulls)]) if "code" in pull
    }
    for line, row in rows:
        code = row.pop("pull", None)
        if code is None:
            if (FAR_ENDS, "pull") not in raw.absent:
                raw.faults.add_at((FAR_ENDS,), f"far_ends.csv:{line} pull", "It is missing.")
        elif code not in by_code:
            message = f"No pull is called {shown(code)} in pulls.csv. Add it there."
            raw.faults.add_at((FAR_ENDS,), f"far_ends.csv:{line} pull", message)
        else:
            number = by_code[code]
            far_ends = pulls[number].setdefault(FAR_ENDS, [])
            places.far_end_lines[number, len(far_ends)] = line
            far_ends.append(row)


_TRUTHS = {"true": True, "false": False}
_INTEGER = re.compile(r"[+-]?[0-9]{1,40}")
_NUMBER = re.compile(r"[+-]?[0-9]{1,40}(\.[0-9]{0,40})?([eE][+-]?[0-9]{1,3})?")


def read_cell(kind: str, text: str) -> Any:
    """Return the value that a cell of this kind holds.

    >>> read_cell("boolean", "TRUE"), read_cell("list", "W1 'north wall'")
    (True, ['W1', 'north wall'])
    >>> read_cell("lengths", "3 m 4.5m"), read_cell("pairs", "1 2 3 4")
    (['3 m', '4.5m'], [['1', '2'], ['3', '4']])
    """
    reader = _READERS.get(kind)
    return reader(text) if reader else text


def _boolean(text: str) -> Any:
    return _TRUTHS.get(text.strip().lower(), text)


def _number(text: str) -> Any:
    plain = text.strip()
    if _INTEGER.fullmatch(plain):
        return int(plain)
    return float(plain) if _NUMBER.fullmatch(plain) else text


def _list(text: str) -> Any:
    try:
        return shlex.split(text)
    except ValueError:  # a quotation mark that is never closed
        return text


def _codes(text: str) -> Any:
    """Read one code, or several with commas between them; a code with a comma stands in JSON."""
    if text.lstrip().startswith("["):
        return _json(text)
    return [code.strip() for code in text.split(",")] if "," in text else text


def _lengths(text: str) -> Any:
    """Split at spaces, but leave a number and the unit after it together."""
    lengths: list[str] = []
    for word in text.split():
        if lengths and not re.search(r"[0-9]", word):
            lengths[-1] += f" {word}"
        else:
            lengths.append(word)
    return lengths


def _pairs(text: str) -> Any:
    names = _list(text)
    if isinstance(names, str):
        return names
    return [names[at : at + 2] for at in range(0, len(names), 2)]


def _json(text: str) -> Any:
    try:
        return Parser().parse(text)
    except (ValueError, RecursionError):
        return text


_READERS = {
    "boolean": _boolean,
    "integer": _number,
    "number": _number,
    "list": _list,
    "lengths": _lengths,
    "codes": _codes,
    "pairs": _pairs,
    "json": _json,
}


# A spreadsheet takes a cell that begins with one of these for a formula (OWASP, "CSV Injection"),
# unless it is a number with a sign, and perhaps a unit after it.
_FORMULA = re.compile(r"'*(?![+-][0-9.]+ ?[A-Za-z]*\Z)[=+\-@\t\r]")


def inert(cell: str) -> str:
    """Return a cell that starts no formula: one that would gets an apostrophe, as people write it.

    >>> inert("=A1"), inert("-W1"), inert("'=A1"), inert("W1"), inert("-21 C")
    ("'=A1", "'-W1", "''=A1", 'W1', '-21 C')
    """
    return f"'{cell}" if _FORMULA.match(cell) else cell


def bare(cell: str) -> str:
    """Return a cell as it was before `inert`.

    >>> bare("'=A1"), bare("'W1"), bare("=A1")
    ('=A1', "'W1", '=A1')
    """
    return cell[1:] if cell.startswith("'") and _FORMULA.match(cell) else cell


def write_cell(kind: str, value: Any) -> str:
    """Return the text of a cell; reading it again gives the same value."""
    if value is None:
        return ""
    if kind == "json":
        return json.dumps(value, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    if kind == "codes":
        several = [value] if isinstance(value, str) else value
        if any("," in code or code.startswith("[") for code in several):
            return json.dumps(several, ensure_ascii=False)
        return ",".join(several)
    if kind == "list":
        return shlex.join(value)
    if kind == "pairs":
        return shlex.join(name for pair in value for name in pair)
    if kind == "lengths":
        return " ".join(value)
    return str(value).lower() if isinstance(value, bool) else str(value)
