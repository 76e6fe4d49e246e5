# SPDX-License-Identifier: MIT
"""Whether an end may be landed on a terminal, beside what is there already."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.errors import BadInputError
from wiretrack.model.entity import Point
from wiretrack.model.tags import format_tag
from wiretrack.store import wiring

if TYPE_CHECKING:
    from wiretrack.model.entities import Conductor
    from wiretrack.store.store import Registry
    from wiretrack.store.wiring import LandedEnd

JOINING = ("splice", "bus")  # devices on whose terminals any number of conductors may meet
EARTHS = ("PE", "FE", "PEN")


def check_free(registry: Registry, place: Point, conductor: Conductor) -> None:
    """Refuse a terminal that holds an end of another circuit or function.

    Ends on a bus or a splice may meet, and so may protective conductors.

    Raises
    ------
    BadInputError
        If it is taken.
    """
    for end in wiring.ends_at(registry, place):
        if not may_meet(registry, place, end, conductor):
            raise BadInputError(
                f"{place.enclosure} {place.terminal} is taken by {format_tag(end.tag)}"
                f" ({end.circuit} {end.function}). Name another terminal for"
                f" {conductor.circuit} {conductor.function}."
            )


def may_meet(
    registry: Registry, place: Point, one: Conductor | LandedEnd, other: Conductor
) -> bool:
    """Return whether ends of two conductors may lie on one terminal."""
    if (one.circuit, one.function) == (other.circuit, other.function):
        return True
    if one.function in EARTHS and other.function in EARTHS:
        return True
    return any(pole.kind in JOINING for pole in wiring.poles_at(registry, place))


def check_no_bypass(registry: Registry, place: Point, tag: str) -> None:
    """Refuse both pieces of a conductor on one terminal of one pole: that leads past the device.

    Raises
    ------
    BadInputError
        If the terminal is a pole's.
    """
    for pole in wiring.poles_at(registry, place):
        if pole.kind not in JOINING:
            raise BadInputError(
                f"Both pieces of {format_tag(tag)} on {place.enclosure} {place.terminal} lead past"
                f" {pole.device}. Name the terminal of each: TAG={place.terminal},"
                f"{pole.other.terminal}."
            )


def joined(registry: Registry, box: str, one: str | None, other: str | None) -> bool:
    """Return whether two terminals of a box are one, or have a device's pole between them."""
    if one is None or other is None:
        return False
    return one == other or any(
        pole.other.terminal == other for pole in wiring.poles_at(registry, Point(box, one))
    )
