# SPDX-License-Identifier: MIT
"""Pages of a large site ask the registry for their part of it, and show a part at a time."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import pairwise
from random import Random
from typing import TYPE_CHECKING

import networkx as nx  # type: ignore[import-untyped]
import pytest

from tests.benchmarks.pages_speed import tag_of
from tests.benchmarks.parts_speed import feeders, wired
from tests.drawing import full
from tests.record_of import add_document
from tests.web.conftest import form_token, settings_of, signed_in
from wiretrack.model.entities import Enclosure, Raceway
from wiretrack.model.site import Site
from wiretrack.model.source import DocumentSource, SiteDocument
from wiretrack.store.lists import AT_ONCE
from wiretrack.store.store import open_registry
from wiretrack.tasks.describe.sites import new_site
from wiretrack.tasks.find.site_map import FARTHEST, MOST_AROUND, map_around, way_to
from wiretrack.tasks.trouble.isolation import isolation
from wiretrack.web.app import create_app

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from flask.testing import FlaskClient

CONDUCTORS = 800  # two buildings
# Made by the queries; `writing` and `l`, the last entry of a writer, are one row.
_OURS = "(?:json_each|reached|here|back|i|main|listed|writing|l)"


def site_of(db: Path, document: SiteDocument, *more: SiteDocument) -> Path:
    new_site(db, "Large")
    with open_registry(db) as registry:
        for one in (document, *more):
            add_document(registry, one)
    return db


@pytest.fixture(scope="module")
def apart(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Buildings apart from each other."""
    return site_of(tmp_path_factory.mktemp("apart") / "apart.db", wired(0, CONDUCTORS))


@pytest.fixture(scope="module")
def joined(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The same buildings, fed from one board."""
    db = tmp_path_factory.mktemp("joined") / "joined.db"
    return site_of(db, wired(0, CONDUCTORS), feeders(CONDUCTORS))


@pytest.fixture
def member(request: pytest.FixtureRequest) -> Iterator[FlaskClient]:
    app = create_app(settings_of(request.getfixturevalue(request.param)))
    yield signed_in(app)
    app.extensions["registries"].close()


def scans(client: FlaskClient, path: str, data: dict[str, str] | None = None) -> list[str]:
    """Return the tables that sqlite reads from end to end for a page, by its own plans."""
    registry = client.application.extensions["registries"].own()
    asked: list[str] = []
    token = form_token(client.get("/trouble").text)
    registry.db.conn.set_trace_callback(asked.append)
    answer = client.post(path, data={"form_token": token, **data}) if data else client.get(path)
    registry.db.conn.set_trace_callback(None)
    assert answer.status_code in (200, 303)
    assert asked
    plans = [
        row[3]
        for sql in asked
        if sql.lstrip().startswith(("SELECT", "WITH"))
        for row in registry.db.execute(f"EXPLAIN QUERY PLAN {sql}")
    ]
    return [plan for plan in plans if re.match(rf"SCAN (?!{_OURS}\b)", plan)]


BOTH = pytest.mark.parametrize("member", ["apart", "joined"], indirect=True)
JOINED = pytest.mark.parametrize("member", ["joined"], indirect=True)


@BOTH
@pytest.mark.parametrize("path", ["/devices/P1/F150", "/devices/p1/q0"])
def test_a_device_s_page_reads_no_table_from_end_to_end(member: FlaskClient, path: str) -> None:
    assert scans(member, path) == []


@BOTH
@pytest.mark.parametrize("begun", [("dead-circuit", tag_of(600)), ("tripping-breaker", "C150")])
def test_a_search_s_pages_read_no_table_from_end_to_end(
    member: FlaskClient, begun: tuple[str, str]
) -> None:
    symptom, what = begun
    assert scans(member, "/searches", {"symptom": symptom, "what": what}) == []
    assert scans(member, "/searches/C150") == []


@BOTH
def test_a_part_of_the_map_counts_the_enclosures_and_reads_no_other_table_whole(
    member: FlaskClient,
) -> None:
    read = scans(member, f"/map?around=P1&lit={tag_of(600)}")
    assert {plan.split(" USING")[0] for plan in read} <= {"SCAN enclosures"}
    assert all("COVERING INDEX" in plan for plan in read if "enclosures" in plan)


@JOINED
def test_the_parts_of_a_device_s_lists_are_the_whole_of_them(
    member: FlaskClient, joined: Path
) -> None:
    with open_registry(joined) as registry:
        whole = [wire.conductor for wire in isolation(registry, ["P1", "F150"]).stays_live]
    assert len(whole) > 2 * AT_ONCE
    path, tags = "/devices/P1/F150", list[str]()
    while path:
        page = member.get(path).text
        live = page.split("<h2>Stays live</h2>")[1].split("<h2>")[0]
        rows = re.findall(r'<span class="tag">(.*?)<.*?<span class="where">(.*?);', live)
        assert 0 < len(rows) <= AT_ONCE
        if not tags:
            assert all("P1" in where.split(" – ") for _, where in rows)
        tags += [tag for tag, _ in rows]
        more = re.findall(r'href="([^"]*)">More of these', live)
        path = more[0].replace("&amp;", "&") if more else ""
    assert sorted(tags) == sorted(whole)


@JOINED
@pytest.mark.parametrize("typed", ["-1", "x", "9" * 40, "٣", "99999"])
def test_a_part_that_is_none_begins_the_list_or_says_so(member: FlaskClient, typed: str) -> None:
    for path in ("/devices/P1/F150", "/map"):
        query = {"live": typed, "dead": typed, "within": typed, "around": "P1"}
        assert member.get(path, query_string=query).status_code == 200


def random_raceways(seed: int) -> tuple[SiteDocument, nx.MultiGraph]:
    """Many boxes and about as many raceways: several pieces, loops, boxes without any."""
    random, boxes = Random(seed), [f"B{n}" for n in range(2 * MOST_AROUND)]
    graph = nx.MultiGraph()
    graph.add_nodes_from(boxes)
    for n in range(random.choice([120, 200, 400])):
        graph.add_edge(*random.sample(boxes, 2), key=f"W{n}")
    raceways = tuple(
        Raceway(code=code, from_enclosure=one, to_enclosure=other)
        for one, other, code in graph.edges(keys=True)
    )
    enclosures = tuple(Enclosure(code=box) for box in boxes)
    return SiteDocument(enclosures=enclosures, raceways=raceways), graph


@pytest.mark.parametrize("seed", [0, 1, 2, *map(full, range(3, 6))])
def test_what_is_drawn_is_nearest_by_the_distances_of_networkx(tmp_path: Path, seed: int) -> None:
    document, graph = random_raceways(seed)
    with open_registry(site_of(tmp_path / "map.db", document)) as registry:
        for box in list(graph)[::9]:
            for within in (1, 3, FARTHEST):
                far = nx.single_source_shortest_path_length(graph, box, cutoff=within)
                drawing = map_around(registry, around=box, within=within)
                drawn = {box.code for box in drawing.boxes}
                assert len(drawn) == min(len(far), MOST_AROUND)
                assert sorted(far[code] for code in drawn) == sorted(far.values())[: len(drawn)]
                inside = {code for *_, code in graph.subgraph(drawn).edges(keys=True)}
                assert {line.code for line in drawing.lines} == inside
                assert drawing.left_out == len(graph) - len(drawn)
                onward = {row.code: row.raceways for row in drawing.onward}
                outside = {
                    code: sum(other not in drawn for _, other, _ in graph.edges(code, keys=True))
                    for code in drawn
                }
                assert onward == {code: count for code, count in outside.items() if count}


def test_the_map_of_a_large_site_begins_where_most_raceways_meet_or_at_the_route(
    tmp_path: Path,
) -> None:
    document, graph = random_raceways(7)
    with open_registry(site_of(tmp_path / "map.db", document)) as registry:
        most = max(degree for _, degree in graph.degree)
        assert graph.degree(map_around(registry).around) == most
        lit = [r.code for r in document.raceways[:3]]
        drawing = map_around(registry, lit, within=1)
        assert {line.code for line in drawing.lines if line.lit} == set(lit)
        assert drawing.around == ""


@JOINED
def test_an_enclosure_that_is_none_is_said_beside_its_field(member: FlaskClient) -> None:
    page = member.get("/map?around=NOPE&lit=ALSO").text
    assert 'id="fault-around"' in page
    assert 'id="fault-lit"' in page
    assert 'value="NOPE"' in page
    assert "<svg" in page


@JOINED
def test_an_enclosure_s_page_leads_to_the_map_around_it(member: FlaskClient) -> None:
    assert "/map?around=P1" in member.get("/enclosures/P1").text
    page = member.get("/map?around=P1&within=1").text
    assert "Drawn: 3 of 5 enclosures" in page  # P1, its loads' box and the main board
    assert "2 enclosures more aren't drawn" in page
    assert "/map?around=MAIN" in page.split("Raceways lead on from")[1]


@pytest.mark.parametrize("seed", range(6))
def test_the_way_to_a_box_is_as_short_as_networkx_finds_it(seed: int) -> None:
    document, graph = random_raceways(seed)
    panels = {f"B{n}" for n in range(0, 2 * MOST_AROUND, 17)}
    boxes = [
        replace(box, kind="panelboard" if box.code in panels else "junction-box")
        for box in document.enclosures
    ]
    site = Site(DocumentSource(replace(document, enclosures=tuple(boxes))))
    for box in graph:
        far = nx.single_source_shortest_path_length(graph, box)
        nearest = min((far[panel] for panel in panels - {box} if panel in far), default=None)
        way = way_to(site, box)
        assert (len(way) - 1 if way else None) == nearest
        if way:
            assert (way[0].enclosure in panels, way[-1].enclosure) == (True, box)
            for before, step in pairwise(way):
                assert graph.has_edge(before.enclosure, step.enclosure, key=step.raceway)
