# SPDX-License-Identifier: MIT
"""What a meter should read along a conductor by its size, and how long one is that reads it."""

from __future__ import annotations

from functools import lru_cache
from math import hypot, pi, sqrt
from typing import TYPE_CHECKING

from wiretrack.electrical.limits import (
    METALS,
    above,
    between,
    check_length,
    check_metal,
    check_strands,
    check_temperature,
)
from wiretrack.electrical.quantity_text import format_length
from wiretrack.electrical.sizes import Size, as_size, size_of_key
from wiretrack.electrical.tables import Row, load_table
from wiretrack.errors import BadInputError, TableEntryError
from wiretrack.late import dataclass
from wiretrack.sources import COMMON_PRACTICE, IEC_60228, NEC

if TYPE_CHECKING:
    from wiretrack.electrical.tables import Table
    from wiretrack.model.entities import Conductor


REFERENCE_C = 20.0  # IEC 60228: where its tables hold; used where no temperature was measured
FOOT_M = 0.3048  # exact: the international foot
# 1/K at 20 °C: what the tabulated factors of IEC 60228 follow (reprint; original not seen).
IEC_ALPHA_20 = 0.004


@dataclass(frozen=True)
class UnitResistance:
    """Resistance of one kilometre of a conductor, and where the figure comes from.

    `assumed` says what was taken for an unknown strand count.
    """

    ohm_per_km: float
    at_c: float
    source: str
    assumed: tuple[str, ...] = ()


@dataclass(frozen=True)
class Expected:
    """The reading to hope for along a conductor, and out and back along two of them."""

    ohms: float
    loop_ohms: float
    at_c: float
    source: str
    assumed: tuple[str, ...] = ()


def expected_resistance(
    size: Size | str, length_m: float, temp_c: float, metal: str, strands: int | None = None
) -> Expected:
    """Return the DC resistance in ohm that a conductor should have.

    A size in AWG or kcmil goes by the NEC's table, one in mm² by IEC 60228, and none is
    interpolated. The length, one way, is above 0 and at most 100 km, the temperature from -100
    to 250 °C, the metal plain (not tinned). 1 strand is solid; `None` is unknown: stranded is
    taken, and `assumed` and `source` say so.

    Raises `TableEntryError` if the table has no such conductor, naming the nearest ones;
    `OutOfRangeError` or `BadInputError` if a value is impossible.

    Source: NEC chapter 9 table 8 with R2 = R1 (1 + a (t - 75)), a from its note 2 (reprint);
    IEC 60228:2004 tables 1 to 3 and annex, R = R20 (1 + 0.004 (t - 20)) (reprint).

    >>> round(expected_resistance("10 AWG", 304.8, 75, "Cu", strands=7).ohms, 2)
    1.24
    """
    check_length(length_m)
    unit = unit_resistance(size, temp_c, metal, strands)
    ohms = unit.ohm_per_km * length_m / 1000
    return Expected(ohms, 2 * ohms, temp_c, unit.source, unit.assumed)


def expected_of(conductor: Conductor) -> Expected | None:
    """Return what a conductor should read at 20 °C; `None` where a fact or a table row lacks."""
    c = conductor
    if c.length_m is None or c.metal is None:
        return None
    try:
        return expected_resistance(c.size, c.length_m, REFERENCE_C, c.metal, c.strands)
    except BadInputError:
        return None


@lru_cache(1024)
def unit_resistance(
    size: Size | str, temp_c: float, metal: str, strands: int | None = None
) -> UnitResistance:
    """Return the resistance of 1 km of a conductor at `temp_c`; see `expected_resistance`."""
    size = as_size(size)
    check_temperature(temp_c)
    check_metal(metal)
    check_strands(strands)
    if size.system == "mm2":
        return _iec_60228(size, temp_c, metal, strands)
    return _nec_table_8(size, temp_c, metal, strands)


def iec_class(area_mm2: float, strands: int) -> int:
    """Return the class of IEC 60228 that so many strands make: 1, 2 or 5.

    Source: IEC 60228:2004 table 3, the largest diameter of a wire (from memory; its counts
    compared with published ones). Class 6 has the resistances of class 5.
    """
    if strands == 1:
        return 1
    row = load_table("iec60228_class5").find(area_mm2=f"{area_mm2:g}")
    wire_mm = sqrt(4 * area_mm2 / (pi * strands))
    return 5 if row is not None and wire_mm <= float(row["max_wire_mm"]) else 2


def _nec_table_8(size: Size, temp_c: float, metal: str, strands: int | None) -> UnitResistance:
    table = load_table("nec_ch9_table8")
    construction = "solid" if strands == 1 else "stranded"
    row = table.find(size=size.table_key, construction=construction)
    made_of, column = METALS[metal], METALS[metal].nec_column
    if row is None or not row.get(column):
        raise TableEntryError(
            "NEC chapter 9 table 8", f"{size.text} {construction}", _nearest(table, size, column)
        )
    alpha = made_of.nec_alpha_75
    ohm_per_km = float(row[column]) / FOOT_M * (1 + alpha * (temp_c - 75))
    what = f"chapter 9 table 8, {size.text} {construction} {made_of.name}"
    source = NEC.cite(what) + _brought(75, temp_c, alpha)
    return _unit(ohm_per_km, temp_c, source, _if_unknown(strands, "stranded"), row["confidence"])


def _iec_60228(size: Size, temp_c: float, metal: str, strands: int | None) -> UnitResistance:
    number = 2 if strands is None else iec_class(size.area_mm2, strands)
    table = load_table(f"iec60228_class{number}")
    row = table.find(area_mm2=f"{size.number:g}")
    made_of, column = METALS[metal], METALS[metal].iec_column
    if row is None or not row.get(column):
        what = f"{size.text} {made_of.name}"
        raise TableEntryError(
            f"IEC 60228 class {number}", what, _nearest(table, size, column, "area_mm2")
        )
    ohm_per_km = float(row[column]) * (1 + IEC_ALPHA_20 * (temp_c - 20))
    place = f"table {3 if number == 5 else number}, class {number}"
    source = f"{IEC_60228.cite(place)}, {size.text} {made_of.name}, most allowed"
    source += _brought(20, temp_c, IEC_ALPHA_20)
    return _unit(ohm_per_km, temp_c, source, _if_unknown(strands, "class 2"), row["confidence"])


def _brought(base_c: float, temp_c: float, alpha: float) -> str:
    """Return the words on how a table's figure was brought to another temperature, if it was."""
    if temp_c == base_c:
        return f" at {base_c:g} °C"
    return f", from {base_c:g} to {temp_c:g} °C with {alpha:g} per K"


def _unit(
    ohm_per_km: float, temp_c: float, source: str, strands: str | None,
    confidence: str,
) -> UnitResistance:  # fmt: skip
    """Return a resistance; `strands` is what is assumed where their count is unknown."""
    assumed = (f"strand count unknown, {strands} assumed",) if strands else ()
    source = "; ".join((source, *assumed))
    if confidence != "high":
        source = f"{source}; confidence in this row: {confidence}"
    return UnitResistance(ohm_per_km, temp_c, source, assumed)


def _if_unknown(strands: int | None, construction: str) -> str | None:
    return construction if strands is None else None


def _nearest(table: Table, size: Size, column: str, key: str = "size") -> list[str]:
    """Return the nearest thinner and thicker entries that the table does hold."""
    held = sorted((_area(row, key), _entry(row, key)) for row in table.rows if row.get(column))
    below = [entry for area, entry in held if area < size.area_mm2 * 0.999]
    same = [entry for area, entry in held if abs(area / size.area_mm2 - 1) <= 0.001]
    above = [entry for area, entry in held if area > size.area_mm2 * 1.001]
    return list(dict.fromkeys((*below[-1:], *same, *above[:1])))


def _area(row: Row, key: str) -> float:
    return float(row[key]) if key == "area_mm2" else as_size(_entry(row, key, False)).area_mm2


def _entry(row: Row, key: str, whole: bool = True) -> str:
    if key == "area_mm2":
        return f"{row[key]} mm2"
    size = size_of_key(row[key]).text
    return f"{size} {row['construction']}" if whole else size


# How far a sound conductor's resistance lies from its table, as a fraction: common practice.
CONDUCTOR_TOLERANCE = 0.05
# Slack that a stated route length leaves out or in, as a fraction: common practice.
ROUTE_TOLERANCE = 0.10
_COVERAGE = 2.0  # JCGM 100, 6.3.3: about 95 %
_RECTANGLE = 3**-0.5  # JCGM 100, 4.3.7: standard uncertainty of a bound's half-width


@dataclass(frozen=True)
class LikelyLength:
    """How long a conductor is by its resistance, with the range for about 95 % coverage."""

    length_m: float
    low_m: float
    high_m: float
    source: str


@dataclass(frozen=True)
class LengthComparison(LikelyLength):
    """The length of the conductor `tag` beside that of its recorded route."""

    tag: str
    route_m: float
    agrees: bool
    reason: str


def likely_length(
    ohms: float, size: Size | str, temp_c: float, metal: str,
    strands: int | None = None, u_ohms: float = 0.0,
) -> LikelyLength:  # fmt: skip
    """Return the length in m of a conductor that measures `ohms`, leads' resistance subtracted.

    `ohms` are along the conductor, one way, above 0; `u_ohms` is their standard uncertainty.

    Source: JCGM 100:2008, 4.3.7, 5.1.2 and 6.3.3; a conductor lies within 5 % of its table
    (common practice).
    """
    above(0, "Resistance", ohms, "ohm")
    between(0, 1e12, "Uncertainty", u_ohms, "ohm")
    unit = unit_resistance(size, temp_c, metal, strands)
    length_m = ohms / unit.ohm_per_km * 1000
    relative = hypot(u_ohms / ohms, CONDUCTOR_TOLERANCE * _RECTANGLE)
    spread = min(_COVERAGE * relative, 0.99)
    source = (
        f"{unit.source}; conductor within {CONDUCTOR_TOLERANCE:.0%} of it "
        f"({COMMON_PRACTICE.key}); JCGM 100:2008, 5.1.2"
    )
    return LikelyLength(length_m, length_m * (1 - spread), length_m / (1 - spread), source)


def compare_length(likely: LikelyLength, route_m: float, tag: str = "") -> LengthComparison:
    """Return whether a measured length agrees with the route's, slack allowed for, and in words."""
    check_length(route_m, "Route length")
    low, high = route_m * (1 - ROUTE_TOLERANCE), route_m * (1 + ROUTE_TOLERANCE)
    ratio = likely.length_m / route_m
    agrees = likely.high_m >= low and likely.low_m <= high
    percent = f"{abs(ratio - 1):.0%} {'longer' if ratio > 1 else 'shorter'}"
    measured = f"by its resistance it is {format_length(likely.length_m)}, its route is "
    measured += format_length(route_m)
    if agrees:
        reason = f"{measured}: they agree"
    elif ratio > 1:
        reason = f"{measured}: {percent}, so it is on another route, or a joint in it is bad"
    else:
        reason = f"{measured}: {percent}, so it is on another route, or another path carries part"
    source = f"{likely.source}; route within {ROUTE_TOLERANCE:.0%} ({COMMON_PRACTICE.key})"
    return LengthComparison(
        likely.length_m, likely.low_m, likely.high_m, source, tag, route_m, agrees, reason
    )
