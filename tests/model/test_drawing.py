# SPDX-License-Identifier: MIT
"""Drawings of trees: no word lies on a line, and a device is drawn as open or closed as it is."""

from __future__ import annotations

import re
from itertools import combinations
from xml.etree import ElementTree

import pytest

from tests.model.test_network import random_network
from wiretrack.model.entity import Point
from wiretrack.model.path import tree_from
from wiretrack.model.wiring import Link, Network
from wiretrack.render.tree import tree_svg

SVG = "{http://www.w3.org/2000/svg}"
EM = 0.64  # a character of a broad face (DejaVu Sans, mean of its letters and digits), in ems
Rectangle = tuple[float, float, float, float]  # left, top, right, bottom
Segment = tuple[float, float, float, float]


def drawn(network: Network, root: Point, *lit: str) -> ElementTree.Element:
    return ElementTree.fromstring(tree_svg(tree_from(network, root), "What is connected", lit))


def segments(path: str) -> list[Segment]:
    """Return the straight pieces of a path, in the commands that these drawings use."""
    found, x, y = list[Segment](), 0.0, 0.0
    for command, numbers in re.findall(r"([MLHVmlhva])([-\d. ]*)", path):
        given = [float(number) for number in re.findall(r"-?[\d.]+", numbers)]
        start_x, start_y = (x, y) if command.islower() else (0.0, 0.0)
        there_x, there_y = x, y
        if command not in "Vv":
            there_x = start_x + given[-1 if command in "Hh" else -2]
        if command not in "Hh":
            there_y = start_y + given[-1]
        if command not in "Mm":
            found.append((x, y, there_x, there_y))
        x, y = there_x, there_y
    return found


def wires(svg: ElementTree.Element) -> list[Segment]:
    return [piece for path in svg.iter(f"{SVG}path") for piece in segments(path.get("d") or "")]


def texts(svg: ElementTree.Element) -> list[tuple[str, Rectangle]]:
    found = []
    for text in svg.iter(f"{SVG}text"):
        x, y, size = (float(text.get(name) or 0) for name in ("x", "y", "font-size"))
        words = text.text or ""
        found.append((words, (x, y - size, x + EM * size * len(words), y + 0.25 * size)))
    return found


def on(segment: Segment, box: Rectangle) -> bool:
    x1, y1, x2, y2 = segment
    left, top, right, bottom = box
    across = max(x1, x2) >= left and min(x1, x2) <= right
    return across and max(y1, y2) >= top and min(y1, y2) <= bottom


def overlap(one: Rectangle, other: Rectangle) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


@pytest.mark.parametrize("seed", range(60))
def test_no_word_lies_on_a_line_a_point_or_another_word(seed: int) -> None:
    network, _, points = random_network(seed)
    svg = drawn(network, points[0], "C0", "C1")
    words = texts(svg)
    for text, box in words:
        assert not any(on(piece, box) for piece in wires(svg)), text
        assert box[2] <= float(svg.get("width") or 0)
        for circle in svg.iter(f"{SVG}circle"):
            x, y, r = (float(circle.get(name) or 0) for name in ("cx", "cy", "r"))
            assert not overlap(box, (x - r, y - r, x + r, y + r)), text
    assert not any(overlap(one, other) for (_, one), (_, other) in combinations(words, 2))


@pytest.mark.parametrize("seed", range(60))
def test_lines_leave_a_point_and_lead_to_one(seed: int) -> None:
    """Every point but the first is reached by a line, also the one beyond an open device."""
    network, _, points = random_network(seed)
    svg = drawn(network, points[0])
    ends = {end for x1, y1, x2, y2 in wires(svg) for end in ((x1, y1), (x2, y2))}
    circles = [
        (float(c.get("cx") or 0), float(c.get("cy") or 0))
        for c in svg.iter(f"{SVG}circle")
        if c.get("r") in ("5", "6")
    ]
    assert len(circles) == len(set(circles))
    if len(circles) > 1:
        assert set(circles) <= ends


@pytest.mark.parametrize("kind", ["breaker", "fuse", "disconnect", "contactor", None])
@pytest.mark.parametrize(
    ("closed", "state"), [(True, "closed"), (False, "open"), (None, "unknown")]
)
def test_a_contact_is_drawn_in_its_state(kind: str | None, closed: bool | None, state: str) -> None:
    one, other = Point("B", "1"), Point("B", "2")
    svg = drawn(Network([Link("Q1", one, other, "device", kind, closed)]), one)
    assert {text for text, _ in texts(svg)} >= {"B 1", "B 2"}
    (blade,) = (path for path in svg.iter(f"{SVG}path") if path.get("data-state"))
    assert blade.get("data-state") == state
    ((x, y, tip_x, tip_y),) = segments(blade.get("d") or "")
    fixed = next(s for s in wires(svg) if s[0] > x and s[1] == s[3] == y and s[2] - s[0] > 20)
    near = next(s for s in wires(svg) if s[2] == x and s[3] == y)
    assert near[0] < x
    if state == "closed":
        assert (tip_x, tip_y) == (fixed[0], y)
    else:
        assert tip_y < y
        assert tip_x < fixed[0]
    assert bool(blade.get("stroke-dasharray")) == (state == "unknown")


def test_what_always_joins_is_drawn_as_a_line() -> None:
    one, other = Point("B", "1"), Point("B", "2")
    for kind in ("splice", "bus"):
        svg = drawn(Network([Link("X", one, other, "device", kind, False)]), one)
        assert not [path for path in svg.iter(f"{SVG}path") if path.get("data-state")]
        assert len(wires(svg)) == 1
