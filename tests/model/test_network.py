# SPDX-License-Identifier: MIT
"""Paths, reach, loops and trees on random networks, against networkx."""

from __future__ import annotations

import re
from random import Random
from xml.etree import ElementTree

import networkx as nx  # type: ignore[import-untyped]
import pytest

from tests.drawing import each
from wiretrack.errors import BadInputError
from wiretrack.model.entity import Point
from wiretrack.model.path import tree_from, tree_lines
from wiretrack.model.wiring import Link, Network
from wiretrack.render.tree import tree_svg

SEEDS = range(60)


def random_network(seed: int, most: int = 12) -> tuple[Network, nx.MultiGraph, list[Point]]:
    """Random points in a few boxes, with conductors and devices in all states between them."""
    random = Random(seed)
    points = [Point(f"B{n % 4}", f"T{n}") for n in range(random.randint(2, most))]
    graph: nx.MultiGraph = nx.MultiGraph()
    graph.add_nodes_from(points)
    links = []
    for n in range(random.randint(1, 2 * len(points))):
        one, other = random.sample(points, 2)
        if random.random() < 0.5:
            link = Link(f"C{n}", one, other)
        else:
            kind = random.choice(["breaker", "fuse", "splice", "bus"])
            link = Link(f"D{n}", one, other, "device", kind, random.choice([True, False, None]))
        links.append(link)
        joins = link.what == "conductor" or kind in ("splice", "bus") or link.closed is not False
        if joins:
            graph.add_edge(one, other, key=n)
    return Network(links), graph, points


@each(SEEDS)
def test_what_can_be_reached_is_the_connected_component_of_networkx(seed: int) -> None:
    network, graph, points = random_network(seed)
    for point in points:
        assert set(network.reached([point])) == nx.node_connected_component(graph, point)


@each(SEEDS)
def test_paths_are_the_simple_paths_of_networkx(seed: int) -> None:
    network, graph, points = random_network(seed, most=6)
    start, goal = points[0], points[-1]
    found = sorted(len(path) for path in network.paths(start, goal))
    ours = sorted(len(path) for path in nx.all_simple_edge_paths(graph, start, goal))
    assert found == ours
    for path in network.paths(start, goal):
        here = start
        for link in path:
            here = link.beyond(here)
        assert here == goal


@each(SEEDS)
def test_the_nearest_of_some_points_is_as_near_as_networkx_says(seed: int) -> None:
    network, graph, points = random_network(seed)
    start, goals = points[0], Random(seed).sample(points, 2)
    lengths = nx.single_source_shortest_path_length(graph, start)
    near = [lengths[goal] for goal in goals if goal != start and goal in lengths]
    found = network.nearest(start, goals)
    assert (found is None) == (not near)
    if found:
        here, path = found
        assert here in goals
        assert len(path) == min(near)
        for link in path:
            assert not link.is_open
            here = link.beyond(here)
        assert here == start


@each(SEEDS)
def test_a_loop_is_found_exactly_where_networkx_finds_a_cycle(seed: int) -> None:
    network, graph, points = random_network(seed)
    for point in points:
        part = graph.subgraph(nx.node_connected_component(graph, point))
        has_cycle = part.number_of_edges() > part.number_of_nodes() - 1
        loop = network.loop(point)
        assert bool(loop) == has_cycle
        if loop:
            degrees = nx.MultiGraph([(link.one, link.other) for link in loop]).degree()
            assert {degree for _, degree in degrees} == {2}
            assert len({id(link) for link in loop}) == len(loop)


@each(SEEDS)
def test_a_tree_spans_the_component_and_names_each_loop_once(seed: int) -> None:
    network, graph, points = random_network(seed)
    component = nx.node_connected_component(graph, points[0])
    part = graph.subgraph(component)
    branches = [branch for _, branch in tree_from(network, points[0]).walk()]
    joined = [b for b in branches if not b.stop]
    assert {b.point for b in joined} == component
    assert len(joined) == len(component)
    # The number of independent loops is edges - nodes + 1 (networkx: len(cycle_basis)).
    loops = [b for b in branches if b.stop == "loop"]
    assert len(loops) == part.number_of_edges() - part.number_of_nodes() + 1
    lines = tree_lines(tree_from(network, points[0]))
    assert len(lines) == len(branches)
    own = len(branches[0].ways)
    for most in (2, len(lines) // 2, len(lines)):
        few = tree_lines(tree_from(network, points[0]), most)
        behind = sum(int(count) for line in few for count in re.findall(r" … (\d+) more$", line))
        assert len(few) + behind == len(lines)
        assert len(few) <= max(most, 1 + own)
        assert sum(line[0] in "├└" for line in few) == own
    drawing = tree_svg(tree_from(network, points[0]), 'A <test> & "more"', ["C0"])
    assert ElementTree.fromstring(drawing).tag.endswith("svg")


def test_too_many_paths_are_refused_in_words() -> None:
    points = [Point("B", f"T{n}") for n in range(9)]
    links = [Link("C", a, b) for a in points for b in points if a < b]
    with pytest.raises(BadInputError, match="More than 1000 ways lead from B T0 to B T8"):
        list(Network(links).paths(points[0], points[-1]))


@each(range(200))
def test_a_second_way_is_a_second_simple_path_of_networkx(seed: int) -> None:
    network, graph, points = random_network(seed, most=6)
    start, goal = points[0], points[-1]
    ways = list(nx.all_simple_edge_paths(graph, start, goal))
    for path in network.paths(start, goal):
        assert network.has_second_way(path, start) == (len(ways) > 1)
    assert not network.has_second_way((), start)
