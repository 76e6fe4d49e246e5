# SPDX-License-Identifier: MIT
"""Conductor sizes: AWG by the formula of ASTM B258, kcmil, and mm² of IEC 60228."""

from __future__ import annotations

import math
import re
from contextlib import suppress
from functools import lru_cache
from typing import Literal

from wiretrack.errors import AmbiguousError, BadInputError, QuantityError, TableEntryError
from wiretrack.late import dataclass, pattern

System = Literal["AWG", "kcmil", "mm2"]

SQUARE_MM_PER_KCMIL = math.pi / 4 * 0.0254**2 * 1000  # exact: 1000 circles of 0.001 in
AWG = tuple(range(40, -4, -1))  # 40 to 4/0; 1/0 is 0, 2/0 is -1, 3/0 is -2, 4/0 is -3
# NEC chapter 9 table 8 (reprint; original not seen).
KCMIL = (250, 300, 350, 400, 500, 600, 700, 750, 800, 900, 1000, 1250, 1500, 1750, 2000)
# IEC 60228:2004 tables 1 and 2 (reprint; original not seen).
MM2 = (0.5, 0.75, 1, 1.5, 2.5, 4, 6, 10, 16, 25, 35, 50, 70, 95, 120, 150, 185, 240, 300,
       400, 500, 630, 800, 1000, 1200, 1400, 1600, 1800, 2000, 2500)  # fmt: skip
SMALL_MM2 = (0.08, 0.14, 0.22, 0.25, 0.34)  # common practice: cores of signal cables
_EXAMPLES = "10 AWG, 1/0 AWG, 250 kcmil or 6 mm2"
_AWG_TEXT = pattern(r"(#|no\.?\s?)?\s*([0-9]{1,2}|0{2,4}|[0-9]{1,2}/0)\s*(awg|ga|gauge)?", re.I)
_AREA_TEXT = pattern(
    r"([0-9]+(?:\.[0-9]+)?)\s*(kcmil|mcm|mm2|mm\^2|mm²|sq\.?\s?mm|sqmm)", re.IGNORECASE
)


@dataclass(frozen=True)
class Size:
    """A conductor size; `number` is the gauge (1/0 is 0, 2/0 is -1...), the kcmil or the mm²."""

    text: str
    system: System
    number: float
    area_mm2: float

    @property
    def table_key(self) -> str:
        """The size as the NEC's tables list it: ``10``, ``1/0``, ``250``; mm² as a number."""
        return self.text.split(" ")[0]


def awg_diameter_mm(gauge: int) -> float:
    """Return the diameter of a solid wire, in mm.

    The gauge is 40 down to 1, then 0 for 1/0, -1 for 2/0, -2 for 3/0, -3 for 4/0. Raises
    `TableEntryError` if there is no such gauge.

    Source: ASTM B258 (reprint; original not seen): diameters are a geometric series with 0.005
    in for 36 AWG and 0.46 in for 4/0, so d = 0.005 in * 92**((36 - n) / 39).

    >>> round(awg_diameter_mm(10), 3)
    2.588
    """
    if gauge not in AWG:
        raise TableEntryError("The American wire gauge", str(gauge), ("4/0 AWG", "40 AWG"))
    return 0.005 * 25.4 * math.pow(92, (36 - gauge) / 39)


def awg_area_mm2(gauge: int) -> float:
    """Return the area of a solid wire of the American wire gauge, in mm² (ASTM B258)."""
    return math.pi / 4 * awg_diameter_mm(gauge) ** 2


@lru_cache(1024)
def parse_size(text: str) -> Size:
    """Return the size that `text` names, written as people write it.

    ``10 AWG``, ``#10``, ``1/0``, ``00 AWG``, ``250 kcmil``, ``250 MCM``, ``6 mm2``, ``6 mm²`` are
    read. A bare ``10`` is refused: it may be a gauge or mm². A comma is the decimal sign, or
    groups thousands: what makes a size.

    Raises `QuantityError` if `text` isn't a size; `TableEntryError` if no conductor of that size is
    made; the nearest sizes are named.

    >>> parse_size("2.5mm²").text, parse_size("#10").text, parse_size("0000").text
    ('2.5 mm2', '10 AWG', '4/0 AWG')
    >>> parse_size("2,5 mm2").text, parse_size("1,000 kcmil").text
    ('2.5 mm2', '1000 kcmil')
    """
    plain = " ".join(text.split())[:40]
    if plain.count(",") == 1:
        return _with_comma(plain)
    area = _AREA_TEXT.fullmatch(plain)
    if area:
        number, unit = float(area[1]), area[2].lower()
        return _kcmil(number, plain) if unit in ("kcmil", "mcm") else _mm2(number, plain)
    gauge = _AWG_TEXT.fullmatch(plain)
    if gauge and (gauge[1] or gauge[3] or "/" in gauge[2] or gauge[2].startswith("00")):
        return _awg(gauge[2], plain)
    raise QuantityError(plain, "a conductor size", _EXAMPLES)


def _with_comma(plain: str) -> Size:
    """Return the size whose comma is the decimal sign, or groups thousands; one of both is made."""
    found: list[Size] = []
    grouped = [plain.replace(",", "")] if re.search(r"[0-9],[0-9]{3}(?![0-9])", plain) else []
    for readable in (plain.replace(",", "."), *grouped):
        with suppress(BadInputError):
            found.append(parse_size(readable))
    if len(found) == 1 or len({size.area_mm2 for size in found}) == 1:
        return found[0]
    if found:
        names = [size.text for size in found]
        raise AmbiguousError(plain, "can be read as a size in two ways", names)
    raise QuantityError(plain, "a conductor size", _EXAMPLES)


def size_of_key(key: str) -> Size:
    """Return the size that the NEC's tables list as ``10``, ``1/0`` or ``250``."""
    return parse_size(f"{key} {'kcmil' if key.isdigit() and int(key) >= 250 else 'AWG'}")


def as_size(size: Size | str) -> Size:
    """Return `size` itself, or the size that a text names."""
    return parse_size(size) if isinstance(size, str) else size


def standard_sizes(system: System) -> tuple[Size, ...]:
    """Return the sizes made in one system, thinnest first."""
    if system == "AWG":
        return tuple(_awg_size(gauge) for gauge in AWG)
    if system == "kcmil":
        return tuple(_kcmil(number, "") for number in KCMIL)
    if system == "mm2":
        return tuple(_mm2(number, "") for number in (*SMALL_MM2, *MM2))
    raise BadInputError(f"'{system}' is not a system of sizes. Systems: AWG, kcmil, mm2.")


def _awg(digits: str, text: str) -> Size:
    if "/" in digits:
        gauge = 1 - int(digits.split("/")[0])
    elif digits.startswith("00"):
        gauge = 1 - len(digits)
    else:
        gauge = int(digits)
    if gauge not in AWG or digits == "0/0":
        nearest = "40 AWG" if gauge > AWG[0] else "4/0 AWG"
        raise TableEntryError("The American wire gauge", text, (nearest,))
    return _awg_size(gauge)


def _awg_size(gauge: int) -> Size:
    name = f"{gauge} AWG" if gauge > 0 else f"{1 - gauge}/0 AWG"
    return Size(name, "AWG", gauge, awg_area_mm2(gauge))


def _kcmil(number: float, text: str) -> Size:
    if number not in KCMIL:
        near = [f"{size} kcmil" for size in _nearest(number, KCMIL)]
        raise TableEntryError("The list of kcmil sizes", text, near)
    return Size(f"{number:g} kcmil", "kcmil", number, number * SQUARE_MM_PER_KCMIL)


def _mm2(number: float, text: str) -> Size:
    sizes = (*SMALL_MM2, *MM2)
    if number not in sizes:
        near = [f"{size:g} mm2" for size in _nearest(number, sizes)]
        raise TableEntryError("The list of mm2 sizes", text, near)
    return Size(f"{number:g} mm2", "mm2", number, number)


def _nearest(number: float, sizes: tuple[float, ...]) -> list[float]:
    below = [size for size in sizes if size < number][-1:]
    above = [size for size in sizes if size > number][:1]
    return below + above
