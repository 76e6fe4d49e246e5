# SPDX-License-Identifier: MIT
"""Insulation against wet places, sunlight, voltage and PV circuits inside buildings (NEC)."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.electrical.findings import Finding
from wiretrack.electrical.insulation_types import BARE, type_rows, unread_note
from wiretrack.electrical.limits import above
from wiretrack.electrical.raceways import METAL_TYPES, PLASTIC_TYPES, raceway_type

if TYPE_CHECKING:
    from wiretrack.electrical.codes import Code
    from wiretrack.electrical.runs import Run, Wire
    from wiretrack.electrical.tables import Row
    from wiretrack.electrical.verdicts import Outcome

_PV_INSIDE_V = 30.0  # NEC 690.31(D), 2020 and later (reprint): above 30 V or 8 A


def insulation_types(run: Run, code: Code) -> list[Finding]:
    """Return what the NEC says of the insulation of each conductor in a raceway.

    The IEC has no table of types to hold a printed type against, so nothing is said there.
    """
    if not code.is_nec:
        return []
    findings = [
        finding
        for wire in run.wires
        if (wire.conductor.insulation or "").strip().lower() != BARE
        for finding in (_wet(wire, run, code), _sunlight(wire, run, code), _volts(wire, code))
        if finding is not None
    ]
    return [*findings, *_inside(run, code)]


def _finding(subject: str, outcome: Outcome, reason: str, source: str) -> Finding:
    return Finding("insulation-type", subject, outcome, None, None, "", source, reason)


def _rows(wire: Wire) -> list[Row]:
    return type_rows(wire.conductor.insulation)


def _printed(wire: Wire) -> str:
    return wire.conductor.insulation or "insulation unknown"


def _unknown(wire: Wire, place: str, source: str) -> Finding:
    text = wire.conductor.insulation
    what = f"type '{text}' isn't in the NEC's table" if text else "unknown: insulation type"
    return _finding(wire.name, "doubt", f"{what}; {place}", source)


def _wet(wire: Wire, run: Run, code: Code) -> Finding | None:
    """Return whether the insulation may be in a wet place."""
    source = _source(wire, code)
    wet = run.raceway.wet
    if wet is False:
        return None
    rows = _rows(wire)
    if wet is None:
        if any(row["wet"] == "yes" for row in rows):
            return _finding(wire.name, "pass", f"{_printed(wire)} may be wet or dry", source)
        if not rows:
            return None
        reason = f"{_printed(wire)} must stay dry; unknown: whether {run.raceway.code} is wet"
        return _finding(wire.name, "doubt", reason, source)
    if not rows:
        return _unknown(wire, f"{run.raceway.code} is wet", source)
    if any(row["wet"] == "yes" for row in rows):
        return _finding(wire.name, "pass", f"{_printed(wire)} may be in wet places", source)
    reason = f"{_printed(wire)} isn't for wet places, and {run.raceway.code} is one"
    return _finding(wire.name, "fail", reason, source)


def _source(wire: Wire, code: Code) -> str:
    """Return the source, with the confidence of a row that the table itself doesn't have."""
    table = code.at("insulation").removeprefix(code.nec(""))
    return f"{code.nec('310.10(C)')} and {table}{unread_note(wire.conductor.insulation)}"


def _sunlight(wire: Wire, run: Run, code: Code) -> Finding | None:
    """Return whether a conductor outside a closed raceway may lie in the sun."""
    if not run.raceway.sunlight or raceway_type(run.raceway.type) is not None:
        return None
    if run.raceway.type is None:
        return None
    source = f"{code.nec('310.10(D)')}; confidence in which types resist sunlight: low"
    rows = _rows(wire)
    if any(row["sunlight"] == "yes" for row in rows):
        return _finding(wire.name, "pass", f"{_printed(wire)} resists sunlight", source)
    reason = f"{_printed(wire)} in sunlight: only if printed SUNLIGHT RESISTANT; not recorded"
    return _finding(wire.name, "doubt", reason, source)


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
    source = code.at("insulation")
    return Finding(
        "insulation-type", wire.name, "doubt", volts, max(rated), "V", source, reason
    )  # fmt: skip


def _inside(run: Run, code: Code) -> list[Finding]:
    """Return whether PV DC conductors inside a building lie in metal up to the disconnect."""
    if not run.has_pv or run.raceway.indoors is False:
        return []
    source = code.nec({2014: "690.31(G)", 2020: "690.31(D)"})
    metal = _is_metal(run)
    words = "PV DC conductors inside a building need metal raceway up to the first disconnect"
    if metal:
        return [_finding(run.raceway.code, "pass", f"{words}: it is metal", source)]
    lacking = [
        fact
        for fact, known in (
            ("whether it lies indoors", run.raceway.indoors is not None),
            ("whether it is metal", metal is not None),
            ("whether it lies before the disconnect", run.before_disconnect is not None),
        )
        if not known
    ]
    if run.before_disconnect is False:
        return [_finding(run.raceway.code, "pass", "PV DC, but behind the disconnect", source)]
    if lacking:
        reason = f"{words}; unknown: {', '.join(lacking)}"
        return [_finding(run.raceway.code, "doubt", reason, source)]
    reason = f"{words}: it isn't metal"
    if code.edition is None or code.edition >= 2020:
        reason += f" (circuits of at most {_PV_INSIDE_V:g} V and 8 A are excepted)"
    return [_finding(run.raceway.code, "fail", reason, source)]


def _is_metal(run: Run) -> bool | None:
    if run.raceway.metal is not None:
        return run.raceway.metal
    kind = raceway_type(run.raceway.type)
    return True if kind in METAL_TYPES else False if kind in PLASTIC_TYPES else None
