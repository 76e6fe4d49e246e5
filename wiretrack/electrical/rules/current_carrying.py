# SPDX-License-Identifier: MIT
"""Which conductors of a raceway carry current, and what share of it each of them has."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from wiretrack.electrical.supplies import CircuitFacts, systems_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from wiretrack.electrical.rules.load import Load
    from wiretrack.electrical.runs import Run, Wire

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

    References
    ----------
    .. [1] NEC 310.15(E) and (C)(1), 310.15(B)(5) and (3)(a) in 2014 and 2017 (reprint; original
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


def share_of(wire: Wire, beside: Sequence[Wire]) -> Share:
    """Return how many times its circuit's current a conductor carries, `beside` these.

    Conductors of parallel sets share it evenly (NEC 310.10(G)). A neutral of several lines of one
    leg carries the sum of theirs: only lines of different legs are a multiwire circuit (NEC
    210.4). Lines of one leg behind one pole of a breaker or fuse are one line.
    """
    if wire.sets > 1:
        return Share(1 / wire.sets, 1 / wire.sets, f"shared by {wire.sets} parallel sets")
    if wire.conductor.function not in NEUTRALS:
        return Share()
    own = [
        w for w in beside
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


def shared(load: Load, times: float, why: str) -> Load:
    """Return a load as one conductor has it, `times` that of its circuit."""
    if times == 1:
        return load
    return replace(
        load, derated_a=load.derated_a * times, plain_a=load.plain_a * times,
        most_a=load.most_a * times, why=f"{load.why}; {why}: {load.derated_a * times:.4g} A",
    )  # fmt: skip
