# SPDX-License-Identifier: MIT
"""Protective conductors and neutrals that other circuits need too."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

from wiretrack.model.entity import Point
from wiretrack.store import records, wiring

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from wiretrack.model.entities import Conductor
    from wiretrack.store.store import Registry
    from wiretrack.store.wiring import LandedEnd, Pole

_EARTHS, _NEUTRALS = ("PE", "PEN"), ("N", "PEN")
_LINES = ("L1", "L2", "L3")
_LIVE = (*_LINES, "L+", "L-")
_WITHOUT_EARTH = ("signal", "earthing")


def needed_by(registry: Registry, going: Sequence[Conductor]) -> dict[str, list[str]]:
    """Return which other circuits need each protective conductor and neutral among `going`.

    One is needed where it alone joins what other circuits have landed at both its ends, or where
    a circuit that lies in the same pull, or between the same boxes, has none of its own.
    """
    leaving = {conductor.tag for conductor in going}
    found: dict[str, list[str]] = {}
    for conductor in going:
        if conductor.function in (*_EARTHS, "N"):
            circuits_there = {
                *_hanging_on(registry, conductor, leaving),
                *_without_their_own(registry, conductor, leaving),
            }
            if circuits_there:
                found[conductor.tag or ""] = sorted(circuits_there)
    return found


def _kin(function: str) -> tuple[str, ...]:
    """Return the functions that do what this one does."""
    return tuple(kin for group in (_EARTHS, _NEUTRALS) if function in group for kin in group)


def _hanging_on(registry: Registry, conductor: Conductor, leaving: set[str | None]) -> list[str]:
    """Return the circuits that a conductor alone joins with those at its other end.

    Which end is fed isn't recorded; it is where fewer circuits meet, or else its "to" end.
    """
    ends = (conductor.from_end, conductor.to_end)
    if any(end.terminal is None for end in ends):
        return []
    places = [Point(end.enclosure, end.terminal or "") for end in ends]
    joined, poles = wiring.joined_with(registry, conductor.tag, None)
    kin = _kin(conductor.function)
    kept = [end for end in joined if end.tag not in leaving and end.function in kin]
    sides = [_circuits_from(place, kept, poles) for place in places]
    if places[1] in sides[0][1] or not (sides[0][0] and sides[1][0]):
        return []  # joined by another way too, or nobody hangs on one of its ends
    (fed, _), (fan, _) = sides
    return sorted(fan if len(fan) <= len(fed) else fed)


def _circuits_from(
    start: Point, ends: Iterable[LandedEnd], poles: Iterable[Pole]
) -> tuple[set[str], set[Point]]:
    """Return the circuits, and the terminals, that are joined with a terminal."""
    ways: defaultdict[Point, list[tuple[Point, str | None]]] = defaultdict(list)
    for end in ends:
        here = Point(end.enclosure, end.terminal or f" {end.tag}")  # a loose end is a place alone
        there = Point(end.other_enclosure, end.other_terminal or f" {end.tag} ")
        ways[here].append((there, end.circuit))
        ways[there].append((here, end.circuit))
    for pole in poles:
        ways[pole.here].append((pole.other, None))
        ways[pole.other].append((pole.here, None))
    reached, waiting, found = {start}, [start], set()
    while waiting:
        for there, circuit in ways[waiting.pop()]:
            found |= {circuit} - {None}
            if there not in reached:
                reached.add(there)
                waiting.append(there)
    return {circuit for circuit in found if circuit}, reached


def _without_their_own(
    registry: Registry, conductor: Conductor, leaving: set[str | None]
) -> list[str]:
    """Return the circuits beside a conductor that have no conductor of its function."""
    beside = records.beside(registry, conductor)
    here = {c.circuit for c in beside if c.tag not in leaving and c.function in _LIVE}
    here.discard(conductor.circuit)
    all_of = records.conductors(registry, circuits=here, in_service=True)
    systems = {c.code: c.system for c in records.circuits(registry, here)}
    functions = defaultdict(set)
    for each in all_of:
        functions[each.circuit].add(each.function)
    return [
        code for code in sorted(here) if _wants(conductor.function, systems[code], functions[code])
    ]


def _wants(function: str, system: str | None, functions: set[str]) -> bool:
    """Return whether a circuit with these functions lacks what `function` would give it.

    A circuit with one line alone has no other way back than a neutral; with two it may have.
    """
    if function in _EARTHS and system not in _WITHOUT_EARTH and not functions & set(_EARTHS):
        return True
    lines = functions & set(_LINES)
    return function in _NEUTRALS and len(lines) == 1 and not functions & set(_NEUTRALS)
