# SPDX-License-Identifier: MIT
"""What a device leaves dead and live, by hand and against networkx."""

from __future__ import annotations

from random import Random
from typing import Any

import networkx as nx  # type: ignore[import-untyped]
import pytest

from wiretrack.errors import BadInputError
from wiretrack.model.entity import Point
from wiretrack.model.isolating import Isolation, Supply, isolate, supplies_of
from wiretrack.model.wiring import Link, Network


def at(text: str) -> Point:
    return Point(*text.split())


def wire(name: str, one: str, other: str) -> Link:
    return Link(name, at(one), at(other), circuit="C", function="L1", served=("C",))


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


def unknown(found: Isolation) -> dict[str, str]:
    return {k.name: why for k, why in found.unknown}


def test_a_spare_way_of_a_fed_panel_is_no_supply() -> None:
    network = Network([
        pole("G", "M x", "M bus", kind="source"), pole("Q1", "M bus", "M 1"),
        pole("Q2", "M bus", "M 2"), wire("FEED", "M 1", "S bus"), pole("Q1", "S bus", "S 1"),
        pole("Q2", "S bus", "S 2"), wire("OUT", "S 1", "L 1"),
    ])  # fmt: skip
    supplies = supplies_of(network)
    assert [str(s.point) for s in supplies] == ["M x", "M bus"]
    found = isolate(network, "M", "Q1", supplies)
    assert tags(found) == ({"FEED", "OUT"}, set())
    assert [k.name for k in found.unused] == ["Q2"]  # the spare way of S
    assert tags(isolate(network, "S", "Q1", supplies)) == ({"OUT"}, {"FEED"})


def test_the_device_itself_is_no_unused_way_where_nothing_is_recorded_before_it() -> None:
    main, spare = pole("Q1", "S bus", "S 1"), pole("Q2", "S 1", "S 2")
    network = Network([main, spare, wire("OUT", "S 1", "L 1")])
    found = isolate(network, "S", "Q1", supplies_of(network))
    assert tags(found) == ({"OUT"}, set())
    assert [k.name for k in found.unused] == ["Q2"]


@pytest.mark.parametrize("turned", [False, True])
def test_a_main_switch_without_a_recorded_supply_may_still_feed(turned: bool) -> None:
    def way(name: str, line: str, load: str) -> Link:
        return pole(name, load, line) if turned else pole(name, line, load)

    network = Network([
        way("Q0", "M in", "M bus"), way("Q1", "M bus", "M 1"), way("Q2", "M bus", "M 2"),
        way("Q3", "M bus", "M 3"), wire("GEN", "G a", "M 1"), wire("OUT", "M 2", "L 1"),
    ])  # fmt: skip
    supplies = supplies_of(network)
    assert {(str(s.point), s.is_sure) for s in supplies} == {("G a", True), ("M in", False)}
    found = isolate(network, "M", "Q1", supplies)
    assert (tags(found), set(unknown(found))) == ((set(), {"GEN"}), {"OUT"})
    assert "nothing is recorded on M in" in unknown(found)["OUT"]
    found = isolate(network, "M", "Q0", supplies)
    assert (tags(found), found.unknown) == ((set(), {"GEN", "OUT"}), ())


def test_a_panel_that_nothing_feeds_is_fed_through_the_one_terminal_left() -> None:
    network = Network([
        pole("Q0", "M in", "M bus"), pole("Q1", "M bus", "M 1"), pole("Q2", "M bus", "M 2"),
        pole("Q3", "M bus", "M 3"), wire("A", "M 1", "L 1"), wire("B", "M 2", "L 2"),
    ])  # fmt: skip
    assert tags(isolate(network, "M", "Q0", supplies_of(network))) == ({"A", "B"}, set())
    assert tags(isolate(network, "M", "Q1", supplies_of(network))) == ({"A"}, {"B"})
    two = Network([*network.links, pole("Q9", "M also", "M bus")])
    found = isolate(two, "M", "Q0", supplies_of(two))
    assert (tags(found), set(unknown(found))) == ((set(), set()), {"A", "B"})


def test_an_end_on_no_terminal_is_no_supply_and_one_on_an_unknown_terminal_may_be() -> None:
    def fed_by(name: str) -> Network:
        return Network([
            pole("G", "M x", "M bus", kind="source"), pole("Q1", "M bus", "M 1"),
            wire("OUT", "M 1", "L 1"), Link("SP", Point("B", name), at("L 1")),
        ])  # fmt: skip

    loose = fed_by("SP capped")
    found = isolate(loose, "M", "Q1", supplies_of(loose))
    assert (tags(found), found.unknown) == (({"OUT", "SP"}, set()), ())
    somewhere = fed_by("SP end")
    found = isolate(somewhere, "M", "Q1", supplies_of(somewhere))
    assert (tags(found), set(unknown(found))) == ((set(), set()), {"OUT", "SP"})


BATT: dict[str, Any] = {"circuit": "BATT", "served": ("BATT",)}


def test_batteries_stay_live_and_an_inverter_may_feed_back() -> None:
    network = Network([
        pole("Q1", "BAT 1", "BAT 2"), Link("B", at("BAT 2"), at("DS 1"), **BATT),
        pole("Q2", "DS 1", "DS 2"), Link("C", at("DS 2"), at("INV b"), **BATT),
    ])  # fmt: skip
    supplies = supplies_of(network, inverters=["INV"], systems={"BATT": "dc-battery"})
    assert {str(s.point): s.why for s in supplies if s.is_sure} == {"BAT 1": "a battery"}
    found = isolate(network, "DS", "Q2", supplies)
    assert (tags(found), set(unknown(found))) == ((set(), {"B"}), {"C"})
    array = supplies_of(network, inverters=["INV"], systems={"BATT": "dc-pv"})
    assert tags(isolate(network, "DS", "Q2", array)) == ({"C"}, {"B"})


def test_what_only_a_device_of_unknown_state_may_feed_is_unknown() -> None:
    network = Network([
        wire("A", "S a", "B 1"), pole("Q1", "B 1", "B 2"), wire("C", "B 2", "L 1"),
        pole("Q2", "L 1", "L 2", None), wire("D", "T a", "L 2"),
    ])  # fmt: skip
    found = isolate(network, "B", "Q1", supplies_of(network))
    assert (tags(found), set(unknown(found))) == ((set(), {"A", "D"}), {"C"})
    assert "a device of unknown state lies between" in unknown(found)["C"]
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
    assert unknown(found).keys() == {k.name for k in wires if k.one not in live(True)}
