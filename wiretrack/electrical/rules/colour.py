# SPDX-License-Identifier: MIT
"""Colours of conductors by function: NEC 200.6, 210.5, 250.119, 690.31 and IEC 60445."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.electrical.colours import colour_name, colour_parts, function_of, parse_colour
from wiretrack.electrical.findings import Clause, Finding, conductors, rule
from wiretrack.electrical.sizes import parse_size
from wiretrack.errors import BadInputError
from wiretrack.late import dataclass
from wiretrack.sources import IEC_60445

if TYPE_CHECKING:
    from wiretrack.electrical.runs import Wire
    from wiretrack.electrical.tables import Code
    from wiretrack.model.entity import Outcome

_GREEN, _WHITE = {"GN", "GNYE"}, {"WH", "GY"}
# Larger ones may be marked at their ends (NEC 200.6(B), 210.5(C)(2), 250.119(A), in 2023 (B)).
_MARKABLE = parse_size("4 AWG")
_WHITE_FROM_V = 50.0  # NEC 200.7(B) and (C) (reprint)
# NEC 210.5(C)(2) (reprints): polarity above so many volts, by the edition it began with.
_DC_OVER_V = {2014: 50.0, 2017: 60.0}
_DC_COLOURS = {"L+": "RD", "L-": "BK"}


@rule("colour", conductors)
def colour(wire: Wire, code: Code) -> list[Finding]:
    """Return what the site's code says of a conductor's colour."""
    if code.rules is None:
        return []
    text = wire.conductor.colour
    if text is None:
        source = _nec_source(wire, code) if code.is_nec else IEC_60445.key
        if wire.circuit.system == "signal" and not wire.is_earth:
            return []
        return [Clause("colour", wire.name, source).lacks("colour")]
    try:
        parts = set(colour_parts(parse_colour(text)))
    except BadInputError as error:
        return [_finding(wire, "doubt", str(error), IEC_60445.key)]
    return _nec(wire, code, parts) if code.is_nec else _iec(wire, parts)


def _finding(wire: Wire, outcome: Outcome, reason: str, source: str) -> Finding:
    return Clause("colour", wire.name, source).finds(outcome, reason)


def _shown(wire: Wire) -> str:
    return f"{wire.conductor.function} is {colour_name(wire.conductor.colour or '')}"


@dataclass(frozen=True)
class _Tape:
    """The colours of the tape or paint at a conductor's two ends; empty where none is recorded."""

    ends: tuple[frozenset[str], frozenset[str]]

    def all_in(self, wanted: set[str]) -> bool:
        """Return whether both ends have it, in the wanted colours alone."""
        return all(end and end <= wanted for end in self.ends)

    def any_outside(self, wanted: set[str]) -> bool:
        """Return whether an end has another colour."""
        return any(end - wanted for end in self.ends)

    def any_in(self, wanted: set[str]) -> bool:
        """Return whether an end has one of these colours."""
        return any(end & wanted for end in self.ends)


def _tape(wire: Wire) -> _Tape:
    """Return what is recorded of a conductor's ends: their `reidentified` colours."""
    first, second = (
        frozenset(colour_parts(parse_colour(end.reidentified))) if end.reidentified else frozenset()
        for end in wire.conductor.ends
    )  # fmt: skip
    return _Tape((first, second))


def _by_tape(wire: Wire, wanted: set[str], name: str, words: str, source: str) -> Finding:
    """Return the finding on a conductor that only tape or paint at its ends can identify.

    Large ones may be identified so; small ones need it along their length.
    """
    tape = _tape(wire)
    if tape.any_outside(wanted):
        return _finding(wire, "fail", f"{words}; an end is marked in another colour", source)
    if not _markable(wire):
        small = "; below 4 AWG tape doesn't count" if tape.any_in(wanted) else ""
        return _finding(wire, "fail", f"{words}{small}", source)
    if tape.all_in(wanted):
        return _finding(wire, "pass", f"{words}; marked {name} at both ends", source)
    words += f"; 4 AWG and larger may be marked {name} at each end: state reidentified of "
    words += "each end" if not tape.any_in(wanted) else "the other end too"
    return _finding(wire, "doubt", words, source)


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
        return [_nec_earth(wire, code, parts, source)]
    if function == "PEN":
        return [_finding(wire, "doubt", f"{_shown(wire)}: the NEC has no PEN by that name", source)]
    if function == "FE":
        return []
    if parts & _GREEN:
        return [_green(wire, source, code)]
    if function in ("N", "M"):
        return [_nec_neutral(wire, code, parts, source)]
    if function in ("L+", "L-"):
        return [_nec_dc(wire, code, parts, source)]
    if parts <= _WHITE and wire.circuit.system != "signal":
        return [_nec_white_line(wire, code)]
    if _tape(wire).any_in(_GREEN | _WHITE):
        reason = f"{_shown(wire)}, but an end is marked green, white or grey"
        return [_finding(wire, "fail", reason, source)]
    return [_finding(wire, "pass", f"{_shown(wire)}: neither white, grey nor green", source)]


def _green(wire: Wire, source: str, code: Code) -> Finding:
    reason = f"{_shown(wire)}, which is kept for protective conductors"
    if wire.circuit.system == "signal":
        reason += "; limited-power cables are excepted"
        return _finding(wire, "doubt", reason, code.nec("250.119, exceptions"))
    return _finding(wire, "fail", reason, source)


def _nec_earth(wire: Wire, code: Code, parts: set[str], source: str) -> Finding:
    if (wire.is_bare or parts <= _GREEN) and not _tape(wire).any_outside(_GREEN):
        return _finding(wire, "pass", f"{_shown(wire)}: green, green-yellow or bare", source)
    words = f"{_shown(wire)}, not green, green-yellow or bare"
    return _by_tape(wire, _GREEN, "green", words, code.at("earth-marked"))


def _nec_neutral(wire: Wire, code: Code, parts: set[str], source: str) -> Finding:
    if parts & _WHITE and not _tape(wire).any_outside(_WHITE):
        return _finding(wire, "pass", f"{_shown(wire)}: white or grey, or striped with it", source)
    words = f"{_shown(wire)}, not white or grey"
    return _by_tape(wire, _WHITE, "white or grey", words, code.at("neutral-marked"))


def _nec_white_line(wire: Wire, code: Code) -> Finding:
    """Return the finding on a white or grey line conductor (200.7)."""
    words = f"{_shown(wire)}, which is kept for earthed (grounded) conductors"
    volts = wire.circuit.max_voltage_v
    if volts is not None and volts < _WHITE_FROM_V:
        words = f"{_shown(wire)}, in a circuit below {_WHITE_FROM_V:g} V"
        return _finding(wire, "pass", words, code.at("white-below-50"))
    tape, source = _tape(wire), code.at("white-cable")
    if not all(tape.ends) or tape.any_in(_WHITE | _GREEN):
        words += "; in a cable it may be marked in another colour at each end and place"
        words += ": state reidentified of both ends"
        return _finding(wire, "fail", words, source)
    if not wire.is_core:
        words += "; marked at both ends, which is right in a cable assembly alone: state its core"
        return _finding(wire, "doubt", words, source)
    return _finding(wire, "pass", f"{words}; core of a cable, marked at both ends", source)


def _nec_dc(wire: Wire, code: Code, parts: set[str], source: str) -> Finding:
    if parts <= _WHITE:
        return _solidly_earthed(wire, code)
    tape = _tape(wire)
    if tape.any_in(_GREEN):
        reason = f"{_shown(wire)}, but an end is marked green"
        return _finding(wire, "fail", reason, code.at("earth-colour"))
    if wire.circuit.system == "dc-pv":
        red = "RD" in parts or tape.any_in({"RD"})
        if wire.conductor.function == "L-" and red and (code.edition or 0) >= 2020:
            return _finding(wire, "fail", f"{_shown(wire)}, which a negative must not be", source)
        note = "neither green, white nor grey; mark + or - at each termination and splice"
        return _finding(wire, "pass", f"{_shown(wire)}: {note}", source)
    return _nec_dc_branch(wire, code, parts, source)


def _solidly_earthed(wire: Wire, code: Code) -> Finding:
    """Return the finding on a white or grey pole: only one that is solidly earthed may be."""
    source, earthed = code.nec("200.6 and 200.7"), wire.circuit.solidly_earthed
    words = f"{_shown(wire)}, which only a solidly earthed (grounded) pole may be"
    if earthed is None:
        return _finding(wire, "doubt", f"{words}; unknown: whether it is", source)
    return _finding(wire, "pass" if earthed else "fail", words, source)


def _nec_dc_branch(wire: Wire, code: Code, parts: set[str], source: str) -> Finding:
    """Return the finding on a DC branch circuit: red positive, black negative above 50 or 60 V."""
    function, volts = wire.conductor.function, wire.circuit.max_voltage_v
    over_v = _DC_OVER_V[2014 if code.edition == 2014 else 2017]
    wanted = _DC_COLOURS[function]
    opposite = _DC_COLOURS["L-" if function == "L+" else "L+"]
    tape = _tape(wire)
    if tape.any_in({opposite}):
        reason = f"{_shown(wire)}, and an end is marked with the colour of the other pole"
        return _finding(wire, "fail", reason, source)
    if _markable(wire) and tape.all_in({wanted}):
        return _finding(
            wire, "pass", f"{_shown(wire)}; its polarity is marked at both ends", source
        )
    if wanted in parts or (volts is not None and volts <= over_v):
        return _finding(wire, "pass", f"{_shown(wire)}", source)
    if opposite in parts and volts is not None and not _markable(wire):
        return _finding(wire, "fail", f"{_shown(wire)}, the colour of the other pole", source)
    where = "at most 24 in apart"
    if _markable(wire):
        where = f"at each termination and splice: state reidentified={wanted} of both ends"
    reason = f"{_shown(wire)}: above {over_v:g} V mark its polarity {where}"
    return _finding(wire, "doubt", reason, source)


def _iec(wire: Wire, parts: set[str]) -> list[Finding]:
    """Return the finding by IEC 60445."""
    function = function_of(wire.conductor.function)
    allowed = {frozenset(colour_parts(code)) for code in function.colours}
    source = IEC_60445.key
    if function.code in ("PE", "PEN"):
        known = _tape(wire)
        right = frozenset(parts) in allowed and not known.any_outside({"GNYE", "BU"})
        why = "" if right else ", not green-yellow"
        return [_finding(wire, "pass" if right else "fail", f"{_shown(wire)}{why}", source)]
    if "GNYE" in parts or parts <= {"GN", "YE"}:
        reason = f"{_shown(wire)}: green-yellow is kept for protective conductors, and green or "
        reason += "yellow alone is avoided beside it"
        return [_finding(wire, "fail" if "GNYE" in parts else "doubt", reason, source)]
    if not allowed:
        return [_finding(wire, "pass", f"{_shown(wire)}: free to choose", source)]
    return [_iec_live(wire, allowed, parts)]


def _iec_live(wire: Wire, allowed: set[frozenset[str]], parts: set[str]) -> Finding:
    """Return the finding on a live conductor; colours at both ends identify it (from memory)."""
    right, function = frozenset(parts) in allowed, function_of(wire.conductor.function)
    wanted = ", ".join(colour_name(code) for code in function.colours)
    ends = _tape(wire).ends
    if any(end and end not in allowed for end in ends) and (right or function.code in ("N", "M")):
        words = f"{_shown(wire)}, but an end is marked in another colour than {wanted}"
        return _finding(wire, "fail", words, IEC_60445.key)
    if right:
        return _finding(wire, "pass", _shown(wire), IEC_60445.key)
    marked = all(end in allowed for end in ends)
    if marked:
        words = f"{_shown(wire)}; marked {wanted} at both ends"
        return _finding(wire, "pass", words, IEC_60445.key)
    if function.code in ("N", "M"):
        words = f"{_shown(wire)}, not {wanted}; if so at both ends, state their reidentified"
        return _finding(wire, "fail", words, IEC_60445.key)
    if "BU" in parts and wire.circuit.system != "signal":
        reason = f"{_shown(wire)}: blue is kept for neutral and midpoint where there is one"
        return _finding(wire, "doubt", reason, IEC_60445.key)
    source = IEC_60445.key
    if function.code in ("L+", "L-"):
        source += " (2021; confidence in these colours: low)"
    reason = f"{_shown(wire)}, {wanted} preferred; mark it at both ends and state reidentified"
    return _finding(wire, "doubt", reason, source)
