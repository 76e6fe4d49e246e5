# SPDX-License-Identifier: MIT
"""Two joinings of look-alikes, and the theorem about them.

R. L. Graham, "On partitions of a finite set", Journal of Combinatorial Theory 1 (1966), 215-223
(cited from memory, original not seen): two partitions of n things, so that no two things are in
groups of the same sizes in both, exist for every n but 2, 5 and 9.
"""

from __future__ import annotations

import random
from collections import Counter

import pytest

from tests.drawing import full
from tests.ringout.bundles import arranged
from tests.ringout.optimum import Partition, integer_partitions, set_partitions
from tests.ringout.simulation import Wires
from wiretrack.encoding import document
from wiretrack.ringout.engine import Ringout
from wiretrack.ringout.results import Result
from wiretrack.ringout.steps import Join

IMPOSSIBLE = {2, 5, 9}
LARGEST = 16


def sizes_tell_apart(one: Partition, two: Partition) -> bool:
    """Return whether the sizes of its two groups are different for every thing."""
    first = {x: len(group) for group in one for x in group}
    second = {x: len(group) for group in two for x in group}
    return len({(first[x], second[x]) for x in first}) == len(first)


def by_trying_all(count: int) -> bool:
    """Return whether two such partitions exist, by trying every pair of partitions."""
    things = tuple(range(count))
    second: dict[
        tuple[int, ...], Partition
    ] = {}  # one of each row of sizes is enough: nothing else counts
    for partition in set_partitions(things):
        size = {x: len(group) for group in partition for x in group}
        second.setdefault(tuple(size[x] for x in things), partition)
    for sizes in integer_partitions(count):
        starts = [sum(sizes[:i]) for i in range(len(sizes))]
        first = tuple(tuple(range(a, a + n)) for a, n in zip(starts, sizes, strict=True))
        if any(sizes_tell_apart(first, two) for two in second.values()):
            return True
    return False


def by_building(count: int) -> tuple[Partition, Partition] | None:
    """Return two such partitions if the search finds some.

    A thing is a cell (own size in one, own size in the other). As many cells must share a row
    as its size divides, and so for columns; each row takes the columns that lack most.
    """
    for rows in integer_partitions(count):
        for columns in integer_partitions(count):
            cells = fill(Counter(rows), Counter(columns))
            if cells is not None:
                return grouped([a for a, _ in cells]), grouped([b for _, b in cells])
    return None


def fill(rows: Counter[int], columns: Counter[int]) -> list[tuple[int, int]] | None:
    """Return different cells with ``a * rows[a]`` in row a and ``b * columns[b]`` in column b."""
    lacking = {b: b * n for b, n in columns.items()}
    cells = []
    for a, n in sorted(rows.items(), key=lambda row: -row[0] * row[1]):
        chosen = sorted(lacking, key=lambda b: -lacking[b])[: a * n]
        if len(chosen) < a * n or not all(lacking[b] for b in chosen):
            return None
        for b in chosen:
            lacking[b] -= 1
            cells.append((a, b))
    return cells


def grouped(sizes: list[int]) -> Partition:
    """Return things in groups of the size that each asks for."""
    groups: list[tuple[int, ...]] = []
    for size in set(sizes):
        asking = [x for x, own in enumerate(sizes) if own == size]
        groups += [tuple(asking[i : i + size]) for i in range(0, len(asking), size)]
    return tuple(groups)


@pytest.mark.parametrize("count", range(1, 10))
def test_every_pair_of_partitions_tried_bears_the_theorem_out(count: int) -> None:
    assert by_trying_all(count) == (count not in IMPOSSIBLE)


@pytest.mark.parametrize("count", range(1, LARGEST + 1))
def test_partitions_told_apart_by_sizes_are_found_for_all_but_2_5_and_9(count: int) -> None:
    found = by_building(count)
    assert (found is None) == (count in IMPOSSIBLE)
    if found:
        one, two = found
        assert sorted(x for group in one for x in group) == list(range(count))
        assert sorted(x for group in two for x in group) == list(range(count))
        assert sizes_tell_apart(one, two)


def joined_by_the_plan(count: int, seed: int) -> tuple[list[list[str]], list[list[str]], Result]:
    """Ring out look-alikes; return the first and second joins by near tags, and the result."""
    order = random.Random(seed).sample(range(count), count)
    bundle, mate = arranged(["BK"] * count, order, screen="none")
    wires, ringing = Wires(bundle, mate), Ringout(bundle)
    joins: list[list[list[str]]] = []
    tag = {far: near for near, far in mate.items()}
    while not isinstance(step := ringing.next_step(), Result):
        if isinstance(step, Join):
            joins.append([[tag.get(name, name) for name in group] for group in step.groups])
        ringing.apply(step, wires.answer(document(step)))
    first, second = joins
    assert {match.near: match.far for match in step.matches} == mate
    return first, second, step


@pytest.mark.parametrize("seed", [0, full(1)])
def test_two_walks_identify_every_number_of_look_alikes_from_3(seed: int) -> None:
    """The joins alone must tell all apart: no two conductors are joined to the same likes."""
    for count in range(3, 61):
        first, second, result = joined_by_the_plan(count, seed)
        assert result.walks == 2
        kind = dict.fromkeys((f"T{i + 1}" for i in range(count)), 0)
        for _ in range(count):
            kind = refined(refined(kind, first), second)
        assert len(set(kind.values())) == count


def refined(kind: dict[str, int], joins: list[list[str]]) -> dict[str, int]:
    """Return kinds that tell apart as well who is joined to which kinds."""
    mates = {name: tuple(sorted(kind[one] for one in group)) for group in joins for name in group}
    seen = {name: (own, mates.get(name, (own,))) for name, own in kind.items()}
    number = {one: i for i, one in enumerate(sorted(set(seen.values())))}
    return {name: number[one] for name, one in seen.items()}
