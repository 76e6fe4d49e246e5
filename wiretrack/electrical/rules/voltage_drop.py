# SPDX-License-Identifier: MIT
"""Voltage drop of a circuit at its current, against what the codes recommend."""

from __future__ import annotations

from collections import defaultdict
from itertools import combinations
from math import sqrt
from typing import TYPE_CHECKING

from wiretrack.electrical.findings import Clause, Finding, circuits, rule
from wiretrack.electrical.limits import above, between, check_length
from wiretrack.electrical.resistance import unit_resistance
from wiretrack.electrical.rules.load import share_of
from wiretrack.electrical.supplies import CircuitFacts, systems_of
from wiretrack.electrical.tables import load_table
from wiretrack.errors import TableEntryError
from wiretrack.late import dataclass
from wiretrack.model.words import LINES
from wiretrack.sources import IEC_60364_5_52

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from wiretrack.electrical.runs import Wire
    from wiretrack.electrical.tables import Code
    from wiretrack.model.entities import Circuit

# Conductor temperature taken: that of NEC chapter 9 table 8, and that of PVC by IEC 60364-5-52
# table 52.1 (reprints; originals not seen). A cooler conductor drops less.
NEC_TEMP_C, IEC_TEMP_C = 75.0, 70.0


@dataclass(frozen=True)
class _Path:
    """Resistance from end to end of all conductors of one function, and what is missing."""

    ohms: float
    lacking: tuple[str, ...] = ()


@dataclass(frozen=True)
class _Way:
    """A way of the current: between which functions, at which voltage, `times` in the return."""

    out: str
    back: str
    volts: float | None
    times: float = 1.0
    phases: int = 1
    lacking: str = "voltage"


def voltage_drop_v(current_a: float, out_ohm: float, back_ohm: float, phases: int = 1) -> float:
    """Return the voltage drop in V of a resistive circuit.

    `back_ohm` counts for one phase and DC; with three it is between lines, √3 I R, reactance
    left out. All are above 0.

    Source: NEC chapter 9 table 8 with Ohm's law; IEC 60364-5-52 annex G without its reactance
    term.

    >>> round(voltage_drop_v(4, 0.499, 0.499), 3)
    3.992
    """
    above(0, "Current", current_a, "A")
    above(0, "Resistance", out_ohm, "ohm")
    between(0, 1e9, "Resistance back", back_ohm, "ohm")
    return sqrt(3) * current_a * out_ohm if phases == 3 else current_a * (out_ohm + back_ohm)


@rule(
    "voltage-drop", lambda built: (case for case in circuits(built) if case[0] in built.by_circuit)
)
def voltage_drop(circuit: Circuit, wires: Sequence[Wire], code: Code) -> list[Finding]:
    """Return a circuit's voltage drop against the recommended percentage: advice, so never a fail.

    Conductors of one function are followed end to end; equal ends are in parallel. Where they
    branch, the whole current is taken along the longest way. A load is between lines where there
    is no neutral. Of a multiwire circuit the worst case counts: one line loaded alone, or lines of
    one leg together. PV is taken at its operating voltage and current at STC.
    """
    if circuit.system in ("signal", "earthing", None) or code.rules is None:
        return []
    limit, source = _limit(code)
    clause = Clause("voltage-drop", circuit.code, source, "%")
    groups: dict[str, list[Wire]] = defaultdict(list)
    for wire in wires:
        groups[wire.conductor.function].append(wire)
    current, lacking = _current(circuit)
    found = []
    for way in _ways(circuit, groups, code):
        out, back = _path(groups, way.out, code), _path(groups, way.back, code)
        lacking += [way.lacking] if way.volts is None else []
        lacking += [*out.lacking, *(back.lacking if way.phases == 1 else ())]
        if current is not None and way.volts is not None and not lacking:
            above(0, "Voltage of the circuit", way.volts, "V")
            back_ohm = way.times * back.ohms if way.phases == 1 else 0.0
            drop = voltage_drop_v(current, out.ohms, back_ohm, way.phases)
            found.append((100 * drop / way.volts, drop, way))
    if lacking or current is None:
        return [clause.lacks(*lacking, limit=limit)]
    figure, drop, way = max(found, key=lambda one: one[0])
    temp = NEC_TEMP_C if code.is_nec else IEC_TEMP_C
    worst = f", {way.out} to {way.back} being the worst case" if len(found) > 1 else ""
    worst += f", {way.times:g} lines of one leg on one {way.back}" if way.times > 1 else ""
    reason = (
        f"{drop:.3g} V of {way.volts:g} V at {current:.4g} A with conductors at {temp:g} °C"
        f"{worst}; {limit:g} % is advice, not a limit"
    )
    return [clause.finds("pass" if figure <= limit else "doubt", reason, round(figure, 2), limit)]


def _limit(code: Code) -> tuple[float, str]:
    if code.is_nec:
        row = load_table("nec_voltage_drop").rows[0]
        place = {2014: "210.19(A) and 215.2(A), informational notes"}
        return float(row["pct"]), code.nec(place)
    row = load_table("iec60364_5_52_voltage_drop").rows[1]
    return float(row["pct"]), IEC_60364_5_52.cite("table G.52.1, other than lighting")


def _current(circuit: Circuit) -> tuple[float | None, list[str]]:
    """Return the current that flows in use, and what is missing to tell it."""
    if circuit.system != "dc-pv":
        amperes = circuit.max_current_a
        return amperes, [f"current: state max_current of {circuit.code}"] * (amperes is None)
    imp, strings = circuit.module_imp_a, circuit.strings_in_parallel
    lacking = [f"current at maximum power: state module.imp of {circuit.code}"] * (imp is None)
    lacking += [f"strings in parallel: state module.parallel of {circuit.code}"] * (strings is None)
    return (None if imp is None or strings is None else imp * strings), lacking


def _ways(circuit: Circuit, groups: Mapping[str, Sequence[Wire]], code: Code) -> list[_Way]:
    """Return the ways that the current of a circuit may take, with the voltage of each."""
    lines = [line for line in LINES if line in groups]
    if circuit.system == "ac-3ph" and len(lines) != 2:
        volts, lacking = _nominal(circuit, groups, code, between_lines=True)
        worst = lines or ["L1"]
        return [_Way(line, line, volts, phases=3, lacking=lacking) for line in worst]
    if not lines:
        vmp, modules = circuit.module_vmp_v, circuit.modules_in_series
        if circuit.system != "dc-pv":
            back = next((f for f in ("L-", "M") if f in groups), "L-")
            return [_Way("L+", back, circuit.max_voltage_v)]
        volts = None if vmp is None or modules is None else vmp * modules
        lacking = f"voltage at maximum power: state module.vmp of {circuit.code}"
        lacking = lacking if vmp is None else f"modules in series of {circuit.code}"
        return [_Way("L+", next((f for f in ("L-", "M") if f in groups), "L-"), volts,
                     lacking=lacking)]  # fmt: skip
    neutral = next((f for f in ("N", "PEN") if f in groups), None)
    ways = []
    if neutral is not None or len(lines) == 1:
        volts, lacking = _nominal(circuit, groups, code, between_lines=False)
        times = _times(groups.get(neutral or "", ()), [w for own in groups.values() for w in own])
        ways = [_Way(line, neutral or "N", volts, times, lacking=lacking) for line in lines]
    if len(lines) > 1:
        volts, lacking = _nominal(circuit, groups, code, between_lines=True)
        ways += [_Way(*pair, volts, lacking=lacking) for pair in combinations(lines, 2)]
    return ways


def _times(neutrals: Sequence[Wire], wires: Sequence[Wire]) -> float:
    """Return how many times the circuit's current one neutral may carry."""
    shares = [
        share_of(
            neutral, [w for w in wires if w.conductor.between == neutral.conductor.between]
        ).most
        for neutral in neutrals
    ]
    return max([1.0, *shares])


def _nominal(
    circuit: Circuit, groups: Mapping[str, Sequence[Wire]], code: Code, *, between_lines: bool
) -> tuple[float | None, str]:
    """Return the voltage between lines or to the neutral, and what is missing to tell it.

    That of the stated supply; else the circuit's highest voltage, which is between lines where it
    has more than one.
    """
    several = sum(line in groups for line in LINES) > 1
    if circuit.supply is None and (between_lines or not several):
        return circuit.max_voltage_v, f"voltage: state supply or max_voltage of {circuit.code}"
    functions = frozenset(function for function in groups if groups[function])
    facts = CircuitFacts(circuit.system, circuit.max_voltage_v, functions, circuit.supply,
                         circuit.earthing, code.rules)  # fmt: skip
    volts = {one.line_v if between_lines else one.neutral_v for one in systems_of(facts)}
    found = volts.pop() if len(volts) == 1 else None
    if found is None and circuit.supply is not None:
        return circuit.max_voltage_v, f"voltage: its supply {circuit.supply} has none there"
    return found, f"supply: state supply of {circuit.code}"


def _path(groups: Mapping[str, Sequence[Wire]], function: str, code: Code) -> _Path:
    """Return the resistance along conductors of one function, the longest way if it branches.

    Lines of one leg that share a neutral feed loads of their own: the longest of them counts.
    """
    wires = groups.get(function, ())
    if not wires:
        back = function in ("N", "PEN", "L-", "M")
        return _Path(0.0, ("a return conductor" if back else "a line conductor",))
    lacking: list[str] = []
    spans: dict[frozenset[str], list[float]] = defaultdict(list)
    sets: dict[int, dict[frozenset[str], list[float]]] = defaultdict(lambda: defaultdict(list))
    for wire in wires:
        ohms, absent = _ohms(wire, code)
        lacking += absent
        spans[wire.conductor.between].append(ohms)
        sets[wire.conductor.parallel_set or 0][wire.conductor.between].append(ohms)
    if lacking:
        return _Path(0.0, tuple(lacking))
    neutrals = [w for f in ("N", "PEN") if f != function for w in groups.get(f, ())]
    along = {ends: sum(w.conductor.between == ends for w in neutrals) for ends in spans}
    apart = {ends for ends, own in spans.items() if 0 < along[ends] < len(own)}
    stated = min(wire.sets for wire in wires) == len(sets) > 1
    longest = _longest(_edges(spans, set() if stated else apart))
    if longest is None and stated:
        each = [_longest(_edges(own, set())) for own in sets.values()]
        known = [ohms for ohms in each if ohms is not None]
        longest = 1 / sum(1 / ohms for ohms in known) if len(known) == len(each) else None
    return _Path(0.0, (f"which way {function} runs",)) if longest is None else _Path(longest)


def _edges(
    spans: Mapping[frozenset[str], Sequence[float]], apart: set[frozenset[str]]
) -> dict[frozenset[str], float]:
    """Return the resistance between pairs of boxes, of parallel conductors or the longest."""
    return {
        ends: max(own) if ends in apart else 1 / sum(1 / ohms for ohms in own)
        for ends, own in spans.items()
    }


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
