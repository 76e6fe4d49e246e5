# SPDX-License-Identifier: MIT
"""Records to a site file in JSON or a folder of CSV files; reading it gives equal records.

What is unknown is left out.
"""

from __future__ import annotations

import csv
import io
import json
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol, TextIO

from wiretrack.exchange.cells import inert, write_cell
from wiretrack.exchange.codecs import codec_of
from wiretrack.exchange.rest import REST_NAMES
from wiretrack.exchange.schema import FAR_ENDS, FORMAT, columns
from wiretrack.files import failing_as, new_folder, write_file
from wiretrack.model import tags
from wiretrack.model.fields import flat_facts

if TYPE_CHECKING:
    from collections.abc import Container, Iterable, Iterator

    from wiretrack.model.parts import SiteFacts

Row = dict[str, Any]


def write_site(document: Written, target: str | Path | TextIO) -> None:
    """Write a document as JSON, one record a line, to a file or an open stream.

    A file is replaced only once all is written. A quantity is written with all its digits.

    Raises `FileWriteError` if it can't be written; what was there before is untouched;
    `OutOfRangeError` if a quantity is infinite or not a number.
    """
    if isinstance(target, str | Path):
        write_file(Path(target), _json_lines(document))
        return
    with failing_as(str(getattr(target, "name", "the stream"))):
        binary = getattr(target, "buffer", None)
        for line in _json_lines(document):
            if binary is None:
                target.write(line)
            else:
                binary.write(line.encode("utf-8"))
        target.flush()


def _json_lines(document: Written) -> Iterator[str]:
    yield f'{{\n  "format": {_json(FORMAT)}'
    site = encode_site(document)
    if site:
        yield f',\n  "site": {_json(site)}'
    for name, rows in encode_tables(document):
        yield f',\n  "{name}": ['
        separator = "\n"
        for row in rows:
            yield f"{separator}    {_json(row)}"
            separator = ",\n"
        yield "\n  ]" if separator == ",\n" else "]"
    yield "\n}\n"


def _json(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False)


def write_csv(
    document: Written, folder: str | Path, *, but: Container[str] = (), replace: bool = False
) -> None:
    """Write a document as a folder of CSV files, which must be new or empty.

    Tables named by `but` are left out; with `replace` an older folder makes room.

    Raises `FileWriteError` if the folder holds something, or can't be written; then nothing is left
    behind; `OutOfRangeError` if a quantity is infinite or not a number.
    """
    with new_folder(Path(folder), replace=replace) as draft:
        for name, rows in encode_sheets(document, but):
            _write_table(draft, name, rows)


def encode_sheets(
    document: Written, but: Container[str] = ()
) -> Iterator[tuple[str, Iterable[Row]]]:
    """Yield each table as sheets have it, far ends as one of their own, but for those in `but`.

    Use up the rows of one before you ask for the next.
    """
    yield "site", [{"format": FORMAT, **encode_site(document)}]
    far_ends: list[Row] = []
    for name, rows in encode_tables(document):
        if name not in but:
            yield name, _without_far_ends(rows, far_ends) if name == "pulls" else rows
    if far_ends:
        yield FAR_ENDS, far_ends


def _without_far_ends(rows: Iterable[Row], far_ends: list[Row]) -> Iterator[Row]:
    """Return the rows of pulls, having moved their far ends to a table of their own."""
    for row in rows:
        far_ends += [{"pull": row["code"], **end} for end in row.pop(FAR_ENDS, ())]
        yield row


def _write_table(folder: Path, table: str, rows: Iterable[Row]) -> None:
    """Write one table; columns that are empty throughout stay, so that people can fill them."""
    write_file(folder / f"{table}.csv", _csv_lines(columns(table), rows))


def _csv_lines(kinds: dict[str, str], rows: Iterable[Row]) -> Iterator[str]:
    yield _csv_line(kinds)
    for row in rows:
        yield _csv_line(write_cell(kind, inner(row, name)) for name, kind in kinds.items())


def _csv_line(cells: Iterable[str]) -> str:
    line = io.StringIO(newline="")
    csv.writer(line).writerow(map(inert, cells))
    return line.getvalue()


def inner(row: Row, column: str) -> Any:
    """Return the value of a dotted column of a row, `None` if it has none."""
    value: Any = row
    for key in column.split("."):
        value = value.get(key) if value is not None else None
    return value


class Written(Protocol):
    """What is written as a site file: a document, or a registry that is read meanwhile."""

    @property
    def site(self) -> SiteFacts:
        """The record of the site itself."""

    def tables(self) -> Iterator[tuple[str, Iterable[Any]]]:
        """Yield each table with its records, in the order of files."""


def encode_site(document: Written) -> Row:
    """Return the row of the site, empty if nothing is known of it."""
    return row_of(document.site)


def encode_tables(document: Written) -> Iterator[tuple[str, Iterator[Row]]]:
    """Return the name and the rows of each table that the document has, in file order."""
    for name, found in document.tables():
        records = iter(found)
        if name in REST_NAMES:
            yield name, map(_known_only, records)
        else:
            for first in records:
                yield name, map(row_of, chain([first], records))


def _known_only(row: dict[str, object]) -> Row:
    return {key: value for key, value in row.items() if value is not None}


def row_of(record: Any) -> Row:
    """Return a record as a row of a site file; what is unknown is left out."""
    row: Row = {}
    of: type = type(record)
    for field in flat_facts(of):
        value = record
        for name in field.name.split("."):
            value = getattr(value, name)
        if value is None or value == () or value == "":
            continue
        holder = row.setdefault(field.outer, {}) if field.outer else row
        holder[field.inner] = codec_of(field.kind).write(value)
    if "poles" in row:
        row["poles"] = poles_as_written(record.code, record.poles)
    if "far_ends" in row:
        row["far_ends"] = [row_of(end) for end in record.far_ends]
    if row.get("against") not in (None, "raceway", "PE"):
        row["against"] = tags.format_tag(record.against)
    return row


def flat_row(record: Any) -> Row:
    """Return a record as a row of a site file, each field under its dotted key."""
    row = row_of(record)
    of: type = type(record)
    found = {each.key: inner(row, each.key) for each in flat_facts(of)}
    return _known_only(found)


def poles_as_written(code: str, poles: Iterable[tuple[str, str]]) -> list[list[str]]:
    """Return a device's poles with its own code left out: ``Q4:1`` of Q4 is ``1``."""
    own = f"{code}:"
    return [[_short(name, own) for name in pole] for pole in poles]


def _short(name: str, own: str) -> str:
    rest = name.removeprefix(own)
    return name if ":" in rest or not rest else rest
