# SPDX-License-Identifier: MIT
"""What can hurt inside an enclosure, in the few words that go on its card."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.model.words import DC_SYSTEMS

if TYPE_CHECKING:
    from collections.abc import Iterable

    from wiretrack.model.entities import Circuit

SOURCE = "common practice"
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
