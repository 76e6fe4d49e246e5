# SPDX-License-Identifier: MIT
"""One value of a site file to the value in a record and back, exactly."""

from __future__ import annotations

import math
import re
from datetime import date, datetime
from functools import lru_cache, partial
from typing import TYPE_CHECKING, Any

from wiretrack.electrical import colours, quantities, sizes
from wiretrack.electrical.quantity_text import exact_text
from wiretrack.errors import OutOfRangeError, QuantityError
from wiretrack.late import dataclass
from wiretrack.model import kinds as k
from wiretrack.model import tags
from wiretrack.model.entity import subject_text

if TYPE_CHECKING:
    from collections.abc import Callable

    from wiretrack.model.fields import Kind

_NO_HEIGHT = re.compile(r"0+(?:\.0+)?\s*(?:mm|cm|m|in|ft)")
_MM_DIGITS = 9  # a diameter is held to the picometre, so that mm and m agree on every digit
_REMEMBERED = 10_000


@dataclass(frozen=True)
class Codec:
    """How one kind of value is read from a file and written to one."""

    read: Callable[[Any], Any]
    write: Callable[[Any], Any]


def _same(value: Any) -> Any:
    return value


def _remembering(read: Callable[[str], Any]) -> Callable[[str], Any]:
    return lru_cache(_REMEMBERED)(read)


def _quantity(read: Callable[[str], float], unit: str) -> Codec:
    return Codec(_remembering(read), lambda value: exact_text(finite(value, unit), unit))


def finite(value: float, unit: str = "") -> float:
    """Return `value`, which a file can only hold if it is finite.

    Raises `OutOfRangeError` if it is infinite or not a number.
    """
    if not math.isfinite(value):
        raise OutOfRangeError("A value to be written", value, unit, "finite")
    return value


def _above_zero(read: Callable[[str], float], name: str, unit: str) -> Callable[[str], float]:
    def checked(text: str) -> float:
        value = read(text)
        if value <= 0:
            raise OutOfRangeError(name, value, unit, f"above 0 {unit}")
        return value

    return checked


def _mm(name: str, text: str) -> float:
    value = round(quantities.parse_length_m(text) * 1000, _MM_DIGITS)
    if value > 1000:
        raise OutOfRangeError(name, value, "mm", "at most 1000 mm")
    return value


def _height_m(text: str) -> float:
    """Return a height above something, which may be 0."""
    return 0.0 if _NO_HEIGHT.fullmatch(text.strip()) else quantities.parse_length_m(text)


def _time(text: str) -> str:
    try:
        datetime.fromisoformat(text.upper())
    except ValueError:
        raise QuantityError(text, "a time", "2026-05-02T10:15:00+02:00") from None
    return text


def _date(text: str) -> str:
    try:
        date.fromisoformat(text)
    except ValueError:
        raise QuantityError(text, "a date", "2026-05-02") from None
    return text


def _resolution(text: str) -> str:
    quantities.parse_resolution(text)
    return text


def _range(text: str) -> str:
    quantities.parse_resolution(text, "Range")
    return text


def _circuits(codes: str | list[str]) -> tuple[str, ...]:
    return (codes,) if isinstance(codes, str) else tuple(codes)


def _code_or_codes(codes: tuple[str, ...]) -> str | list[str]:
    return codes[0] if len(codes) == 1 else [*codes]


def _time_zone(text: str) -> str:
    from zoneinfo import ZoneInfo

    try:
        return ZoneInfo(text).key
    except (ValueError, OSError, LookupError):
        raise QuantityError(text, "a time zone", "Europe/Lisbon or America/Denver") from None


def _number(value: float) -> float | int:
    """Return a number as a file holds it: without a point where it is whole."""
    finite(value)
    return int(value) if value == int(value) and abs(value) < 1e15 else value


_SAME = Codec(_same, _same)
TIME_ZONE = Codec(_remembering(_time_zone), _same)
DIAMETER_MM = _quantity(partial(_mm, "Outer diameter"), "mm")
SIZE = Codec(_remembering(lambda text: sizes.parse_size(text).text), _same)
COLOUR = Codec(colours.parse_colour, _same)
_LENGTH_M = _quantity(quantities.parse_length_m, "m")
_INTEGER, _NUMBER = Codec(int, _same), Codec(float, _number)
_TIME = Codec(_time, _same)
_CODECS = {
    k.ID: Codec(str.lower, _same),
    k.LENGTH: _LENGTH_M,
    k.WALLS: Codec(
        lambda texts: tuple(_LENGTH_M.read(text) for text in texts),
        lambda values: [_LENGTH_M.write(value) for value in values],
    ),
    k.DIAMETER: DIAMETER_MM,
    k.SMALL_LENGTH: _quantity(partial(_mm, "Width or height"), "mm"),
    k.HEIGHT: _quantity(_height_m, "m"),
    k.TEMPERATURE: _quantity(quantities.parse_temperature, "C"),
    k.RESISTANCE: _quantity(quantities.parse_resistance_ohm, "ohm"),
    k.DURATION: _quantity(quantities.parse_duration_s, "s"),
    k.VOLTAGE: _quantity(_above_zero(quantities.parse_voltage, "Voltage", "V"), "V"),
    k.CURRENT: _quantity(_above_zero(quantities.parse_current, "Current", "A"), "A"),
    k.EDITION: _INTEGER,
    k.STRANDS: _INTEGER,
    k.PARALLEL_SET: _INTEGER,
    k.MODULES: _INTEGER,
    k.STRINGS: _INTEGER,
    k.DEGREES: _NUMBER,
    k.COEFFICIENT: _NUMBER,
    k.SIZE: SIZE,
    k.COLOUR: COLOUR,
    k.TAG: Codec(_same, tags.format_tag),  # read where its slips can be explained
    k.SUBJECT: Codec(_same, subject_text),
    k.TIME: _TIME,
    k.DAY_OR_TIME: _TIME,
    k.DATE: Codec(_date, _same),
    k.TIME_ZONE: TIME_ZONE,
    k.RANGE: Codec(_range, _same),
    k.RESOLUTION: Codec(_resolution, _same),
    k.PATH: Codec(tuple, list),
    k.CIRCUITS: Codec(_circuits, _code_or_codes),
}


def codec_of(kind: Kind) -> Codec:
    """Return how values of a kind are read and written."""
    return _CODECS.get(kind, _SAME)
