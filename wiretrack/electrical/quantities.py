# SPDX-License-Identifier: MIT
"""The one reader for quantities as people type them; nothing is guessed.

Prefixes are those of the SI and case matters: ``m`` is milli and ``M`` is mega, but a bare ``m``
after a length is metres. A comma may be the decimal sign, or group thousands; where it may be
either (``1,200``) both readings are named.
"""

from __future__ import annotations

import re
from decimal import Decimal
from typing import TYPE_CHECKING

from wiretrack.electrical.limits import LONGEST, decoded, shown, without_commas
from wiretrack.errors import AmbiguousError, OutOfRangeError, QuantityError
from wiretrack.late import dataclass, pattern

if TYPE_CHECKING:
    from collections.abc import Mapping

# Look-alikes of one sign, by code point: minus and dash, ohm sign, two micros, primes, spaces.
_SIGNS = str.maketrans(
    {"\u2212": "-", "\u2013": "-", "\u2126": "\u03a9", "\u03bc": "\u00b5", "\u00b2": "2"}
    | {"\u2019": "'", "\u2032": "'", "\u2033": '"', "\u201d": '"', "\u2103": "\u00b0C"}
    | {"\u2109": "\u00b0F", "\u00a0": " ", "\u2009": " ", "\u202f": " "}
)
_NUMBER = pattern(r"\s*([+-]?)\s*([0-9]+(?:\.[0-9]*)?|\.[0-9]+)((?:[eE][+-]?[0-9]+)?)\s*(.*)")
_OVER = pattern(r"(?:O\.?L\.?|\.OL|0\.?L)", re.IGNORECASE)
_FRACTION = pattern(r"\s*(?:([0-9]+)[\s-])?\s*([0-9]+)/([0-9]+)\s*(.*)")


@dataclass(frozen=True)
class Measured:
    """A reading as typed: its number in `unit`, or a bound if the display was over-range.

    `number` is `None` for a bare ``OL``; `step` is one unit of the last digit typed, in `unit`.
    """

    number: float | None
    unit: str
    over_range: bool
    text: str
    step: float | None = None


@dataclass(frozen=True, eq=False)
class _Quantity:
    """What a kind of quantity is called, how it is written, and what is possible for it."""

    name: str
    unit: str
    scales: Mapping[str, Decimal]
    examples: str
    low: float
    high: float
    allowed: str
    bare: str | None = ""

    def value(self, text: str) -> float:
        """Return a value in `unit`, where only one will do."""
        number, unit, _ = _split(_plain(text, self), self, text)
        return _in_range(self, number * _factor(unit, self, text))

    def measured(self, text: str) -> Measured:
        """Return what a meter showed; ``OL`` and ``>2000M`` are a bound and no value."""
        plain = _plain(text, self)
        over = _OVER.match(plain)
        if over is not None:
            _factor(plain[over.end() :].strip(), self, text)
            return Measured(None, self.unit, True, text.strip())
        if plain.startswith("<"):
            raise _refuse(self, text, "a bound from above says nothing that can be tested")
        bound = plain[:1] in (">", "≥")
        number, unit, last = _split(plain.lstrip(">≥=") if bound else plain, self, text)
        factor = _factor(unit, self, text)
        step = float(Decimal(1).scaleb(last) * factor)
        return Measured(_in_range(self, number * factor), self.unit, bound, text.strip(), step)


def _scales(prefixes: str, words: tuple[str, ...], bare: bool = True) -> dict[str, Decimal]:
    """Return the factor of every spelling: each prefix with each word, and prefixes alone."""
    powers = {
        "": 0,
        "p": -12,
        "n": -9,
        "\u00b5": -6,
        "u": -6,
        "m": -3,
        "k": 3,
        "K": 3,
        "M": 6,
        "G": 9,
        "T": 12,
    }
    chosen = {prefix: Decimal(10) ** powers[prefix] for prefix in ("", *prefixes)}
    alone = ("",) if bare else ()
    return {p + word: factor for p, factor in chosen.items() for word in (*alone, *words)}


_LENGTH_SCALES = {
    unit: Decimal(factor)
    for units, factor in (
        (("m", "metre", "metres", "meter", "meters"), "1"),
        (("mm",), "0.001"),
        (("cm",), "0.01"),
        (("km",), "1000"),
        (("ft", "foot", "feet", "'"), "0.3048"),
        (("in", "inch", "inches", '"'), "0.0254"),
        (("yd",), "0.9144"),
    )
    for unit in units
}
_BARE_NUMBER = pattern(r"[^a-zA-Z'\"]*[0-9.]")
# A mark for feet may do for the inches behind it: 12'6, 12'-6".
_FEET_INCHES = (
    pattern(r"([^a-zA-Z'\"]+(?:ft|foot|feet|'))[\s-]*([0-9].*(?:in|inch|inches|\"))"),
    pattern(r"([^a-zA-Z'\"]+')[\s-]*([0-9][0-9 /.]*)"),
)
_WORDS = {"milliohm": "mohm", "kilohm": "kohm", "kiloohm": "kohm", "megohm": "Mohm"}
_OHM = _scales("n\u00b5umkKMGT", ("ohm", "ohms", "Ohm", "Ohms", "OHM", "OHMS", "\u03a9"))
_OHM["R"] = _OHM[""]  # IEC 60062, as above
_OHM |= {word + s: _OHM[unit] for word, unit in _WORDS.items() for s in ("", "s")}

_LENGTH = _Quantity(
    "a length", "m", _LENGTH_SCALES, "31.7 m, 104 ft, 250 cm or 3/4 in",
    1e-6, 1e5, "above 0 m and at most 100 km", bare=None,
)  # fmt: skip
_RESISTANCE = _Quantity(
    "a resistance", "ohm", _OHM, "0.42, 420m, 1.2k, 0.42 ohm, >2000M or OL",
    0.0, 1e16,
    "from 0 ohm to 10 Pohm; a meter shows less with voltage present or its leads nulled wrongly",
)  # fmt: skip
_VOLTAGE = _Quantity(
    "a voltage", "V",
    _scales("\u00b5umkKM", ("V", "v", "volt", "volts", "VDC", "VAC", "Vdc", "Vac")),
    "400 V, -412 V or 1.5 kV", -1e6, 1e6, "from -1 to 1 MV",
)  # fmt: skip
_CURRENT = _Quantity(
    "a current", "A", _scales("\u00b5umkK", ("A", "a", "amp", "amps", "Adc", "Aac")),
    "9.5 A, 500 mA or 1.2 kA", -1e6, 1e6, "from -1 to 1 MA",
)  # fmt: skip
_CAPACITANCE = _Quantity(
    "a capacitance", "F", _scales("pn\u00b5um", ("F", "f", "farad"), bare=False),
    "3.2 nF, 470 pF or 0.01 uF", 0.0, 1.0, "from 0 to 1 F", bare=None,
)  # fmt: skip
_CELSIUS = dict.fromkeys(("", "C", "c", "°C", "degC", "°", "deg C"), Decimal(1))
_TEMPERATURE = _Quantity(
    "a temperature", "°C", _CELSIUS, "20, -5 C, 20 °C or 68 F", -100.0, 400.0, "from -100 to 400 °C"
)
_FAHRENHEIT = ("F", "f", "°F", "degF", "deg F")
_DEGREES = _Quantity(
    "an angle", "°", dict.fromkeys(("", "°", "deg", "degs", "degree", "degrees"), Decimal(1)),
    "180, 180 deg or 180°", 0.0, 3600.0, "from 0 to 3600°",
)  # fmt: skip
_DURATION = _Quantity(
    "a duration", "s",
    {
        word: Decimal(factor)
        for words, factor in (
            (("", "s", "sec", "second", "seconds"), 1),
            (("min", "minute", "minutes"), 60),
            (("h", "hour", "hours"), 3600),
        )
        for word in words
    },
    "30 s, 1 min or 10 min", 1.0, 86_400.0, "from 1 s to 24 h",
)  # fmt: skip


_TIME = _Quantity(
    "a time", "s", _scales("\u00b5um", ("s", "sec")), "28 ms, 0.3 s or >300 ms", 0.0, 86_400.0,
    "from 0 s to 24 h",
)  # fmt: skip
# What people type in one unit only: ohm, V, A, F, ° and s. A kind of reading may show a time.
parse_resistance, parse_resistance_ohm = _RESISTANCE.measured, _RESISTANCE.value
parse_voltage, parse_measured_voltage = _VOLTAGE.value, _VOLTAGE.measured
parse_current, parse_capacitance = _CURRENT.value, _CAPACITANCE.measured
parse_degrees, parse_duration_s = _DEGREES.value, _DURATION.value
parse_measured_time = _TIME.measured


def parse_length_m(text: str, default_unit: str | None = None) -> float:
    """Return a length in m; it needs a unit unless `default_unit` (``m``, ``ft``...) is passed.

    ``104 ft``, ``31.7m``, ``2 in``, ``3/4 in``, ``5 ft 6 in``, ``12'6``, ``12' 6 1/2"`` are read.

    Raises `QuantityError` if `text` isn't a length with a unit; `OutOfRangeError` if the length
    isn't above 0 m and at most 100 km.

    >>> parse_length_m("104 ft")
    31.6992
    """
    plain = _plain(text, _LENGTH)
    if default_unit is not None and _BARE_NUMBER.fullmatch(plain):
        plain = f"{plain} {default_unit}"
    feet, inches = _feet_and_inches(plain)
    total = _length(feet, text) + (_length(inches, text) if inches else Decimal(0))
    return _in_range(_LENGTH, total)


def parse_temperature(text: str) -> float:
    """Return a temperature in °C; ``68 F`` is converted.

    >>> parse_temperature("68 F")
    20.0
    """
    number, unit, _ = _split(_plain(text, _TEMPERATURE), _TEMPERATURE, text)
    if unit in _FAHRENHEIT:
        return _in_range(_TEMPERATURE, (number - 32) * 5 / 9)
    return _in_range(_TEMPERATURE, number * _factor(unit, _TEMPERATURE, text))


def parse_resolution(text: str, name: str = "Resolution") -> tuple[float, str]:
    """Return a meter's resolution (or range) and its unit, ``ohm`` or ``V``: ``0.01 ohm``."""
    plain = _plain(text, _RESISTANCE)
    quantity = _VOLTAGE if re.search(r"[Vv](?:olts?|[DdAa][Cc])?$", plain) else _RESISTANCE
    number = quantity.value(text)
    if number <= 0:
        raise OutOfRangeError(name, number, quantity.unit, f"above 0 {quantity.unit}")
    return number, quantity.unit


def _refuse(quantity: _Quantity, text: str, why: str = "") -> QuantityError:
    wanted = f"{quantity.name}: {why}" if why else quantity.name
    return QuantityError(shown(text), wanted, quantity.examples)


def _plain(text: str, quantity: _Quantity) -> str:
    if len(text) > LONGEST:
        raise _refuse(quantity, text, "it is too long")
    plain = text.translate(_SIGNS).strip()
    try:
        return without_commas(plain, quantity.name) if "," in plain else plain
    except AmbiguousError:
        raise
    except ValueError as error:
        raise _refuse(quantity, text, str(error)) from None


def _split(plain: str, quantity: _Quantity, text: str) -> tuple[Decimal, str, int]:
    """Return the number, the unit as written, and the power of ten of the last digit."""
    if quantity is _RESISTANCE:
        plain = decoded(plain)
    match = _NUMBER.fullmatch(plain)
    if match is None:
        why = "only one sign is possible" if re.match(r"\s*[+-]\s*[+-]", plain) else ""
        raise _refuse(quantity, text, why)
    sign, digits, exponent, unit = match.groups()
    number = Decimal(sign + digits + exponent)
    if abs(number.adjusted()) > 30 and number != 0:
        raise _refuse(quantity, text, "the number is beyond all measure")
    last = number.as_tuple().exponent
    return number, unit, last if isinstance(last, int) else 0


def _factor(unit: str, quantity: _Quantity, text: str) -> Decimal:
    if unit == "" and quantity.bare is None:
        raise _refuse(quantity, text, "the unit is missing")
    if unit not in quantity.scales:
        raise _refuse(quantity, text, f"'{shown(unit)}' is no unit of it")
    return quantity.scales[unit]


def _in_range(quantity: _Quantity, number: Decimal) -> float:
    value = float(number) + 0.0  # turns a negative zero into zero
    if not quantity.low <= value <= quantity.high:
        name = quantity.name.split(" ", 1)[1].capitalize()
        raise OutOfRangeError(name, value, quantity.unit, quantity.allowed)
    return value


def _feet_and_inches(plain: str) -> tuple[str, str]:
    whole, no_mark = (pattern.fullmatch(plain) for pattern in _FEET_INCHES)
    if whole:
        return whole[1], whole[2]
    return (no_mark[1], f'{no_mark[2]}"') if no_mark else (plain, "")


def _length(plain: str, text: str) -> Decimal:
    fraction = _FRACTION.fullmatch(plain)
    if fraction is None:
        number, unit, _ = _split(plain, _LENGTH, text)
        return number * _factor(unit, _LENGTH, text)
    whole, top, bottom, unit = fraction.groups()
    if int(bottom) == 0:
        raise _refuse(_LENGTH, text, "it divides by zero")
    number = Decimal(whole or 0) + Decimal(top) / Decimal(bottom)
    return number * _factor(unit, _LENGTH, text)
