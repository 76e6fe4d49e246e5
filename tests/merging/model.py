# SPDX-License-Identifier: MIT
"""What merged copies must hold, told apart from the program: events in dictionaries.

Each edit is an event that knows every event its copy held when it was made. A field says what the
events on it say that no other event on it knew: where these are several values, it is undecided.
Work on a wire says that it is in use, to whoever retired it apart. Boxes that are removed together
stay together, if any event apart is on one of them or on a terminal in it.
Nothing here looks at entries, operations or vectors, as the program does.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import itertools
    from collections.abc import Iterable

Field = tuple[str, str]  # record, field
IN_USE = "in use"
RETIRED, REMOVED, WORK, PLACE = "retired", "removed", "work", "place"


@dataclass(frozen=True)
class Event:
    """One edit; or work on a wire, a box that a terminal is in, or boxes removed together."""

    number: int
    field: Field
    value: str
    knew: frozenset[int]
    removed: frozenset[str] = frozenset()

    def is_apart(self, other: Event) -> bool:
        """Return whether neither knew of the other."""
        return self.number not in other.knew and other.number not in self.knew | {self.number}


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

    def remove(self, records: Iterable[str]) -> None:
        """Remove boxes and terminals together."""
        number, them = next(self.counter), frozenset(records)
        self.events[number] = Event(number, ("", ""), REMOVED, frozenset(self.events), them)

    def twin(self) -> Copy:
        """Return a copy of this copy."""
        return Copy(self.counter, dict(self.events), set(self.logs))

    def merge(self, other: Copy) -> None:
        """Take what the other holds."""
        self.events |= other.events
        self.logs |= other.logs

    def values(self) -> dict[Field, set[str]]:
        """Return what is said of every field; of one that is decided it is one value."""
        events, void = [*self.events.values()], self._void()
        gone = self._gone(void)
        names = {e.field for e in events if not e.removed and e.field[1] not in (WORK, PLACE)}
        found = {name: self._last(name, events) for name in names if name[0] not in gone}
        for event in events:
            for record in event.removed - gone:
                if event in self._heads(record) and self._matters(event, record, gone):
                    found[record, REMOVED] = {REMOVED, "worked on"}
        return {name: them for name, them in found.items() if them != {IN_USE}}

    def namesakes(self) -> dict[str, list[str]]:
        """Return the codes that several boxes bear, with those boxes."""
        found: dict[str, list[str]] = {}
        for (record, name), values in sorted(self.values().items()):
            if name == "code":
                found.setdefault(min(values), []).append(record)
        return {code: boxes for code, boxes in found.items() if len(boxes) > 1}

    def _last(self, name: Field, among: list[Event]) -> set[str]:
        said: list[Event] = []
        retired = [e for e in among if e.field == name]
        for event in sorted(among, key=lambda event: event.number):
            if event.field == name:
                said.append(event)
            elif event.field == (name[0], WORK) and name[1] == RETIRED:
                apart = any(event.is_apart(each) for each in retired)
                seen = [each for each in said if each.number in event.knew]
                if apart and (not seen or IN_USE in _unknown_to_others(seen)):
                    said.append(event)
        return _unknown_to_others(said)

    def _on(self, record: str) -> list[Event]:
        """Return the events on a record, and on terminals in a box."""
        return [e for e in self.events.values() if e.field[0] == record or self._is_in(e, record)]

    @staticmethod
    def _is_in(event: Event, box: str) -> bool:
        return event.field[1] == PLACE and event.value == box

    def _heads(self, record: str) -> list[Event]:
        own = [e for e in self.events.values() if e.field[0] == record or record in e.removed]
        return [e for e in own if not any(e.number in other.knew for other in own)]

    def _void(self) -> set[int]:
        removals = [e for e in self.events.values() if e.removed]
        void = {
            e.number for e in removals
            if any(other.is_apart(e) for record in e.removed for other in self._on(record))
        }  # fmt: skip
        while True:
            gone = self._gone(void)
            more = {
                e.number for e in removals if e.number not in void
                and any(self._is_needed(record, gone) for record in e.removed & gone)
            }  # fmt: skip
            if not more:
                return void
            void |= more

    def _gone(self, void: set[int]) -> set[str]:
        every = set[str]().union(*(e.removed for e in self.events.values()))
        heads = {record: self._heads(record) for record in every}
        return {
            record for record, them in heads.items()
            if all(e.removed for e in them) and {e.number for e in them} - void
        }  # fmt: skip

    def _is_needed(self, box: str, gone: set[str] | frozenset[str]) -> bool:
        return any(self._is_in(e, box) and e.field[0] not in gone for e in self.events.values())

    def _matters(self, removal: Event, record: str, gone: set[str]) -> bool:
        apart = any(event.is_apart(removal) for event in self._on(record))
        return apart or self._is_needed(record, gone | removal.removed)


def _unknown_to_others(events: list[Event]) -> set[str]:
    known = frozenset[int]().union(*(event.knew for event in events))
    return {event.value for event in events if event.number not in known}
