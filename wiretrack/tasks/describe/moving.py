# SPDX-License-Identifier: MIT
"""Moves of a circuit: to another device, and conductors that are given to it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wiretrack.errors import FieldError
from wiretrack.model.entities import Conductor
from wiretrack.model.entity import Point
from wiretrack.store.source import site_of
from wiretrack.tasks.describe.entering import record_called

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from wiretrack.model.entities import Circuit
    from wiretrack.model.parts import Device
    from wiretrack.store.store import Registry

Row = dict[str, Any]
DEVICE, CONDUCTORS = "device", "conductors"
MOVES = (DEVICE, CONDUCTORS)
_PROTECTING = ("breaker", "fuse")


def rows_moved(registry: Registry, record: Any, code: str, moves: Mapping[str, str]) -> list[Row]:
    """Return the rows of conductors that moves of a circuit change; it is called `code` then."""
    rows: list[Row] = []
    if CONDUCTORS in moves:
        rows += _given(registry, code, moves[CONDUCTORS])
    if DEVICE in moves:
        rows += _led(registry, record, moves[DEVICE])
    return rows


def _given(registry: Registry, code: str, tags: str) -> Iterator[Row]:
    """Yield the rows that give conductors, named with commas, to the circuit `code`."""
    for text in filter(None, (part.strip() for part in tags.split(","))):
        conductor = record_called(registry, text, ("conductor",))
        if len(conductor.circuits) > 1:
            told = f"{conductor.tag} serves {' and '.join(conductor.circuits)}"
            raise FieldError(CONDUCTORS, f"{told}. Say which it serves from now on by its circuit.")
        yield {"id": conductor.id, "circuit": code}


def _led(registry: Registry, circuit: Circuit, place: str) -> Iterator[Row]:
    """Yield the rows that lead a circuit's ends from its breaker or fuse to another device.

    An end goes from a pole's terminal to the same side of the same pole there. `FieldError` if it
    isn't plain which device it leaves, or something else is on the other one.
    """
    new, old = record_called(registry, place, ("device",)), device_of(circuit)
    if old is None:
        raise FieldError(DEVICE, f"{circuit.code} is landed on no one breaker or fuse. Set the ends"
                         " of its conductors.")  # fmt: skip
    onto = dict(_terminals(old, new))
    for conductor in circuit.in_service:
        row: Row = {}
        for side, end in (("from", conductor.from_end), ("to", conductor.to_end)):
            if end.terminal is None or (there := Point(end.enclosure, end.terminal)) not in onto:
                continue
            if onto[there] is None:
                here = f"{new.enclosure}/{new.code}"
                raise FieldError(DEVICE, f"{here} has no pole for what is on {there}.")
            _refuse_taken(registry, circuit, onto[there])
            enclosure, terminal = onto[there]
            row[side] = {"enclosure": enclosure, "terminal": terminal}
        if row:
            yield {"id": conductor.id, **row}


def device_of(circuit: Circuit) -> Device | None:
    """Return the one breaker or fuse that a circuit's conductors are landed on."""
    found = [device for device in circuit.devices if device.kind in _PROTECTING]
    return found[0] if len(found) == 1 else None


def moved(circuit: Circuit, fields: Mapping[str, str]) -> dict[str, tuple[Any, Any]]:
    """Return which device a circuit is led to, and from which, if it is."""
    old = device_of(circuit) if DEVICE in fields else None
    return {DEVICE: (f"{old.enclosure}/{old.code}", fields[DEVICE])} if old else {}


def _terminals(old: Device, new: Device) -> Iterator[tuple[Point, Any]]:
    for at, pole in enumerate(old.poles):
        for side, terminal in enumerate(pole):
            led = Point(new.enclosure, new.poles[at][side]) if at < len(new.poles) else None
            yield Point(old.enclosure, terminal), led


def _refuse_taken(registry: Registry, circuit: Circuit, place: Point) -> None:
    for other in site_of(registry).at(Conductor, "terminal", place):
        if other.retired_at is None and circuit.code not in other.circuits:
            told = f"{other.tag} ({other.circuit} {other.function}) is on {place}"
            raise FieldError(DEVICE, f"{told} already. Land it elsewhere first.")
