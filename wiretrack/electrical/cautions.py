# SPDX-License-Identifier: MIT
"""What can hurt, and what to do before a reading is taken, a place is entered or a box is opened.

Common practice of the trade, none of it a substitute for training or for the local rules.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.model.words import ARRAYS, DC_SYSTEMS

if TYPE_CHECKING:
    from collections.abc import Iterable

    from wiretrack.model.entities import Circuit


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


def once(lines: Iterable[str]) -> tuple[str, ...]:
    """Return cautions each once, the last word last."""
    return (*dict.fromkeys(line for line in lines if line != LAST_WORD), LAST_WORD)


def around(
    lines: tuple[str, ...], systems: Iterable[str | None], places: Iterable[str | None] = ()
) -> tuple[str, ...]:
    """Return `lines` with the dangers of circuits' systems and of the places, the last word last.

    `places` are the kinds of the enclosures where it is done; a roof adds what holds there.
    """
    met = set(systems)
    pv = _PV if "dc-pv" in met else ()
    battery = _BATTERY if "dc-battery" in met else ()
    roof = _ROOF if any(place in ARRAYS for place in places) else ()
    return (*pv, *battery, *lines, *roof, LAST_WORD)


PV_LIVE = "DANGER: PV, live in daylight"
BATTERY_LIVE = "DANGER: battery, always live"
_KINDS = {**dict.fromkeys(DC_SYSTEMS, "DC"), "ac-1ph": "AC", "ac-3ph": "AC"}


def box_hazards(circuits: Iterable[Circuit]) -> tuple[str, ...]:
    """Return the hazards of a box that these circuits enter, the worst first; common practice.

    A voltage that isn't recorded is said to be so, never left out.

    >>> from wiretrack.model.entities import Circuit
    >>> box_hazards([Circuit(code="S1", system="dc-pv", max_voltage_v=480.0)])
    ('DANGER: PV, live in daylight', 'Up to 480 V DC', 'Prove it dead')
    """
    found = list(circuits)
    systems = {circuit.system for circuit in found}
    lines = [
        line
        for system, line in (("dc-pv", PV_LIVE), ("dc-battery", BATTERY_LIVE))
        if system in systems
    ]
    live = [circuit for circuit in found if circuit.system != "earthing"]
    if live:
        lines.append(_voltages(live))
    lines.append(f"{len(live)} circuits: prove each dead" if len(live) > 1 else "Prove it dead")
    return tuple(lines)


def _voltages(live: list[Circuit]) -> str:
    known: dict[str, float] = {}
    unknown = 0
    for circuit in live:
        if circuit.max_voltage_v is None:
            unknown += 1
            continue
        kind = _KINDS.get(circuit.system or "", "")
        known[kind] = max(known.get(kind, 0.0), circuit.max_voltage_v)
    told = ", ".join(f"{volts:g} V {kind}".strip() for kind, volts in sorted(known.items()))
    if not told:
        return "Voltage not recorded"
    if unknown:
        return f"Up to {told}; not recorded for {unknown} more"
    return f"Up to {told}"
