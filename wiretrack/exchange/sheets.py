# SPDX-License-Identifier: MIT
"""Sheets to a raw document: rows of texts under headings, from CSV files and workbooks alike."""

from __future__ import annotations

import re
from collections import Counter
from contextlib import suppress
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any

from wiretrack.errors import SiteFileError
from wiretrack.exchange.cells import read_cell
from wiretrack.exchange.places import Faults, Origin, SheetPlaces, TooManyFaultsError
from wiretrack.exchange.raw import RawSite
from wiretrack.exchange.rest import REST_NAMES
from wiretrack.exchange.schema import (
    FAR_ENDS,
    FORMAT,
    columns,
    csv_tables,
    required_columns,
    row_schema,
    table_facts,
)
from wiretrack.exchange.shape import unknown_key
from wiretrack.exchange.texts import harmless, shown
from wiretrack.model import kinds as k

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from wiretrack.model.fields import Kind

Row = dict[str, Any]
Line = tuple[int, list[str]]
_MORE = re.compile(r"(.+)~[0-9]+")  # a heading whose cells go on with the text of another column


class OddCell(str):
    """A cell that doesn't show what somebody typed; `why` says so."""

    why = ""

    def __new__(cls, text: str, why: str) -> OddCell:
        """Make one of the text that stands for it."""
        made = super().__new__(cls, text)
        made.why = why
        return made


class DayCell(str):
    """A date as a spreadsheet keeps it."""

    __slots__ = ()


_NO_DAY = (
    "The spreadsheet made a date of what was typed. Format the cell as text and type it again."
)
_FIGURES = (k.ACCURACY, k.RESOLUTION, k.RANGE, k.WALLS)
_DAYS = (k.DATE, k.DAY_OR_TIME, k.TIME)


@dataclass
class Sheet:
    """One table of a file: its name in places, its rows with their numbers, and how it is read.

    `even` says that each row has a cell for each heading.
    """

    name: str
    table: str
    lines: Iterable[Line] = ()
    even: bool = True
    decimal_comma: bool = False

    def place(self, row: int, heading: str = "", at: int | None = None) -> str:
        """Return the words by which people find a row, or a cell of it."""
        return f"{self.name}:{row} {harmless(heading)}".rstrip()


@dataclass(frozen=True)
class Column:
    """What the cells under a heading are: a column of a table.

    With `more` they go on with the text of the column before.
    """

    at: int
    heading: str
    table: str
    key: str
    more: bool = False

    @property
    def kind(self) -> Kind | None:
        """The kind of its values, where the model knows the field."""
        fact = table_facts(self.table).get(self.key)
        return None if fact is None else fact.kind

    @property
    def is_figure(self) -> bool:
        """Whether its cells are numbers or quantities, where a comma is a decimal one."""
        fact = table_facts(self.table).get(self.key)
        figures = fact is not None and (fact.example[:1].isdigit() or fact.kind in _FIGURES)
        return figures or columns(self.table)[self.key] in ("number", "integer")

    def text(self, cell: str) -> str:
        """Return a cell without the blanks around a word or a code."""
        kind = self.kind
        return cell.strip() if kind and (kind.words or kind is k.CODE) else str(cell)

    def why_not(self, cell: str) -> str:
        """Return why a cell can't be taken as it is, or nothing."""
        if isinstance(cell, DayCell) and self.kind not in _DAYS:
            return _NO_DAY
        return cell.why if isinstance(cell, OddCell) else ""


Texts = dict[tuple[str, str], str]


def read_sheets(sheets: Iterable[Sheet]) -> RawSite:
    """Return the document that sheets hold, and all that is wrong in them so far."""
    places = SheetPlaces(columns={table: frozenset(columns(table)) for table in csv_tables()})
    raw = RawSite({"format": FORMAT}, Faults(places), suspect=True)
    with suppress(TooManyFaultsError):
        for sheet in sorted(sheets, key=lambda sheet: csv_tables().index(sheet.table)):
            try:
                _take(raw, places, sheet.table, list(_rows(raw, sheet)))
            except SiteFileError as error:
                raw.lost.add(sheet.table)
                for fault in error.faults:
                    raw.faults.add_at((sheet.table,), fault.place, fault.message)
    return raw


def _rows(raw: RawSite, sheet: Sheet) -> Iterator[tuple[Origin, Row]]:
    """Yield each row of a sheet as a nested record, with the place that it has there."""
    lines = iter(sheet.lines)
    number, names = next(lines, (1, []))
    names = ["" if isinstance(name, OddCell) else name.strip() for name in names]
    header = _header(raw, sheet, number, names)
    headings = {(column.table, column.key): (column.heading, column.at) for column in header}
    for number, cells in lines:
        if any(cell.strip() for cell in cells):
            origin = Origin(sheet, number, headings)
            _check_width(raw, sheet, (number, cells), names)
            texts = _texts(raw, origin, header, cells)
            yield origin, _record(sheet.table, texts)


def _header(raw: RawSite, sheet: Sheet, number: int, names: list[str]) -> list[Column]:
    """Return the columns, having noted all that is wrong with them."""
    table, known, place = sheet.table, columns(sheet.table), sheet.place(number)
    header = []
    for at, name in enumerate(names):
        more = _MORE.fullmatch(name)
        key = more[1] if more else name
        if key in known:
            header.append(Column(at, name, table, key, bool(more)))
        elif name and name not in names[:at]:
            sentence = unknown_key(name, sheet.name, tuple(known), "column")
            raw.faults.add_at((table,), place, sentence)
    for name, count in Counter(names).items():
        if name and count > 1:
            raw.faults.add_at((table,), place, f"The column '{harmless(name)}' is there twice.")
    for name in sorted(required_columns(table) - set(names)):
        raw.absent[table, name] = place
    return header


def _check_width(raw: RawSite, sheet: Sheet, line: Line, names: list[str]) -> None:
    """Add a fault for a cell under no heading, and for a row that ends too early."""
    number, cells = line
    place = sheet.place(number)
    extra = [cell for cell in cells[len(names) :] if cell.strip()]
    unnamed = [cell for cell, name in zip(cells, names, strict=False) if not name and cell.strip()]
    if any(names) and (extra or unnamed):
        message = f"The cell {shown(str((extra + unnamed)[0]))} stands under no column name."
        raw.faults.add_at((sheet.table,), place, message)
    if sheet.even and len(cells) < len(names):
        message = f"The row has {len(cells)} cells, the header {len(names)}. Fill it up."
        raw.faults.add_at((sheet.table,), place, message)


def _texts(raw: RawSite, origin: Origin, header: list[Column], cells: list[str]) -> Texts:
    """Return what the cells of a row say, by table and column."""
    texts: Texts = {}
    for column in header:
        cell = cells[column.at] if column.at < len(cells) else ""
        if not cell or cell.isspace():
            continue
        field, why = (column.table, column.key), column.why_not(cell)
        if why:
            place = origin.sheet.place(origin.row, column.heading, column.at)
            raw.faults.add_at((column.table,), place, why)
        elif column.more:
            texts[field] = texts.get(field, "") + cell
        else:
            texts[field] = column.text(cell)
            if origin.sheet.decimal_comma and column.is_figure:
                texts[field], why = _with_point(texts[field])
                if why:
                    raw.faults.add_at((column.table,), origin.place(*field), why)
                    del texts[field]
    return texts


_GERMAN = re.compile(r"([<>]?\s*[+-]?)(\d{1,3}(?:\.\d{3})+|\d+),(\d+)(?![\d,.])")
_EITHER = re.compile(r"[<>]?\s*[+-]?(\d{1,3})\.(\d{3})(?![\d,.])")


def _with_point(text: str) -> tuple[str, str]:
    """Return figures with decimal commas as files have them, and why one can't be told.

    >>> _with_point("0,5 m, 1.200,25 m"), _with_point("3.5 m")
    (('0.5 m, 1200.25 m', ''), ('3.5 m', ''))
    """
    either = _EITHER.match(text)
    if either:
        whole, rest = either.groups()
        why = f"{shown(text)} may be {whole}{rest} or {whole},{rest}. Write the one that is meant."
        return text, why
    return _GERMAN.sub(lambda m: f"{m[1]}{m[2].replace('.', '')}.{m[3]}", text), ""


def _record(table: str, texts: Texts) -> Row:
    """Return what a row says of one table, as a nested record."""
    record: Row = {}
    if table not in ("site", FAR_ENDS):
        record = {key: {} for key in _required_objects(table)}
    kinds = columns(table)
    for (of, key), text in texts.items():
        if of == table:
            _put(record, key, read_cell(kinds[key], text))
    return record


@cache
def _required_objects(table: str) -> tuple[str, ...]:
    """Return the keys, like `from`, that hold an object with keys that are required."""
    schema = row_schema(table)
    inner = schema["properties"]
    return tuple(key for key in schema.get("required", ()) if inner[key].get("required"))


def _put(row: Row, column: str, value: Any) -> None:
    *outer, last = column.split(".")
    for key in outer:
        row = row.setdefault(key, {})
    row[last] = value


def _take(raw: RawSite, places: SheetPlaces, table: str, rows: list[tuple[Origin, Row]]) -> None:
    if table == "site":
        _take_site(raw, places, rows)
    elif table == FAR_ENDS:
        _take_far_ends(raw, places, rows)
    elif rows or table in REST_NAMES:
        raw.data[table] = [row for _, row in rows]
        places.rows[table] = [origin for origin, _ in rows]


def _take_site(raw: RawSite, places: SheetPlaces, rows: list[tuple[Origin, Row]]) -> None:
    for origin, _ in rows[1:]:
        message = "A second site is described. A file is of one site."
        raw.faults.add_at(("site",), origin.sheet.place(origin.row), message)
    for origin, row in rows[:1]:
        places.site = origin
        if "format" in row:
            raw.data["format"] = row.pop("format")
        raw.data["site"] = row


def _take_far_ends(raw: RawSite, places: SheetPlaces, rows: list[tuple[Origin, Row]]) -> None:
    """Put each far end into the pull that its row names."""
    pulls = raw.data.get("pulls", [])
    by_code = {
        pull["code"]: number for number, pull in reversed([*enumerate(pulls)]) if "code" in pull
    }
    for origin, row in rows:
        code = row.pop("pull", None)
        place = origin.place(FAR_ENDS, "pull")
        if code is None:
            if (FAR_ENDS, "pull") not in raw.absent:
                raw.faults.add_at((FAR_ENDS,), place, "It is missing.")
        elif code not in by_code:
            pulls_file = origin.sheet.name.replace(FAR_ENDS, "pulls")
            message = f"No pull is called {shown(code)} in {pulls_file}. Add it there."
            raw.faults.add_at((FAR_ENDS,), place, message)
        else:
            number = by_code[code]
            far_ends = pulls[number].setdefault(FAR_ENDS, [])
            places.far_ends[number, len(far_ends)] = origin
            far_ends.append(row)
