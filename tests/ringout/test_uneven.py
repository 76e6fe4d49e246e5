# SPDX-License-Identifier: MIT
"""Bundles with more ends at one box than at the other: what stops short, and what nobody uses."""

from __future__ import annotations

import random
from typing import TYPE_CHECKING, Any

import pytest

from tests.drawing import HOURS, parts
from tests.ringout.bundles import COLOURS
from tests.ringout.hard import HardWires, rung_out
from tests.ringout.simulation import Wires, ring_out
from wiretrack.errors import BundleError
from wiretrack.ringout.bundle import Bundle, FarEnd, NearEnd
from wiretrack.ringout.engine import Ringout

if TYPE_CHECKING:
    from wiretrack.ringout.results import Result

Over = dict[str, set[str]]


def uneven(seed: int, short: int, unused: int, fewest: int = 3, **options: Any) -> HardWires:
    """Return 3 to 12 sound conductors, some that stop short, and unused ends at the far box."""
    rng = random.Random(seed)
    count, shown = rng.randint(fewest, 12), rng.choice((0, 1, 1, 2, 3))
    worn = [rng.choice(COLOURS[:shown]) if shown else None for _ in range(count + short + unused)]
    tags = rng.sample(range(1, count + short + 1), count + short)
    marks = rng.sample(range(1, count + unused + 1), count + unused)
    options.setdefault("references", rng.choice(((), ("raceway",), ("R1",))))
    options.setdefault("start", rng.choice(("near", "far")))
    there = [*worn[:count], *worn[count + short :]]
    near = sorted((tag, worn[i]) for i, tag in enumerate(tags))
    far = sorted((mark, there[i]) for i, mark in enumerate(marks))
    bundle = Bundle(
        near=tuple(NearEnd(name=f"T{tag}", colour=colour) for tag, colour in near),
        far=tuple(FarEnd(name=str(mark), colour=colour) for mark, colour in far),
        **options,
    )
    mate = {f"T{tags[i]}": str(marks[i]) for i in range(count)}
    return HardWires(bundle, mate, rng=rng)


def left_over(wires: Wires) -> Over:
    """Return the ends without one at the other box."""
    near = {end.name for end in wires.bundle.near if not end.absent} - set(wires.mate)
    far = {end.name for end in wires.bundle.far if not end.absent} - set(wires.mate.values())
    return {"near": near, "far": far}


def named(result: Result) -> Over:
    return {"near": set(result.extra.near), "far": set(result.extra.far)}


@pytest.mark.parametrize("seeds", parts(12, 600 if HOURS else 300, 100), ids=str)
def test_what_one_box_has_more_is_named_and_all_else_is_matched(seeds: range) -> None:
    for seed in seeds:
        short, unused = ((1, 0), (2, 0), (0, 1), (0, 3))[seed % 4]
        wires = uneven(seed, short, unused)
        result = ring_out(wires)
        assert {m.near: m.far for m in result.matches} == wires.mate, seed
        assert named(result) == left_over(wires), seed
        assert not result.unresolved, seed
        assert not result.faults, seed
        assert any("stops short" in note for note in result.notes)


@pytest.mark.parametrize("seeds", parts(6, 300 if HOURS else 160, 100), ids=str)
def test_where_both_boxes_have_ends_over_no_wrong_match_is_sure_and_no_whole_one_is_over(
    seeds: range,
) -> None:
    missed = []  # seeds in which not all is matched and named
    for seed in seeds:
        short, unused = ((1, 1), (2, 1), (1, 2))[seed % 3]
        wires = uneven(seed, short, unused)
        result = ring_out(wires)
        over = named(result)
        assert not [m for m in result.matches if m.sure and wires.mate.get(m.near) != m.far], seed
        assert over["near"] <= left_over(wires)["near"], seed
        assert over["far"] <= left_over(wires)["far"], seed
        matched = {m.near: m.far for m in result.matches}
        if short != unused and (over, matched) != (left_over(wires), wires.mate):
            missed.append(seed)
    assert not missed, missed


@pytest.mark.parametrize("kind", ["open", "short", "far part"])
@pytest.mark.parametrize("seeds", parts(4, 200 if HOURS else 100, 50), ids=str)
def test_a_fault_beside_it_makes_no_wrong_match_sure(kind: str, seeds: range) -> None:
    for seed in seeds:
        wires = uneven(seed, *((1, 0), (0, 1))[seed % 2], fewest=4)
        one, two = wires.rng.sample(sorted(wires.mate), 2)
        if kind == "short":
            wires.shorted = [(one, two)]
        else:
            wires.broken = {one}
        if kind == "far part":
            wires.links = [(("far", wires.mate[one]), ("far", wires.mate[two]))]
        result, _ = rung_out(wires)
        assert not [m for m in result.matches if m.sure and wires.mate.get(m.near) != m.far], seed


def test_an_end_that_is_not_there_cannot_be_named() -> None:
    bundle = Bundle(near=(NearEnd(name="T1"), NearEnd(name="T2")), far=(FarEnd(name="1"),))
    assert bundle.most_matches == 1
    assert Ringout(bundle).candidates() == {"T1": ("1",), "T2": ("1",)}
    with pytest.raises(BundleError, match=r"no end 'absent 1' in the far box\. Known: 1\.$"):
        bundle.index("far", "absent 1")


def test_a_box_without_ends_is_refused() -> None:
    with pytest.raises(BundleError, match=r"has 0 conductors in the far box"):
        Bundle(near=(NearEnd(name="T1"),), far=())
