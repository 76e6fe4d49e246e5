# SPDX-License-Identifier: MIT
"""Bayes' rule by enumeration: how likely each match is by all that was read, reckoned apart.

Every arrangement of 2 to 4 conductors and every fault is a world. A world's answers come from
`simulation.py`, which connects nodes and knows no plan: it has the likelihood 0 where a reading
closed that couldn't, 1/50 for each contact that was bad, 49/50 for each that was good. Sound
bundles are nine in ten, and the faults share what is left alike.
"""

from __future__ import annotations

import random
from dataclasses import replace
from itertools import combinations, permutations
from typing import TYPE_CHECKING, Any

import pytest

from tests.drawing import HOURS, full
from tests.ringout.bundles import arranged
from tests.ringout.hard import HardWires, rung_out
from wiretrack.encoding import document
from wiretrack.manual import topics
from wiretrack.ringout.certainty import ASSUMPTIONS

if TYPE_CHECKING:
    from collections.abc import Iterator

    from wiretrack.ringout.bundle import Bundle
    from wiretrack.ringout.engine import Ringout

BAD = 0.02
SOUND = 0.9
RARE = 1e-4  # a sure match is wrong in fewer bundles than this
GEAR: dict[str, dict[str, Any]] = {
    "joins": {},
    "raceway": {"references": ("raceway",)},
    "pairs": {"joins": "pairs"},
    "helper": {"crew": 2},
    "diode": {"diode": True},
    "resistors": {"references": ("raceway",), "resistors": (100.0, 470.0, 2200.0)},
}
Fault = tuple[str, ...]


def faults(size: int, *, earth: bool) -> Iterator[Fault]:
    """Yield each single fault: what is broken, what touches what, and where."""
    tags = [f"T{i + 1}" for i in range(size)]
    yield from (("open", one) for one in tags)
    yield from (("short", *pair) for pair in combinations(tags, 2))
    yield from (("earthed", one) for one in tags if earth)
    for place in ("near", "far"):
        yield from ((f"{place} part", *pair) for pair in permutations(tags, 2))


def world(bundle: Bundle, mate: dict[str, str], fault: Fault | None) -> HardWires:
    """Return the bundle so arranged, with that fault."""
    wires = HardWires(bundle, mate, rng=random.Random(0))
    kind, *tags = fault or ("none",)
    if kind in ("short", "earthed"):
        wires.shorted = [(tags[0], tags[1] if kind == "short" else "raceway")]
    elif kind != "none":
        wires.broken = {tags[0]}
        if kind != "open":
            place = kind.partition(" ")[0]
            ends = [tag if place == "near" else mate[tag] for tag in tags]
            wires.links = [((place, ends[0]), (place, ends[1]))]
    return wires


def likelihood(wires: HardWires, ringing: Ringout) -> float:
    """Return how likely all answers were, were the bundle so."""
    chance = 1.0
    for step, answer in ringing.log:
        would, said = wires.answer(document(step)), document(answer)
        if step.is_touch and would["ohms"] != "OL":
            chance *= BAD if said == {"ohms": "OL"} else 1 - BAD if said == would else 0.0
        elif step.is_touch and said != would:
            return 0.0
    return chance


def chances(ringing: Ringout, *, contacts: bool = True) -> dict[tuple[str, str], float]:
    """Return how likely each near end belongs to each far end; nothing if it can't all be.

    Without `contacts`, only worlds count in which no two conductors touch each other.
    """
    bundle, size = ringing.bundle, ringing.bundle.size
    kinds: list[Fault | None] = [None, *faults(size, earth="raceway" in bundle.references)]
    kinds = [kind for kind in kinds if contacts or kind is None or kind[0] == "open"]
    found: dict[tuple[str, str], float] = {}
    for order in permutations([end.name for end in bundle.far]):
        mate = dict(zip([end.name for end in bundle.near], order, strict=True))
        for fault in kinds:
            prior = SOUND if fault is None else (1 - SOUND) / (len(kinds) - 1)
            share = prior * likelihood(world(bundle, mate, fault), ringing)
            for pair in mate.items():
                found[pair] = found.get(pair, 0.0) + share
    whole = sum(found.values()) / size
    return {pair: share / whole for pair, share in found.items()} if whole else {}


def drawn(gear: str, size: int, seed: int) -> HardWires:
    """Return look-alikes in a random arrangement with a random fault, or none, and bad contacts."""
    rng = random.Random(f"{gear} {size} {seed}")
    bundle, mate = arranged(["BK"] * size, rng.sample(range(size), size), **GEAR[gear])
    kinds = [None, *faults(size, earth="raceway" in bundle.references)]
    wires = world(bundle, mate, rng.choice(kinds))
    return replace(wires, bad_contact=BAD, rng=rng)


@pytest.mark.parametrize("gear", GEAR)
@pytest.mark.parametrize(
    ("size", "seeds"),
    [
        *((2, range(8)), (3, range(6)), full(3, range(6, 40 if HOURS else 20))),
        *((4, range(1)), full(4, range(1, 8 if HOURS else 4))),
    ],
    ids=str,
)
def test_a_sure_match_is_as_likely_as_it_is_said_to_be(gear: str, size: int, seeds: range) -> None:
    for seed in seeds:
        wires = drawn(gear, size, seed)
        result, ringing = rung_out(wires)
        likely = chances(ringing)
        for match in result.matches:
            if match.sure:
                assert likely[match.near, match.far] > 1 - RARE, (seed, match)


@pytest.mark.parametrize("gear", GEAR)
@pytest.mark.parametrize("size", [2, 3, full(4)])
def test_what_is_likely_stays_possible_at_every_step(gear: str, size: int) -> None:
    """At whatever step one stops, no candidate is struck out that one bundle in ten has.

    Candidates are told as if nothing touched that isn't known to; sure matches are not.
    """
    seen = 0
    for seed in (0, 1, 4):  # with each gear, what some of them read fits one where nothing touches
        wires = drawn(gear, size, seed)
        whole = rung_out(wires)[1]
        rng = random.Random(seed)
        for stop in rng.sample(range(len(whole.log) + 1), min(4, len(whole.log) + 1)):
            ringing = type(whole).replayed(whole.bundle, whole.log[:stop])
            matched = {match.near: (match.far,) for match in ringing.result().matches}
            possible = {**ringing.candidates(), **matched}
            for (near, far), chance in chances(ringing, contacts=False).items():
                seen += 1
                assert chance < 0.1 or far in possible[near], (seed, stop, near, far, chance)
    assert seen


def test_the_worlds_of_two_are_counted_by_hand() -> None:
    """Two arrangements; 2 open, 1 short, 2 near parts, 2 far parts; earth adds 2."""
    assert len(list(faults(2, earth=False))) == 7
    assert len(list(faults(2, earth=True))) == 9
    bundle, mate = arranged(["BK", "BK"], (0, 1))
    ringing = rung_out(HardWires(bundle, mate, rng=random.Random(1)))[1]
    assert list(chances(ringing).values()) == pytest.approx([0.5] * 4)


def test_the_manual_tells_what_is_taken_for_granted() -> None:
    told = " ".join(topics()["ringout"].text.split())
    for one in ASSUMPTIONS:
        assert f"- {one}" in told
    assert f"one touch in {1 / BAD:.0f}".replace("50", "fifty") in " ".join(ASSUMPTIONS)
