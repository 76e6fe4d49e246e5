# SPDX-License-Identifier: MIT
"""The metals, what a number must be before a formula sees it, and figures as people write them."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from wiretrack.errors import AmbiguousError, BadInputError, OutOfRangeError, TableEntryError
from wiretrack.late import dataclass, pattern
from wiretrack.model.kinds import METAL

if TYPE_CHECKING:
    import re


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


LONGEST = 60  # characters of a text that a message repeats; common practice
# A figure with commas in it, and what its commas can be.
_COMMAS = pattern(r"[0-9.,]*,[0-9.,]*")
_EITHER = pattern(r"[1-9][0-9]{0,2},[0-9]{3}")
_DECIMAL = pattern(r"(?:[0-9]*|[1-9][0-9]{0,2}(?:\.[0-9]{3})+),[0-9]+")
_GROUPED = pattern(r"[1-9][0-9]{0,2}(?:(?:,[0-9]{3})+\.[0-9]+|(?:,[0-9]{3}){2,})")
# IEC 60062:2016, clause 4 (read as: memory): the letter stands for the decimal sign.
_CODED = pattern(r"([>≥=<+-]*\s*[0-9]*)([RkKMGT])([0-9]+)")


def without_commas(plain: str, name: str) -> str:
    """Return a text whose figures have a point for the decimal sign and no groups.

    Raises `AmbiguousError` if a comma may be either; both readings are named, of what is called
    `name`; `ValueError` if a comma can be neither.

    >>> [without_commas(each, "a voltage") for each in ("0,3", "1,200.5", "1.200,5 V")]
    ['0.3', '1200.5', '1200.5 V']
    """

    def figure(found: re.Match[str]) -> str:
        written = found[0]
        if _EITHER.fullmatch(written):
            signs = (written.replace(",", "."), written.replace(",", ""))
            readings = [f"{plain[: found.start()]}{each}{plain[found.end() :]}" for each in signs]
            raise AmbiguousError(shown(plain), f"can be read as {name} in two ways", readings)
        if _DECIMAL.fullmatch(written):
            return written.replace(".", "").replace(",", ".")
        if _GROUPED.fullmatch(written):
            return written.replace(",", "")
        raise ValueError("a comma stands where none can")

    return _COMMAS.sub(figure, plain)


def decoded(plain: str) -> str:
    """Return a resistance with a point where it has a letter of IEC 60062; another text as it is.

    >>> decoded("4K7"), decoded("R47"), decoded("0.42R")
    ('4.7K', '.47R', '0.42R')
    """
    return _CODED.sub(r"\1.\3\2", plain) if _CODED.fullmatch(plain) else plain


def shown(text: str) -> str:
    """Return `text` as it may stand in a message: printable, and not endless."""
    clean = "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in text)
    return clean if len(clean) <= LONGEST else f"{clean[:LONGEST]}…"
