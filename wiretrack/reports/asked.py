# SPDX-License-Identifier: MIT
"""What the standards ask of a verification report, and what they want inspected and tested."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path

from wiretrack.electrical.tables import Row, Table, read_table

DATA = Path(__file__).resolve().parent / "data"


@dataclass(frozen=True)
class Asked:
    """One thing that a standard wants in the report; `kept` says who supplies it.

    `section` is the report's section that holds it; `read` is ``contents`` where a table of
    contents was seen, else ``memory``.
    """

    item: str
    standard: str
    place: str
    asks: str
    kept: str
    section: str
    read: str

    @property
    def source(self) -> str:
        """Return where it is asked, and honestly how that was read."""
        where = f"{self.standard} {self.place}"
        return where if self.read == "contents" else f"{where} (from memory)"


@cache
def required_items() -> tuple[Asked, ...]:
    """Return every item that IEC 60364-6 and IEC 62446-1 ask for."""
    return tuple(Asked(**row) for row in _table("required_items").rows)


def inspection_points(systems: set[str]) -> list[Row]:
    """Return what is inspected by eye on a site with these systems: ``place`` and ``asks``."""
    return _for_systems("inspection", systems)


def tests_by_hand(system: str | None) -> list[Row]:
    """Return the tests of a circuit of which the registry keeps no readings."""
    if system is None:
        return list(_table("tests_by_hand").rows)
    return _for_systems("tests_by_hand", {system})


def _for_systems(name: str, systems: set[str]) -> list[Row]:
    rows = _table(name).rows
    return [row for row in rows if not row["systems"] or systems & set(row["systems"].split())]


@cache
def _table(name: str) -> Table:
    return read_table(DATA / f"{name}.csv")


def reading_of(name: str) -> str:
    """Return how the table `name` was read and what is doubtful in it, for the report's reader."""
    table = _table(name)
    return f"Read as: {table.read_as}. Doubts: {table.doubts}."
