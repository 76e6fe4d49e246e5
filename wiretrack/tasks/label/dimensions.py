# SPDX-License-Identifier: MIT
"""How thick a conductor is, for its labels."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.electrical.insulation_types import MM_PER_IN, outside_of
from wiretrack.electrical.runs import Wire
from wiretrack.model.entities import Circuit

if TYPE_CHECKING:
    from wiretrack.model.entities import Conductor


def outer_diameter_mm(conductor: Conductor) -> float | None:
    """Return the outer diameter in mm: as recorded, else by NEC chapter 9 table 5; else `None`."""
    if conductor.outer_diameter_mm is not None:
        return conductor.outer_diameter_mm
    outside = outside_of(Wire(conductor, Circuit(code=conductor.circuit)))
    return outside.diameter_in * MM_PER_IN if outside else None
