# SPDX-License-Identifier: MIT
"""Whether an end may be landed on a terminal, beside what is there already."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.errors import BadInputError
from wiretrack.registry import wiring
from wiretrack.registry.wiring import Place
from wiretrack.tags import format_tag

if TYPE_CHECKING:
    from collections.abc import Iterable

    from wiretrack.records import Conductor
    from wiretrack.registry.store import Registry

JOINING = ("splice", "bus")  # devices on whose terminals any number of conductors may meet
EARTHS = ("PE", "FE", "PEN")


def check_free(
    registry: Registry, place: Place, conductor: Conductor, leaving: Iterable[str] = ()
) -> None:
    """Refuse a terminal that holds an end of another circuit or function.

    Ends on a bus or a splice may meet, and so may protective conductors. `leaving` are the tags
    that go from there in the same change.

    Raises
    ------
    BadInputError
        If it is taken.
    """
    if any(pole.kind in JOINING for pole in wiring.poles_at(registry, place)):
        return
    gone = set(leaving)
    for end in wiring.ends_at(registry, place):
        same = (end.circuit, end.function) == (conductor.circuit, conductor.function)
        earths = end.function in EARTHS and conductor.function in EARTHS
        if end.tag not in gone and not same and not earths:
            raise BadInputError(
                f"{place.enclosure} {place.terminal} is taken by {format_tag(end.tag)}"
                f" ({end.circuit} {end.function}). Name another terminal for"
                f" {conductor.circuit} {conductor.function}."
            )


def check_no_bypass(registry: Registry, place: Place, tag: str) -> None:
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
        pole.other.terminal == other for pole in wiring.poles_at(registry, Place(box, one))
    )
