# SPDX-License-Identifier: MIT
"""The published tables under `data/`: one CSV each, its source and its doubts in the heading.

Beside them stands the code that a site is built to, and how its places are cited by edition.
"""

from __future__ import annotations

import csv
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from wiretrack.errors import BadInputError
from wiretrack.late import cached_property, dataclass
from wiretrack.model.words import NEC_EDITIONS, RULE_SETS

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from wiretrack.model.parts import SiteFacts

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
        return self._found_by(tuple(wanted)).get(tuple(wanted.values()))

    def _found_by(self, columns: tuple[str, ...]) -> dict[tuple[str, ...], Row]:
        """Return the first row by the values of some columns, looked through once."""
        found = self._by.get(columns)
        if found is None:
            rows = reversed(self.rows)
            found = self._by[columns] = {tuple(row[c] for c in columns): row for row in rows}
        return found

    @cached_property
    def _by(self) -> dict[tuple[str, ...], dict[tuple[str, ...], Row]]:
        return {}

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


@cache
def places_of(rule: str) -> dict[int, str]:
    """Return where a rule stands in the NEC, by the edition from which on it stands there."""
    rows = load_table("nec_places").rows
    return {int(row["since"]): row["section"] for row in rows if row["name"] == rule}


@dataclass(frozen=True)
class Code:
    """The rule set of a site, ``NEC`` with its edition or ``IEC``; None is unknown."""

    rules: str | None
    edition: int | None = None

    def __post_init__(self) -> None:
        if self.rules is not None and self.rules not in RULE_SETS:
            raise BadInputError(f"'{self.rules}' is not a rule set. Rule sets: NEC, IEC.")
        if self.rules == "NEC" and self.edition not in (None, *NEC_EDITIONS):
            known = ", ".join(str(edition) for edition in NEC_EDITIONS)
            raise BadInputError(f"The NEC of {self.edition} is not held. Editions: {known}.")

    @property
    def is_nec(self) -> bool:
        """Whether the rules of the NEC apply."""
        return self.rules == "NEC"

    @property
    def is_iec(self) -> bool:
        """Whether the rules of the IEC apply."""
        return self.rules == "IEC"

    def at(self, rule: str) -> str:
        """Return the citation of the NEC for one of the rules in the table of places.

        >>> Code("NEC", 2023).at("ambient"), Code("NEC", 2017).at("insulation")
        ('NEC 2023 table 310.15(B)(1)(1)', 'NEC 2017 table 310.104(A)')
        """
        return self.nec(places_of(rule))

    def nec(self, place: str | Mapping[int, str]) -> str:
        """Return a citation of the NEC; `place` may differ by the edition it came with.

        >>> Code("NEC", 2017).nec({2014: "310.15(B)(16)", 2020: "310.16"})
        'NEC 2017 310.15(B)(16)'
        """
        if isinstance(place, str):
            text = place
        elif self.edition is None:
            text = " or ".join(dict.fromkeys(place.values()))
        else:
            text = place[max(since for since in place if since <= self.edition)]
        return f"NEC {self.edition} {text}" if self.edition else f"NEC {text}"


def code_of(site: SiteFacts) -> Code:
    """Return the code that a site is built to."""
    return Code(site.rules, site.edition if site.rules == "NEC" else None)
