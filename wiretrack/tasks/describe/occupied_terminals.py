# SPDX-License-Identifier: MIT
"""Whether an end may be landed on a terminal, beside what is there already."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.errors import BadInputError
from wiretrack.model.entity import Point
from wiretrack.model.tags import format_tag
from wiretrack.model.wiring import ALWAYS_JOINED, Link, Wiring
from wiretrack.model.words import PROTECTIVE
from wiretrack.store.source import site_of

if TYPE_CHECKING:
    from wiretrack.model.entities import Conductor
    from wiretrack.store.store import Registry


def check_free(registry: Registry, place: Point, conductor: Conductor) -> None:
    """Refuse a terminal that holds an end of another circuit or function.

    Ends on a bus or a splice may meet, and so may protective conductors.

    Raises
    ------
    BadInputError
        If it is taken.
    """
    for link in Wiring(site_of(registry)).at(place):
        if link.what == "conductor" and not may_meet(registry, place, link, conductor):
            raise BadInputError(
                f"{place} is taken by {link.name}"
                f" ({link.circuit} {link.function}). Name another terminal for"
                f" {conductor.circuit} {conductor.function}."
            )


def may_meet(registry: Registry, place: Point, one: Conductor | Link, other: Conductor) -> bool:
    """Return whether ends of two conductors may lie on one terminal."""
    theirs = one.served if isinstance(one, Link) else one.circuits
    if one.function == other.function and not {*theirs}.isdisjoint(other.circuits):
        return True
    if one.function in PROTECTIVE and other.function in PROTECTIVE:
        return True
    return any(pole.kind in ALWAYS_JOINED for pole in _poles(registry, place))


def check_no_bypass(registry: Registry, place: Point, tag: str) -> None:
    """Refuse both pieces of a conductor on one terminal of one pole: that leads past the device.

    Raises
    ------
    BadInputError
        If the terminal is a pole's.
    """
    for pole in _poles(registry, place):
        if pole.kind not in ALWAYS_JOINED:
            raise BadInputError(
                f"Both pieces of {format_tag(tag)} on {place} lead past"
                f" {pole.name}. Name the terminal of each: TAG={place.terminal},"
                f"{pole.beyond(place).terminal}."
            )


def joined(registry: Registry, box: str, one: str | None, other: str | None) -> bool:
    """Return whether two terminals of a box are one, or have a device's pole between them."""
    if one is None or other is None:
        return False
    place = Point(box, one)
    poles = _poles(registry, place)
    return one == other or any(pole.beyond(place).terminal == other for pole in poles)


def _poles(registry: Registry, place: Point) -> list[Link]:
    return [link for link in Wiring(site_of(registry)).at(place) if link.what == "device"]
