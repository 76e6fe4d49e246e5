# SPDX-License-Identifier: MIT
"""The stated uncertainty holds: in 95 % of simulated faults the true place lies within it."""

from __future__ import annotations

from math import hypot, sqrt
from random import Random

import pytest

from tests.drawing import HOURS, full
from tests.electrical.faults.simulation import is_within, read, world
from wiretrack.electrical.faults.line import Input, Part, Section, estimate, joined, with_return
from wiretrack.electrical.faults.locate import NEEDED, compared, excess, locate, position_at
from wiretrack.errors import BadInputError


@pytest.mark.parametrize("method", NEEDED)
@pytest.mark.parametrize("faults", [2_000, full(10_000 if HOURS else 4_000)])
def test_the_true_place_lies_within_the_uncertainty_in_95_percent(method: str, faults: int) -> None:
    # JCGM 100:2008, 6.3.3: k = 2 is meant to cover about 95 %. So many by all methods.
    random = Random(20 + list(NEEDED).index(method))
    hits: list[bool] = []
    while len(hits) < faults / len(NEEDED):
        hit = is_within(random, method)
        if hit is not None:
            hits.append(hit)
    assert sum(hits) / len(hits) >= 0.95


def test_shares_are_added_in_squares() -> None:
    # JCGM 100:2008, 5.1.2 by hand: y = 2a + 3b with u(a) = 0.5 and u(b) = 0.25.
    found = estimate(lambda v: 2 * v["a"] + 3 * v["b"], [Input("a", 1, 0.5), Input("b", 1, 0.25)])
    assert found.value == 5
    assert found.u == pytest.approx(hypot(1.0, 0.75))
    assert found.expanded == pytest.approx(2.5)
    assert [name for name, _ in found.budget] == ["a", "b"]
    assert [share for _, share in found.budget] == pytest.approx([1.0, 0.75])


def test_a_wide_uncertainty_reaches_over_several_sections() -> None:
    sections = tuple(
        Section(f"B{n}", f"B{n + 1}", 10, (Part("A", "k", 1.0),), f"W{n}") for n in range(4)
    )
    readings = {"near": Input("near", 2.0, 0.4), "far": Input("far", 2.0, 0.4)}
    found = locate("both-ends", sections, readings)
    assert found.distance_m == pytest.approx(20)
    assert [section.raceway for section in found.reach] == ["W1", "W2"]
    assert found.low_m == pytest.approx(20 - 2 * hypot(2, 2))
    assert found.high_m == pytest.approx(20 + 2 * hypot(2, 2))


def test_the_nearest_box_is_the_one_to_open() -> None:
    line = tuple(
        Section(f"B{n}", f"B{n + 1}", 10, (Part("A", "k", 1.0),), f"W{n}") for n in range(3)
    )
    places = [position_at(line, d) for d in (0, 4, 6, 10, 16, 30)]
    assert [p.nearest_box for p in places] == ["B0", "B0", "B1", "B1", "B2", "B3"]
    assert [p.section.raceway for p in places] == ["W0", "W0", "W0", "W0", "W1", "W2"]


def test_an_excess_is_found_in_95_percent_and_seldom_where_there_is_none() -> None:
    random, within, false = Random(3), 0, 0
    for _ in range(500):
        w = world(random)
        bad = random.choice([0.0, 0.5, 3.0])
        contacts = random.uniform(0, 0.1)
        found = excess(w.bad, read(random, "x", sum(w.true_bad) + bad + contacts))
        within += abs(found.ohms.value - bad) <= found.ohms.expanded
        false += bad == 0 and found.word == "high"
    assert within >= 475
    assert false <= 12


def test_beside_a_like_conductor_a_smaller_excess_is_proved() -> None:
    random, within = Random(4), 0
    for _ in range(400):
        w = world(random)
        if {p.kind for s in w.bad for p in s.parts} != {p.kind for s in w.good for p in s.parts}:
            within += 1
            continue
        bad = random.choice([0.0, 0.05, 1.0])
        mine, other = sum(w.true_bad) + bad, sum(w.true_good)
        found = compared(w.bad, read(random, "x", mine), [(w.good, read(random, "y", other))])
        alone = excess(w.bad, read(random, "x", mine))
        within += abs(found.ohms.value - bad) <= found.ohms.expanded
        assert found.ohms.u <= alone.ohms.u
    assert within >= 380


def test_an_excess_makes_heat() -> None:
    line = (Section("X", "Y", 10, (Part("A", "k", 0.1),)),)
    found = excess(line, Input("x", 0.6, 0.0), allowed=Input("c", 0.0, 0.0))
    # Joule's law by hand: 0.5 Ω at 4 A makes 8 W.
    assert found.ohms.value == pytest.approx(0.5)
    assert found.heat_w(4) == pytest.approx(8)
    assert found.word == "high"
    assert excess(line, Input("x", 0.05, 0.001), Input("c", 0.0, 0.0)).word == "too low"


def test_conductors_that_can_not_be_compared_are_named() -> None:
    line = (Section("X", "Y", 10, (Part("A", "k", 0.1),)),)
    other = (Section("X", "Y", 10, (Part("B", "q", 0.1),)),)
    with pytest.raises(BadInputError, match="B is q, not k"):
        compared(line, Input("x", 1, 0.1), [(other, Input("y", 1, 0.1))])
    with pytest.raises(BadInputError, match="Nothing to compare with"):
        compared(line, Input("x", 1, 0.1), [])
    elsewhere = (Section("X", "Z", 10, (Part("B", "k", 0.1),)),)
    with pytest.raises(BadInputError, match="don't run along the same boxes"):
        joined(line, elsewhere)


def test_a_raceway_as_the_way_back_is_spread_by_length() -> None:
    line = tuple(Section("X", "Y", m, (Part("A", "k", 0.1),)) for m in (10, 30))
    both = with_return(line, 0.4)
    assert [section.ohms for section in both] == [pytest.approx(0.2), pytest.approx(0.4)]
    assert estimate(lambda v: v["a"], [Input("a", 1, 1 / sqrt(3))]).u == pytest.approx(0.57735)
