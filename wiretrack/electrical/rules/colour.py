# SPDX-License-Identifier: MIT
"""Colours of conductors by function: NEC 200.6, 210.5, 250.119, 690.31 and IEC 60445."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.electrical.colours import colour_name, colour_parts, function_of, parse_colour
from wiretrack.electrical.findings import Finding, missing
from wiretrack.electrical.sizes import parse_size
from wiretrack.errors import BadInputError
from wiretrack.sources import IEC_60445

if TYPE_CHECKING:
    from wiretrack.electrical.codes import Code
    from wiretrack.electrical.runs import Wire
    from wiretrack.electrical.verdicts import Outcome

_GREEN, _WHITE = {"GN", "GNYE"}, {"WH", "GY"}
# Larger ones may be marked at their ends (NEC 200.6(B), 210.5(C)(2), 250.119(B); reprint).
_MARKABLE = parse_size("4 AWG")
_DC_OVER_V = 60.0  # NEC 210.5(C)(2) (reprint): polarity above so many volts
_DC_COLOURS = {"L+": "RD", "L-": "BK"}


def colour(wire: Wire, code: Code) -> list[Finding]:
    """Return what the site's code says of a conductor's colour."""
    if not (code.is_nec or code.is_iec):
        return []
    text = wire.conductor.colour
    if text is None:
        source = _nec_source(wire, code) if code.is_nec else IEC_60445.key
        if wire.circuit.system == "signal" and not wire.is_earth:
            return []
        return [missing("colour", wire.name, ["colour"], source)]
    try:
        parts = set(colour_parts(parse_colour(text)))
    except BadInputError as error:
        return [_finding(wire, "doubt", str(error), IEC_60445.key)]
    return _nec(wire, code, parts) if code.is_nec else _iec(wire, parts)


def _finding(wire: Wire, outcome: Outcome, reason: str, source: str) -> Finding:
    return Finding("colour", wire.name, outcome, None, None, "", source, reason)


def _shown(wire: Wire) -> str:
    return f"{wire.conductor.function} is {colour_name(wire.conductor.colour or '')}"


def _markable(wire: Wire) -> bool:
    return wire.size is not None and wire.size.area_mm2 >= _MARKABLE.area_mm2 * 0.999


def _nec_source(wire: Wire, code: Code) -> str:
    """Return the section that governs a conductor's colour."""
    function, circuit = wire.conductor.function, wire.circuit
    if function in ("PE", "PEN"):
        return code.nec("250.119")
    if circuit.system == "dc-pv" and function in ("L+", "L-"):
        return code.nec({2014: "690.31(B) and 200.6", 2020: "690.31(B)"})
    if function in ("N", "M"):
        return code.nec("200.6")
    if function in ("L+", "L-"):
        return code.nec("210.5(C)(2)")
    return code.nec("200.7 and 250.119")


def _nec(wire: Wire, code: Code, parts: set[str]) -> list[Finding]:
    function, source = wire.conductor.function, _nec_source(wire, code)
    if function == "PE":
        return [_nec_earth(wire, parts, source)]
    if function == "PEN":
        return [_finding(wire, "doubt", f"{_shown(wire)}: the NEC has no PEN by that name", source)]
    if function == "FE":
        return []
    if parts & _GREEN:
        return [_green(wire, source, code)]
    if function in ("N", "M"):
        return [_nec_neutral(wire, parts, source)]
    if function in ("L+", "L-"):
        return [_nec_dc(wire, code, parts, source)]
    if parts <= _WHITE and wire.circuit.system != "signal":
        reason = f"{_shown(wire)}, which is kept for earthed (grounded) conductors"
        return [_finding(wire, "fail", reason, source)]
    return [_finding(wire, "pass", f"{_shown(wire)}: neither white, grey nor green", source)]


def _green(wire: Wire, source: str, code: Code) -> Finding:
    reason = f"{_shown(wire)}, which is kept for protective conductors"
    if wire.circuit.system == "signal":
        reason += "; limited-power cables are excepted"
        return _finding(wire, "doubt", reason, code.nec("250.119, exceptions"))
    return _finding(wire, "fail", reason, source)


def _nec_earth(wire: Wire, parts: set[str], source: str) -> Finding:
    bare = (wire.conductor.insulation or "").lower() == "bare"
    if bare or parts <= _GREEN:
        return _finding(wire, "pass", f"{_shown(wire)}: green, green-yellow or bare", source)
    reason = f"{_shown(wire)}, not green, green-yellow or bare"
    if _markable(wire):
        reason += "; 4 AWG and larger may be marked green at each end and access: not recorded"
        return _finding(wire, "doubt", reason, source)
    return _finding(wire, "fail", reason, source)


def _nec_neutral(wire: Wire, parts: set[str], source: str) -> Finding:
    if parts & _WHITE:
        return _finding(wire, "pass", f"{_shown(wire)}: white or grey, or striped with it", source)
    reason = f"{_shown(wire)}, not white or grey"
    if _markable(wire):
        reason += "; 4 AWG and larger may be marked white or grey at their ends: not recorded"
        return _finding(wire, "doubt", reason, source)
    return _finding(wire, "fail", reason, source)


def _nec_dc(wire: Wire, code: Code, parts: set[str], source: str) -> Finding:
    if parts <= _WHITE:
        return _solidly_earthed(wire, code)
    if wire.circuit.system == "dc-pv":
        if wire.conductor.function == "L-" and "RD" in parts and (code.edition or 0) >= 2020:
            return _finding(wire, "fail", f"{_shown(wire)}, which a negative must not be", source)
        note = "neither green, white nor grey; mark + or - at each termination and splice"
        return _finding(wire, "pass", f"{_shown(wire)}: {note}", source)
    return _nec_dc_branch(wire, parts, source)


def _solidly_earthed(wire: Wire, code: Code) -> Finding:
    """Return the finding on a white or grey pole: only one that is solidly earthed may be."""
    source, earthed = code.nec("200.6 and 200.7"), wire.circuit.solidly_earthed
    words = f"{_shown(wire)}, which only a solidly earthed (grounded) pole may be"
    if earthed is None:
        return _finding(wire, "doubt", f"{words}; unknown: whether it is", source)
    return _finding(wire, "pass" if earthed else "fail", words, source)


def _nec_dc_branch(wire: Wire, parts: set[str], source: str) -> Finding:
    """Return the finding on a DC branch circuit above 60 V: red positive, black negative."""
    function, volts = wire.conductor.function, wire.circuit.max_voltage_v
    wanted = _DC_COLOURS[function]
    opposite = _DC_COLOURS["L-" if function == "L+" else "L+"]
    if wanted in parts or (volts is not None and volts <= _DC_OVER_V):
        return _finding(wire, "pass", f"{_shown(wire)}", source)
    if opposite in parts and volts is not None and not _markable(wire):
        return _finding(wire, "fail", f"{_shown(wire)}, the colour of the other pole", source)
    where = "at each termination and splice" if _markable(wire) else "at most 24 in apart"
    reason = f"{_shown(wire)}: above 60 V mark its polarity {where}: not recorded"
    return _finding(wire, "doubt", reason, source)


def _iec(wire: Wire, parts: set[str]) -> list[Finding]:
    """Return the finding by IEC 60445."""
    function = function_of(wire.conductor.function)
    allowed = {frozenset(colour_parts(code)) for code in function.colours}
    source = IEC_60445.key
    if function.code in ("PE", "PEN"):
        right = frozenset(parts) in allowed
        why = "" if right else ", not green-yellow"
        return [_finding(wire, "pass" if right else "fail", f"{_shown(wire)}{why}", source)]
    if "GNYE" in parts or parts <= {"GN", "YE"}:
        reason = f"{_shown(wire)}: green-yellow is kept for protective conductors, and green or "
        reason += "yellow alone is avoided beside it"
        return [_finding(wire, "fail" if "GNYE" in parts else "doubt", reason, source)]
    if not allowed:
        return [_finding(wire, "pass", f"{_shown(wire)}: free to choose", source)]
    return [_iec_live(wire, frozenset(parts) in allowed, parts)]


def _iec_live(wire: Wire, right: bool, parts: set[str]) -> Finding:
    function = function_of(wire.conductor.function)
    wanted = ", ".join(colour_name(code) for code in function.colours)
    if right:
        return _finding(wire, "pass", _shown(wire), IEC_60445.key)
    if function.code in ("N", "M"):
        return _finding(wire, "fail", f"{_shown(wire)}, not {wanted}", IEC_60445.key)
    if "BU" in parts and wire.circuit.system != "signal":
        reason = f"{_shown(wire)}: blue is kept for neutral and midpoint where there is one"
        return _finding(wire, "doubt", reason, IEC_60445.key)
    source = IEC_60445.key
    if function.code in ("L+", "L-"):
        source += " (2021; confidence in these colours: low)"
    reason = f"{_shown(wire)}, {wanted} preferred; mark the function at both ends"
    return _finding(wire, "doubt", reason, source)
