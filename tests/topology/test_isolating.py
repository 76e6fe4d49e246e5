# SPDX-License-Identifier: MIT
"""What a device leaves dead and live, by hand and against networkx."""

from __future__ import annotations

from random import Random

import networkx as nx  # type: ignore[import-untyped]
import pytest

from wiretrack.errors import BadInputError
from wiretrack.topology.isolating import Isolation, Supply, isolate, supplies_of
from wiretrack.topology.network import Link, Network, Point


def at(text: str) -> Point:
    return Point(*text.split())


def wire(name: str, one: str, other: str) -> Link:
    return Link(name, at(one), at(other), circuit="C", function="L1")


def pole(
    name: str, one: str, other: str, closed: bool | None = True, kind: str = "breaker"
) -> Link:
    return Link(name, at(one), at(other), "device", kind, closed)


def tags(found: Isolation) -> tuple[set[str], set[str]]:
    return {k.name for k in found.dead}, {k.name for k, _ in found.live}


def test_opening_a_disconnect_leaves_the_array_side_live() -> None:
    network = Network([
        wire("S1", "ARR a", "CB 1"), pole("F1", "CB 1", "CB out", kind="fuse"),
        wire("OUT", "CB out", "DS 1"), pole("Q1", "DS 1", "DS 2"), wire("IN", "DS 2", "INV dc"),
    ])  # fmt: skip
    supplies = supplies_of(network, ["ARR"])
    assert [(str(s.point), s.why) for s in supplies] == [("ARR a", "PV modules: live in daylight")]
    assert tags(isolate(network, "DS", "Q1", supplies)) == ({"IN"}, {"S1", "OUT"})
    assert tags(isolate(network, "CB", "F1", supplies)) == ({"OUT", "IN"}, {"S1"})


def test_a_second_supply_keeps_it_live() -> None:
    network = Network([
        wire("GRID", "M a", "B 1"), pole("Q1", "B 1", "B 2"), wire("LOAD", "B 2", "L 1"),
        wire("GEN", "G a", "B 2"),
    ])  # fmt: skip
    found = isolate(network, "B", "Q1", supplies_of(network))
    assert tags(found) == (set(), {"GRID", "LOAD", "GEN"})
    assert {k.name: str(s.point) for k, s in found.live}["LOAD"] == "G a"


def test_a_bare_terminal_beside_outgoing_conductors_may_be_a_supply() -> None:
    network = Network([
        pole("Q1", "M in", "M bus"), wire("GEN", "G a", "M bus"), wire("OUT", "M bus", "L 1"),
    ])  # fmt: skip
    bare = [s for s in supplies_of(network) if not s.is_recorded]
    assert [str(s.point) for s in bare] == ["M in"]


def test_an_unknown_state_counts_as_closed_and_is_told() -> None:
    network = Network([
        wire("A", "S a", "B 1"), pole("Q1", "B 1", "B 2"), wire("C", "B 2", "L 1"),
        pole("Q2", "L 1", "L 2", None), wire("D", "T a", "L 2"),
    ])  # fmt: skip
    found = isolate(network, "B", "Q1", supplies_of(network))
    assert tags(found) == (set(), {"A", "C", "D"})
    assert [link.name for link in found.unsure] == ["Q2"]


def test_a_device_that_does_not_open_or_exist_is_refused() -> None:
    network = Network([pole("BUS", "B 1", "B 2", kind="bus"), wire("A", "B 2", "C 1")])
    with pytest.raises(BadInputError, match="is a bus, which doesn't open"):
        isolate(network, "B", "BUS", [])
    with pytest.raises(BadInputError, match="B has no device Q9 with poles"):
        isolate(network, "B", "Q9", [])


@pytest.mark.parametrize("seed", range(80))
def test_dead_and_live_are_the_components_of_networkx(seed: int) -> None:
    random = Random(seed)
    points = [Point(f"B{n % 3}", f"T{n}") for n in range(9)]
    links = []
    for n in range(14):
        one, other = random.sample(points, 2)
        what = "device" if n < 5 else "conductor"
        links.append(Link(f"K{n}", one, other, what, "breaker", random.choice([True, True, False])))
    network = Network(links)
    supplies = [Supply(p, "test") for p in random.sample(points, 2)]
    found = isolate(network, links[0].one.enclosure, "K0", supplies)

    def live(with_device: bool) -> set[Point]:
        graph = nx.Graph()
        graph.add_nodes_from(points)
        graph.add_edges_from(
            (k.one, k.other)
            for k in links
            if (k.what == "conductor" or k.closed) and k.name != "K0"
        )
        if with_device:
            graph.add_edge(links[0].one, links[0].other)
        return set().union(*(nx.node_connected_component(graph, s.point) for s in supplies))

    graph = nx.Graph([(k.one, k.other) for k in links if k.what == "conductor" or k.closed])
    graph.add_edge(links[0].one, links[0].other)
    region = nx.node_connected_component(graph, links[0].one)
    wires = [k for k in links if k.what == "conductor" and k.one in region]
    assert {k.name for k, _ in found.live} == {k.name for k in wires if k.one in live(False)}
    assert {k.name for k in found.dead} == {
        k.name for k in wires if k.one in live(True) - live(False)
    }
    assert {k.name for k in found.unfed} == {k.name for k in wires if k.one not in live(True)}
