# SPDX-License-Identifier: MIT
"""The current of a circuit, which conductors of a raceway carry it, and what share each has."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from typing import TYPE_CHECKING

from wiretrack.electrical.limits import above
from wiretrack.electrical.supplies import CircuitFacts, systems_of
from wiretrack.late import dataclass
from wiretrack.sources import IEC_60364_4_43, IEC_60364_7_712

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from wiretrack.electrical.findings import Finding
    from wiretrack.electrical.runs import Run, Wire
    from wiretrack.electrical.tables import Code
    from wiretrack.model.entities import Circuit


PV_ISC_FACTOR = 1.25  # NEC 690.8(A)(1) (reprint); IEC 60364-7-712 (from memory)
# NEC 690.8(B)(1), 210.19(A) and 215.2(A) for continuous loads, 430.22 for motors (reprints).
CONTINUOUS_FACTOR = MOTOR_FACTOR = 1.25


@dataclass(frozen=True)
class Load:
    """A current to carry: `derated_a` where conditions are allowed for, `plain_a` where not.

    `most_a` is what `plain_a` would be if the load were continuous; it is the same where that is
    known. `device_a` and `device_most_a` are the least ratings of the overcurrent device.
    """

    derated_a: float
    plain_a: float
    why: str
    source: str
    most_a: float
    device_a: float
    device_most_a: float


def load_of(circuit: Circuit, code: Code) -> Load | None:
    """Return the current to size a circuit's conductors and device for, or None if unknown.

    PV: 1.25 Isc per string in parallel, and another 1.25 where no correction is applied (NEC
    690.8(B)(1)) and for the device (690.9(B)). NEC, other circuits: 1.25 times a continuous load
    before corrections and for the device; 1.25 times a motor's current for its conductors (430.22).
    """
    if circuit.system == "dc-pv":
        return _pv(circuit, code)
    amperes = circuit.max_current_a
    if amperes is None:
        return None
    above(0, f"Current of {circuit.code}", amperes, "A")
    if not code.is_nec:
        source = IEC_60364_4_43.cite("433.1")
        return Load(amperes, amperes, f"{amperes:g} A", source, amperes, amperes, amperes)
    if circuit.motor:
        needed = MOTOR_FACTOR * amperes
        why = f"motor of {amperes:g} A: {needed:.4g} A"
        return Load(needed, needed, why, code.at("motor-load"), needed, amperes, amperes)
    most = amperes if circuit.continuous is False else CONTINUOUS_FACTOR * amperes
    plain = most if circuit.continuous else amperes
    why = f"{amperes:g} A"
    if circuit.continuous:
        why += f" continuous; {plain:.4g} A before corrections"
    elif circuit.continuous is None:
        why += "; 1.25 times as much if it flows for 3 h or more"
    return Load(amperes, plain, why, code.at("load"), most, plain, most)


def _pv(circuit: Circuit, code: Code) -> Load | None:
    isc, strings = circuit.module_isc_a, circuit.strings_in_parallel
    if isc is not None and strings is not None:
        maximum = PV_ISC_FACTOR * isc * strings
        why = f"{PV_ISC_FACTOR:g} x {isc:g} A x {strings} = {maximum:.4g} A"
    elif circuit.max_current_a is not None:
        maximum = circuit.max_current_a
        why = f"{maximum:g} A as stated, assumed to be 1.25 Isc"
    else:
        return None
    above(0, f"Current of {circuit.code}", maximum, "A")
    if not code.is_nec:
        source = f"{IEC_60364_7_712.cite()} (confidence in this factor: medium)"
        return Load(maximum, maximum, why, source, maximum, maximum, maximum)
    plain = CONTINUOUS_FACTOR * maximum
    why += f"; {plain:.4g} A before corrections"
    return Load(maximum, plain, why, code.at("pv-load"), plain, plain, plain)


NEUTRALS = ("N", "PEN", "M")


@dataclass(frozen=True)
class Carrying:
    """How many conductors count as carrying current: at most, and at least; what would settle it.

    `nonlinear` neutrals more would count where most of the load is nonlinear (310.15(E)(3)).
    """

    most: int
    least: int
    state: tuple[str, ...] = ()
    nonlinear: int = 0


@dataclass(frozen=True)
class Share:
    """How many times the current of its circuit a conductor carries: at most, and at least."""

    most: float = 1.0
    least: float = 1.0
    why: str = ""
    state: str = ""


def carrying(run: Run) -> Carrying:
    """Return how many conductors of a run count as carrying current.

    Protective and signal conductors don't. A neutral with one line, or with a line of its own,
    does. That of two lines does in a star, where it carries about as much as each of them, and
    doesn't between the two halves of one phase; that of three lines carries the difference only.
    Each conductor of parallel sets counts. Abandoned conductors count as the spare ones that the
    note under table 310.15(C)(1) names: somebody may use them again.

    Source: NEC 310.15(E) and (C)(1), 310.15(B)(5) and (3)(a) in 2014 and 2017 (reprint; original
    not seen).
    """
    groups: defaultdict[tuple[str, int | None], list[Wire]] = defaultdict(list)
    for wire in run.in_place:
        if wire.carries_current:
            groups[wire.circuit.code, wire.conductor.parallel_set].append(wire)
    parts = [_counted(wires, run.site.rules) for wires in groups.values()]
    return Carrying(
        sum(part.most for part in parts),
        sum(part.least for part in parts),
        tuple(dict.fromkeys(fact for part in parts for fact in part.state)),
        sum(part.nonlinear for part in parts),
    )


def _counted(wires: Sequence[Wire], rules: str | None) -> Carrying:
    """Return the count of one circuit's conductors, or of one set of them."""
    shared = sum(len(wire.served) > 1 for wire in wires)
    if shared:  # what several circuits put on one conductor can't be summed: it may be nothing
        return Carrying(len(wires), len(wires) - shared)
    neutrals = sum(wire.conductor.function in NEUTRALS for wire in wires)
    lines = [wire.conductor.function for wire in wires if wire.conductor.function not in NEUTRALS]
    legs = frozenset(lines)
    if not neutrals or len(legs) < 2 or neutrals >= len(lines):
        return Carrying(len(wires), len(wires))
    circuit = wires[0].circuit
    if len(legs) > 2 or "L+" in legs:
        star = "L+" not in legs
        return Carrying(len(lines), len(lines), (), neutrals if star else 0)
    functions = legs | {"N"}
    facts = CircuitFacts(circuit.system, circuit.max_voltage_v, functions, circuit.supply,
                         circuit.earthing, rules)  # fmt: skip
    halves = {
        system.form == "midpoint"
        or (system.form == "high leg" and not ("L2" in legs and system.l2_is_high))
        for system in systems_of(facts)
    }
    if halves == {True}:
        return Carrying(len(lines), len(lines))
    if halves == {False}:
        return Carrying(len(wires), len(wires))
    return Carrying(len(wires), len(lines), (f"supply: state supply of {circuit.code}",))


def share_of(wire: Wire, others: Sequence[Wire]) -> Share:
    """Return how many times its circuit's current a conductor carries, among these `others`.

    Conductors of parallel sets share it evenly (NEC 310.10(G)). A neutral of several lines of one
    leg carries the sum of theirs: only lines of different legs are a multiwire circuit (NEC
    210.4). Lines of one leg behind one pole of a breaker or fuse are one line.
    """
    if wire.sets > 1:
        return Share(1 / wire.sets, 1 / wire.sets, f"shared by {wire.sets} parallel sets")
    if wire.conductor.function not in NEUTRALS:
        return Share()
    own = [
        w for w in others
        if (w.circuit.code, w.conductor.parallel_set)
        == (wire.circuit.code, wire.conductor.parallel_set) and w.carries_current
    ]  # fmt: skip
    neutrals = sum(w.conductor.function in NEUTRALS for w in own)
    most, least = 1, 1
    for leg in {w.conductor.function for w in own} - set(NEUTRALS):
        feeds = _feeds(w for w in own if w.conductor.function == leg)
        sure = sum(bool(poles) for _, poles in feeds)
        most = max(most, _on_one(len(feeds), neutrals))
        least = max(least, _on_one(sure, neutrals))
    if most == 1:
        return Share()
    why = f"{wire.conductor.function} carries the sum of {most} lines of one leg"
    state = "state the terminals that these lines are landed on at their breakers or fuses"
    return Share(most, least, why, state if least < most else "")


def _on_one(lines: int, neutrals: int) -> int:
    """Return how many lines of one leg may share one of so many neutrals."""
    return 1 if lines <= neutrals else lines - (neutrals - 1)


def _feeds(lines: Iterable[Wire]) -> list[tuple[set[str], set[str]]]:
    """Return the lines of one leg as places and poles; those with one in common are one feed."""
    feeds: list[tuple[set[str], set[str]]] = []
    for line in lines:
        places, poles = {end.place for end in line.terminations}, set(line.poles)
        joined = [feed for feed in feeds if feed[0] & places or feed[1] & poles]
        feeds = [feed for feed in feeds if feed not in joined]
        feeds.append((places.union(*(f[0] for f in joined)), poles.union(*(f[1] for f in joined))))
    return feeds


def by_share(load: Load, share: Share, judge: Callable[[Load], Finding]) -> Finding:
    """Return what is found of a conductor's share of the load: in doubt if only the most fails."""
    found = judge(_shared(load, share.most, share.why))
    if found.outcome == "fail" and share.state:
        if judge(_shared(load, share.least, share.why)).outcome != "fail":
            return replace(found, outcome="doubt", reason=f"{found.reason}; {share.state}")
    return found


def _shared(load: Load, times: float, why: str) -> Load:
    """Return a load as one conductor has it, `times` that of its circuit."""
    if times == 1:
        return load
    return replace(
        load, derated_a=load.derated_a * times, plain_a=load.plain_a * times,
        most_a=load.most_a * times, why=f"{load.why}; {why}: {load.derated_a * times:.4g} A",
    )  # fmt: skip
