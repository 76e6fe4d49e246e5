# SPDX-License-Identifier: MIT
"""What merged copies must hold, told apart from the program: events in dictionaries.

Each edit is an event that knows every event its copy held when it was made. The value of a field
is that of the event that no other event on the field knew; where several such say different
things, the greater text wins, and that choice is an event that knows both. Nothing here looks at
changes, tables or sets that only one copy has, as the program does.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import itertools

Field = tuple[str, str]  # record, field
Prefer = Callable[[Collection[str]], str]


@dataclass(frozen=True)
class Event:
    """One edit."""

    number: int
    field: Field
    value: str
    knew: frozenset[int]


@dataclass
class Copy:
    """What one copy holds: events, and the entries of its logs."""

    counter: itertools.count[int]
    events: dict[int, Event] = field(default_factory=dict)
    logs: set[str] = field(default_factory=set)

    def edit(self, record: str, name: str, value: str) -> None:
        """Set a field."""
        event = Event(next(self.counter), (record, name), value, frozenset(self.events))
        self.events[event.number] = event

    def twin(self) -> Copy:
        """Return a copy of this copy."""
        return Copy(self.counter, dict(self.events), set(self.logs))

    def merge(self, other: Copy, prefer: Prefer = max) -> int:
        """Take what the other holds, decide what differs; return how much there was to decide.

        Of two boxes of one code the one not preferred is called after its own name.
        """
        decided = 0
        self.events |= other.events
        self.logs |= other.logs
        for name in {event.field for event in self.events.values()}:
            values = self._last(name)
            if len(values) > 1:
                self.edit(*name, prefer(values))
                decided += 1
        while clash := self._clash():
            kept = prefer([self.value(record, "name") or "" for record in clash])
            loser = next(record for record in clash if self.value(record, "name") != kept)
            self.edit(loser, "code", f"R{self.value(loser, 'name')}")
            decided += 1
        return decided

    def value(self, record: str, name: str) -> str | None:
        """Return what a field says."""
        values = self._last((record, name))
        assert len(values) <= 1
        return next(iter(values), None)

    def values(self) -> dict[Field, str | None]:
        """Return every field of every record."""
        return {name: self.value(*name) for name in {e.field for e in self.events.values()}}

    def _last(self, name: Field) -> set[str]:
        on_it = [event for event in self.events.values() if event.field == name]
        known = frozenset().union(*(event.knew for event in on_it))
        return {event.value for event in on_it if event.number not in known}

    def _clash(self) -> tuple[str, str] | None:
        """Return two boxes of one code."""
        boxes: dict[str, str] = {}
        records = sorted(
            {r for r, name in (e.field for e in self.events.values()) if name == "code"}
        )
        for record in records:
            other = boxes.setdefault(str(self.value(record, "code")), record)
            if other != record:
                return record, other
        return None
