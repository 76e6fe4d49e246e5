# SPDX-License-Identifier: MIT
"""What two copies of a registry disagree on, side by side, and what was decided about it.

Pure: rows and changes in, a row and its conflicts out. Fields that only make sense together (the
box, terminal and state of an end) are one unit and are taken together.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

Row = dict[str, Any]

MINE, THEIRS = "mine", "theirs"
SIDES = (MINE, THEIRS)


@dataclass(frozen=True)
class Side:
    """What one copy says, in words, and who made it so when."""

    value: str | None
    at: str | None = None
    by: str | None = None


@dataclass(frozen=True)
class Conflict:
    """One thing to decide: ``key`` names it, ``takes`` is the side decided for.

    Where two different records are called the same, the side decided for keeps the name and the
    other's record is called `renamed`; `renames` says that it is such a conflict.
    """

    key: str
    mine: Side
    theirs: Side
    takes: str | None = None
    renames: bool = False
    renamed: str | None = None

    def as_json(self) -> dict[str, object]:
        """Return it as scripts read it."""
        found = {"key": self.key, "mine": self.mine, "theirs": self.theirs, "takes": self.takes}
        return found | ({"renamed": self.renamed} if self.renames else {})


@dataclass(frozen=True)
class Decision:
    """For which side a conflict is decided; `name` is what the other side's record is called."""

    side: str
    name: str | None = None


@dataclass
class Decisions:
    """What was decided: by the conflict's key, and for the rest one side or nothing."""

    given: Mapping[str, Decision] = field(default_factory=dict)
    rest: str | None = None
    asked: set[str] = field(default_factory=set)

    def of(self, key: str) -> Decision | None:
        """Return the decision on a conflict, if there is one; it counts as asked for."""
        self.asked.add(key)
        return self.given.get(key) or (Decision(self.rest) if self.rest else None)

    def never_asked(self) -> list[str]:
        """Return the keys given that were those of no conflict."""
        return [key for key in self.given if key not in self.asked]


TOGETHER: dict[str, dict[str, tuple[str, ...]]] = {
    "site": {"rules": ("rules", "edition")},
    "raceways": {"between": ("from_enclosure_id", "to_enclosure_id")},
    "poles": {"joins": ("one_terminal_id", "other_terminal_id")},
    "ends": {
        "landing": ("enclosure_id", "terminal_id", "state"),
        "found-crossed": ("crossed_at",),
    },
    "circuits": {"retired": ("retired_at",)},
    "conductors": {"retired": ("retired_at", "retired_because")},
}
# What the answers decide, not a person: see merging_settling.
_LEFT_OUT = {"procedures": ("result",)}


@dataclass(frozen=True)
class Unit:
    """One field of a record, or several that are taken together."""

    name: str
    columns: tuple[str, ...]

    def of(self, row: Mapping[str, Any]) -> tuple[Any, ...]:
        """Return what a row says in these columns."""
        return tuple(row[column] for column in self.columns)


@dataclass(frozen=True)
class Touch:
    """When a unit was last changed, and by whom."""

    at: str | None = None
    by: str | None = None


@dataclass(frozen=True)
class Differing:
    """A unit that both copies changed, each to something else."""

    unit: Unit
    mine: Touch
    theirs: Touch


def units(table: str, columns: Sequence[str]) -> tuple[Unit, ...]:
    """Return the units of a table, in the order of its columns; its id is none."""
    joint = {column: Unit(*item) for item in TOGETHER.get(table, {}).items() for column in item[1]}
    skipped = ("id", "one", *_LEFT_OUT.get(table, ()))
    found = {
        joint.get(column, Unit(column.removesuffix("_id"), (column,))): None
        for column in columns
        if column not in skipped
    }
    return tuple(found)


def touched(unit_list: Iterable[Unit], changes: Iterable[Mapping[str, Any]]) -> dict[str, Touch]:
    """Return the units that changes touch, each with its last touch.

    A change has ``old`` and ``new`` (mappings, or `None` where the record was added or removed),
    ``at`` and ``by``; they come in their order. What a snapshot of an older registry lacks counts
    as unknown.
    """
    found: dict[str, Touch] = {}
    wanted = tuple(unit_list)
    for change in changes:
        old, new = change["old"], change["new"]
        for unit in wanted:
            if old is None or new is None or _differs(unit, old, new):
                found[unit.name] = Touch(change["at"], change["by"])
    return found


def merged(
    unit_list: Iterable[Unit],
    mine: Mapping[str, Any],
    theirs: Mapping[str, Any],
    my_touches: Mapping[str, Touch],
    their_touches: Mapping[str, Touch],
) -> tuple[Row, list[Differing]]:
    """Return the record that both copies make together, and where they differ.

    A unit that differs stays as it is in `mine`; one that neither touched differs as well: then
    one of the copies was changed past its history, and a person has to look at it.
    """
    row, differing = dict(mine), []
    for unit in unit_list:
        if unit.of(mine) == unit.of(theirs):
            continue
        here, there = my_touches.get(unit.name), their_touches.get(unit.name)
        if (here is None) == (there is None):
            differing.append(Differing(unit, here or Touch(), there or Touch()))
        elif there is not None:
            row.update(zip(unit.columns, unit.of(theirs), strict=True))
    return row, differing


def _differs(unit: Unit, old: Mapping[str, Any], new: Mapping[str, Any]) -> bool:
    return any(old.get(column) != new.get(column) for column in unit.columns)
