# SPDX-License-Identifier: MIT
"""Quantities back into text: short for people, exact for files."""

from __future__ import annotations

import re
from math import isclose
from typing import TYPE_CHECKING, Any

from wiretrack.electrical.sizes import SQUARE_MM_PER_KCMIL, standard_sizes
from wiretrack.late import pattern
from wiretrack.manner import here

if TYPE_CHECKING:
    from wiretrack.electrical.quantities import Measured

_METRES = pattern(r"(-?[\d.]+(?:e-?\d+)?) m")
_OHM = pattern(r"(?<=[\d\s.kMGTmµ])ohms?\b", re.IGNORECASE)
# A figure without a unit, as `quantities` reads it: its prefix alone, or instead of the point.
_BARE = pattern(r"([<>≥=]*\s*[-+−]?\d[\d.,' ]*?(?:[kKMGm]\d+|e[-+]?\d+)?)\s*([nµumkKMGT]?)")
_FOOT_M = 0.3048  # exact: the international foot
_STEPS = ((1e9, "G"), (1e6, "M"), (1e3, "k"), (1.0, ""), (1e-3, "m"))


def format_resistance(ohms: float, digits: int = 3) -> str:
    """Return a resistance for people.

    >>> format_resistance(0.2457), format_resistance(1e6)
    ('0.246 Ω', '1 MΩ')
    """
    if 0.01 <= abs(ohms) < 1 or ohms == 0:
        return f"{ohms:.{digits}g} Ω"
    return _engineering(ohms, "Ω", digits)


def format_voltage(volts: float, digits: int = 4) -> str:
    """Return a voltage for people; kilovolts only from 10 kV up."""
    if 1 <= abs(volts) < 10_000 or volts == 0:
        return f"{volts:.{digits}g} V"
    return _engineering(volts, "V", digits)


def format_length(length_m: float) -> str:
    """Return a length for people: the site's own unit first, then the other one; three figures.

    >>> format_length(51.5112)
    '51.5 m (169 ft)'
    """
    return "{} ({})".format(*_lengths(length_m))


def own_length(length_m: float) -> str:
    """Return a length for people in the site's own unit."""
    return _lengths(length_m)[0]


def in_own_unit(value: Any, digits: int = 6) -> Any:
    """Return a length as a file has it, or a list of them, in the site's own unit.

    Typing it again gives the same to so many figures.

    >>> in_own_unit("52.7304 m")
    '52.7304 m'
    >>> from wiretrack.manner import Manner, use
    >>> use(Manner(units="ft"))
    >>> in_own_unit("52.7304 m"), in_own_unit(["0.5 m", "14 m"], 3), in_own_unit(None)
    ('173 ft', ['1.64 ft', '45.9 ft'], None)
    >>> use(Manner())
    """
    if isinstance(value, list):
        return [in_own_unit(each, digits) for each in value]
    found = _METRES.fullmatch(value) if isinstance(value, str) and here().units == "ft" else None
    return f"{float(found[1]) / _FOOT_M:.{digits}g} ft" if found else value


def _lengths(length_m: float) -> list[str]:
    ways = [f"{_three(length_m)} m", f"{_three(length_m / _FOOT_M)} ft"]
    return ways[::-1] if here().units == "ft" else ways


def format_area(area_mm2: float) -> str:
    """Return a conductor's area for people: mm², under the NEC a gauge or kcmil first.

    >>> format_area(5.26)
    '5.26 mm²'
    """
    own = f"{area_mm2:.4g} mm²"
    if here().rules != "NEC":
        return own
    size = min(standard_sizes("AWG"), key=lambda each: abs(each.area_mm2 - area_mm2))
    if isclose(size.area_mm2, area_mm2, rel_tol=0.005):
        return f"{size.text} ({own})"
    return f"{area_mm2 / SQUARE_MM_PER_KCMIL:.3g} kcmil ({own})"


def shown(text: str, unit: str = "") -> str:
    """Return a quantity as it was typed, its unit as people write it.

    What was typed without one is in `unit`, ``ohm`` or ``V``, if that is passed.

    >>> shown("1320 Mohm"), shown("OL", "ohm"), shown(">200M", "ohm"), shown("0,42", "ohm")
    ('1320 MΩ', 'OL', '>200 MΩ', '0,42 Ω')
    """
    bare = _BARE.fullmatch(text.strip()) if unit else None
    if bare:
        return f"{bare[1]} {bare[2]}{'Ω' if unit == 'ohm' else unit}"
    return _OHM.sub("Ω", text)


def format_measured(measured: Measured) -> str:
    """Return a reading for people: ``OL``, ``>2000 MΩ``, ``0.31 Ω``, ``-412 V``."""
    if measured.number is None:
        return "OL"
    sign = ">" if measured.over_range else ""
    if measured.unit == "V":
        return sign + format_voltage(measured.number, 6)
    if measured.unit != "ohm":
        return sign + format_number(measured.number, measured.unit)
    if measured.over_range and 1e6 <= measured.number < 1e10:
        return f">{measured.number / 1e6:g} MΩ"
    return sign + format_resistance(measured.number, 5)


def format_number(value: float, unit: str) -> str:
    """Return a figure with its unit for people, in the manner of its unit.

    >>> format_number(0.0285, "s"), format_number(12, "A")
    ('28.5 ms', '12 A')
    """
    if unit == "ohm":
        return format_resistance(value)
    if unit in ("m", "mm2"):
        return format_length(value) if unit == "m" else format_area(value)
    if unit == "s" and 0 < abs(value) < 1:
        return _engineering(value, unit, 4)
    if unit == "V":
        return format_voltage(value)
    return f"{value:.4g} {unit}".strip()


def exact_text(value: float, unit: str) -> str:
    """Return a quantity for a file: reading it again gives the very same number."""
    return (
        f"{int(value)} {unit}" if value == int(value) and abs(value) < 1e15 else f"{value!r} {unit}"
    )


def _engineering(value: float, unit: str, digits: int) -> str:
    for factor, prefix in _STEPS:
        if abs(value) >= factor * (1 - 0.5 * 10**-digits):
            return f"{_plain(value / factor, digits)} {prefix}{unit}"
    return f"{_plain(value * 1e3, digits)} m{unit}"


def _three(value: float) -> str:
    """Return three figures, or more where there are more before the point."""
    return f"{value:.0f}" if abs(value) >= 100 else f"{value:.3g}"


def _plain(value: float, digits: int) -> str:
    return f"{float(f'{value:.{digits}g}'):.10g}"
