# SPDX-License-Identifier: MIT
"""The metals that conductors are made of: a new one is a line here, and its columns in tables."""

from __future__ import annotations

from wiretrack.late import dataclass
from wiretrack.model.kinds import METAL


@dataclass(frozen=True)
class Metal:
    """A conductor metal, and its columns in the tables of resistance; "" where one lacks it.

    `nec_alpha_75` is in 1/K at 75 °C, NEC chapter 9 table 8, note 2 (reprint; original not seen).
    """

    name: str
    nec_column: str
    nec_alpha_75: float
    iec_column: str


# NEC chapter 9 table 8, note 2, for the factors at 75 °C (reprint; original not seen).
METALS = {
    "Cu": Metal("copper", "cu_uncoated", 0.00323, "cu_plain"),
    "Al": Metal("aluminium", "al", 0.00330, "al"),
}
METAL.allow(METALS)
