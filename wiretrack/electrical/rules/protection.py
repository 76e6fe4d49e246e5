# SPDX-License-Identifier: MIT
"""The overcurrent device against the load of its circuit, and against the conductors behind it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.electrical.assemble import LINES
from wiretrack.electrical.findings import Clause, Finding, circuits, rule
from wiretrack.electrical.limits import above
from wiretrack.electrical.rules.load import load_of
from wiretrack.electrical.tables import load_table
from wiretrack.sources import IEC_60269_1, IEC_60364_4_43

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.electrical.rules.load import Load
    from wiretrack.electrical.runs import Protection, Wire
    from wiretrack.electrical.tables import Code
    from wiretrack.model.entities import Circuit
    from wiretrack.model.entity import Outcome

# IEC 60364-4-43 433.1 (reprint): I2 is at most 1.45 Iz. IEC 60269-1 (from memory): a gG fuse of
# 16 A or more melts at 1.6 In; a breaker of IEC 60898 or 60947-2 opens at 1.45 In or less.
_I2_OF_IZ, _FUSE_I2_OF_IN = 1.45, 1.6
_SETS = "; state set of each of the conductors that lie in parallel"


def next_standard_rating(amperes: float) -> float:
    """Return the standard overcurrent rating at or next above an ampacity, up to 800 A.

    Above 800 A it is the next one below (NEC 240.4(C)).

    Source: NEC 240.4(B) and 240.6(A) (reprint; original not seen).

    >>> next_standard_rating(36.4), next_standard_rating(40)
    (40.0, 40.0)
    """
    above(0, "Ampacity", amperes, "A")
    ratings = [float(row["amp"]) for row in load_table("nec_240_6").rows]
    if amperes <= 800:
        return next(rating for rating in ratings if rating >= amperes)
    return max(rating for rating in ratings if rating <= amperes)


def largest_device(wire: Wire, ampacity_a: float, code: Code) -> tuple[float, str]:
    """Return the largest overcurrent device in A for a conductor of this ampacity, and its clause.

    The next standard rating (240.4(B)), but no more than 240.4(D) has for small conductors.
    """
    if ampacity_a <= 0:
        return 0.0, code.at("next-size")
    allowed = next_standard_rating(ampacity_a)
    place = code.at("next-size" if ampacity_a <= 800 else "above-800")
    key = wire.size.table_key if wire.size else ""
    row = load_table("nec_240_4_d").find(size=key, metal=wire.conductor.metal or "")
    if row is not None and float(row["amp"]) < allowed:
        return float(row["amp"]), code.at("small")
    return allowed, place


def motor_device(full_load_a: float, kind: str | None, *, direct: bool) -> tuple[float, float]:
    """Return the largest device of a motor's circuit in A, and the end of all exceptions.

    The full-load current is above 0. A breaker is an inverse-time one. Whether a fuse has a
    time delay isn't recorded: the first figure is that of a fuse with one, the second that of a
    fuse without. A motor for direct current has figures of its own.

    Source: NEC table 430.52 and 430.52(C)(1), exceptions 1 and 2 (reprint; original not seen).

    >>> motor_device(10, "breaker", direct=False), motor_device(10, "fuse", direct=False)
    ((25.0, 40.0), (20.0, 40.0))
    """
    above(0, "Full-load current of the motor", full_load_a, "A")
    table, motor = load_table("nec_430_52"), "dc" if direct else "ac"
    rows = [
        row for row in table.rows
        if row["motor"] == motor and (row["device"] == "breaker") == (kind == "breaker")
    ]  # fmt: skip
    wanted = min(float(row["pct"]) for row in rows) / 100 * full_load_a
    ratings = [float(row["amp"]) for row in load_table("nec_240_6").rows]
    sure = min((rating for rating in ratings if rating >= wanted), default=wanted)
    most = max(float(row["most"]) for row in rows) / 100 * full_load_a
    return sure, 0.75 * most if kind == "breaker" and full_load_a > 100 else most


@rule("ampacity", circuits)
def for_load(circuit: Circuit, wires: Sequence[Wire], code: Code) -> list[Finding]:
    """Return whether a circuit's overcurrent device is large enough for its load.

    PV circuits need no device where nothing can feed more than their own current into them
    (690.9(A)), so one that isn't recorded is no finding.
    """
    lines = [wire for wire in wires if wire.conductor.function in LINES and wire.carries_current]
    load = load_of(circuit, code) if lines and code.rules else None
    if load is None:
        return []
    source, device = _load_source(circuit, code), lines[0].protection
    if device is None:
        if circuit.system == "dc-pv":
            return []
        what = f"overcurrent device: state overcurrent of {circuit.code}, or the rating of the "
        what += "breaker or fuse that it is landed on"
        return [Clause("ampacity", circuit.code, source, "A").lacks(what)]
    return [_for_load(circuit, load, device, source)]


def _load_source(circuit: Circuit, code: Code) -> str:
    if not code.is_nec:
        return IEC_60364_4_43.cite("433.1")
    if circuit.system == "dc-pv":
        return code.at("pv-device")
    return code.at("motor-device" if circuit.motor else "device-load")


def _for_load(circuit: Circuit, load: Load, device: Protection, source: str) -> Finding:
    """Return the finding; a doubt where it hangs on what isn't recorded, which is then named."""
    above(0, f"Rating of the {device.name}", device.low_a, "A")
    needed, limit, lacking = load.device_most_a, device.low_a, ""
    if load.device_a > device.high_a:
        outcome: Outcome = "fail"
        needed, limit = load.device_a, device.high_a
    elif load.device_most_a <= device.low_a:
        outcome = "pass"
    else:
        outcome = "doubt"
        if load.device_a > device.low_a:
            lacking = f"; state overcurrent of {circuit.code}: {device.name}"
        else:
            lacking = f"; enough only if not continuous: state continuous of {circuit.code}"
    words = f"{load.why}; {device.name} of {limit:g} A, {needed:.4g} A or more needed{lacking}"
    if outcome == "fail" and needed > circuit_current(load) and circuit_current(load) <= limit:
        words += "; less only in an assembly listed for 100 %"
    if device.clash and outcome == "pass":
        outcome = "doubt"
        words += f"; {device.clash}: correct one of the two"
    clause = Clause("ampacity", circuit.code, source, "A")
    return clause.finds(outcome, words, round(needed, 3), round(limit, 3))


def circuit_current(load: Load) -> float:
    """Return the current itself, without the 25 % of a continuous load."""
    return min(load.derated_a, load.device_a)


def for_conductor(
    wire: Wire, load: Load | None, sure_a: float, possible_a: float, code: Code, why: str
) -> Finding | None:
    """Return what is wrong with a line conductor's overcurrent device by the NEC, or None.

    The two are its ampacity as far as the record is sure, and if all that is unknown were
    favourable; `why` is what would have to be stated for that.
    """
    device = wire.protection
    if device is None or wire.conductor.function not in LINES:
        return None
    above(0, f"Rating of the {device.name}", device.low_a, "A")
    sure, place = largest_device(wire, sure_a * wire.sets, code)
    together = max(wire.sets, wire.alike)
    possible, place_most = largest_device(wire, max(sure_a, possible_a) * together, code)
    if device.high_a <= sure:
        return None
    if wire.circuit.motor:
        return _motor(wire, load, device, code, sure)
    what = f"{wire.size.text if wire.size else wire.conductor.size} {wire.conductor.metal}"
    if device.low_a > possible:
        words = f"{device.name} of {device.low_a:g} A protects {what}, which allows {possible:g} A"
        words += "; more only where 240.4(E) or (G) says so"
        if wire.circuit.motor is None:
            words += f", as for motors: state motor=true of {wire.circuit.code} if it is one"
        return _finding(wire, "fail", device.low_a, possible, place_most, words)
    words = f"{device.name} of {device.high_a:g} A, and {what} allows {sure:g} A for sure"
    if device.high_a > possible:
        words += f"; state overcurrent of {wire.circuit.code}"
    words += f"; {why}" if why else ""
    words += _SETS if wire.alike > wire.sets else ""
    return _finding(wire, "doubt", device.high_a, sure, place, words)


def _finding(
    wire: Wire, outcome: Outcome, figure: float, limit: float, source: str, words: str
) -> Finding:
    clause = Clause("ampacity", wire.name, source, "A")
    return clause.finds(outcome, words, round(figure, 3), round(limit, 2))


def _motor(
    wire: Wire, load: Load | None, device: Protection, code: Code, sure: float
) -> Finding | None:
    """Return the finding on a motor's device that is larger than its conductors allow otherwise."""
    source = f"{code.at('motor-device')}, 240.4(G)"
    if load is None:
        lacking = f"full-load current: state max_current of {wire.circuit.code}"
        return Clause("ampacity", wire.name, source, "A").lacks(lacking)
    direct = wire.circuit.system in ("dc", "dc-battery", "dc-pv")
    allowed, most = motor_device(load.device_a, device.kind, direct=direct)
    allowed = max(allowed, sure)
    if device.high_a <= allowed:
        return None
    words = f"{device.name} of {device.high_a:g} A for a motor of {load.device_a:g} A"
    if device.low_a > most:
        words += f", which may have {most:g} A at the very most"
        return _finding(wire, "fail", device.low_a, most, source, words)
    words += f"; above {allowed:g} A only for a fuse without time delay, or where the motor "
    words += "doesn't start otherwise (exception 2)"
    return _finding(wire, "doubt", device.high_a, allowed, source, words)


def for_conductor_iec(
    wire: Wire, sure_a: float, possible_a: float, source: str, why: str
) -> Finding | None:
    """Return what is wrong with a line conductor's overload device by IEC 60364-4-43, or None.

    In is at most Iz, and I2 at most 1.45 Iz (433.1); `sure_a` and `possible_a` are Iz [A] as far
    as the record is sure, and if all that is unknown were favourable.
    """
    device = wire.protection
    if device is None or wire.conductor.function not in LINES:
        return None
    above(0, f"Rating of the {device.name}", device.low_a, "A")
    sure, possible = sure_a * wire.sets, max(sure_a, possible_a) * max(wire.sets, wire.alike)
    why += _SETS if wire.alike > wire.sets else ""
    cited = f"{IEC_60364_4_43.cite('433.1')}; {source}"
    words = f"{device.name} of {device.low_a:g} A before {wire.conductor.size}"
    if device.low_a > possible:
        words += f", whose capacity is {possible:.4g} A: In must not be above Iz"
        if wire.circuit.motor:
            words += "; right only where an overload relay set to no more than that protects it"
            return _finding(wire, "doubt", device.low_a, possible, cited, words)
        if wire.circuit.motor is None:
            words += "; a motor's overload relay may protect it: state motor=true of "
            words += f"{wire.circuit.code} if there is one"
        return _finding(wire, "fail", device.low_a, possible, cited, words)
    if device.high_a > sure:
        words += f", whose capacity is {sure:.4g} A as far as is known; {why}"
        return _finding(wire, "doubt", device.high_a, sure, cited, words)
    if device.kind == "fuse" and _FUSE_I2_OF_IN * device.high_a > _I2_OF_IZ * sure:
        words += f", whose capacity is {sure:.4g} A: a gG fuse may melt at {_FUSE_I2_OF_IN} In only"
        words += f", and I2 must not be above {_I2_OF_IZ} Iz; look it up for this fuse"
        figure = _FUSE_I2_OF_IN * device.high_a
        cited = f"{cited}; {IEC_60269_1.cite()}"
        return _finding(wire, "doubt", figure, _I2_OF_IZ * sure, cited, words)
    return None
