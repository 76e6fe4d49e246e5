# SPDX-License-Identifier: MIT
"""Sheets to a raw document: rows of texts under headings, from CSV files and workbooks alike."""

from __future__ import annotations

import re
from contextlib import suppress
from functools import cache
from typing import TYPE_CHECKING, Any

from wiretrack.errors import SiteFileError
from wiretrack.exchange.cells import read_cell
from wiretrack.exchange.layout import lay_out
from wiretrack.exchange.places import (
    Faults,
    Origin,
    SheetPlaces,
    TooManyFaultsError,
    harmless,
    shown,
)
from wiretrack.exchange.raw import RawSite
from wiretrack.exchange.rest import REST_NAMES
from wiretrack.exchange.schedules import FILLS, Texts, expanded, in_words
from wiretrack.exchange.schema import FAR_ENDS, FORMAT, columns, csv_tables, row_schema
from wiretrack.late import dataclass
from wiretrack.plain import safe

if TYPE_CHECKING:
    from collections.abc import Iterable

    from wiretrack.exchange.layout import Column, Layout, Line, Sheet, SheetRules

Row = dict[str, Any]


def read_sheets(sheets: Iterable[Sheet], rules: SheetRules) -> RawSite:
    """Return the document that sheets hold, and all that is wrong in them so far.

    Raises `HeadingsError` if headings are no fields, and nobody says what they mean.
    """
    places = SheetPlaces(columns={table: frozenset(columns(table)) for table in csv_tables()})
    raw = RawSite({"format": FORMAT}, Faults(places), suspect=True)
    order = {table: at for at, table in enumerate(csv_tables())}
    with suppress(TooManyFaultsError):
        for sheet in sorted(sheets, key=lambda sheet: order.get(sheet.table, -1)):
            try:
                found = lay_out(raw, sheet, rules)
                if found is not None:
                    _read(raw, places, Reading(sheet, found[0], rules), found[1])
            except SiteFileError as error:
                raw.lost.add(sheet.table)
                for fault in error.faults:
                    raw.faults.add_at((sheet.table,), fault.place, fault.message)
    return raw


@dataclass(frozen=True)
class Reading:
    """A sheet that is being read, how it lies, and what somebody said of it."""

    sheet: Sheet
    layout: Layout
    rules: SheetRules


def _read(raw: RawSite, places: SheetPlaces, of: Reading, lines: Iterable[Line]) -> None:
    """Put each row of a sheet into its tables."""
    rows: dict[str, list[tuple[Origin, Row]]] = {table: [] for table in of.layout.tables}
    boxes: set[str] = set()
    blocks = [(block, _places_of(block)) for block in of.layout.blocks]
    for number, cells in lines:
        if not any(cell.strip() for cell in cells):
            continue
        _check_width(raw, of.sheet, (number, cells), of.layout.names)
        for block, headings in blocks:
            origin = Origin(of.sheet, number, headings)
            texts = _texts(raw, origin, block, cells)
            if of.layout.is_schedule:
                texts = _of_schedule(raw, origin, texts, of, boxes)
            tables = {table for table, _ in texts} | {of.layout.table}
            for table in rows.keys() & tables:
                rows[table].append((origin, _record(table, texts)))
    for table, found in rows.items():
        _take(raw, places, table, found)


def _places_of(block: list[Column]) -> dict[tuple[str, str], tuple[str, int]]:
    """Return the heading of each field, and of those that one cell fills."""
    found: dict[tuple[str, str], tuple[str, int]] = {}
    for column in block:
        for field in FILLS[column.key] if not column.table else ((column.table, column.key),):
            found.setdefault(field, (column.heading, column.at))
    return found


def _of_schedule(raw: RawSite, origin: Origin, texts: Texts, of: Reading, boxes: set[str]) -> Texts:
    """Return what a row of a schedule says of each table; a panel that isn't there yet once."""
    if not texts:
        return texts
    texts = expanded(texts, of.layout.box)
    box = texts.get(("enclosures", "code"))
    if box is not None and (box in boxes or of.rules.has_box(box)):
        texts = {field: text for field, text in texts.items() if field[0] != "enclosures"}
    elif box is not None:
        boxes.add(box)
        raw.faults.became.append(f"{origin.place('', '')}: panel {harmless(box)} is new")
    raw.faults.became.append(f"{origin.place('', '')}: {safe(in_words(texts))}")
    return texts


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


def _texts(raw: RawSite, origin: Origin, block: list[Column], cells: list[str]) -> Texts:
    """Return what the cells of a row say, by table and column."""
    texts: Texts = {}
    for column in block:
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
                    place = origin.sheet.place(origin.row, column.heading, column.at)
                    raw.faults.add_at((column.table,), place, why)
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
        raw.data.setdefault(table, []).extend(row for _, row in rows)
        places.rows.setdefault(table, []).extend(origin for origin, _ in rows)


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
