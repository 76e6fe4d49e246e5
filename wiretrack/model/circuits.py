# SPDX-License-Identifier: MIT
"""The circuits that one conductor serves, looked at as one."""

from __future__ import annotations

from dataclasses import fields
from typing import TYPE_CHECKING, Any

from wiretrack.model.entities import Circuit
from wiretrack.model.words import SPARE

if TYPE_CHECKING:
    from collections.abc import Sequence

_HIGHEST = ("max_voltage_v", "overcurrent_a")
_NO_SUM = ("max_current_a", "id")


def together(circuits: Sequence[Circuit]) -> Circuit:
    """Return what holds of a conductor that serves these: one circuit, several, or none.

    Of several only what they agree on is known, and their highest voltage and overcurrent device.
    What they carry together isn't: the currents of two circuits can't be added.

    >>> both = together([Circuit(code="A", max_voltage_v=230.0), Circuit(code="B")])
    >>> both.code, both.max_voltage_v
    ('A/B', None)
    """
    if len(circuits) == 1:
        return circuits[0]
    known: dict[str, Any] = {"code": written([circuit.code for circuit in circuits])}
    for each in fields(Circuit):
        values = [getattr(circuit, each.name) for circuit in circuits]
        if each.name in (*_NO_SUM, "code") or not values or None in values:
            continue
        if each.name in _HIGHEST:
            known[each.name] = max(values)
        elif len(set(values)) == 1:
            known[each.name] = values[0]
    return Circuit(**known)


def as_json(circuits: Sequence[str]) -> str | list[str] | None:
    """Return the codes as files and JSON have them: one, a list of several, or `None`."""
    return circuits[0] if len(circuits) == 1 else [*circuits] or None


def written(value: str | Sequence[str] | None) -> str:
    """Return them as people write them.

    >>> written(["A", "B"]), written("A"), written(None)
    ('A/B', 'A', 'SPARE')
    """
    return value if isinstance(value, str) else "/".join(value or ()) or SPARE
