# SPDX-License-Identifier: MIT
"""Which conductors a meter's two leads have between them, by what the record says is joined."""

from __future__ import annotations

from collections import deque
from typing import TYPE_CHECKING

from wiretrack.model.entity import Point
from wiretrack.store import records, wiring

if TYPE_CHECKING:
    from collections.abc import Iterator

    from wiretrack.model.entities import Conductor
    from wiretrack.store.store import Registry

_JOINTS = ("splice", "bus")  # devices that only join, whether or not their state is recorded
_MOST = 200  # conductors looked at; a path that a person measures is short


def in_series(registry: Registry, one: str, other: str) -> list[str]:
    """Return the tags from `one` to `other`, each joined with the next; empty if they aren't.

    Conductors are joined by a terminal that they share, a splice, or a closed device.
    """
    came: dict[str, str | None] = {one: None}
    waiting = deque([one])
    while waiting and other not in came and len(came) < _MOST:
        here = waiting.popleft()
        for end in wiring.ends_of(registry, here):
            if end.terminal is None:
                continue
            for tag in _landed(registry, Point(end.enclosure, end.terminal)):
                if tag not in came:
                    came[tag] = here
                    waiting.append(tag)
    if other not in came:
        return []
    path: list[str] = []
    step: str | None = other
    while step is not None:
        path.append(step)
        step = came[step]
    return path[::-1]


def return_of(registry: Registry, conductor: Conductor) -> str | None:
    """Return the tag of the one protective conductor beside a conductor; `None` if none is sure."""
    boxes = {conductor.from_end.enclosure, conductor.to_end.enclosure}
    found = [
        c.tag
        for c in records.conductors(registry, circuits=[conductor.circuit], in_service=True)
        if c.function in ("PE", "PEN")
        and {c.from_end.enclosure, c.to_end.enclosure} == boxes
        and c.tag != conductor.tag
    ]
    return found[0] if len(found) == 1 else None


def _landed(registry: Registry, start: Point) -> Iterator[str]:
    """Yield the tags on a terminal, and on those that closed devices join with it."""
    seen, waiting = {start}, [start]
    while waiting:
        place = waiting.pop()
        yield from (end.tag for end in wiring.ends_at(registry, place))
        for pole in wiring.poles_at(registry, place):
            joins = pole.closed or pole.kind in _JOINTS
            if joins and pole.other not in seen:
                seen.add(pole.other)
                waiting.append(pole.other)
