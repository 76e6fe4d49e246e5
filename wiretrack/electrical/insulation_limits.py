# SPDX-License-Identifier: MIT
"""Which insulation resistance a circuit owes, and at which test voltage."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from wiretrack.electrical.limits import above
from wiretrack.electrical.tables import Row, load_table
from wiretrack.errors import BadInputError
from wiretrack.model.words import DC_SYSTEMS, SYSTEMS
from wiretrack.sources import (
    COMMON_PRACTICE,
    IEC_60364_4_41,
    IEC_60364_6,
    IEC_62446_1,
    NETA_ATS,
    NETA_MTS,
    Source,
)

Basis = Literal["IEC", "NETA MTS", "NETA ATS"]
BASES: tuple[Basis, ...] = ("IEC", "NETA MTS", "NETA ATS")

# Extra-low voltage, IEC 60364-4-41 (its text not seen; 50 V AC and 120 V ripple-free DC are read in
# the IEC's published vocabulary, IEC 61558-1:2005, 3.7.16): V AC and V DC.
ELV_AC_V, ELV_DC_V = 50.0, 120.0
# Scope of IEC 60364: low voltage, as the IEC's published vocabulary has it (reprint): V AC, V DC.
LV_AC_V, LV_DC_V = 1000.0, 1500.0
PV_VOLTAGE_FACTOR = 1.25  # IEC 62446-1:2016, 6.7 (from memory): system voltage over Voc at STC


@dataclass(frozen=True)
class Requirement:
    """A least insulation resistance; `at_c` is set where the limit holds at one temperature."""

    limit_ohm: float
    test_voltage_v: float
    circuit: str
    source: str
    note: str = ""
    at_c: float | None = None


def insulation_requirements(
    system: str | None, max_voltage_v: float | None, *,
    voc_stc_v: float | None = None, basis: Basis = "IEC",
) -> tuple[tuple[Requirement, ...], tuple[str, ...]]:  # fmt: skip
    """Return the requirements that a reading may meet, and the facts missing to choose one.

    The first requirement is the one to test by. There are two for extra-low voltage, since a
    circuit that isn't SELV or PELV falls under the next row.

    Raises
    ------
    BadInputError
        If the system or the basis isn't known, or a voltage isn't a number above 0.
    """
    if basis not in BASES:
        raise BadInputError(f"'{basis}' is not a basis for insulation. Bases: {', '.join(BASES)}.")
    if system is None:
        return (), ("system of the circuit",)
    if system not in SYSTEMS:
        raise BadInputError(f"'{system}' is not a system. Systems: {', '.join(SYSTEMS)}.")
    for value in (max_voltage_v, voc_stc_v):
        if value is not None:
            above(0, "Voltage", value, "V")
    if basis != "IEC":
        return _neta(basis, max_voltage_v)
    if system == "dc-pv":
        return _pv(max_voltage_v, voc_stc_v)
    return _low_voltage(system, max_voltage_v)


def basis_source(system: str | None, basis: Basis = "IEC") -> str:
    """Return the publication that a circuit's insulation limits come from."""
    if basis == "NETA MTS":
        return NETA_MTS.cite("table 100.1")
    if basis == "NETA ATS":
        return NETA_ATS.cite("table 100.1")
    return IEC_62446_1.cite("6.7") if system == "dc-pv" else IEC_60364_6.cite("table 6.1")


def _low_voltage(
    system: str, voltage_v: float | None
) -> tuple[tuple[Requirement, ...], tuple[str, ...]]:
    """Return the rows of IEC 60364-6 table 6.1 for a circuit."""
    if voltage_v is None:
        return (), ("highest voltage of the circuit",)
    is_dc = system in DC_SYSTEMS
    if voltage_v > (LV_DC_V if is_dc else LV_AC_V):
        return (), (f"limit for {voltage_v:g} V, which is above the scope of {IEC_60364_6.key}",)
    selv, felv, high = (
        _requirement(row, IEC_60364_6, "table 6.1", f"circuits of {row['circuit']}")
        for row in load_table("insulation_iec60364_6").rows
    )
    if voltage_v <= (ELV_DC_V if is_dc else ELV_AC_V):
        note = f"; taken as SELV or PELV for its voltage ({IEC_60364_4_41.cite()})"
        selv = Requirement(selv.limit_ohm, selv.test_voltage_v, selv.circuit, selv.source, note)
        return (selv, felv), ()
    return ((felv,) if voltage_v <= 500 else (high,)), ()


def _pv(
    max_voltage_v: float | None, voc_stc_v: float | None
) -> tuple[tuple[Requirement, ...], tuple[str, ...]]:
    """Return the row of IEC 62446-1, 6.7 for an array, by its system voltage."""
    if voc_stc_v is not None:
        system_v = PV_VOLTAGE_FACTOR * voc_stc_v
        note = f"; system voltage {system_v:.4g} V = {PV_VOLTAGE_FACTOR:g} x Voc at STC"
    elif max_voltage_v is not None:
        system_v = max_voltage_v
        note = f"; system voltage taken as the stated {system_v:g} V"
    else:
        return (), ("open-circuit voltage of the array",)
    if system_v > LV_DC_V:
        return (), (f"limit for {system_v:.4g} V, which is above the scope of {IEC_62446_1.key}",)
    rows = load_table("insulation_iec62446_1").rows
    row = next(row for row in rows if not row["up_to_v"] or _within(row, system_v))
    where = f"PV arrays above {row['above_v']} V"
    where += f" up to {row['up_to_v']} V" if row["up_to_v"] else ""
    return (_requirement(row, IEC_62446_1, "6.7", where, note),), ()


def _within(row: Row, system_v: float) -> bool:
    """Return whether a band holds: below 120 V, 120 to 500 V, above 500 up to 1000 V."""
    top = float(row["up_to_v"])
    return system_v < top if top == 120 else system_v <= top


def _neta(basis: Basis, voltage_v: float | None) -> tuple[tuple[Requirement, ...], tuple[str, ...]]:
    """Return the row of NETA's table for the voltage class that covers the circuit's voltage."""
    if voltage_v is None:
        return (), ("highest voltage of the circuit",)
    name, source = {
        "NETA MTS": ("insulation_neta_mts", NETA_MTS),
        "NETA ATS": ("insulation_neta_ats", NETA_ATS),
    }[basis]
    for row in load_table(name).rows:
        if voltage_v <= float(row["rating_v"]):
            where = f"equipment rated {row['rating_v']} V"
            required = _requirement(row, source, "table 100.1", where)
            return (
                Requirement(required.limit_ohm, required.test_voltage_v, where, required.source,
                            at_c=20.0),
            ), ()  # fmt: skip
    return (), (f"limit for {voltage_v:g} V, which is above {source.key} table 100.1",)


def _requirement(row: Row, source: Source, place: str, circuit: str, note: str = "") -> Requirement:
    cited = source.cite(place)
    if row["confidence"] != "high":
        cited += f" (confidence in this row: {row['confidence']})"
    limit_ohm = float(row["min_mohm"]) * 1e6
    return Requirement(limit_ohm, float(row["test_voltage_v"]), circuit, cited, note)


def per_kilovolt(voltage_v: float) -> Requirement:
    """Return the old rule of 1 MΩ per kV and at least 1 MΩ, for comparison only."""
    above(0, "Voltage", voltage_v, "V")
    limit = max(1e6, voltage_v * 1e3)
    return Requirement(limit, 500.0, f"{voltage_v:g} V", COMMON_PRACTICE.key)
