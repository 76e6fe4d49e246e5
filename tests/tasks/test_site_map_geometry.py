# SPDX-License-Identifier: MIT
"""The site map: no line crosses another, a foreign box or a text; loops by networkx 3."""

from __future__ import annotations

from dataclasses import asdict
from itertools import combinations
from random import Random
from typing import TYPE_CHECKING, Any

import networkx as nx  # type: ignore[import-untyped]
import pytest

from tests.drawing import tenth
from tests.record_of import add_document
from wiretrack.files import shipped
from wiretrack.model.entities import Enclosure, Raceway
from wiretrack.model.source import SiteDocument
from wiretrack.store.store import open_registry
from wiretrack.tasks.describe.sites import load_site, new_site
from wiretrack.tasks.find.site_map import PlaceInRaceway, site_map

if TYPE_CHECKING:
    from pathlib import Path

Segment = tuple[tuple[int, int], tuple[int, int]]
Rectangle = tuple[float, float, float, float]  # left, top, right, bottom


def random_site(seed: int) -> SiteDocument:
    """A site whose raceways form trees, loops, parallel pieces, and boxes without any."""
    random = Random(seed)
    names = ["pump", "a name of several words that is far too long for one line of a box", ""]
    boxes = [f"{'B' * random.choice([1, 1, 9])}{n}" for n in range(random.randint(1, 25))]
    ends = [(random.choice(boxes[:n]), boxes[n]) for n in range(1, len(boxes)) if n % 7]
    ends += [(random.choice(boxes), random.choice(boxes)) for _ in range(random.choice([0, 0, 4]))]
    return SiteDocument(
        enclosures=tuple(Enclosure(code=b, name=random.choice(names) or None) for b in boxes),
        raceways=tuple(
            Raceway(code=f"W{n}", from_enclosure=one, to_enclosure=other)
            for n, (one, other) in enumerate(ends)
            if one != other
        ),
    )


def drawn(tmp_path: Path, document: SiteDocument | None, **how: Any) -> dict[str, Any]:
    new_site(tmp_path / "s.db", "s")
    with open_registry(tmp_path / "s.db") as registry:
        if document is None:
            load_site(registry, shipped("demo_db") / "site.json")
        else:
            add_document(registry, document)
        found: dict[str, Any] = asdict(site_map(registry, **how))
        return found


def segments(line: dict[str, Any]) -> list[Segment]:
    return list(zip(line["points"], line["points"][1:], strict=False))


def touches(segment: Segment, of: Rectangle) -> bool:
    """Return whether a level or plumb segment has a point within a rectangle, not on its edge."""
    (x1, y1), (x2, y2) = segment
    left, top, right, bottom = of
    across = max(x1, x2) > left and min(x1, x2) < right
    return across and max(y1, y2) > top and min(y1, y2) < bottom


def overlap(one: Rectangle, other: Rectangle) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def box_of(box: dict[str, Any]) -> Rectangle:
    return box["x"], box["y"], box["x"] + box["width"], box["y"] + box["height"]


def label_of(line: dict[str, Any]) -> Rectangle:
    # DejaVu Sans Mono, the widest of the faces named, has 0.602 em a character; 13 px here.
    width = 0.602 * 13 * len(line["text"])
    return (line["label_x"], line["label_y"] - 12, line["label_x"] + width, line["label_y"] + 3)


def names_of(box: dict[str, Any]) -> list[Rectangle]:
    """Return where the texts of a box are: its code in 15 px, its name in 12 px of 0.65 em."""
    x, y = box["x"] + 10, box["y"]
    found = [(x, y + 8, x + 0.602 * 15 * len(box["code"]), y + 24)]
    for n, words in enumerate(box["lines"]):
        low = y + 39 + 15 * n
        found.append((x, low - 11, x + 0.65 * 12 * len(words), low + 3))
    return found


def crosses(one: Segment, other: Segment) -> bool:
    """Return whether a level segment and a plumb one cross within both."""
    for level, plumb in ((one, other), (other, one)):
        (x1, y1), (x2, _) = level
        (x, top), (_, low) = plumb
        if level[0][1] == level[1][1] and plumb[0][0] == plumb[1][0]:
            within = min(x1, x2) < x < max(x1, x2)
            if within and min(top, low) < y1 < max(top, low):
                return True
    return False


@pytest.mark.parametrize("seed", ["demo", *tenth(60)])
def test_nothing_is_drawn_over_anything_else(tmp_path: Path, seed: int | str) -> None:
    drawing = drawn(tmp_path, None if isinstance(seed, str) else random_site(seed))
    boxes, lines = drawing["boxes"], drawing["lines"]
    whole = (0, 0, drawing["width"], drawing["height"])
    for line in lines:
        for segment in segments(line):
            assert segment[0][0] == segment[1][0] or segment[0][1] == segment[1][1]
            assert not any(touches(segment, box_of(box)) for box in boxes)
            assert not any(touches(segment, label_of(other)) for other in lines)
    for one, other in combinations(lines, 2):
        assert not any(crosses(a, b) for a in segments(one) for b in segments(other))
    texts = [*map(label_of, lines), *(name for box in boxes for name in names_of(box))]
    assert not any(overlap(one, other) for one, other in combinations(texts, 2))
    assert not any(overlap(box_of(a), box_of(b)) for a, b in combinations(boxes, 2))
    for box in boxes:
        left, top, right, bottom = box_of(box)
        assert all(
            left < name[0] and top < name[1] and name[2] <= right and name[3] <= bottom
            for name in names_of(box)
        )
        assert not any(overlap(label_of(line), box_of(box)) for line in lines)
        assert " ".join(box["lines"]) == (box["name"] or box["kind"] or "")  # whole names
    for x1, y1, x2, y2 in (*texts, *map(box_of, boxes)):
        assert (max(x2, whole[2]), max(y2, whole[3])) == whole[2:]
        assert (min(x1, 0), min(y1, 0)) == whole[:2]


@pytest.mark.parametrize("seed", tenth(60))
def test_every_raceway_leads_from_its_boxes_and_loops_are_those_of_networkx(
    tmp_path: Path, seed: int
) -> None:
    document = random_site(seed)
    drawing = drawn(tmp_path, document)
    boxes = {box["code"]: box_of(box) for box in drawing["boxes"]}
    graph = nx.MultiGraph()
    graph.add_nodes_from(boxes)
    ends = {r.code: {r.from_enclosure, r.to_enclosure} for r in document.raceways}
    graph.add_edges_from(tuple(pair) for pair in ends.values())
    assert sorted(line["code"] for line in drawing["lines"]) == sorted(ends)
    for line in drawing["lines"]:
        (x, y), _, (right, middle) = line["points"]
        at = [c for c, box in boxes.items() if box[3] == y and box[0] <= x <= box[2]]
        there = line["to"] or next(
            c for c, box in boxes.items() if box[0] == right and box[1] <= middle <= box[3]
        )
        assert {*at, there} == ends[line["code"]]
    # The number of independent loops is edges - nodes + components (networkx).
    parts = nx.number_connected_components(graph)
    loops = graph.number_of_edges() - graph.number_of_nodes() + parts
    assert sum(line["to"] is not None for line in drawing["lines"]) == loops


def test_the_demo_s_map_is_no_wider_than_a_phone_s_and_cuts_no_name(tmp_path: Path) -> None:
    """A phone of 320 px has 288 between its margins of 16; drawn so, a unit is a px."""
    drawing = drawn(tmp_path, None)
    assert drawing["width"] == 288
    assert {line["to"] for line in drawing["lines"]} == {None}  # 24 boxes, 23 raceways: a tree
    assert drawing["boxes"][0]["code"] == "MDP"  # where most raceways meet


@pytest.mark.parametrize("part", [0.0, 0.3, 1.0])
def test_a_mark_stands_on_its_line_beside_every_box(tmp_path: Path, part: float) -> None:
    drawing = drawn(tmp_path, None, lit=["W9"], mark=PlaceInRaceway("W9", "LB2", part))
    mark = drawing["mark"]
    line = next(line for line in drawing["lines"] if line["code"] == "W9")
    (x, top), (_, low), _ = line["points"]
    assert mark["x"] == x
    assert top < mark["y"] <= low
    r = mark["radius"]
    around = (mark["x"] - r, mark["y"] - r, mark["x"] + r, mark["y"] + r)
    assert not any(overlap(around, box_of(box)) for box in drawing["boxes"])
    assert not any(overlap(around, label_of(other)) for other in drawing["lines"])


@pytest.mark.parametrize("seed", ["demo", *tenth(60)])
def test_a_finger_hits_each_box_and_raceway_and_no_other(tmp_path: Path, seed: int | str) -> None:
    """WCAG 2.2, 2.5.5: targets of 44 by 44 CSS px."""
    drawing = drawn(tmp_path, None if isinstance(seed, str) else random_site(seed))
    targets = [*map(box_of, drawing["boxes"]), *(box_of(line["hit"]) for line in drawing["lines"])]
    for left, top, right, bottom in targets:
        assert (right - left >= 44, bottom - top >= 44) == (True, True)
    assert not any(overlap(one, other) for one, other in combinations(targets, 2))
