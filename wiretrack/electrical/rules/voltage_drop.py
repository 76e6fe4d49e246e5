# SPDX-License-Identifier: MIT
"""Voltage drop of a circuit at its current, against what the codes recommend."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from math import sqrt
from typing import TYPE_CHECKING

from wiretrack.electrical.findings import Finding, missing
from wiretrack.electrical.limits import above, between, check_length
from wiretrack.electrical.resistance import unit_resistance
from wiretrack.electrical.tables import load_table
from wiretrack.errors import TableEntryError
from wiretrack.sources import IEC_60364_5_52

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from wiretrack.electrical.codes import Code
    from wiretrack.electrical.runs import Wire
    from wiretrack.electrical.verdicts import Outcome
    from wiretrack.records import Circuit

# Conductor temperature taken: that of NEC chapter 9 table 8, and that of PVC by IEC 60364-5-52
# table 52.1 (reprints; originals not seen). A cooler conductor drops less.
NEC_TEMP_C, IEC_TEMP_C = 75.0, 70.0
_RETURNS = {"L+": ("L-", "M"), "L1": ("N", "PEN", "L2")}


@dataclass(frozen=True)
class _Path:
    """Resistance from end to end of all conductors of one function, and what is missing."""

    ohms: float
    lacking: tuple[str, ...] = ()


def voltage_drop_v(current_a: float, out_ohm: float, back_ohm: float, phases: int = 1) -> float:
    """Return the voltage drop in V of a resistive circuit.

    Parameters
    ----------
    current_a, out_ohm, back_ohm : float
        Current; resistance out and, for one phase and DC, back. Above 0. [A, ohm]
    phases : {1, 3}
        Three: between lines, √3 I R; reactance left out.

    References
    ----------
    .. [1] NEC chapter 9 table 8 with Ohm's law; IEC 60364-5-52 annex G without its reactance term.

    >>> round(voltage_drop_v(4, 0.499, 0.499), 3)
    3.992
    """
    above(0, "Current", current_a, "A")
    above(0, "Resistance", out_ohm, "ohm")
    between(0, 1e9, "Resistance back", back_ohm, "ohm")
    return sqrt(3) * current_a * out_ohm if phases == 3 else current_a * (out_ohm + back_ohm)


def voltage_drop(circuit: Circuit, wires: Sequence[Wire], code: Code) -> list[Finding]:
    """Return a circuit's voltage drop against the recommended percentage: advice, so never a fail.

    Conductors of one function are followed end to end; equal ends are in parallel. Where they
    branch, the whole current is taken along the longest way.
    """
    if circuit.system in ("signal", "earthing", None) or not (code.is_nec or code.is_iec):
        return []
    limit, source = _limit(code)
    current, volts = _current(circuit), _voltage(circuit)
    lacking = [name for name, value in (("current", current), ("voltage", volts)) if value is None]
    out, back, phases = _paths(circuit, wires, code)
    lacking += [*out.lacking, *back.lacking]
    if current is None or volts is None or lacking:
        return [missing("voltage-drop", circuit.code, lacking, source, "%", limit)]
    above(0, "Voltage of the circuit", volts, "V")
    drop = voltage_drop_v(current, out.ohms, back.ohms, phases)
    figure = 100 * drop / volts
    outcome: Outcome = "pass" if figure <= limit else "doubt"
    temp = NEC_TEMP_C if code.is_nec else IEC_TEMP_C
    reason = (
        f"{drop:.3g} V of {volts:g} V at {current:.4g} A with conductors at {temp:g} °C; "
        f"{limit:g} % is advice, not a limit"
    )
    return [
        Finding("voltage-drop", circuit.code, outcome, round(figure, 2), limit, "%", source, reason)
    ]


def _limit(code: Code) -> tuple[float, str]:
    if code.is_nec:
        row = load_table("nec_voltage_drop").rows[0]
        place = {2014: "210.19(A) and 215.2(A), informational notes"}
        return float(row["pct"]), code.nec(place)
    row = load_table("iec60364_5_52_voltage_drop").rows[1]
    return float(row["pct"]), IEC_60364_5_52.cite("table G.52.1, other than lighting")


def _current(circuit: Circuit) -> float | None:
    if circuit.max_current_a is not None:
        return circuit.max_current_a
    if circuit.module_isc_a is not None and circuit.strings_in_parallel is not None:
        return circuit.module_isc_a * circuit.strings_in_parallel
    return None


def _voltage(circuit: Circuit) -> float | None:
    """Return the voltage that the percentage is of; for PV that of the modules at STC if known."""
    modules, voc = circuit.modules_in_series, circuit.module_voc_v
    if circuit.system == "dc-pv" and modules is not None and voc is not None:
        return modules * voc
    return circuit.max_voltage_v


def _paths(circuit: Circuit, wires: Sequence[Wire], code: Code) -> tuple[_Path, _Path, int]:
    """Return the path out, the path back and the count of phases."""
    groups: dict[str, list[Wire]] = defaultdict(list)
    for wire in wires:
        groups[wire.conductor.function].append(wire)
    if circuit.system == "ac-3ph":
        lines = [_path(groups[f], code, f) for f in ("L1", "L2", "L3") if f in groups]
        worst = max(lines, key=lambda p: (len(p.lacking), p.ohms), default=None)
        return worst or _Path(0.0, ("a line conductor",)), _Path(0.0), 3
    forward = next((f for f in ("L+", "L1", "L2", "L3") if f in groups), None)
    if forward is None:
        return _Path(0.0, ("a line conductor",)), _Path(0.0), 1
    returns = _RETURNS.get(forward, ("N", "PEN"))
    backward = next((f for f in returns if f in groups), None)
    back = _path(groups[backward], code, backward) if backward else None
    return _path(groups[forward], code, forward), back or _Path(0.0, ("a return conductor",)), 1


def _path(wires: Sequence[Wire], code: Code, function: str) -> _Path:
    """Return the resistance along conductors of one function, the longest way if it branches."""
    spans: dict[frozenset[str], list[float]] = defaultdict(list)
    lacking = []
    for wire in wires:
        ohms, absent = _ohms(wire, code)
        lacking += absent
        ends = frozenset((wire.conductor.from_end.enclosure, wire.conductor.to_end.enclosure))
        spans[ends].append(ohms)
    if lacking:
        return _Path(0.0, tuple(lacking))
    edges = {ends: 1 / sum(1 / ohms for ohms in parallel) for ends, parallel in spans.items()}
    longest = _longest(edges)
    return _Path(0.0, (f"which way {function} runs",)) if longest is None else _Path(longest)


def _longest(edges: Mapping[frozenset[str], float]) -> float | None:
    """Return the greatest resistance between two boxes of a tree; None if it isn't one tree.

    Where a circuit branches, no load can see more than this.
    """
    boxes = frozenset().union(*edges)
    if len(edges) != len(boxes) - 1:
        return None
    near = {box: [(edge, ohms) for edge, ohms in edges.items() if box in edge] for box in boxes}
    reach = {box: _reach(box, near, {box}) for box in boxes}
    if any(count != len(boxes) for count, _ in reach.values()):
        return None
    return max(far for _, far in reach.values())


def _reach(
    box: str, near: Mapping[str, list[tuple[frozenset[str], float]]], seen: set[str]
) -> tuple[int, float]:
    """Return how many boxes are reached from one, and the greatest resistance on the way."""
    count, far = 1, 0.0
    for edge, ohms in near[box]:
        for there in edge - seen:
            seen.add(there)
            more, beyond = _reach(there, near, seen)
            count, far = count + more, max(far, ohms + beyond)
    return count, far


def _ohms(wire: Wire, code: Code) -> tuple[float, list[str]]:
    conductor = wire.conductor
    lacking = [
        f"{word} of {wire.name}"
        for word, value in (("metal", conductor.metal), ("length", conductor.length_m))
        if value is None
    ]
    if conductor.metal is None or conductor.length_m is None or wire.size is None:
        return 0.0, lacking
    check_length(conductor.length_m, f"Length of {wire.name}")
    temp_c = NEC_TEMP_C if code.is_nec else IEC_TEMP_C
    try:
        unit = unit_resistance(wire.size, temp_c, conductor.metal, conductor.strands)
    except TableEntryError as error:
        return 0.0, [str(error)]
    return unit.ohm_per_km * conductor.length_m / 1000, []
