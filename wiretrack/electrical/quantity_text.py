# SPDX-License-Identifier: MIT
"""Quantities back into text: short for people, exact for files."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.errors import BadInputError

if TYPE_CHECKING:
    from wiretrack.electrical.quantities import Measured

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


def format_current(amperes: float, digits: int = 4) -> str:
    """Return a current for people."""
    return f"{amperes:.{digits}g} A"


def format_length(length_m: float, unit: str = "m") -> str:
    """Return a length for people in ``m`` or ``ft``.

    >>> format_length(31.6992, "ft")
    '104 ft'
    """
    if unit == "ft":
        return f"{round(length_m / _FOOT_M, 2):g} ft"
    if unit == "m":
        return f"{round(length_m, 3):g} m"
    raise BadInputError(f"'{unit}' is not a unit of length here. Units: m, ft.")


def format_temperature(temp_c: float) -> str:
    """Return a temperature for people."""
    return f"{temp_c:g} °C"


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
    if unit == "V":
        return format_voltage(value)
    if unit == "s" and 0 < abs(value) < 1:
        return _engineering(value, unit, 4)
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


def _plain(value: float, digits: int) -> str:
    return f"{float(f'{value:.{digits}g}'):.10g}"
