# SPDX-License-Identifier: MIT
"""Which insulation resistance a circuit owes, and the verdict on a reading against it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from wiretrack.electrical.accuracy import (
    UNKNOWN_METER,
    WORST_OPERATING,
    Meter,
    at_least,
    bounded,
    guard_of,
    largest_part,
    standard_uncertainty,
)
from wiretrack.electrical.limits import above, between
from wiretrack.electrical.quantity_text import format_measured, format_resistance
from wiretrack.electrical.tables import Row, load_table
from wiretrack.errors import BadInputError
from wiretrack.late import dataclass, pattern
from wiretrack.model.entity import Verdict
from wiretrack.model.words import DC_SYSTEMS, SYSTEMS
from wiretrack.sources import (
    IEC_60364_4_41,
    IEC_60364_6,
    IEC_61557_2,
    IEC_62446_1,
    Source,
)

if TYPE_CHECKING:
    from wiretrack.electrical.quantities import Measured


# IEC 61557-2, clause 4: the tester's own voltage lies between its nominal value and so much of it
# (reprint; the 1.25 of the later edition is from memory).
HIGHEST_OUTPUT = 1.25
_LOW_OHM = 1e4  # a bare number this low was likely meant as megohms
_TYPED = pattern(r"([>\u2265=\s+]*[0-9.]+(?:[eE][+-]?[0-9]+)?)\s*(.*)")


def insulation_verdict(
    measured: Measured, test_voltage_v: float | None, meter: Meter = UNKNOWN_METER, *,
    system: str | None, max_voltage_v: float | None, voc_stc_v: float | None = None,
) -> Verdict:  # fmt: skip
    """Return the verdict on an insulation reading, in ohm.

    An over-range display is a bound. With less than the test voltage (DC) that the limit asks for
    a reading is no evidence; with more it can show that the limit is met, but not that it isn't.
    The system and the other voltages are those of the circuit; `voc_stc_v` is the open-circuit
    voltage of a PV array at STC.

    Source: IEC 60364-6:2016 table 6.1; IEC 62446-1:2016, 6.7 (reprints); JCGM 106:2012, 8.3.2.
    """
    choices, missing = insulation_requirements(system, max_voltage_v, voc_stc_v=voc_stc_v)
    if not choices:
        reason = f"no limit can be chosen; missing: {' and '.join(missing)}"
        verdict = _doubt(measured, None, reason, missing)
        return replace(verdict, source=basis_source(system))
    if test_voltage_v is None:
        reason = f"test voltage not stated; {_asked(choices)}: no evidence for the limit"
        return _doubt(measured, choices[0], reason, ("test voltage",))
    between(1, 50_000, "Test voltage", test_voltage_v, "V")
    measured = bounded(measured, meter)
    required = next((r for r in choices if _serves(test_voltage_v, r)), None)
    if required is not None:
        return _judge(measured, required, test_voltage_v, meter)
    below = [r for r in choices if r.test_voltage_v < test_voltage_v]
    if not below:
        reason = f"taken with {test_voltage_v:g} V; {_asked(choices)}: no evidence for the limit"
        return _doubt(measured, choices[0], reason + _exception(choices[0], test_voltage_v), ())
    verdict = _judge(measured, below[-1], test_voltage_v, meter)
    return _harder(verdict, below[-1], test_voltage_v)


def _serves(test_voltage_v: float, required: Requirement) -> bool:
    low = required.test_voltage_v
    return low <= test_voltage_v <= low * HIGHEST_OUTPUT


def _harder(verdict: Verdict, required: Requirement, test_voltage_v: float) -> Verdict:
    """Return the verdict on a reading with more than the limit's test voltage.

    Insulation that holds it at the higher voltage holds it at the lower one; what it lacks at the
    higher one it may have at the lower (IEC 60364-6, 6.4.3.3 asks for the table's voltage).
    """
    more = (
        f"taken with {test_voltage_v:g} V, more than the {required.test_voltage_v:g} V asked for: "
        "all equipment that stays connected must stand it"
    )
    if verdict.outcome == "pass":
        return replace(verdict, reason=f"{verdict.reason}; {more}")
    if verdict.outcome == "fail":
        again = f"disconnect equipment and read again with {required.test_voltage_v:g} V"
        return replace(verdict, outcome="doubt", reason=f"{verdict.reason}; {more}; {again}")
    return replace(verdict, reason=f"{verdict.reason}; {more}")


def _asked(choices: tuple[Requirement, ...]) -> str:
    return "the limit asks for " + " or ".join(f"{r.test_voltage_v:g} V" for r in choices)


def _exception(required: Requirement, test_voltage_v: float) -> str:
    """Return the words on the one exception of IEC 60364-6, 6.4.3.3."""
    if test_voltage_v == 250 and required.test_voltage_v == 500:
        return (
            "; 250 V with 1 MΩ serves only where surge protective devices can't be disconnected"
            " (IEC 60364-6 6.4.3.3)"
        )
    return ""


def _judge(
    measured: Measured, required: Requirement, test_voltage_v: float, meter: Meter
) -> Verdict:
    if measured.number is None:
        reason = (
            "OL shows no bound: write what the display goes up to, such as >2000M, or record the "
            "range of the instrument"
        )
        return _doubt(measured, required, reason, ("top of the range",))
    figure = measured.number
    u = standard_uncertainty(measured, meter)
    part = None if u is None else largest_part(measured, meter)
    guard = guard_of(figure, u, WORST_OPERATING, IEC_61557_2.key, part)
    outcome = at_least(figure, required.limit_ohm, guard)
    if measured.over_range and outcome != "pass":
        reason = "this bound doesn't clear the limit: use a higher range"
        return _doubt(measured, required, reason, ("top of the range",))
    reason = (
        f"{format_measured(measured)} with {test_voltage_v:g} V; at least "
        f"{format_resistance(required.limit_ohm)} for {required.circuit}; "
        f"{guard.because(outcome)}{_hint(measured)}{required.note}"
    )
    return Verdict(outcome, required.limit_ohm, "ohm", required.source, reason, figure,
                   guard.accept)  # fmt: skip


def meant_otherwise(measured: Measured) -> tuple[str, str] | None:
    """Return how megohms and ohms are written, where a reading's unit was likely another.

    A bare number, or one in milliohms or less, that is too low for insulation.

    >>> from wiretrack.electrical.quantities import parse_resistance
    >>> meant_otherwise(parse_resistance("550 mohm"))
    ('550M', '0.55ohm')
    """
    match = _TYPED.fullmatch(measured.text)
    if match is None or measured.number is None or not 0 < measured.number < _LOW_OHM:
        return None
    number, unit = match[1].replace(" ", ""), match[2]
    if unit and (unit[0] not in "m\u00b5\u03bcun" or unit.startswith("meg")):
        return None
    sign = ">" if measured.over_range else ""
    plain = f"{measured.number:.12f}".rstrip("0").rstrip(".")
    return f"{number}M", f"{sign}{plain}ohm" if unit else f"{number}ohm"


def _hint(measured: Measured) -> str:
    bare = measured.text.replace(".", "").isdigit()
    if bare and measured.number is not None and measured.number < _LOW_OHM:
        return f"; a bare number is in ohms: {measured.text} MΩ is written {measured.text}M"
    return ""


def _doubt(
    measured: Measured, required: Requirement | None, reason: str, missing: tuple[str, ...]
) -> Verdict:
    shown = f"{format_measured(measured)}: {reason}"
    if required is None:
        return Verdict("doubt", None, "ohm", "", shown, missing=missing)
    return Verdict(
        "doubt", required.limit_ohm, "ohm", required.source, shown + required.note,
        measured.number, None, missing,
    )  # fmt: skip


# Extra-low voltage, IEC 60364-4-41 (its text not seen; 50 V AC and 120 V ripple-free DC are read in
# the IEC's published vocabulary, IEC 61558-1:2005, 3.7.16): V AC and V DC.
ELV_AC_V, ELV_DC_V = 50.0, 120.0
# Scope of IEC 60364: low voltage, as the IEC's published vocabulary has it (reprint): V AC, V DC.
LV_AC_V, LV_DC_V = 1000.0, 1500.0
PV_VOLTAGE_FACTOR = 1.25  # IEC 62446-1:2016, 6.7 (from memory): system voltage over Voc at STC


@dataclass(frozen=True)
class Requirement:
    """A least insulation resistance."""

    limit_ohm: float
    test_voltage_v: float
    circuit: str
    source: str
    note: str = ""


def insulation_requirements(
    system: str | None, max_voltage_v: float | None, *, voc_stc_v: float | None = None
) -> tuple[tuple[Requirement, ...], tuple[str, ...]]:
    """Return the requirements that a reading may meet, and the facts missing to choose one.

    The first requirement is the one to test by. There are two for extra-low voltage, since a
    circuit that isn't SELV or PELV falls under the next row.

    Raises `BadInputError` if the system isn't known, or a voltage isn't a number above 0.
    """
    if system is None:
        return (), ("system of the circuit",)
    if system not in SYSTEMS:
        raise BadInputError(f"'{system}' is not a system. Systems: {', '.join(SYSTEMS)}.")
    for value in (max_voltage_v, voc_stc_v):
        if value is not None:
            above(0, "Voltage", value, "V")
    if system == "dc-pv":
        return _pv(max_voltage_v, voc_stc_v)
    return _low_voltage(system, max_voltage_v)


def basis_source(system: str | None) -> str:
    """Return the publication that a circuit's insulation limits come from."""
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
        note = f"; assumed to be SELV or PELV for its voltage ({IEC_60364_4_41.cite()})"
        return (replace(selv, note=note), felv), ()
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
        note = f"; system voltage assumed to be the stated {system_v:g} V"
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


def _requirement(row: Row, source: Source, place: str, circuit: str, note: str = "") -> Requirement:
    cited = source.cite(place)
    if row["confidence"] != "high":
        cited += f" (confidence in this row: {row['confidence']})"
    limit_ohm = float(row["min_mohm"]) * 1e6
    return Requirement(limit_ohm, float(row["test_voltage_v"]), circuit, cited, note)
