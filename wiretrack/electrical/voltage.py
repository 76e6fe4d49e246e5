# SPDX-License-Identifier: MIT
"""What a voltmeter should show, and the verdict: DC by sign and value, AC by the supply's band."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from wiretrack.electrical.accuracy import (
    UNKNOWN_METER,
    Guard,
    Meter,
    largest_part,
    standard_uncertainty,
)
from wiretrack.electrical.limits import above
from wiretrack.electrical.quantity_text import format_measured, format_voltage
from wiretrack.electrical.strings import SOURCE as STRING_SOURCE
from wiretrack.electrical.strings import any_temperature, string_uncertainty, string_verdict
from wiretrack.electrical.supplies import bands, systems_of
from wiretrack.errors import BadInputError
from wiretrack.late import dataclass
from wiretrack.model.entity import Outcome, Verdict
from wiretrack.model.words import DC_SYSTEMS, EARTHS, LINES
from wiretrack.sources import COMMON_PRACTICE, IEC_60364_6, IEC_62446_1

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.electrical.quantities import Measured
    from wiretrack.electrical.supplies import Band, CircuitFacts, System


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

    The reading has its sign: the red lead lay on the conductor of that `function`, the black
    one on what is `against` it in the same circuit (``L-``, ``PE``, ``raceway``). `cell_c` is
    that of a PV string's cells.

    Source: IEC 60364-6:2016, 6.4.3.6 and IEC 62446-1:2016, 6.2: polarity (reprints); ANSI
    C84.1-2016 and IEC 60038:2009, Table 1: bands of AC supplies (reprints).
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
        return Verdict("fail", max_v, "V", _STATED, reason, number, guard.accept)
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
        return Verdict("fail", 0.0, "V", source, reason, number, guard.accept)
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
    size, least = abs(number), _LEAST_FRACTION * max_v
    right = f"{format_voltage(least)} to {format_voltage(max_v)} is right"
    if size > _UNEVEN * max_v + guard.reject:
        reason = f"{shown}: {right}; are M and a pole crossed? {guard.why}"
        return Verdict("fail", max_v, "V", _STATED, reason, number, guard.accept)
    if size > max_v:
        reason = f"{shown}: the sign is right, but it may be above {format_voltage(max_v)}"
        reason += f"; {guard.because('doubt')}"
        return Verdict("doubt", max_v, "V", _STATED, reason, number, guard.accept)
    if size < least:
        reason = f"{shown}: the sign is right, but {right} ({COMMON_PRACTICE.key}); is it fed?"
        return Verdict("doubt", least, "V", f"{source}; {_STATED}", reason, number, guard.accept)
    reason = f"{shown}: the sign is right, and it is within {format_voltage(max_v)}"
    return Verdict("pass", max_v, "V", f"{source}; {_STATED}", reason, number, guard.accept)


SOURCE = IEC_60364_6.cite("6.4.3.6")


def ac_verdict(
    measured: Measured, facts: CircuitFacts, function: str, against: str | None, guard: Guard
) -> Verdict:
    """Return the verdict on a voltage read between two functions of an AC circuit, in V.

    It passes only where every supply that the record allows agrees, and fails only where none
    would have it.
    """
    number = measured.number or 0.0
    shown = _shown(measured, function, against)
    if against is None:
        return _doubt(number, f"{shown}: state what the other lead touched", "against")
    if number < 0:
        return _doubt(number, f"{shown}: an AC reading has no sign; was the meter set to DC?")
    if not systems_of(facts):
        reason = f"{shown}: state the circuit's supply or its highest voltage"
        return _doubt(number, reason, "nominal voltage")
    choices = bands(facts, function, against)
    known = [(system, band) for system, band in choices if band is not None]
    if not known:
        return _doubt(number, f"{shown}: {_unfixed(facts, function, against)}", "against")
    if len(known) < len(choices) or len({(band.low_v, band.high_v) for _, band in known}) > 1:
        return _of_many(number, shown, choices, guard)
    band = known[0][1]
    outcome = place(number, band, guard)
    told = _told(number, band, outcome, {function, against})
    if outcome == "fail" and facts.supply is None and band.nominal_v:
        told += "; if its supply is another, record it"
    return _judged(number, outcome, band, f"{shown}: {told}", guard)


def place(number: float, band: Band, guard: Guard) -> Outcome:
    """Return the outcome of a figure by a band: between its inner and outer bounds, a doubt."""
    if band.low_v + (guard.accept if band.low_v else 0) <= number <= band.high_v - guard.accept:
        return "pass"
    if number < band.lowest_v - guard.reject or number > band.highest_v + guard.reject:
        return "fail"
    return "doubt"


def right_between(band: Band) -> str:
    """Return the band in words."""
    if not band.low_v:
        return f"at most {format_voltage(band.high_v)}"
    return f"{format_voltage(band.low_v)} to {format_voltage(band.high_v)}"


def _of_many(
    number: float, shown: str, choices: Sequence[tuple[System, Band | None]], guard: Guard
) -> Verdict:
    """Return the verdict where the record allows several supplies, or several standards."""
    outcomes = [None if band is None else place(number, band, guard) for _, band in choices]
    first = next(band for _, band in choices if band is not None)
    told = f"{or_words(choices)} would be right"
    agreed = outcomes[0] if len(set(outcomes)) == 1 else None
    if agreed in ("pass", "fail"):
        return _judged(number, agreed, first, f"{shown}: {told}", guard)
    lacking = "supply" if len({system.name for system, _ in choices}) > 1 else "rules"
    of = {"supply": "the circuit's supply", "rules": "the rules of the site"}[lacking]
    source = "; ".join(dict.fromkeys(band.source for _, band in choices if band))
    return Verdict(
        "doubt", None, "V", f"{SOURCE}; {source}", f"{shown}: {told}; state {of}", number,
        missing=(lacking,),
    )  # fmt: skip


def or_words(choices: Sequence[tuple[System, Band | None]]) -> str:
    """Return the bands that the record allows in words, each with its supply and standard."""
    return " or ".join(dict.fromkeys(_choice(system, band) for system, band in choices))


def _choice(system: System, band: Band | None) -> str:
    if band is None:
        return f"no set voltage ({system.name})"
    return f"{right_between(band)} ({system.name}, {band.standard})"


def _judged(number: float, outcome: Outcome, band: Band, reason: str, guard: Guard) -> Verdict:
    nearer_low = band.low_v > 0 and number - band.low_v < band.high_v - number
    limit = band.low_v if nearer_low else band.high_v
    source = f"{SOURCE}; {band.source}"
    text = f"{reason}; {guard.because(outcome)}"
    return Verdict(outcome, limit, "V", source, text, number, guard.accept)


def _told(number: float, band: Band, outcome: Outcome, both: set[str]) -> str:
    right = f"{right_between(band)} is right ({band.system})"
    if outcome == "pass" or band.low_v <= number <= band.high_v:
        return right
    if band.nominal_v == 0 and outcome == "fail":
        return f"{right}; the line and the neutral may be crossed, or the neutral open"
    if band.nominal_v == 0:
        return f"{right}; look for a loose or long neutral"
    if outcome == "doubt":
        outer = f"{format_voltage(band.lowest_v)} to {format_voltage(band.highest_v)}"
        return f"{right}; {outer} is allowed for a time or at the far end; read at the board too"
    if number < band.lowest_v / 10:
        return f"{right}; the circuit may be off, or a conductor open"
    if number < band.lowest_v and both & set(EARTHS):
        return f"{right}; is PE connected? If the system is IT, record that"
    return right


def _unfixed(facts: CircuitFacts, function: str, against: str) -> str:
    """Return why no voltage between the two follows from the record."""
    both = {function, against}
    if both & set(EARTHS) and facts.earthing == "IT":
        return "in an IT system nothing fixes the voltage to PE; no limit is named"
    if both & set(EARTHS) and both & set(LINES):
        names = " or ".join(system.name for system in systems_of(facts))
        return f"{names}: the record doesn't say which point is connected to PE"
    return "what it should be doesn't follow from these two"


def _doubt(number: float, reason: str, *missing: str) -> Verdict:
    return Verdict("doubt", None, "V", SOURCE, reason, number, missing=missing)


@dataclass(frozen=True)
class ExpectedVoltage:
    """The voltage to expect, in V and in words; no bounds where the record allows several."""

    low_v: float | None
    high_v: float | None
    text: str
    source: str


def expected_voltage(facts: CircuitFacts, function: str, against: str) -> ExpectedVoltage | None:
    """Return what a reading between two functions of a circuit should show; `None` if unknown.

    The red lead is on `function`. A PV string's voltage is that of its modules with cells of any
    temperature.
    """
    if facts.system in DC_SYSTEMS:
        return _expected_dc(facts, function, against)
    if not (facts.system or "").startswith("ac-"):
        return None
    choices = bands(facts, function, against)
    known = [band for _, band in choices if band is not None]
    if not known:
        return None
    source = "; ".join(dict.fromkeys(band.source for band in known))
    if len(known) < len(choices) or len({(band.low_v, band.high_v) for band in known}) > 1:
        return ExpectedVoltage(None, None, or_words(choices), source)
    return ExpectedVoltage(known[0].low_v, known[0].high_v, right_between(known[0]), source)


def _expected_dc(facts: CircuitFacts, function: str, against: str) -> ExpectedVoltage | None:
    if facts.system == "dc-pv":
        try:
            bounds = facts.modules and any_temperature(facts.modules)
        except BadInputError:
            bounds = None
        if not bounds or {function, against} != {"L+", "L-"}:
            return None
        low, high = bounds
        text = f"{format_voltage(low)} to {format_voltage(high)} by the cells' temperature"
        return ExpectedVoltage(low, high, text, STRING_SOURCE)
    high_v = most_of(facts, function, against)
    if high_v is None:
        return None
    low_v = _LEAST_FRACTION * high_v
    text = f"{format_voltage(low_v)} to {format_voltage(high_v)}"
    return ExpectedVoltage(low_v, high_v, text, polarity_source(facts.system))
