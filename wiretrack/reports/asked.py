# SPDX-License-Identifier: MIT
"""What the standards ask of a verification report, and what they want inspected and tested."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from wiretrack.electrical.tables import Row, Table, read_table
from wiretrack.sources import IEC_62446_1

if TYPE_CHECKING:
    from collections.abc import Set

DATA = Path(__file__).resolve().parent / "data"
_PV = "dc-pv"


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


def required_items(systems: Set[str | None]) -> tuple[Asked, ...]:
    """Return every item that the standards for these systems ask for; `None` is any system."""
    rows = _table("required_items").rows
    wanted = bool(systems & {_PV, None})
    return tuple(
        Asked(**row) for row in rows if wanted or not row["standard"].startswith(IEC_62446_1.key)
    )


def inspection_points(systems: Set[str | None]) -> list[Row]:
    """Return what is inspected by eye where there are these systems: ``place`` and ``asks``."""
    return _for_systems("inspection", systems)


def unrecorded_tests(system: str | None) -> list[Row]:
    """Return the tests of a circuit of which the registry keeps no readings."""
    return _for_systems("tests_by_hand", {system})


def _for_systems(name: str, systems: Set[str | None]) -> list[Row]:
    rows = _table(name).rows
    return [row for row in rows if None in systems or _fits(row, systems)]


def _fits(row: Row, systems: Set[str | None]) -> bool:
    return not row["systems"] or bool(systems & set(row["systems"].split()))


@cache
def _table(name: str) -> Table:
    return read_table(DATA / f"{name}.csv")


def reading_of(name: str) -> str:
    """Return how the table `name` was read and what is doubtful in it, for the report's reader."""
    table = _table(name)
    return f"Read as: {table.read_as}. Doubts: {table.doubts}."
