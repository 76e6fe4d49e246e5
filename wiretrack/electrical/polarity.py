# SPDX-License-Identifier: MIT
"""The verdict on a voltage reading: polarity by its sign, and the value that the circuit has."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from wiretrack.electrical.ac_voltage import ac_verdict
from wiretrack.electrical.accuracy import UNKNOWN_METER, Meter, largest_part, standard_uncertainty
from wiretrack.electrical.limits import above
from wiretrack.electrical.quantity_text import format_measured, format_voltage
from wiretrack.electrical.string_verdict import string_uncertainty, string_verdict
from wiretrack.electrical.supplies import EARTHS
from wiretrack.electrical.verdicts import Guard
from wiretrack.model.knowledge import Outcome, Verdict
from wiretrack.model.words import DC_SYSTEMS
from wiretrack.sources import COMMON_PRACTICE, IEC_60364_6, IEC_62446_1

if TYPE_CHECKING:
    from wiretrack.electrical.quantities import Measured
    from wiretrack.electrical.supplies import CircuitFacts

_RANK = {"L+": 1, "M": 0, "PE": 0, "FE": 0, "PEN": 0, "raceway": 0, "L-": -1}
_POLES = ("L+", "L-")
_DEAD_V = 1.0  # common practice: below it a conductor counts as dead
_DEAD_FRACTION = 0.02  # common practice, of the circuit's highest voltage
_DMM_WORST = 0.03  # common practice: what a working multimeter is surely within
_LEAST_FRACTION = 0.5  # common practice: a battery or supply in use keeps half its highest voltage
_UNEVEN = 1.2  # common practice: the halves of a circuit with a midpoint are alike within 20 %
_STATED = "highest voltage stated for the circuit in the registry"


def voltage_verdict(
    measured: Measured, facts: CircuitFacts, function: str | None, against: str | None = None, *,
    cell_c: float | None = None, meter: Meter = UNKNOWN_METER,
) -> Verdict:  # fmt: skip
    """Return the verdict on a voltage reading, in V.

    Parameters
    ----------
    measured : Measured
        The reading with its sign; the red lead lay on the conductor.
    function : str or None
        Function of the conductor read: ``L+``, ``L-``, ``L1``...
    against : str, optional
        Function of what the black lead lay on: ``L-``, ``PE``, ``raceway``... of the same circuit.
    cell_c : float, optional
        Temperature of the cells of a PV string. [°C]

    References
    ----------
    .. [1] IEC 60364-6:2016, 6.4.3.6 and IEC 62446-1:2016, 6.2: polarity (reprints).
    .. [2] ANSI C84.1-2016 and IEC 60038:2009, Table 1: bands of AC supplies (reprints).
    """
    if facts.max_voltage_v is not None:
        above(0, "Highest voltage", facts.max_voltage_v, "V")
    source = polarity_source(facts.system)
    shown = format_measured(measured)
    if measured.number is None or measured.over_range:
        reason = f"{shown}: above the top of the display; use a higher range before touching again"
        return Verdict("doubt", facts.max_voltage_v, "V", source, reason, missing=("value",))
    system = facts.system
    if system is None or function is None:
        word = "system" if system is None else "function"
        reason = f"{shown} can't be judged: unknown {word}"
        return Verdict("doubt", None, "V", source, reason, measured.number, missing=(word,))
    named = {function, *([against] if against else [])} - {"raceway"}
    facts = replace(facts, functions=facts.functions | named)
    guard = _guard(measured, meter)
    if system.startswith("ac-"):
        return ac_verdict(measured, facts, function, against, guard)
    if system in DC_SYSTEMS:
        return _dc(measured, facts, function, against, guard) or _value(
            measured, facts, (function, against), guard, cell_c, meter
        )
    reason = f"{shown}: no published limit for a voltage in a circuit of system {system}"
    return Verdict("doubt", None, "V", source, reason, measured.number)


def expected_sign(function: str, against: str | None) -> int | None:
    """Return the sign that a DC reading must have: 1, -1, 0 for none, None if it isn't known."""
    rank = _RANK.get(function)
    if rank is None:
        return None
    if against is None:
        return rank or None
    other = _RANK.get(against)
    if other is None:
        return None
    return (rank > other) - (rank < other)


def polarity_source(system: str | None) -> str:
    """Return the clause that asks for the polarity of such a circuit."""
    return IEC_62446_1.cite("6.2") if system == "dc-pv" else IEC_60364_6.cite("6.4.3.6")


def most_of(facts: CircuitFacts, function: str, against: str) -> float | None:
    """Return the highest voltage between two DC functions in V: half of it to a midpoint."""
    if facts.max_voltage_v is None or {function, against} == set(_POLES):
        return facts.max_voltage_v
    has_midpoint = {*_POLES, "M"} <= facts.functions
    return facts.max_voltage_v / 2 if has_midpoint else facts.max_voltage_v


def least_of(max_v: float) -> float:
    """Return the least voltage in V that a battery or a DC supply in use should have."""
    return _LEAST_FRACTION * max_v


def _guard(measured: Measured, meter: Meter) -> Guard:
    u = standard_uncertainty(measured, meter)
    if u is None:
        width = abs(measured.number or 0.0) * _DMM_WORST
        why = f"accuracy of the instrument unknown, {_DMM_WORST:.0%} allowed for"
        return Guard(width, width, f"{why} ({COMMON_PRACTICE.key})")
    why = f"guard band {format_voltage(2 * u)} (JCGM 106:2012)"
    return Guard(2 * u, 2 * u, why, f"mostly from the instrument's {largest_part(measured, meter)}")


def _shown(measured: Measured, function: str, against: str | None) -> str:
    return f"{format_measured(measured)} on {function}" + (f" against {against}" if against else "")


def _dc(
    measured: Measured, facts: CircuitFacts, function: str, against: str | None, guard: Guard
) -> Verdict | None:
    """Return the verdict on a DC reading by its sign alone, `None` if the sign is right."""
    number, max_v = measured.number or 0.0, facts.max_voltage_v
    source, shown = polarity_source(facts.system), _shown(measured, function, against)
    sign = expected_sign(function, against)
    if max_v is not None and abs(number) > max_v + guard.reject:
        reason = f"{shown}: above the {format_voltage(max_v)} stated for the circuit; {guard.why}"
        return _verdict("fail", max_v, _STATED, reason, number, guard)
    if sign is None or sign == 0:
        reason = f"{shown}: no polarity follows from these two; read L+ against L-"
        return Verdict("doubt", max_v, "V", source, reason, number, missing=("against",))
    dead = max(_DEAD_V, _DEAD_FRACTION * (max_v or 0.0))
    if abs(number) < dead:
        reason = (
            f"{shown}: below {format_voltage(dead)} ({COMMON_PRACTICE.key}) it counts as dead, so "
            "polarity isn't proved; energize or give it daylight"
        )
        return Verdict("doubt", 0.0, "V", source, reason, number)
    if number * sign < 0:
        reason = (
            f"{shown}: the sign is wrong, so the polarity is reversed or the leads were swapped"
        )
        return _verdict("fail", 0.0, source, reason, number, guard)
    return None


def _value(
    measured: Measured, facts: CircuitFacts, ends: tuple[str, str | None], guard: Guard,
    cell_c: float | None, meter: Meter,
) -> Verdict:  # fmt: skip
    """Return the verdict on a DC reading whose sign is right.

    `ends` are the conductor's function and what the other lead touched.
    """
    function, against = ends
    number, source = measured.number or 0.0, polarity_source(facts.system)
    shown = _shown(measured, function, against)
    if against is None:
        reason = f"{shown}: the sign is right; state what the other lead touched"
        return Verdict("doubt", None, "V", source, reason, number, missing=("against",))
    if against in EARTHS or function in EARTHS:
        if not (facts.solidly_earthed and "M" in facts.functions):
            reason = (
                f"{shown}: the sign is right, but the record doesn't say which point is connected "
                "to PE; read L+ against L-"
            )
            return Verdict("doubt", None, "V", source, reason, number, missing=("against",))
    elif facts.system == "dc-pv":
        if facts.modules is None or {function, against} != set(_POLES):
            reason = (
                f"{shown}: the sign is right; record the string's modules (voc, voc_pct_per_k and "
                "series) and read L+ against L- to judge the value"
            )
            return Verdict("doubt", None, "V", source, reason, number, missing=("module",))
        u_v = string_uncertainty(measured, meter)
        volts = number if function == "L+" else -number
        found = string_verdict(volts, shown, u_v, facts.modules, cell_c)
        if found.outcome != "pass" or facts.max_voltage_v is None or volts <= facts.max_voltage_v:
            return found
    return _dc_right(shown, number, most_of(facts, function, against), guard, source)


def _dc_right(shown: str, number: float, max_v: float | None, guard: Guard, source: str) -> Verdict:
    """Return the verdict on a right sign: pass where the value is one that the circuit can have."""
    if max_v is None:
        reason = f"{shown}: the sign is right; the circuit's highest voltage is unknown"
        return Verdict("pass", 0.0, "V", source, reason, number, missing=("highest voltage",))
    size, least = abs(number), least_of(max_v)
    right = f"{format_voltage(least)} to {format_voltage(max_v)} is right"
    if size > _UNEVEN * max_v + guard.reject:
        reason = f"{shown}: {right}; are M and a pole crossed? {guard.why}"
        return _verdict("fail", max_v, _STATED, reason, number, guard)
    if size > max_v:
        reason = f"{shown}: the sign is right, but it may be above {format_voltage(max_v)}"
        return _verdict(
            "doubt", max_v, _STATED, f"{reason}; {guard.because('doubt')}", number, guard
        )
    if size < least:
        reason = f"{shown}: the sign is right, but {right} ({COMMON_PRACTICE.key}); is it fed?"
        return _verdict("doubt", least, f"{source}; {_STATED}", reason, number, guard)
    reason = f"{shown}: the sign is right, and it is within {format_voltage(max_v)}"
    return _verdict("pass", max_v, f"{source}; {_STATED}", reason, number, guard)


def _verdict(
    outcome: Outcome, limit: float, source: str, reason: str, number: float, guard: Guard
) -> Verdict:
    return Verdict(outcome, limit, "V", source, reason, number, guard.accept)
