# SPDX-License-Identifier: MIT
"""No plan takes longer than the cheapest method done by hand.

What methods by hand take is reckoned here, from nothing but what they do. Each has its own search
for contacts: all ends in one bunch, out of which one after the other is taken and touched four
times against the rest, or two by two where that is less.

A reference is searched as any end by hand. A plan that has no use for it touches it once to each
group, so that a wire that touches it is found: that is all that it may cost, but where it makes
sure what isn't without it (4, 6, 8, 15 or 19 look-alikes), or reads an end closed that nothing else
does (one of two or three colours; one of an even number of look-alikes in pairs).
"""

from __future__ import annotations

import random
from itertools import accumulate
from statistics import fmean
from typing import TYPE_CHECKING, Any

import pytest

from tests.drawing import HOURS, full
from tests.ringout.bundles import arranged
from tests.ringout.simulation import Wires, ring_out, seconds
from wiretrack.ringout.screening import OPEN_TOUCHES

if TYPE_CHECKING:
    from collections.abc import Iterator

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


ALWAYS, COLOURS = (3, 4, 5, 8), (1, 2, 3, -1, 0)
REFERENCES: tuple[tuple[str, ...], ...] = ((), ("raceway",), ("R1",))
MORE_S = {"sure": 60, "closed": 32, "each group": 56}  # a touch 4 s, groups 14 at most
NOT_SURE = (4, 6, 8, 15, 19)
CELLS = [
    (count, colours, gear)
    for count in range(2, 61)
    for colours in COLOURS
    for gear in GEAR
    if gear != "pairs" or count <= 16
]
random.Random(60).shuffle(CELLS)
PART = len(CELLS) // 30
PARTS = [CELLS[at : at + PART] for at in range(0, len(CELLS), PART)]


def most_more_s(sizes: list[int]) -> int:
    """Return the most that a reference may cost where it saves nothing. [s]"""
    if len(sizes) == 1 and sizes[0] in NOT_SURE:
        return MORE_S["sure"]
    return MORE_S["closed" if len(sizes) in (2, 3) and sum(sizes) < 5 else "each group"]


def told_dearer(count: int, colours: int, gear: str, runs: int) -> Iterator[str]:
    """Yield each plan of a cell that takes longer than by hand, or by more than that without."""
    sizes = sizes_of(count, colours)
    plain = 0.0
    for references in REFERENCES:
        if not references and sizes == [2]:  # that is told by a reference alone
            continue
        taken = planned(sizes, gear, references, runs)
        plain = plain or taken
        by_hand = by_hand_s(sizes, gear, len(references))
        told = f"{count} of {colours} colours, {gear}, {references}: {taken:.0f} s"
        if taken > by_hand:
            yield f"{told}, by hand {by_hand:.0f} s"
        closes = gear == "pairs" and len(sizes) == 1 and count % 2 == 0
        if sizes != [2] and not closes and taken > plain + most_more_s(sizes):
            yield f"{told}, without {plain:.0f} s"


@pytest.mark.parametrize("gear", GEAR)
@pytest.mark.parametrize("colours", COLOURS)
@pytest.mark.parametrize("count", ALWAYS)
def test_no_plan_takes_longer_than_by_hand(count: int, colours: int, gear: str) -> None:
    assert not list(told_dearer(count, colours, gear, 10 if HOURS else 3))


@pytest.mark.parametrize(
    "cells",
    [PARTS[0], *map(full, PARTS[1 : None if HOURS else 4])],
    ids=lambda cells: str(cells[0]),
)
def test_no_plan_of_up_to_sixty_takes_longer_than_by_hand(
    cells: list[tuple[int, int, str]],
) -> None:
    """One part of 31 always, four under `full`, and with `HOURS` all, in some five minutes.

    A part has one arrangement of each bundle, of few wires three.
    """
    assert not [told for cell in cells for told in told_dearer(*cell, 3 if cell[0] < 12 else 1)]
