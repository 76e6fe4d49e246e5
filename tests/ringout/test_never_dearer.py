# SPDX-License-Identifier: MIT
"""No plan takes longer than the cheapest method done by hand.

What methods by hand take is reckoned here, from nothing but what they do. Each has its own search
for contacts: all ends in one bunch, out of which one after the other is taken and touched four
times against the rest, or two by two where that is less.

A reference spares a walk, or it isn't used; the raceway is touched once to each group then, so that
a wire that touches it is found.
"""

from __future__ import annotations

import math
import random
from itertools import accumulate
from statistics import fmean
from typing import Any

import pytest

from tests.drawing import HOURS, full
from tests.ringout.bundles import arranged
from tests.ringout.simulation import Wires, ring_out, seconds
from wiretrack.ringout.screening import OPEN_TOUCHES

WALK, TWIST, TOUCH = 180, 12, 4  # seconds; common practice
KIT = tuple(float(value * 10**k) for k in (1, 2, 3) for value in (10, 15, 22, 33, 47, 68))
GEAR: dict[str, dict[str, Any]] = {
    "meter": {},
    "pairs": {"joins": "pairs"},
    "kit": {"resistors": KIT, "start": "far"},
    "helper": {"crew": 2},
    "diode": {"diode": True},
}


def sizes_of(count: int, colours: int) -> list[int]:
    """Return how many there are of each colour; 0 colours: all different, -1: two of each."""
    if colours == -1:
        return [2] * (count // 2) + [1] * (count % 2)
    colours = colours or count
    return [count // colours + (i < count % colours) for i in range(min(count, colours))]


def search_s(count: int, gear: str) -> float:
    """Return the least that searching so many ends for contacts takes by hand."""
    two_by_two = OPEN_TOUCHES * count * (count - 1) / 2 * TOUCH
    bunch = 2 * count * TWIST + OPEN_TOUCHES * count * TOUCH
    return two_by_two if gear == "pairs" else min(two_by_two, bunch)


def chained(sizes: list[int]) -> tuple[float, float, float]:
    """Return walks, twists and touches: pairs here, chained by one end each there, taken off here.

    Of so many ends left, the one that belongs to another is found after half as many touches.
    """
    pairs = [(size - 1) // 2 for size in sizes]
    touches = sum(
        (size - 2 * i) / 2 for size, n in zip(sizes, pairs, strict=True) for i in range(n)
    )
    return 2, 6 * sum(pairs) + 4 * sizes.count(2), 2 * touches + sizes.count(2)


def by_sizes(sizes: list[int]) -> tuple[float, float, float]:
    """Return the same for groups of sizes 1, 2, 3, ... here, and others across them there.

    Each end is touched against one after the other of the groups found until it reads closed.
    """
    twists = touches = 0.0
    for size in sizes:
        steps = list(accumulate(range(1, size + 1)))
        cut = [n + 1 for n in range(sum(one <= size for one in steps))]
        if cut:
            cut[-1] += size - sum(cut)
        twists += 3 * (size - cut.count(1) if size > 1 else 0)
        rng, tries = random.Random(size), 20
        for _ in range(tries):
            home = [group for group, n in enumerate(cut) for _ in range(n)]
            rng.shuffle(home)
            met: list[int] = []
            for group in home:
                touches += 2 / tries * (met.index(group) + 1 if group in met else len(met))
                met += [] if group in met else [group]
    return 2, twists, touches


def in_turn(sizes: list[int]) -> tuple[float, float, float]:
    """Return the same for a known conductor that is joined to one of each colour at a time."""
    touches = sum((k + 1) / 2 for size in sizes for k in range(2, size + 1))
    return max(sizes) - 1, 2 * sum(size - 1 for size in sizes), touches


def all_joined(sizes: list[int]) -> tuple[float, float, float]:
    """Return the same where colours tell all: twisted together here, found whole there."""
    return 1, sum(sizes), sum(sizes) - 1


def by_hand_s(sizes: list[int], gear: str, references: int) -> float:
    """Return the least that any of the methods takes by hand, with its search for contacts.

    With a reference, or a colour that only one conductor has, one goes in turn.
    """
    if max(sizes) == 1:
        ways = [all_joined(sizes)]
    else:
        ways = [chained(sizes), *([] if gear == "pairs" else [by_sizes(sizes)])]
        ways += [in_turn(sizes)] if references or 1 in sizes else []
    walk, search = 0 if gear == "helper" else WALK, search_s(sum(sizes) + references, gear)
    return min(a * walk + b * TWIST + c * TOUCH for a, b, c in ways) + search


def planned(sizes: list[int], gear: str, references: tuple[str, ...], runs: int) -> float:
    """Return how long the plan takes on the mean."""
    worn = [str(colour) for colour, size in enumerate(sizes) for _ in range(size)]
    taken = []
    for seed in range(runs):
        order = random.Random(seed).sample(range(len(worn)), len(worn))
        bundle, mate = arranged(worn, order, references=references, **GEAR[gear])
        result = ring_out(Wires(bundle, mate))
        assert {match.near: match.far for match in result.matches} == mate
        taken.append(seconds(result))
    return fmean(taken)


ALWAYS, BY_FULL, COLOURS = (3, 4, 5, 8), (14, 16), (1, 2, 3, -1, 0)
RUNS = 10 if HOURS else 3
COUNTS = [*ALWAYS, *(full(n) for n in (range(2, 61) if HOURS else BY_FULL) if n not in ALWAYS)]


@pytest.mark.parametrize("gear", GEAR)
@pytest.mark.parametrize("colours", COLOURS)
@pytest.mark.parametrize("count", COUNTS)
def test_no_plan_takes_longer_than_by_hand_nor_for_a_reference(
    count: int, colours: int, gear: str
) -> None:
    sizes, alone = sizes_of(count, colours), math.inf
    if sizes != [2]:  # that is told by a reference alone
        alone = planned(sizes, gear, (), RUNS)
        assert alone <= by_hand_s(sizes, gear, 0)
    assert planned(sizes, gear, ("R1",), RUNS) <= min(alone, by_hand_s(sizes, gear, 1))
    groups = count // 2 + 2  # at most: pairs, and what is left alone; each is touched once
    assert planned(sizes, gear, ("raceway",), RUNS) <= alone + groups * TOUCH
