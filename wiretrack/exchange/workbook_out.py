# SPDX-License-Identifier: MIT
"""Records to a workbook as people read and fill it: a sheet a table; it loads again as it was."""

from __future__ import annotations

import re
from itertools import chain, islice, zip_longest
from typing import TYPE_CHECKING, Any

from wiretrack.exchange.cells import write_cell
from wiretrack.exchange.places import TABLE_NAMES
from wiretrack.exchange.rest import REST_NAMES
from wiretrack.exchange.schema import FAR_ENDS, columns, required_columns, table_facts
from wiretrack.exchange.write import encode_sheets, inner
from wiretrack.files import file_in_place, refuse_others
from wiretrack.model import kinds as k

if TYPE_CHECKING:
    from collections.abc import Container, Iterable, Iterator, Sequence
    from pathlib import Path

    from wiretrack.exchange.write import Row, Written
    from wiretrack.model.fields import Fact

_LONGEST = 32_000  # a cell holds 32,767 characters
_SPARE_ROWS = 2000  # rows below the last one for which a list of allowed words is offered
_MEASURED = 200  # rows that the width of a column is taken from
_ESCAPED = re.compile("_(?=x[0-9A-Fa-f]{4}_)|[\x00-\x08\x0b-\x1f\ufffe\uffff]")
YES_NO = ("yes", "no")
_TABLES = ("site", *(name for name in TABLE_NAMES if name not in REST_NAMES), FAR_ENDS)


def write_workbook(
    document: Written, file: Path, about: Sequence[str], *, but: Container[str] = ()
) -> None:
    """Write a document as a workbook, all of it or nothing.

    A sheet ``about`` says what it is, ``fields`` explains every heading, ``words`` has the words
    that are allowed; then a sheet a table. No cell is a formula. Tables named by `but` are left
    out.

    Raises `FileWriteError` if it can't be written; what was there before is untouched.
    """
    refuse_others(file)
    book = _Book()
    book.write_texts("about", [(line,) for line in about], (100,))
    book.write_texts("fields", _explained(), (14, 24, 9, 60, 60, 60))
    book.words_sheet()
    written = set()
    for table, rows in encode_sheets(document, but):
        book.write_table(table, rows)
        written.add(table)
    for table in _TABLES:
        if table not in written:
            book.write_table(table, ())
    order = ["about", *_TABLES]
    with file_in_place(file) as stream:
        book.save(stream, order)


def _explained() -> Iterator[tuple[str, ...]]:
    """Yield a line for each heading: what it means and how it is written."""
    yield "sheet", "heading", "needed", "what it means", "how it is written", "allowed"
    for table in _TABLES:
        needed = required_columns(table)
        for key, fact in table_facts(table).items():
            if key in columns(table):
                allowed = ", ".join(_words(fact))
                must = "yes" if key in needed else ""
                yield table, key, must, fact.meaning, _how(fact), allowed


_LISTS = {
    k.POLES: "Pairs of terminals, like 1-2, 3-4: 1 of device Q4 is the terminal Q4:1.",
    k.PATH: "Codes of raceways with commas between them, in the order they are connected.",
    k.CIRCUITS: "A code, or several with commas between them.",
    k.WALLS: "Lengths with commas between them, like 3 m, 12 m, from the from end.",
    k.YES_OR_NO: "yes or no; empty where unknown.",
}


def _how(fact: Fact) -> str:
    return _LISTS.get(fact.kind, fact.kind.how)


def _words(fact: Fact) -> tuple[str, ...]:
    return YES_NO if fact.kind.is_truth else tuple(str(word) for word in fact.kind.words)


class _Book:
    """A workbook that is being written, row by row."""

    def __init__(self) -> None:
        from openpyxl import Workbook

        self._book = Workbook(write_only=True)
        self._book.properties.creator = "wiretrack"
        self._lists: dict[tuple[str, ...], str] = {}

    def save(self, stream: Any, order: Sequence[str]) -> None:
        """Write it all, its sheets in this order and the others behind them."""
        place = {name: at for at, name in enumerate(order)}
        self._book._sheets.sort(key=lambda sheet: place.get(sheet.title, len(place)))
        self._book.active = 0
        self._book.save(stream)

    def write_texts(self, name: str, rows: Iterable[Sequence[str]], widths: Sequence[int]) -> None:
        """Write a sheet of texts, its first row in bold."""
        sheet = self._sheet(name, widths, ["@"] * len(widths))
        for number, row in enumerate(rows):
            sheet.append([_text_cell(sheet, text, bold=number == 0) for text in row])

    def words_sheet(self) -> None:
        """Write the lists of allowed words, a column each, and remember where each stands."""
        from openpyxl.utils import get_column_letter

        titles: dict[tuple[str, ...], str] = {}
        for table in _TABLES:
            for fact in table_facts(table).values():
                if _words(fact):
                    titles.setdefault(_words(fact), fact.kind.title)
        rows = [[*titles.values()], *map(list, zip_longest(*titles, fillvalue=""))]
        self.write_texts("words", rows, [24] * len(titles))
        for at, words in enumerate(titles, 1):
            column = get_column_letter(at)
            self._lists[words] = f"words!${column}$2:${column}${len(words) + 1}"

    def write_table(self, table: str, rows: Iterable[Row]) -> None:
        """Write one table under its headings."""
        kinds = columns(table)
        lines: Iterator[list[Any]] = (
            [_value(kind, inner(row, key)) for key, kind in kinds.items()] for row in rows
        )
        headings = list(kinds)
        if table in REST_NAMES or table == "pulls":  # their cells can be longer than one may be
            headings, lines = _cut(headings, list(lines))
        first = list(islice(lines, _MEASURED))
        self._write_lines(table, headings, first, lines)

    def _write_lines(
        self, table: str, headings: list[str], first: list[list[Any]], rest: Iterable[list[Any]]
    ) -> None:
        from openpyxl.utils import get_column_letter

        kinds = columns(table)
        widths = [
            _width(heading, [row[at] for row in first]) for at, heading in enumerate(headings)
        ]
        formats = ["General" if kinds.get(h) in ("integer", "number") else "@" for h in headings]
        sheet = self._sheet(table, widths, formats)
        sheet.append([_text_cell(sheet, heading, bold=True) for heading in headings])
        blanks = [_text_cell(sheet, "", number_format=form) for form in formats]
        count = 1
        for row in chain(first, rest):
            sheet.append([_filled(cell, value) for cell, value in zip(blanks, row, strict=True)])
            count += 1
        sheet.auto_filter.ref = f"A1:{get_column_letter(len(headings))}{count}"
        self._offer(sheet, table, headings, count)

    def _sheet(self, name: str, widths: Sequence[int], formats: Sequence[str]) -> Any:
        from openpyxl.utils import get_column_letter

        sheet = self._book.create_sheet(name)
        sheet.freeze_panes = "A2"
        for at, (width, form) in enumerate(zip(widths, formats, strict=True), 1):
            column = sheet.column_dimensions[get_column_letter(at)]
            column.width, column.number_format = width, form
        return sheet

    def _offer(self, sheet: Any, table: str, headings: list[str], count: int) -> None:
        """Give each column its meaning, and its allowed words or the codes that it refers to."""
        from openpyxl.utils import get_column_letter
        from openpyxl.worksheet.datavalidation import DataValidation

        for at, heading in enumerate(headings, 1):
            fact = table_facts(table).get(heading)
            if fact is None:
                continue
            words, column = _words(fact), get_column_letter(at)
            offered = self._lists.get(words) or _codes(fact)
            rule = DataValidation(
                type="list" if offered else None, formula1=offered, allow_blank=True,
                showErrorMessage=bool(words), showInputMessage=True,
            )  # fmt: skip
            rule.promptTitle = heading[:32]
            rule.prompt = f"{fact.meaning} {_how(fact)}".strip()[:255]
            if words:
                rule.errorTitle = heading[:32]
                rule.error = f"Allowed: {', '.join(words)}"[:255]
            rule.add(f"{column}2:{column}{count + _SPARE_ROWS}")
            sheet.data_validations.append(rule)


def _codes(fact: Fact) -> str | None:
    """Return where the codes are that a field refers to."""
    from openpyxl.utils import get_column_letter

    if fact.refers not in _TABLES or fact.kind not in (k.CODE, k.CIRCUITS):
        return None
    names = list(columns(fact.refers))
    if "code" not in names or "enclosure" in names:
        return None
    column = get_column_letter(names.index("code") + 1)
    return f"{fact.refers}!${column}$2:${column}${_SPARE_ROWS}"


def _value(kind: str, value: Any) -> str | int | float | None:
    """Return what a cell holds: a number where it is exact in 15 digits, else a text."""
    if value is None:
        return None
    if isinstance(value, bool):
        return YES_NO[0] if value else YES_NO[1]
    if kind in ("integer", "number") and float(f"{value:.15g}") == value:
        number: float = value
        return number
    return write_cell(kind, value)


def _cut(headings: list[str], rows: list[list[Any]]) -> tuple[list[str], Iterator[list[Any]]]:
    """Return headings and rows in which each text too long for a cell goes on in the next ones."""
    parts = [1] * len(headings)
    for row in rows:
        for at, cell in enumerate(row):
            if isinstance(cell, str):
                parts[at] = max(parts[at], -(-len(cell) // _LONGEST))
    names = [
        heading if part == 0 else f"{heading}~{part + 1}"
        for heading, count in zip(headings, parts, strict=True)
        for part in range(count)
    ]

    def pieces(cell: Any, count: int) -> list[Any]:
        if not isinstance(cell, str):
            return [cell, *[None] * (count - 1)]
        return [cell[at * _LONGEST : (at + 1) * _LONGEST] or None for at in range(count)]

    return names, (
        [piece for cell, count in zip(row, parts, strict=True) for piece in pieces(cell, count)]
        for row in rows
    )


def _width(heading: str, cells: list[Any]) -> int:
    longest = max((len(str(cell)) for cell in cells if cell is not None), default=0)
    return min(max(len(heading) + 4, longest + 1, 8), 50)


def _text_cell(sheet: Any, text: str, *, bold: bool = False, number_format: str = "@") -> Any:
    from openpyxl.cell import WriteOnlyCell
    from openpyxl.styles import Font

    cell = WriteOnlyCell(sheet)
    cell.number_format = number_format
    if bold:
        cell.font = Font(bold=True)
    return _filled(cell, text)


def _filled(cell: Any, value: str | float | None) -> Any:
    """Return a cell with a value: texts stay texts, whatever they begin with."""
    if isinstance(value, str):
        cell._value = _ESCAPED.sub(_escape, value) or None
        cell.data_type = "s"
    else:
        cell._value, cell.data_type = value, "n"
    return cell


def _escape(found: re.Match[str]) -> str:
    """Write out what XML can't hold, as workbooks do (ECMA-376 part 1, 22.4.2.4)."""
    return f"_x{ord(found[0]):04X}_"
