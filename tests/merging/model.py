# SPDX-License-Identifier: MIT
"""What merged copies must hold, told apart from the program: events in dictionaries.

Each edit is an event that knows every event its copy held when it was made. A field says what the
events on it say that no other event on it knew: where these are several values, it is undecided.
Nothing here looks at entries, operations or vectors, as the program does.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import itertools

Field = tuple[str, str]  # record, field


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

    def merge(self, other: Copy) -> None:
        """Take what the other holds."""
        self.events |= other.events
        self.logs |= other.logs

    def values(self) -> dict[Field, set[str]]:
        """Return what is said of every field; of one that is decided it is one value."""
        return {name: self._last(name) for name in {e.field for e in self.events.values()}}

    def namesakes(self) -> dict[str, list[str]]:
        """Return the codes that several boxes bear, with those boxes."""
        found: dict[str, list[str]] = {}
        for (record, name), values in sorted(self.values().items()):
            if name == "code":
                found.setdefault(min(values), []).append(record)
        return {code: boxes for code, boxes in found.items() if len(boxes) > 1}

    def _last(self, name: Field) -> set[str]:
        on_it = [event for event in self.events.values() if event.field == name]
        known = frozenset[int]().union(*(event.knew for event in on_it))
        return {event.value for event in on_it if event.number not in known}
