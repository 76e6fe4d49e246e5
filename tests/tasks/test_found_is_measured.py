# SPDX-License-Identifier: MIT
"""What a search finds is what a simulated meter showed: a network of wires with faults in it.

The simulation knows the site, not the search: it joins what the record joins, less what is open or
broken, by networkx 3, and reads what a question asks for between the two places it names.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from random import Random
from typing import TYPE_CHECKING

import networkx as nx  # type: ignore[import-untyped]
import pytest

from tests.drawing import tenth
from tests.record_of import add_document
from wiretrack.model.entities import Circuit, Conductor, Enclosure
from wiretrack.model.parts import Device, End
from wiretrack.model.source import SiteDocument
from wiretrack.store.dumping import document
from wiretrack.store.source import site_of
from wiretrack.store.store import Registry, open_registry
from wiretrack.tasks.describe.sites import new_site
from wiretrack.tasks.trouble import searching
from wiretrack.tasks.trouble.search import Answer

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from wiretrack.tasks.trouble.search import Search, Step

LINES = ("L1", "L2", "L3")


def wire(circuit: str, function: str, one: str, other: str) -> Conductor:
    def end(place: str) -> End:
        box, _, terminal = place.partition("/")
        return End(enclosure=box, terminal=terminal or None)

    return Conductor(
        circuits=(circuit,), function=function, size="4 mm2", metal="Cu", from_end=end(one),
        to_end=end(other),
    )  # fmt: skip


def device(box: str, code: str, kind: str, *poles: tuple[str, str]) -> Device:
    return Device(enclosure=box, code=code, kind=kind, closed=True, poles=poles)


def site() -> SiteDocument:
    """A board with a light behind a splice, a motor, and a string of modules."""
    ways = [(f"Q0:{line}", f"BUS:{line}") for line in LINES]
    motor = [(f"BUS:{line}", f"Q2:{line}") for line in LINES]
    return SiteDocument(
        enclosures=tuple(
            Enclosure(code=code, kind="array" if code == "ARR" else None)
            for code in ("GRID", "MDB", "JB", "LT1", "LT2", "MOT", "ARR", "DS", "INV")
        ),
        circuits=(
            Circuit(code="IN", system="ac-3ph"), Circuit(code="LIGHT", system="ac-1ph"),
            Circuit(code="MOTOR", system="ac-3ph"), Circuit(code="PV", system="dc-pv"),
        ),
        devices=(
            device("GRID", "T", "source", *((f"T:{line}", f"T:x{line}") for line in LINES)),
            device("MDB", "Q0", "disconnect", *ways),
            device("MDB", "Q1", "breaker", ("BUS:L1", "Q1:1")),
            device("MDB", "Q2", "breaker", *motor),
            device("MDB", "Q3", "breaker", ("BUS:L2", "Q3:1")),  # a spare way
            device("DS", "Q1", "disconnect", ("Q1:1", "Q1:2"), ("Q1:3", "Q1:4")),
        ),
        conductors=(
            *(wire("IN", line, f"GRID/T:{line}", f"MDB/Q0:{line}") for line in LINES),
            wire("IN", "N", "GRID/N", "MDB/N"),
            wire("LIGHT", "L1", "MDB/Q1:1", "JB/L"), wire("LIGHT", "N", "MDB/N", "JB/N"),
            wire("LIGHT", "L1", "JB/L", "LT1/L"), wire("LIGHT", "N", "JB/N", "LT1/N"),
            wire("LIGHT", "L1", "JB/L", "LT2/L"), wire("LIGHT", "N", "JB/N", "LT2/N"),
            *(wire("MOTOR", line, f"MDB/Q2:{line}", f"MOT/{line}") for line in LINES),
            wire("PV", "L+", "ARR/+", "DS/Q1:1"), wire("PV", "L-", "ARR/-", "DS/Q1:3"),
            wire("PV", "L+", "DS/Q1:2", "INV/+"), wire("PV", "L-", "DS/Q1:4", "INV/-"),
        ),
    )  # fmt: skip


@dataclass
class Meter:
    """What a meter reads on the site of a registry with `faults` in it.

    A fault is the tag of a broken conductor, ``BOX/DEVICE`` that doesn't conduct, ``earth TAG`` or
    ``short TAG TAG``, or ``dead BOX``: nothing comes from there.
    """

    registry: Registry
    faults: tuple[str, ...] = ()
    roots: dict[str, str] = field(default_factory=lambda: {
        **{f"GRID/T:{line}": line for line in LINES}, "GRID/N": "N", "ARR/+": "+", "ARR/-": "-",
    })  # fmt: skip

    def graph(self, parted: frozenset[str] = frozenset(), box: str = "") -> nx.Graph:
        graph = nx.Graph()
        for c in [c for c in site_of(self.registry).every(Conductor) if c.retired_at is None]:
            tag = str(c.tag)
            ends = []
            for n, (where, terminal) in enumerate((e.enclosure, e.terminal) for e in c.ends):
                own = f"{tag}#{n}"
                if tag in parted and where == box:
                    graph.add_edge(tag, own)  # the free end, under the conductor's name
                elif terminal:
                    graph.add_edge(own, f"{where}/{terminal}")
                ends.append(own)
            if tag not in self.faults:
                graph.add_edge(*ends)
            for fault in self.faults:
                kind, _, of = fault.partition(" ")
                if kind == "earth" and of == tag:
                    graph.add_edge(ends[0], "PE")
                elif kind == "short" and tag in of.split():
                    graph.add_edge(ends[0], of)
        for device in document(self.registry).devices:
            is_open = not device.closed and device.kind != "source"
            if not is_open and f"{device.enclosure}/{device.code}" not in self.faults:
                graph.add_edges_from(
                    [f"{device.enclosure}/{code}" for code in pole] for pole in device.poles
                )
        return graph

    def says_yes(self, asked: Step) -> bool:
        one, other = asked.between
        graph = self.graph(frozenset(asked.disconnected), asked.box)
        if not asked.live:
            return one in graph and other in graph and nx.has_path(graph, one, other)
        assert not asked.disconnected
        return len({self._at(graph, one), self._at(graph, other), ""}) == 3

    def _at(self, graph: nx.Graph, place: str) -> str:
        """Return which root a place has the voltage of; nothing where it hangs in the air."""
        if place == "PE":
            return "N"
        reached = nx.node_connected_component(graph, place) if place in graph else set()
        alive = [r for r in self.roots if f"dead {r.split('/')[0]}" not in self.faults]
        return next((self.roots[root] for root in alive if root in reached), "")


@pytest.fixture
def registry(tmp_path: Path) -> Iterator[Registry]:
    new_site(tmp_path / "s.db", "s")
    with open_registry(tmp_path / "s.db") as made:
        add_document(made, site())
        yield made


def tags(registry: Registry, circuit: str, function: str | None = None) -> list[str]:
    """Return the tags of a circuit in the order of the site, of one function or all."""
    return [
        str(c.tag)
        for c in site_of(registry).one(Circuit, circuit).in_service
        if function in (None, c.function)
    ]


def searched(registry: Registry, symptom: str, what: str, meter: Meter) -> Search:
    """Return a search at its end, each question answered as the meter reads."""
    state = searching.start(registry, symptom, what)
    for _ in range(60):
        if state.next is None:
            return state
        said = "yes" if meter.says_yes(state.next) else "no"
        state = searching.answer(registry, state.circuit, Answer(said))
    raise AssertionError("the search has no end")


def found_in(state: Search) -> str | None:
    return state.found.code if state.found else None


def named(state: Search) -> set[str | None]:
    return {one.code for one in state.undecided}


def test_a_break_in_a_line_neutral_or_device_of_an_earthed_circuit_is_found(
    registry: Registry,
) -> None:
    one, load, _ = tags(registry, "LIGHT", "L1")
    neutral, last, _ = tags(registry, "LIGHT", "N")
    fed = tags(registry, "IN", "L1")[0]
    for fault in (one, load, neutral, last, fed, "MDB/Q0", "MDB/Q1"):
        state = searched(registry, "dead-circuit", load, Meter(registry, (fault,)))
        assert found_in(state) == fault
        found = [s for s in state.suspects if s.likelihood == 1.0]
        assert [s.measured for s in found] == [True]
    state = searched(registry, "dead-circuit", load, Meter(registry, ("dead GRID",)))
    assert state.found is not None
    assert state.found.what == "supply"


def test_a_supply_that_the_record_names_goes_before_one_that_may_be(tmp_path: Path) -> None:
    new_site(tmp_path / "s.db", "s")
    with open_registry(tmp_path / "s.db") as made:
        known = site()
        spare = device("MDB", "Q9", "breaker", ("Q9:1", "BUS:L1"))  # written the other way round
        add_document(made, replace(known, devices=(*known.devices, spare)))
        fed, load = tags(made, "IN", "L1")[0], tags(made, "LIGHT", "L1")[1]
        state = searched(made, "dead-circuit", load, Meter(made, (fed,)))
        assert found_in(state) == fed


def test_another_line_of_a_motor_is_found(registry: Registry) -> None:
    lines = tags(registry, "MOTOR")
    for fault in (*lines, *tags(registry, "IN")[:3], "MDB/Q2"):
        state = searched(registry, "dead-circuit", lines[0], Meter(registry, (fault,)))
        assert found_in(state) == fault


@pytest.mark.parametrize("symptom", ["dead-circuit", "low-voltage", "wrong-string-voltage"])
def test_of_two_poles_without_earth_both_are_left_and_a_switch_is_found(
    registry: Registry, symptom: str
) -> None:
    plus, minus = tags(registry, "PV", "L+"), tags(registry, "PV", "L-")
    for pair in zip(plus, minus, strict=True):
        for fault in pair:
            state = searched(registry, symptom, plus[-1], Meter(registry, (fault,)))
            assert state.found is None
            assert named(state) == set(pair)
            assert all(one.decide for one in state.undecided)
    state = searched(registry, symptom, plus[-1], Meter(registry, ("DS/Q1",)))
    assert found_in(state) == "DS/Q1"
    state = searched(registry, symptom, plus[-1], Meter(registry, ("dead ARR",)))
    assert "ARR" in named(state) | {found_in(state)}


@pytest.mark.parametrize("circuit", ["LIGHT", "MOTOR"])
def test_a_short_to_earth_or_between_two_wires_is_found(registry: Registry, circuit: str) -> None:
    own = tags(registry, circuit)
    for tag in own:
        meter = Meter(registry, (f"earth {tag}",))
        for symptom in ("tripping-breaker", "insulation-alarm"):
            state = searched(registry, symptom, circuit, meter)
            assert found_in(state) == tag
    side_by_side = [(0, 1), (2, 3), (4, 5)] if circuit == "LIGHT" else [(0, 1), (0, 2), (1, 2)]
    for one, other in side_by_side:
        meter = Meter(registry, (f"short {own[one]} {own[other]}",))
        state = searched(registry, "tripping-breaker", circuit, meter)
        assert found_in(state) == f"{own[one]},{own[other]}"


SEARCHES = [
    ("dead-circuit", "LIGHT"), ("low-voltage", "LIGHT"), ("dead-circuit", "MOTOR"),
    ("reversed-polarity", "PV"), ("wrong-string-voltage", "PV"), ("reversed-polarity", "LIGHT"),
    ("tripping-breaker", "LIGHT"), ("tripping-breaker", "MOTOR"), ("insulation-alarm", "PV"),
]  # fmt: skip


def at(registry: Registry, symptom: str, circuit: str) -> str:
    if symptom in ("tripping-breaker", "insulation-alarm"):
        return circuit
    return tags(registry, circuit, "L+" if circuit == "PV" else "L1")[
        1 if circuit != "MOTOR" else 0
    ]


@pytest.mark.parametrize(("symptom", "circuit"), SEARCHES)
def test_where_every_reading_is_good_nothing_is_found(
    registry: Registry, symptom: str, circuit: str
) -> None:
    what = at(registry, symptom, circuit)
    state = searched(registry, symptom, what, Meter(registry))
    assert state.found is None
    assert None in named(state)  # what isn't in the record may always be it
    assert "load" in {one.what for one in state.undecided} or circuit == "PV"
    if symptom == "tripping-breaker":
        assert "device" in {one.what for one in state.undecided}
    assert all(one.decide for one in state.undecided)
    assert all(s.likelihood < 1 for s in state.suspects)
    assert not any(s.measured for s in state.suspects if s.left)


@pytest.mark.parametrize(("symptom", "circuit"), SEARCHES)
def test_where_nothing_can_be_read_nothing_is_found(
    registry: Registry, symptom: str, circuit: str
) -> None:
    state = searching.start(registry, symptom, at(registry, symptom, circuit))
    count = len(state.suspects)
    while state.next:
        state = searching.answer(registry, circuit, Answer("can't"))
    assert state.found is None
    assert len(state.undecided) == count
    assert {line.outcome for line in state.log} == {"cant"}


@pytest.mark.parametrize("seed", tenth(60))
def test_with_several_faults_what_is_found_is_one_of_them(registry: Registry, seed: int) -> None:
    random = Random(seed)
    symptom, circuit = random.choice(SEARCHES[:3] + SEARCHES[6:8])
    own = [*tags(registry, circuit), *tags(registry, "IN")]
    faults = random.sample(own, random.randint(1, 3))
    if symptom == "tripping-breaker":
        faults = [f"earth {tag}" for tag in faults]
    meter = Meter(registry, tuple(faults))
    state = searched(registry, symptom, at(registry, symptom, circuit), meter)
    if state.found:
        assert state.found.code in {fault.removeprefix("earth ") for fault in faults}
    else:
        assert state.undecided
