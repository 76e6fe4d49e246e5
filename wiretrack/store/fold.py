# SPDX-License-Identifier: MIT
"""What a record says, as it follows from all operations on it: pure, whatever order they came in.

An operation is overridden by one whose entry knows its entry. What no other one overrides holds;
where several hold that say different things, the field is undecided: all of them are kept, and a
rule that every copy shares shows one. No clock decides anything.
"""

from __future__ import annotations

import json
from collections import defaultdict
from dataclasses import field
from operator import attrgetter
from typing import TYPE_CHECKING, Any

from wiretrack.late import dataclass

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    Knows = Callable[["Operation", "Operation"], bool]

Row = dict[str, Any]
# Columns that only make sense together; every other column is decided by itself.
TOGETHER: dict[str, dict[str, tuple[str, ...]]] = {
    "site": {"rules": ("rules", "edition")},
    "raceways": {"between": ("from_enclosure_id", "to_enclosure_id")},
    "ends": {"landing": ("enclosure_id", "terminal_id", "state")},
    "circuits": {"retired": ("retired_at",)},
    "conductors": {"retired": ("retired_at", "retired_because")},
}
RETIRED, WORKED = "retired", "worked"
_REPLACED = ("cut", "replaced")
# What follows from other rows: where it is said apart it is unknown, until it is worked out again.
WORKED_OUT: dict[str, tuple[str, ...]] = {"procedures": ("result",)}
# Rows that are one list of a record and decided as one: its table, its column, what it is called.
LISTS: dict[str, tuple[str, str, str]] = {
    "pull_raceways": ("pulls", "pull_id", "route"),
    "far_ends": ("pulls", "pull_id", "far_ends"),
    "conductor_circuits": ("conductors", "conductor_id", "circuits"),
    "poles": ("devices", "device_id", "poles"),
}
# What is told as a part of a record: the table of that, and the column that names it.
PARTS = {"ends": ("conductors", "conductor_id")} | {
    part: (of, column) for part, (of, column, _) in LISTS.items()
}


@dataclass(frozen=True)
class Operation:
    """What an entry says of one row; what a load said of it may have no `writer` (empty)."""

    writer: bytes
    number: int
    have: int | None  # the number of the entry that says what its writer held of others
    action: str  # added, changed or removed; or worked: on a record that others retired
    id: str  # of the row
    values: Row
    is_loaded: bool = False
    record: str = ""  # under which id its writer knew the record; "": whichever
    joins: frozenset[str] = frozenset()  # other ids that were the same to its writer


@dataclass
class Said:
    """What one operation makes of a unit."""

    by: Operation
    value: Any

    @property
    def text(self) -> str:
        """The value, so that two of them can be compared and ordered; of a list without its ids."""
        if isinstance(self.value, dict):
            rows = [{**row, "id": ""} for row in self.value.values()]
            return text_of(sorted(rows, key=text_of))
        return text_of(self.value)

    @property
    def order(self) -> tuple[str, str, bytes, int]:
        """Where it comes among others that hold, in every copy."""
        return self.text, text_of(self.value), self.by.writer, self.by.number


@dataclass
class Folded:
    """What holds of a record, as long as it is there: its row, or the rows of a list.

    `open` has the units that are undecided, each with what is said, the one that is shown first.
    `last` has the operations on a record that no other one knows.
    """

    row: Row | None
    rows: dict[str, Row]
    open: dict[str, list[Said]] = field(default_factory=dict)
    last: list[Operation] = field(default_factory=list)


# A value as text by which it is compared and ordered in every copy alike.
text_of = json.JSONEncoder(ensure_ascii=False, separators=(",", ":"), sort_keys=True).encode


def units(table: str, columns: Iterable[str]) -> dict[str, tuple[str, ...]]:
    """Return what is decided as one in a table: names, each with its columns."""
    joint = {column: item for item in TOGETHER.get(table, {}).items() for column in item[1]}
    found = (
        joint.get(column, (column.removesuffix("_id") if column != "id" else column, (column,)))
        for column in columns
        if column != "one" and (column != "id" or table == "site")
    )
    return dict(found)


def fold_record(
    table: str, columns: Sequence[str], operations: Iterable[Operation], knows: Knows
) -> Folded:
    """Return what a record says; operations in an order in which each comes after those it knows.

    >>> one = Operation(b"a", 1, None, "added", "x", {"note": "old", "size": "4 mm2"})
    >>> two = Operation(b"a", 2, None, "changed", "x", {"note": "new"})
    >>> other = Operation(b"b", 1, None, "changed", "x", {"note": "chafed"})
    >>> apart = lambda one, other: one.writer == other.writer or other.number == 1 == one.number
    >>> fold_record("conductors", ("id", "note", "size"), (one, two), apart).row
    {'id': 'x', 'note': 'new', 'size': '4 mm2'}
    >>> folded = fold_record("conductors", ("id", "note", "size"), (one, other, two), apart)
    >>> [said.value for said in folded.open["note"]], folded.row["note"]
    ([['chafed'], ['new']], 'chafed')
    """
    operations, knows = _loads_first(operations, knows)
    unit_list, said = units(table, columns), _Held(knows)
    whole: list[Operation] = []
    last = ""
    for operation in operations:
        if operation.action == WORKED:
            before = said.before(RETIRED, operation)
            if before is None or not any(before.value):
                said.add(RETIRED, Said(operation, [None] * len(unit_list[RETIRED])))
            continue
        whole = [one for one in whole if not knows(operation, one)] + [operation]
        last = operation.id
        if operation.action == "removed":
            continue
        for name, of in unit_list.items():
            if operation.action == "added" or not operation.values.keys().isdisjoint(of):
                base = said.before(name, operation) if len(of) > 1 else None
                old = dict(zip(of, base.value, strict=True)) if base else {}
                value = [operation.values.get(c, old.get(c)) for c in of]
                said.add(name, Said(operation, value))
    row: Row = {"id": last} if table != "site" else {"one": 1}
    folded = Folded(row, {}, last=whole)
    for name, of in unit_list.items():
        holding = _telling(said.holding(name))
        if holding:
            row.update(zip(of, holding[0].value, strict=True))
        if _differ(holding):
            if name in WORKED_OUT.get(table, ()):
                row.update(dict.fromkeys(of))
            else:
                folded.open[name] = holding
    return folded


def _telling(holding: list[Said]) -> list[Said]:
    """Return what says something: whoever added a record without a field said nothing of it."""
    known = [
        one
        for one in holding
        if one.by.action != "added" or any(value is not None for value in one.value)
    ]
    return known or holding


def fold_list(
    columns: Sequence[str], operations: Iterable[Operation], knows: Knows, name: str
) -> Folded:
    """Return what rows a list has, as `fold_record` does for a record: the list is one unit."""
    operations, knows = _loads_first(operations, knows)
    said = _Held(knows)
    for operation in operations:
        base = said.before(name, operation)
        value: dict[str, Row] = dict(base.value) if base else {}
        if operation.action == "removed":
            value.pop(operation.id, None)
        elif operation.action == "added" or operation.id in value:
            empty: Row = dict.fromkeys(columns)
            row = value.get(operation.id, empty) if operation.action == "changed" else empty
            value[operation.id] = {**row, **operation.values, "id": operation.id}
        said.add(name, Said(operation, value))
    holding = said.holding(name)
    folded = Folded(None, holding[0].value if holding else {})
    if _differ(holding):
        folded.open[name] = holding
    return folded


def _differ(holding: list[Said]) -> bool:
    return len(holding) > 1 and len({one.text for one in holding}) > 1


def _loads_first(operations: Iterable[Operation], knows: Knows) -> tuple[list[Operation], Knows]:
    """Put what was loaded apart before all work: whoever works on a record knows what it was.

    Loads of one record apart (of one file, say) are equal: where they say different things and
    nobody worked on it since, that is undecided.
    """
    loaded: list[Operation] = []
    work: list[Operation] = []
    for one in operations:
        apart = one.is_loaded and not any(knows(one, earlier) for earlier in work)
        (loaded if apart else work).append(one)
    first = {id(one) for one in loaded}

    def known(one: Operation, other: Operation) -> bool:
        if id(other) in first and id(one) in first:
            same = (one.writer, one.number) == (other.writer, other.number)
            return same and one.record == other.record
        return id(other) in first or (id(one) not in first and knows(one, other))

    return [*loaded, *work], known


class _Held:
    """What is said of each unit, in the order in which it came."""

    def __init__(self, knows: Knows) -> None:
        self._knows = knows
        self._all: defaultdict[str, list[Said]] = defaultdict(list)

    def add(self, name: str, said: Said) -> None:
        self._all[name].append(said)

    def before(self, name: str, operation: Operation) -> Said | None:
        """Return what its writer saw in a unit."""
        past = [said for said in self._all[name] if self._knows(operation, said.by)]
        return next(iter(self._maximal(name, past)), None)

    def holding(self, name: str) -> list[Said]:
        """Return what nothing overrides, the one that is shown first."""
        return self._maximal(name, self._all[name])

    def _maximal(self, name: str, past: list[Said]) -> list[Said]:
        held: list[Said] = []
        for said in past:
            held = [one for one in held if not self._knows(said.by, one.by)] + [said]
        if len(held) > 1:
            held.sort(key=attrgetter("order"))
        return sorted(held, key=_in_use_first) if name == RETIRED else held


def _in_use_first(said: Said) -> int:
    """Put what others still worked on before what is retired, unless something is in its place."""
    return 0 if said.value[-1] in _REPLACED else 1 + any(said.value)
