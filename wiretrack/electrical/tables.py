# SPDX-License-Identifier: MIT
"""The published tables under `data/`: one CSV each, its source and its doubts in the heading."""

from __future__ import annotations

import csv
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from wiretrack.errors import BadInputError
from wiretrack.late import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterable

DATA = Path(__file__).resolve().parent / "data"
HEADINGS = ("source", "edition", "read as", "doubts")

Row = dict[str, str]


@dataclass(frozen=True)
class Table:
    """A published table: where it stands, how it was read, what is doubtful, and its rows."""

    name: str
    source: str
    edition: str
    read_as: str
    doubts: str
    rows: tuple[Row, ...]

    def find(self, **wanted: str) -> Row | None:
        """Return the first row whose columns have the wanted values, or None."""
        for row in self.rows:
            if all(row[column] == value for column, value in wanted.items()):
                return row
        return None

    def up_to(self, column: str, value: float) -> Row | None:
        """Return the first row whose column isn't below `value`; None beyond the last."""
        rows = (row for row in self.rows if row[column] and value <= float(row[column]))
        return next(rows, None)

    def column(self, name: str) -> tuple[str, ...]:
        """Return every value of one column, top to bottom."""
        return tuple(row[name] for row in self.rows)


def table_names() -> tuple[str, ...]:
    """Return the names of all tables."""
    return tuple(sorted(path.stem for path in DATA.glob("*.csv")))


@cache
def load_table(name: str) -> Table:
    """Return the table `name`, read once.

    Raises `BadInputError` if there is no such table, or its heading lacks one of `HEADINGS`.
    """
    file = DATA / f"{name}.csv"
    if not file.is_file():
        raise BadInputError(f"There is no table '{name}'. Tables: {', '.join(table_names())}.")
    return read_table(file)


def read_table(path: Path) -> Table:
    """Return the table in a CSV file, its heading checked."""
    name = path.stem
    lines = path.read_text(encoding="utf-8").splitlines()
    heading = dict(_heading(line) for line in lines if line.startswith("#"))
    missing = [key for key in HEADINGS if not heading.get(key)]
    if missing:
        raise BadInputError(f"Table '{name}' doesn't say its {', '.join(missing)}. Add the line.")
    source, edition, read_as, doubts = (heading[key] for key in HEADINGS)
    return Table(name, source, edition, read_as, doubts, rows_of(lines))


def rows_of(lines: Iterable[str]) -> tuple[Row, ...]:
    """Return the rows of a table, its heading left out."""
    return tuple(csv.DictReader(line for line in lines if not line.startswith("#")))


def _heading(line: str) -> tuple[str, str]:
    key, _, text = line.lstrip("# ").partition(":")
    return key.strip(), text.strip()
