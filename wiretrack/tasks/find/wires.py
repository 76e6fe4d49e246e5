# SPDX-License-Identifier: MIT
"""What is on a terminal: asked of the registry each time, or of the whole site read once."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from typing import TYPE_CHECKING, Protocol

from wiretrack.store import wiring
from wiretrack.store.wiring import LandedEnd, Place, Pole

if TYPE_CHECKING:
    from wiretrack.store.store import Registry


class Wires(Protocol):
    """Where a walk through the wiring learns what is on a terminal."""

    def ends_at(self, place: Place) -> list[LandedEnd]:
        """Return the conductor ends on a terminal."""

    def poles_at(self, place: Place) -> list[Pole]:
        """Return the poles of devices that have the terminal as one of their two."""


class StoredWires:
    """Asks the registry: for one walk."""

    def __init__(self, registry: Registry) -> None:
        self._registry = registry

    def ends_at(self, place: Place) -> list[LandedEnd]:
        """Return the conductor ends on a terminal."""
        return wiring.ends_at(self._registry, place)

    def poles_at(self, place: Place) -> list[Pole]:
        """Return the poles of devices that have the terminal as one of their two."""
        return wiring.poles_at(self._registry, place)


class SiteWires:
    """Keeps the whole site's wiring: for a walk from every conductor."""

    def __init__(self, registry: Registry) -> None:
        self._ends: defaultdict[Place, list[LandedEnd]] = defaultdict(list)
        self._poles: defaultdict[Place, list[Pole]] = defaultdict(list)
        self._of: dict[str, tuple[LandedEnd, LandedEnd]] = {}
        for end in wiring.all_ends(registry):
            self._of[end.tag] = both = (end, turned(end))
            for one in both:
                if one.terminal is not None:
                    self._ends[Place(one.enclosure, one.terminal)].append(one)
        for pole in wiring.all_poles(registry):
            self._poles[pole.here].append(pole)
            if pole.other != pole.here:
                back = replace(pole, here=pole.other, other=pole.here)
                self._poles[pole.other].append(back)

    def ends_at(self, place: Place) -> list[LandedEnd]:
        """Return the conductor ends on a terminal."""
        return self._ends.get(place, [])

    def poles_at(self, place: Place) -> list[Pole]:
        """Return the poles of devices that have the terminal as one of their two."""
        return self._poles.get(place, [])

    def ends_of(self, tag: str) -> tuple[LandedEnd, LandedEnd] | None:
        """Return the two ends of a conductor, the "from" end first; `None` if it isn't wired."""
        return self._of.get(tag)


def turned(end: LandedEnd) -> LandedEnd:
    """Return the other end of a conductor."""
    return replace(
        end,
        side="to" if end.side == "from" else "from",
        enclosure=end.other_enclosure,
        terminal=end.other_terminal,
        state=end.other_state,
        other_enclosure=end.enclosure,
        other_terminal=end.terminal,
        other_state=end.state,
    )
