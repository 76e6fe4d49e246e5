# SPDX-License-Identifier: MIT
"""Following a path: conductors through shared terminals and closed devices, end to end."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from wiretrack.errors import NotFoundError, TagError
from wiretrack.model.tags import format_tag
from wiretrack.store import wiring
from wiretrack.store.searching import resolve
from wiretrack.store.wiring import LandedEnd, Place, Pole
from wiretrack.tasks.change.retired import conductor_in_service
from wiretrack.tasks.find.wires import StoredWires, Wires, turned

if TYPE_CHECKING:
    from wiretrack.model.entities import Conductor
    from wiretrack.store.store import Registry

Item = dict[str, Any]
ALWAYS_JOINED = ("splice", "bus")


def trace(registry: Registry, what: str) -> dict[str, Any]:
    """Return ``{"path", "branches", "stops"}`` from a conductor (tag) or a terminal.

    ``path`` runs from the end that the record calls "from" (the source, where the record was
    written that way) to the load. At a terminal where several ways lead on, the one of the same
    circuit and function is followed; the others are listed as branches. ``stops`` says in words
    why the path ends at each side.
    """
    start = _start(registry, what)
    wires = StoredWires(registry)
    if isinstance(start, Place):
        return _from_terminal(_Walk(wires), start)
    return trace_ends(wires, start)


def trace_of(registry: Registry, conductor: Conductor) -> dict[str, Any]:
    """Return `trace` of a conductor in service whose record is at hand."""
    here, there = conductor.from_end, conductor.to_end
    first = LandedEnd(
        tag=conductor.tag or "",
        circuit=conductor.circuit,
        function=conductor.function,
        side="from",
        enclosure=here.enclosure,
        terminal=here.terminal,
        state=here.state,
        other_enclosure=there.enclosure,
        other_terminal=there.terminal,
        other_state=there.state,
    )
    return trace_ends(StoredWires(registry), (first, turned(first)))


def trace_ends(wires: Wires, ends: tuple[LandedEnd, LandedEnd]) -> dict[str, Any]:
    """Return `trace` of the conductor that has these two ends, the "from" end first."""
    first, second = ends
    walk = _Walk(wires)
    walk.seen_tags.add(first.tag)
    back = walk.follow(_arrived(first), first.circuit, first.function)
    onward = walk.follow(_arrived(second), first.circuit, first.function)
    return {
        "path": [*reversed(back.items), _conductor_item(first), *onward.items],
        "branches": walk.branches,
        "stops": [back.stop, onward.stop],
    }


@dataclass(frozen=True)
class _Arrival:
    """Where a walk stands: an enclosure, and the terminal if the end is landed on one."""

    enclosure: str
    terminal: str | None
    state: str | None


@dataclass
class _Leg:
    """One direction of a path: its items in walking order, and why it ends."""

    items: list[Item] = field(default_factory=list)
    stop: str = ""


class _Walk:
    """A walk through the wiring that never enters a conductor or a pole twice."""

    def __init__(self, wires: Wires) -> None:
        self.wires = wires
        self.seen_tags: set[str] = set()
        self.seen_poles: set[tuple[str, str, int]] = set()
        self.seen_places: set[Place] = set()
        self.branches: list[Item] = []

    def follow(
        self, arrival: _Arrival, circuit: str, function: str, through: str | None = None
    ) -> _Leg:
        """Return the leg that leads on from `arrival`, reached through the device `through`."""
        leg = _Leg()
        while True:
            if arrival.terminal is None:
                state = arrival.state or "not known to be landed"
                leg.stop = f"the end in {arrival.enclosure} is {state}"
                return leg
            place = Place(arrival.enclosure, arrival.terminal)
            if place in self.seen_places:
                leg.stop = f"the path comes back to {place.enclosure} {place.terminal}: a loop"
                return leg
            self.seen_places.add(place)
            leg.items.append({"terminal": place.terminal, "enclosure": place.enclosure})
            way = self._choose(place, (circuit, function), through, leg)
            if way is None:
                return leg
            leg.items.append(self.enter(way))
            through = way.device if isinstance(way, Pole) else None
            arrival = _beyond(way)

    def ways(self, place: Place) -> list[LandedEnd | Pole]:
        """Return the conductors and poles at a terminal that the walk has not used."""
        ends = self.wires.ends_at(place)
        poles = self.wires.poles_at(place)
        return [
            *(end for end in ends if end.tag not in self.seen_tags),
            *(pole for pole in poles if _pole_key(pole) not in self.seen_poles),
        ]

    def _choose(
        self, place: Place, serves: tuple[str, str], through: str | None, leg: _Leg
    ) -> LandedEnd | Pole | None:
        """Return the way to follow at `place`, or `None` with the reason in `leg`.

        Of several ways, the other poles of the device just passed lead back to what is beside the
        path, so they are left aside; then the way of the same circuit and function is taken.
        """
        ways = self.ways(place)
        dead_ends = [way for way in ways if isinstance(way, Pole) and _is_open(way)]
        ways = [way for way in ways if way not in dead_ends]
        for pole in dead_ends:
            self.branch(place, [pole], f"{pole.device} is open")
        if not ways:
            leg.stop = _nothing_on(place, dead_ends)
            return None
        onward = [way for way in ways if not _is_pole_of(way, through)]
        alike = [way for way in onward if _serves(way, serves)]
        main = next((some for some in (ways, onward, alike) if len(some) == 1), None)
        if main is None:
            self.branch(place, ways, "several ways lead on")
            leg.stop = f"{len(ways)} ways lead on from {place.enclosure} {place.terminal}"
            return None
        others = [way for way in ways if way is not main[0]]
        if others:
            self.branch(place, others, "shares the terminal")
        return main[0]

    def enter(self, way: LandedEnd | Pole) -> Item:
        """Mark a way as used and return its item for the path."""
        if isinstance(way, Pole):
            self.seen_poles.add(_pole_key(way))
            return {
                "device": way.device,
                "enclosure": way.here.enclosure,
                "kind": way.kind,
                "closed": True if way.kind in ALWAYS_JOINED else way.closed,
            }
        self.seen_tags.add(way.tag)
        return _conductor_item(way)

    def branch(self, place: Place, ways: list[Any], reason: str) -> None:
        """Note ways that the path does not take, and why."""
        self.branches.append(
            {
                "terminal": place.terminal,
                "enclosure": place.enclosure,
                "reason": reason,
                "conductors": [format_tag(w.tag) for w in ways if isinstance(w, LandedEnd)],
                "devices": list(dict.fromkeys(w.device for w in ways if isinstance(w, Pole))),
            }
        )


def _start(registry: Registry, what: str) -> Place | tuple[LandedEnd, LandedEnd]:
    try:
        tag = resolve(registry, what, ("conductor",)).code
    except TagError:
        raise
    except NotFoundError as error:
        if error.near:
            raise
        return wiring.find_terminal(registry, what)
    conductor_in_service(registry, tag)
    return wiring.ends_of(registry, tag)


def _from_terminal(walk: _Walk, place: Place) -> dict[str, Any]:
    """Return the path through a terminal: both ways where two lead away, else one."""
    walk.seen_places.add(place)
    item: Item = {"terminal": place.terminal, "enclosure": place.enclosure}
    ways = walk.ways(place)
    if len(ways) > 2:
        walk.branch(place, list(ways), "several ways lead on")
        return {"path": [item], "branches": walk.branches, "stops": [f"{len(ways)} ways lead on"]}
    legs = [_leg_through(walk, way) for way in ways]
    back = legs[0].items if len(legs) == 2 else []
    onward = legs[-1].items if legs else []
    return {
        "path": [*reversed(back), item, *onward],
        "branches": walk.branches,
        "stops": [leg.stop for leg in legs] or ["nothing is on this terminal"],
    }


def _leg_through(walk: _Walk, way: LandedEnd | Pole) -> _Leg:
    if isinstance(way, Pole) and _is_open(way):
        return _Leg(stop=f"{way.device} is open")
    circuit, function = ("", "") if isinstance(way, Pole) else (way.circuit, way.function)
    first = walk.enter(way)
    through = way.device if isinstance(way, Pole) else None
    leg = walk.follow(_beyond(way), circuit, function, through)
    leg.items.insert(0, first)
    return leg


def _arrived(end: LandedEnd) -> _Arrival:
    return _Arrival(end.enclosure, end.terminal, end.state)


def _beyond(way: LandedEnd | Pole) -> _Arrival:
    if isinstance(way, Pole):
        return _Arrival(way.other.enclosure, way.other.terminal, "landed")
    return _Arrival(way.other_enclosure, way.other_terminal, way.other_state)


def _conductor_item(end: LandedEnd) -> Item:
    return {
        "conductor": format_tag(end.tag),
        "enclosure": None,
        "circuit": end.circuit,
        "function": end.function,
    }


def _is_open(pole: Pole) -> bool:
    return pole.closed is False and pole.kind not in ALWAYS_JOINED


def _is_pole_of(way: LandedEnd | Pole, device: str | None) -> bool:
    return isinstance(way, Pole) and way.device == device


def _serves(way: LandedEnd | Pole, serves: tuple[str, str]) -> bool:
    return isinstance(way, Pole) or (way.circuit, way.function) == serves


def _nothing_on(place: Place, dead_ends: list[Any]) -> str:
    if dead_ends:
        return f"{dead_ends[0].device} in {place.enclosure} is open"
    return f"nothing else is on {place.enclosure} {place.terminal}"


def _pole_key(pole: Pole) -> tuple[str, str, int]:
    return (pole.here.enclosure, pole.device, pole.position)
