# SPDX-License-Identifier: MIT
"""What to do, and what can hurt, before a reading is taken or a place is entered.

Common practice of the trade, none of it a substitute for training or for the local rules.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.model.words import ARRAYS

if TYPE_CHECKING:
    from collections.abc import Iterable

LAST_WORD = "The local code and a licensed electrician decide."
SOURCE = "common practice"

DEAD = (
    "Isolate the circuit, lock it off and tag it, and keep the key.",
    "Prove it dead with a voltage tester proved on a known source just before and just after.",
)
_PV = (
    "A PV array is live whenever light falls on it; opening a switch doesn't make it dead.",
    "Never open a DC connector or fuse under load: the arc doesn't go out by itself.",
)
_BATTERY = ("A battery can't be switched off: cover its terminals, take off rings and watches.",)
_ROOF = (
    "On a roof: fall protection, no work on a wet or icy roof, and not alone.",
    "Ladder: on firm ground, four up for one out, tied, three rungs above the edge, and away from "
    "overhead lines.",
)
INVERTER = (
    "An inverter's own capacitors hold its DC side live for minutes after it is cut off: wait as "
    "its plate says, then prove it dead."
)


def around(
    lines: tuple[str, ...], system: str | None, places: tuple[str, ...] = ()
) -> tuple[str, ...]:
    """Return `lines` with the dangers of a circuit's system and of the places, the last word last.

    Parameters
    ----------
    system : str or None
        System of the circuit; PV and batteries have dangers of their own.
    places : tuple of str
        Kinds of the enclosures at both ends; a roof adds what holds there.
    """
    if system == "dc-pv":
        lines = (*_PV, *lines)
    if system == "dc-battery":
        lines = (*_BATTERY, *lines)
    if any(place in ARRAYS for place in places):
        lines = (*lines, *_ROOF)
    return (*lines, LAST_WORD)


def opening_cautions(
    systems: Iterable[str | None], places: Iterable[str | None] = ()
) -> tuple[str, ...]:
    """Return what to read before boxes of these kinds, with circuits of these systems, are opened.

    The last word is the last.
    """
    met = set(systems)
    pv = _PV if "dc-pv" in met else ()
    battery = _BATTERY if "dc-battery" in met else ()
    roof = _ROOF if any(place in ARRAYS for place in places) else ()
    return (*pv, *battery, *DEAD, *roof, LAST_WORD)
