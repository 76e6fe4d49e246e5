# SPDX-License-Identifier: MIT
"""The verdict on a voltage reading: polarity by its sign, and a value that the circuit can have."""

from __future__ import annotations

from math import sqrt
from typing import TYPE_CHECKING

from wiretrack.electrical.accuracy import UNKNOWN_METER, Meter, standard_uncertainty
from wiretrack.electrical.limits import above
from wiretrack.electrical.quantity_text import format_measured, format_voltage
from wiretrack.electrical.verdicts import Guard, Outcome, Verdict, at_least
from wiretrack.sources import COMMON_PRACTICE, IEC_60038, IEC_60364_6, IEC_62446_1
from wiretrack.words import DC_SYSTEMS

if TYPE_CHECKING:
    from wiretrack.electrical.quantities import Measured

_RANK = {"L+": 1, "M": 0, "PE": 0, "FE": 0, "PEN": 0, "raceway": 0, "L-": -1}
_AC_TOLERANCE = 0.10  # IEC 60038 (reprint): supply voltage within 10 % of nominal
_DEAD_V = 1.0  # common practice: below it a conductor counts as dead
_DEAD_FRACTION = 0.02  # common practice, of the circuit's highest voltage
_DMM_WORST = 0.03  # common practice: what a working multimeter is surely within


def voltage_verdict(
    measured: Measured, *, system: str | None, function: str | None,
    against: str | None = None, max_voltage_v: float | None = None,
    meter: Meter = UNKNOWN_METER,
) -> Verdict:  # fmt: skip
    """Return the verdict on a voltage reading, in V.

    Parameters
    ----------
    measured : Measured
        The reading with its sign; the red lead lay on the conductor.
    function : str or None
        Function of the conductor read: ``L+``, ``L-``, ``L1``...
    against : str, optional
        Function of what the black lead lay on: ``L-``, ``PE``, ``raceway``...
    max_voltage_v : float, optional
        The circuit's highest voltage; for AC its nominal voltage, between lines if three-phase. [V]

    References
    ----------
    .. [1] IEC 60364-6:2016, 6.4.3.6 and IEC 62446-1:2016, 6.2: polarity (reprints).
    .. [2] IEC 60038: 10 % on nominal voltages (reprint).
    """
    if max_voltage_v is not None:
        above(0, "Highest voltage", max_voltage_v, "V")
    source = _source(system)
    shown = format_measured(measured)
    if measured.number is None or measured.over_range:
        reason = f"{shown}: above the top of the display; use a higher range before touching again"
        return Verdict("doubt", max_voltage_v, "V", source, reason, missing=("value",))
    if system is None or function is None:
        word = "system" if system is None else "function"
        reason = f"{shown} can't be judged: unknown {word}"
        return Verdict("doubt", None, "V", source, reason, measured.number, missing=(word,))
    guard = _guard(measured, meter)
    if system in DC_SYSTEMS:
        return _dc(measured, function, against, max_voltage_v, guard, source)
    if system.startswith("ac-"):
        return _ac(measured, system, function, against, max_voltage_v, guard)
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


def _source(system: str | None) -> str:
    return IEC_62446_1.cite("6.2") if system == "dc-pv" else IEC_60364_6.cite("6.4.3.6")


def _guard(measured: Measured, meter: Meter) -> Guard:
    u = standard_uncertainty(measured, meter)
    if u is None:
        width = abs(measured.number or 0.0) * _DMM_WORST
        why = f"accuracy of the instrument unknown, {_DMM_WORST:.0%} allowed for"
        return Guard(width, width, f"{why} ({COMMON_PRACTICE.key})")
    return Guard(2 * u, 2 * u, f"guard band {format_voltage(2 * u)} (JCGM 106:2012)")


def _dc(
    measured: Measured, function: str, against: str | None, max_v: float | None,
    guard: Guard, source: str,
) -> Verdict:  # fmt: skip
    number = measured.number or 0.0
    sign = expected_sign(function, against)
    shown = f"{format_measured(measured)} on {function}" + (
        f" against {against}" if against else ""
    )
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
    return _dc_right(shown, number, max_v, guard, source)


_STATED = "highest voltage stated for the circuit in the registry"


def _dc_right(shown: str, number: float, max_v: float | None, guard: Guard, source: str) -> Verdict:
    """Return the verdict on a right sign: pass unless the value may be above what is stated."""
    if max_v is None:
        reason = f"{shown}: the sign is right; the circuit's highest voltage is unknown"
        return Verdict("pass", 0.0, "V", source, reason, number, missing=("highest voltage",))
    if abs(number) > max_v:
        reason = f"{shown}: the sign is right, but it may be above {format_voltage(max_v)}"
        return _verdict("doubt", max_v, _STATED, f"{reason}; {guard.why}", number, guard)
    reason = f"{shown}: the sign is right, and it is within {format_voltage(max_v)}"
    return _verdict("pass", max_v, f"{source}; {_STATED}", reason, number, guard)


def _ac(
    measured: Measured, system: str, function: str, against: str | None,
    nominal_v: float | None, guard: Guard,
) -> Verdict:  # fmt: skip
    number = measured.number or 0.0
    source = f"{IEC_60364_6.cite('6.4.3.6')}; {IEC_60038.cite('within 10 %')}"
    shown = f"{format_measured(measured)} on {function}" + (
        f" against {against}" if against else ""
    )
    if number < 0:
        reason = f"{shown}: an AC reading has no sign; was the meter set to DC?"
        return Verdict("doubt", None, "V", source, reason, number)
    if nominal_v is None:
        return Verdict("doubt", None, "V", source, f"{shown}: the nominal voltage is unknown",
                       number, missing=("nominal voltage",))  # fmt: skip
    choices = _ac_choices(system, function, against, nominal_v)
    if not choices:
        reason = f"{shown}: what it should be doesn't follow from these two"
        return Verdict("doubt", None, "V", source, reason, number, missing=("against",))
    nearest = min(choices, key=lambda choice: abs(choice - number))
    low, high = nearest * (1 - _AC_TOLERANCE), nearest * (1 + _AC_TOLERANCE)
    limit = high if number >= nearest else low
    inside = min(number - low, high - number)
    outcome = at_least(inside, 0.0, guard)
    reason = f"{shown}: {format_voltage(low)} to {format_voltage(high)} is right; {guard.why}"
    return _verdict(outcome, limit, source, reason, number, guard)


def _ac_choices(
    system: str, function: str, against: str | None, nominal_v: float
) -> tuple[float, ...]:
    """Return the nominal voltages possible between two functions of an AC circuit."""
    lines = ("L1", "L2", "L3")
    if function not in lines or against is None:
        return ()
    if against in lines:
        return (nominal_v,) if against != function else ()
    if against not in ("N", "PE", "PEN", "raceway"):
        return ()
    if system == "ac-3ph":
        return (nominal_v / sqrt(3),)
    return (nominal_v, nominal_v / 2)  # one phase, or a midpoint between two lines


def _verdict(
    outcome: Outcome, limit: float, source: str, reason: str, number: float, guard: Guard
) -> Verdict:
    return Verdict(outcome, limit, "V", source, reason, number, guard.accept)
