# SPDX-License-Identifier: MIT
"""The sections of a verification report in their order, and what the standards ask of each."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from string import ascii_letters, digits
from typing import TYPE_CHECKING

from wiretrack.electrical.tables import Row, Table, read_table
from wiretrack.late import dataclass
from wiretrack.manner import here, words
from wiretrack.sources import IEC_62446_1

if TYPE_CHECKING:
    from collections.abc import Iterable, Set

SUMMARY = "Summary"
DEVIATIONS = "Deviations"
INSPECTION = "Inspection by eye"
CONCLUSION = "Conclusion and signatures"
INSTRUMENTS = "Instruments"
PLACES = "Raceways and enclosures"
CIRCUITS = "Circuits"
FINDINGS = "Findings of the wiring rules"
MARKINGS = "Markings required"
RINGOUTS = "Ring-outs"
REQUIRED = "What the standards ask, and where it stands"
ORIGIN = "Origin of this report"
SECTIONS = (
    SUMMARY,
    DEVIATIONS,
    INSPECTION,
    CONCLUSION,
    INSTRUMENTS,
    PLACES,
    CIRCUITS,
    FINDINGS,
    MARKINGS,
    RINGOUTS,
    REQUIRED,
    ORIGIN,
)

DATA = Path(__file__).resolve().parent / "data"
_PV = "dc-pv"


@dataclass(frozen=True)
class Asked:
    """One thing that a standard wants in the report; `kept` says who supplies it.

    `section` is the report's section that holds it. `place` is a clause that was seen in a table of
    contents; one that was not is `unchecked`, and never cited.
    """

    item: str
    standard: str
    place: str
    unchecked: str
    asks: str
    kept: str
    section: str
    ALSO = ("source",)

    @property
    def source(self) -> str:
        """Return where it is asked: the standard, and its clause where that was checked."""
        return _cited(self.standard, self.place)


@dataclass(frozen=True)
class ToDo:
    """A point to look at, or a test, that the record holds nothing of; `place` is who asks it."""

    standard: str
    place: str
    unchecked: str
    asks: str
    systems: str


def required_items(systems: Set[str | None]) -> tuple[Asked, ...]:
    """Return every item that the standards for these systems ask for; `None` is any system."""
    return _required(bool(systems & {_PV, None}))


@cache
def _required(of_pv: bool) -> tuple[Asked, ...]:
    rows = _table("required_items").rows
    return tuple(
        Asked(**row) for row in rows if of_pv or not row["standard"].startswith(IEC_62446_1.key)
    )


def inspection_points(systems: Set[str | None]) -> tuple[ToDo, ...]:
    """Return what is inspected by eye where there are these systems."""
    return _for_systems("inspection", frozenset(systems), here().rules)


def unrecorded_tests(system: str | None) -> tuple[ToDo, ...]:
    """Return the tests of a circuit of which the registry keeps no readings."""
    return _for_systems("tests_by_hand", frozenset((system,)), here().rules)


@cache
def _for_systems(name: str, systems: Set[str | None], rules: str | None) -> tuple[ToDo, ...]:
    """Return the rows for these systems, in the words of the rules in use."""
    return tuple(
        ToDo(**row | {"place": _cited(row["standard"], row["place"]), "asks": words(row["asks"])})
        for row in _table(name).rows
        if None in systems or _fits(row, systems)
    )


def _cited(standard: str, place: str) -> str:
    return f"{standard} {place}".strip()


def _fits(row: Row, systems: Set[str | None]) -> bool:
    return not row["systems"] or bool(systems & set(row["systems"].split()))


@cache
def _table(name: str) -> Table:
    return read_table(DATA / f"{name}.csv")


def not_checked(rows: Iterable[ToDo | Asked]) -> dict[str, str]:
    """Return, by standard, the clauses behind these rows that were not checked.

    >>> numbers = ("9.1", "", "9.2", "9.1", "4.3 a")
    >>> not_checked([ToDo("S", "", number, "", "") for number in numbers])
    {'S': '9.1, 9.2, 4.3 a'}
    """
    runs: dict[str, dict[str, list[str]]] = {}
    for row in rows:
        if number := row.unchecked:
            parent = number.rstrip(ascii_letters + digits)
            run = runs.setdefault(row.standard, {}).setdefault(parent, [])
            run += [number] if number not in run else []
    return {one: ", ".join(map(_run, found.values())) for one, found in runs.items()}


def _run(numbers: list[str]) -> str:
    """Return clauses under one parent: 9.1, 9.2; many of them by the first and the last."""
    if len(numbers) < 4:
        return ", ".join(numbers)
    return f"{numbers[0]} to {numbers[-1]}"


def numbered(name: str) -> str:
    """Return a section's name with its number before it.

    >>> numbered("Circuits")
    '7 Circuits'
    """
    return f"{number_of(name)} {name}"


def number_of(name: str) -> int:
    """Return the number of the section called `name`."""
    return SECTIONS.index(name) + 1
