# SPDX-License-Identifier: MIT
"""The plan's number of walks against an exhaustive search written apart from it.

The search knows no rule for when a walk suffices. It tries every way to join the ends at the
first place, and looks for two different sets of conductors that would give the same readings at
the other place: a renumbering of the conductors that maps every join onto a join, and that no
colour rules out.
"""

from __future__ import annotations

import random
from collections import Counter
from itertools import combinations
from typing import TYPE_CHECKING, Any

import pytest

from tests.drawing import HOURS, full, parts
from tests.ringout.optimum import integer_partitions
from tests.ringout.simulation import Wires, ring_out, wrong_matches
from wiretrack.ringout.bundle import Bundle, FarEnd, NearEnd

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

LARGEST = 6
# Trying all for seven and eight takes minutes.
LARGER = [full(7), *([full(8)] if HOURS else [])]
COLOURS = "ABCDEFGH"
REFERENCES = ("raceway", "R1")
Group = tuple[str, ...]  # the colours in one join; "?" is unknown, "1" and "2" are references
Family = tuple[Group, ...]


def colourings(count: int) -> list[str]:
    """Return every multiset of colours, up to their names; "?" is an unknown colour."""
    return [
        "".join(colour * n for colour, n in zip(COLOURS, parts, strict=False)) + "?" * unknown
        for unknown in range(count + 1)
        for parts in integer_partitions(count - unknown)
    ]


def may_be(one: str, two: str) -> bool:
    """Return whether ends of these colours can belong to one conductor."""
    return one == two or ("?" in (one, two) and not {one, two} & {"1", "2"})


def families(
    left: Group, allowed: Callable[[Family], bool], chosen: Family = ()
) -> Iterator[Family]:
    """Yield every way to put the ends into groups, none of which `allowed` refuses midway."""
    if not left:
        yield chosen
        return
    first, rest = left[0], left[1:]
    for size in range(len(rest), -1, -1):
        for others in sorted(set(combinations(rest, size))):
            group = (first, *others)
            more = (*chosen, group)
            if (not chosen or group[0] != chosen[-1][0] or group >= chosen[-1]) and allowed(more):
                still = tuple((Counter(rest) - Counter(others)).elements())
                yield from families(still, allowed, more)


def ambiguous(groups: Family) -> bool:
    """Return whether another renumbering than none leaves all readings as they are."""
    ends = [(g, colour) for g, group in enumerate(groups) for colour in group]
    shared = [
        [
            [x for x, (_, far) in enumerate(ends) if may_be(one, far) and may_be(two, far)]
            for _, two in ends
        ]
        for _, one in ends
    ]

    def extend(move: list[int], home: dict[int, int]) -> bool:
        i = len(move)
        if i == len(ends):
            return move != list(range(i)) and can_be_dealt(
                [shared[i][j] for i, j in enumerate(move)]
            )
        group = ends[i][0]
        for j, (target, _) in enumerate(ends):
            new = group not in home and target not in home.values()
            same_size = len(groups[target]) == len(groups[group])
            fits = same_size and (new or home.get(group) == target)
            if j not in move and fits and shared[i][j]:
                if extend([*move, j], {**home, group: target}):
                    return True
        return False

    return extend([], {})


def can_be_dealt(choices: list[list[int]]) -> bool:
    """Return whether each can have one of its choices, and no two of them the same."""
    taken: dict[int, int] = {}

    def place(i: int, seen: set[int]) -> bool:
        for x in choices[i]:
            if x not in seen:
                seen.add(x)
                if x not in taken or place(taken[x], seen):
                    taken[x] = i
                    return True
        return False

    return all(place(i, set()) for i in range(len(choices)))


def fewest_walks(colouring: str, references: int, width: int | None = None) -> int | None:
    """Return 1 if some joins leave nothing ambiguous, else 2; `None` if no number of walks does."""
    ends = tuple(colouring) + ("1", "2")[:references]

    def allowed(groups: Family) -> bool:
        return (width is None or len(groups[-1]) <= width) and not ambiguous(groups)

    if any(True for _ in families(ends, allowed)):
        return 1
    # Two conductors: joined or not, all readings at either place stay as they are when both are
    # exchanged, however often one walks.
    return None if len(ends) == 2 else 2


def wires_of(colouring: str, references: int, rng: random.Random, **options: Any) -> Wires:
    """Return a bundle in an arrangement that its colours, unknown ones included, allow."""
    size = len(colouring)
    order = rng.sample(range(size), size)
    while not all(may_be(colouring[i], colouring[order[i]]) for i in range(size)):
        i, j = rng.sample(range(size), 2)
        order[i], order[j] = order[j], order[i]
    colour = [None if one == "?" else one for one in colouring]
    near = tuple(NearEnd(name=f"T{i}", colour=colour[i]) for i in range(size))
    far = tuple(FarEnd(name=str(x), colour=colour[x]) for x in range(size))
    bundle = Bundle(near=near, far=far, references=REFERENCES[:references], **options)
    return Wires(bundle, {f"T{i}": str(order[i]) for i in range(size)})


def check_plan(colouring: str, references: int) -> None:
    """Compare the most walks over a few arrangements with the fewest that suffice."""
    fewest = fewest_walks(colouring, references)
    taken = set()
    for seed in range(3):
        wires = wires_of(colouring, references, random.Random(seed), screen="none")
        result = ring_out(wires)
        assert bool(result.unresolved) == (fewest is None), colouring
        assert fewest is None or {m.near: m.far for m in result.matches} == wires.mate, colouring
        taken.add(result.walks)
    if "?" in colouring:  # in a lucky arrangement fewer walks than for the worst one can do
        assert max(taken) <= (fewest or 0), (colouring, taken)
    else:
        assert max(taken) == (fewest or 0), (colouring, taken)


@pytest.mark.parametrize("references", [0, 1, 2])
@pytest.mark.parametrize("count", [*range(2, LARGEST + 1), *LARGER])
def test_the_plan_takes_the_fewest_walks_for_every_colouring(count: int, references: int) -> None:
    for colouring in colourings(count):
        if "?" not in colouring or set(colouring) == {"?"}:
            check_plan(colouring, references)


@pytest.mark.parametrize("references", [0, 1, 2])
@pytest.mark.parametrize("count", [*range(3, LARGEST + 1), *LARGER])
def test_the_plan_takes_no_more_walks_than_needed_where_some_colours_are_unknown(
    count: int, references: int
) -> None:
    for colouring in colourings(count):
        if "?" in colouring and set(colouring) != {"?"}:
            check_plan(colouring, references)


@pytest.mark.parametrize("references", [0, 1, 2])
@pytest.mark.parametrize("count", [*range(2, LARGEST + 1), *LARGER])
@pytest.mark.parametrize("seeds", parts(1, 3, 2), ids=str)
def test_unknown_colours_never_lead_to_a_wrong_match(
    count: int, references: int, seeds: range
) -> None:
    for colouring in colourings(count):
        for seed in seeds:
            wires = wires_of(colouring, references, random.Random(seed))
            assert not wrong_matches(wires, ring_out(wires)), colouring


def by_the_rule(counts: tuple[int, ...], largest: int) -> bool:
    """Return whether different sets of colours exist that hold colour ``i`` ``counts[i]`` times.

    Tries every set of colours, in or out, one after the other.
    """
    if not any(counts):
        return True
    if largest == 0:
        return False
    taken = tuple(n - (largest >> i & 1) for i, n in enumerate(counts))
    return (min(taken) >= 0 and by_the_rule(taken, largest - 1)) or by_the_rule(counts, largest - 1)


@pytest.mark.parametrize("count", [*range(3, LARGEST + 1), *LARGER])
def test_one_walk_suffices_exactly_when_different_groups_hold_no_colour_twice(count: int) -> None:
    for counts in integer_partitions(count):
        colouring = "".join(colour * n for colour, n in zip(COLOURS, counts, strict=False))
        rule = by_the_rule(counts, (1 << len(counts)) - 1)
        assert rule == (fewest_walks(colouring, 0) == 1), colouring
