# SPDX-License-Identifier: MIT
"""Insulation against wet places, sunlight, voltage and PV circuits inside buildings (NEC)."""

from __future__ import annotations

from dataclasses import replace
from math import ceil, floor
from typing import TYPE_CHECKING

from wiretrack.electrical.dimensions import (
    METAL_TYPES,
    PLASTIC_TYPES,
    raceway_type,
    type_rows,
    unread_note,
)
from wiretrack.electrical.findings import Clause, Finding, circuits, raceways, rule
from wiretrack.electrical.limits import above, between
from wiretrack.electrical.strings import STC_C
from wiretrack.electrical.tables import load_table
from wiretrack.errors import TableEntryError
from wiretrack.late import dataclass
from wiretrack.sources import IEC_60364_7_712

if TYPE_CHECKING:
    from collections.abc import Iterator

    from wiretrack.electrical.findings import Built, Case
    from wiretrack.electrical.runs import Run, Wire
    from wiretrack.electrical.tables import Code, Row
    from wiretrack.model.entities import Circuit
    from wiretrack.model.parts import SiteFacts

# NEC 690.31(D), 2020 and later (reprint): above 30 V or 8 A, also behind the disconnect
_PV_INSIDE_V, _PV_INSIDE_A, _EVERYWHERE_SINCE = 30.0, 8.0, 2020
_BURIED = ("trench", "buried")


@rule("insulation-type", raceways)
def insulation_types(run: Run, code: Code) -> list[Finding]:
    """Return what the NEC says of the insulation of each conductor in a raceway.

    The IEC has no table of types to hold a printed type against, so nothing is said there.
    """
    if not code.is_nec:
        return []
    findings = [
        finding
        for wire in run.wires
        if not wire.is_bare
        for finding in (_wet(wire, run, code), _sunlight(wire, run, code), _volts(wire, code))
        if finding is not None
    ]
    return [*findings, *_inside(run, code)]


def _rows(wire: Wire) -> list[Row]:
    return type_rows(wire.conductor.insulation)


def _printed(wire: Wire) -> str:
    return wire.conductor.insulation or "insulation unknown"


def _wet(wire: Wire, run: Run, code: Code) -> Finding | None:
    """Return whether the insulation may be in a wet place.

    Underground all is wet (300.5(B)), and above ground so is the inside of a raceway that lies in
    a wet place (300.9); conductors there must be for wet places (310.10(C)).
    """
    source, name = _source(wire, code), run.raceway.code
    clause = Clause("insulation-type", wire.name, source)
    buried = (run.raceway.type or "").strip().lower() in _BURIED
    wet = True if buried else run.raceway.wet
    if wet is False:
        return None
    place = code.at("wet-underground" if buried else "wet-above-grade")
    rows = _rows(wire)
    if wet is None:
        if any(row["wet"] == "yes" for row in rows):
            return clause.finds("pass", f"{_printed(wire)} may be wet or dry")
        if not rows:
            return None
        outside = f"{name} lies outdoors, and " if run.raceway.indoors is False else ""
        reason = f"{_printed(wire)} must stay dry; {outside}unknown: whether {name} is wet: "
        reason += f"state wet of {name}"
        return clause.finds("doubt", reason, source=f"{place}; {source}")
    if not rows:
        text = wire.conductor.insulation
        what = f"type '{text}' isn't in the NEC's table" if text else "unknown: insulation type"
        return clause.finds("doubt", f"{what}; {name} is wet")
    if any(row["wet"] == "yes" for row in rows):
        return clause.finds("pass", f"{_printed(wire)} may be in wet places")
    reason = f"{_printed(wire)} isn't for wet places, and {name} is one"
    return clause.finds("fail", reason, source=f"{place}; {source}")


def _source(wire: Wire, code: Code) -> str:
    """Return the source, with the confidence of a row that the table itself doesn't have."""
    table = code.at("insulation").removeprefix(code.nec(""))
    return f"{code.nec('310.10(C)')} and {table}{unread_note(wire.conductor.insulation)}"


def _sunlight(wire: Wire, run: Run, code: Code) -> Finding | None:
    """Return whether a conductor outside a closed raceway may lie in the sun."""
    kind = run.raceway.type
    if not run.raceway.sunlight or kind is None or raceway_type(kind) is not None:
        return None
    source = f"{code.nec('310.10(D)')}; confidence in which types resist sunlight: low"
    clause = Clause("insulation-type", wire.name, source)
    if any(row["sunlight"] == "yes" for row in _rows(wire)):
        return clause.finds("pass", f"{_printed(wire)} resists sunlight")
    reason = f"{_printed(wire)} in sunlight: only if printed SUNLIGHT RESISTANT; not recorded"
    return clause.finds("doubt", reason)


def _volts(wire: Wire, code: Code) -> Finding | None:
    """Return whether the circuit's voltage is within what common insulation is made for."""
    volts = wire.circuit.max_voltage_v
    if volts is not None:
        above(0, f"Highest voltage of {wire.circuit.code}", volts, "V")
    rated = [float(row["volts"]) for row in _rows(wire) if row["volts"]]
    if volts is None or not rated or volts <= max(rated):
        return None
    reason = f"{_printed(wire)} is made for {max(rated):g} V unless printed higher"
    reason += f"; the circuit has {volts:g} V"
    clause = Clause("insulation-type", wire.name, code.at("insulation"), "V")
    return clause.finds("doubt", reason, volts, max(rated))


def _inside(run: Run, code: Code) -> list[Finding]:
    """Return whether PV DC conductors inside a building lie in metal.

    Source: NEC 690.31(G) of 2014 and 2017: raceway, MC cable or enclosure of metal, from where
    they come in to the first readily accessible disconnect (2017 read in a reprint). NEC
    690.31(D) of 2020: those above 30 V or 8 A, wherever they lie inside (read in a code that
    adopts it; that of 2023 not seen). A hazard control system is excepted.
    """
    if not run.has_pv or run.raceway.indoors is False:
        return []
    metal, name = _is_metal(run), run.raceway.code
    clause = Clause("insulation-type", name, code.at("pv-inside"))
    words = "PV DC conductors inside a building need a raceway, MC cable or enclosure of metal"
    if metal:
        return [clause.finds("pass", f"{words}: it is metal")]
    to_disconnect = code.edition is None or code.edition < _EVERYWHERE_SINCE
    anywhere = code.edition is None or code.edition >= _EVERYWHERE_SINCE
    if to_disconnect and not anywhere and run.before_disconnect is False:
        return [clause.finds("pass", "PV DC, but behind the disconnect")]
    exceeds = _exceeds(run)
    if anywhere and not to_disconnect and exceeds is False:
        reason = f"PV DC of at most {_PV_INSIDE_V:g} V and {_PV_INSIDE_A:g} A needs no metal"
        return [clause.finds("pass", reason)]
    facts = {
        f"whether it lies indoors: state indoors of {name}": run.raceway.indoors is None,
        f"whether it is metal: state metal of {name}": metal is None,
        "whether it lies before the disconnect": not anywhere and run.before_disconnect is None,
        "voltage and current of its circuits": not to_disconnect and exceeds is None,
        "edition of the NEC: state edition of site": anywhere and to_disconnect
        and (run.before_disconnect is not True or exceeds is not True),
    }  # fmt: skip
    lacking = [fact for fact, missing in facts.items() if missing]
    if lacking:
        return [clause.finds("doubt", f"{words}; unknown: {', '.join(lacking)}")]
    reason = f"{words}: it isn't metal"
    if anywhere:
        reason += "; right only as part of a listed PV hazard control system"
    return [clause.finds("fail", reason)]


def _exceeds(run: Run) -> bool | None:
    """Return whether a PV circuit is above 30 V or 8 A; None where its figures don't tell."""
    found: list[bool | None] = []
    for circuit in run.circuits:
        if circuit.system != "dc-pv":
            continue
        volts, amperes = circuit.max_voltage_v, circuit.max_current_a
        isc, strings = circuit.module_isc_a, circuit.strings_in_parallel
        if amperes is None and isc is not None and strings is not None:
            amperes = isc * strings
        above_one = (volts or 0) > _PV_INSIDE_V or (amperes or 0) > _PV_INSIDE_A
        found.append(True if above_one else None if volts is None or amperes is None else False)
    return True if True in found else None if None in found else False


def _is_metal(run: Run) -> bool | None:
    if run.raceway.metal is not None:
        return run.raceway.metal
    kind = raceway_type(run.raceway.type)
    return True if kind in METAL_TYPES else False if kind in PLASTIC_TYPES else None


IEC_FACTOR = 1.2  # IEC 60364-7-712 (from memory; confidence low): without a coefficient


@dataclass(frozen=True)
class ColdVoltage:
    """Highest voltage of a string, and by which rule."""

    volts: float
    factor: float
    source: str


def cold_factor(temp_c: float) -> float:
    """Return the factor on Voc of crystalline silicon by lowest ambient temperature.

    The table is in whole degrees; a broken degree is taken down to the colder one.

    Raises `TableEntryError` if the table doesn't reach the temperature (24 to -40 °C).

    Source: NEC table 690.7(A) (reprint; original not seen).

    >>> cold_factor(-10), cold_factor(-10.5)
    (1.14, 1.16)
    """
    between(-273, 100, "Lowest temperature", temp_c, "°C")
    degrees = floor(temp_c)
    for row in load_table("nec_690_7_a").rows:
        if int(row["from_c"]) <= degrees <= int(row["to_c"]):
            return float(row["factor"])
    raise TableEntryError("NEC table 690.7(A)", f"{temp_c:g} °C", ("24 °C", "-40 °C"))


def cold_voltage(
    voc_v: float, modules: int, low_c: float, pct_per_k: float | None, code: Code
) -> ColdVoltage:
    """Return the highest voltage of a string of modules at `low_c`.

    `voc_v` is that of one module at STC, above 0; one module or more in series; `low_c` is the
    lowest expected ambient temperature. Without the module's coefficient, below 0 %/K, it goes
    by a table.

    Source: NEC 690.7(A)(1) by coefficient, 690.7(A)(2) by table (reprints); IEC 60364-7-712
    (from memory): factor 1.2 without a coefficient.
    """
    above(0, "Open-circuit voltage of a module", voc_v, "V")
    above(0, "Modules in series", modules, "")
    between(-100, 60, "Lowest temperature", low_c, "°C")
    if pct_per_k is not None:
        between(-5, 0, "Temperature coefficient", pct_per_k, "%/K")
        factor = max(1.0, 1 + pct_per_k / 100 * (low_c - STC_C))
        source = code.nec({2014: "690.7(A)", 2017: "690.7(A)(1)"})
        source = source if code.is_nec else IEC_60364_7_712.cite()
    elif code.is_nec:
        factor, source = cold_factor(low_c), code.nec({2014: "690.7(A)", 2017: "690.7(A)(2)"})
    else:
        factor, source = IEC_FACTOR, f"{IEC_60364_7_712.cite()} (confidence in this factor: low)"
    return ColdVoltage(voc_v * modules * factor, factor, source)


def _cases(built: Built) -> Iterator[Case]:
    for subject, (circuit, _, code) in circuits(built):
        yield subject, (circuit, built.document.site, code)


@rule("insulation-type", _cases)
def pv_voltage(circuit: Circuit, site: SiteFacts, code: Code) -> list[Finding]:
    """Return whether a PV circuit's voltage in the cold stays within its stated highest."""
    if circuit.system != "dc-pv" or circuit.module_voc_v is None:
        return []
    source = code.nec("690.7(A)") if code.is_nec else IEC_60364_7_712.cite()
    clause = Clause("insulation-type", circuit.code, source, "V")
    modules, low_c = circuit.modules_in_series, site.record_low_c
    lacking = [
        name
        for name, value in (("modules in series", modules), ("record low temperature", low_c))
        if value is None
    ]
    if modules is None or low_c is None:
        return [clause.lacks(*lacking, limit=circuit.max_voltage_v)]
    try:
        cold = cold_voltage(
            circuit.module_voc_v, modules, low_c, circuit.module_voc_pct_per_k, code
        )
    except TableEntryError as error:
        return [clause.finds("doubt", f"{error} Take the module's coefficient.")]
    return [_judge(circuit, cold, low_c, replace(clause, source=cold.source))]


def _judge(circuit: Circuit, cold: ColdVoltage, low_c: float, clause: Clause) -> Finding:
    volts, limit = round(cold.volts, 1), circuit.max_voltage_v
    if limit is not None:
        above(0, f"Highest voltage of {circuit.code}", limit, "V")
    words = f"{volts:g} V at {low_c:g} °C, {cold.factor:.3f} times the Voc at STC"
    if limit is None:
        words += f"; state at least {ceil(volts)} V as the circuit's highest voltage"
        return clause.finds("doubt", words, volts)
    right = cold.volts <= limit
    reason = f"{words}; {'within' if right else 'above'} the {limit:g} V stated for the circuit"
    return clause.finds("pass" if right else "fail", reason, volts, limit)
