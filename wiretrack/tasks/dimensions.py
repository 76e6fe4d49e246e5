# SPDX-License-Identifier: MIT
"""How thick a conductor is, for labels and raceways."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from wiretrack.records import Conductor


def outer_diameter_mm(conductor: Conductor) -> float | None:
    """Return the outer diameter in mm: as recorded, else by NEC chapter 9 table 5; else `None`."""
    return conductor.outer_diameter_mm
