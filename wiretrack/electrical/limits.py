# SPDX-License-Identifier: MIT
"""The metals, and what a number must be before any formula sees it, refused in words otherwise."""

from __future__ import annotations

import math

from wiretrack.errors import BadInputError, OutOfRangeError, TableEntryError
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


LONGEST_M = 1e5


def above(low: float, name: str, value: float, unit: str) -> None:
    """Refuse a value that isn't a finite number above `low`."""
    if not math.isfinite(value) or value <= low:
        raise OutOfRangeError(name, value, unit, f"above {low:g} {unit}")


def between(low: float, high: float, name: str, value: float, unit: str) -> None:
    """Refuse a value that isn't a finite number from `low` to `high`."""
    if not math.isfinite(value) or not low <= value <= high:
        raise OutOfRangeError(name, value, unit, f"from {low:g} to {high:g} {unit}")


def check_length(length_m: float, name: str = "Length") -> None:
    """Refuse a length that isn't above 0 m and at most 100 km."""
    if not math.isfinite(length_m) or not 0 < length_m <= LONGEST_M:
        raise OutOfRangeError(name, length_m, "m", "above 0 m and at most 100 km")


def check_temperature(temp_c: float, name: str = "Temperature") -> None:
    """Refuse a temperature at which no cable is used or tested."""
    between(-100, 250, name, temp_c, "°C")


def check_metal(metal: str) -> None:
    """Refuse a metal that isn't in the list."""
    if metal not in METALS:
        raise TableEntryError("The list of conductor metals", metal, [*METALS])


def check_strands(strands: int | None) -> None:
    """Refuse a count of strands that isn't a whole number of 1 or more."""
    if strands is not None and (isinstance(strands, bool) or not 1 <= strands <= 100_000):
        raise BadInputError(f"A conductor of {strands} strands is impossible. Count at least 1.")
