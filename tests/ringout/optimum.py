# SPDX-License-Identifier: MIT
"""The fewest touches, on average, that can identify look-alikes: an exhaustive search.

Written apart from the planner; it knows arrangements, joins and readings and nothing else. The
rule: one person, two walks, good contacts; some near ends are joined, far ends are touched one
pair at a time, far ends are joined, near ends are touched; nothing is joined where a touch is
made. The ring-out is over when the closed readings alone, together with the joins, leave one
arrangement. Open readings choose the next touch but prove nothing, since one can be a bad
contact.

Run as ``python -m tests.ringout.optimum 5`` to print the optimum and the first joins it takes.
"""

from __future__ import annotations

import sys
from functools import cache
from itertools import combinations, permutations
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

Partition = tuple[tuple[int, ...], ...]
Pair = tuple[int, int]
Graph = frozenset[Pair]
State = tuple[int, int]  # arrangements that fit all readings; that fit the closed ones
Touches = tuple[int, ...]  # for each pair of ends, the arrangements in which it reads closed
NEVER = float("inf")


def set_partitions(items: tuple[int, ...]) -> Iterator[Partition]:
    """Yield every way to put the items into groups."""
    if not items:
        yield ()
        return
    for others in set_partitions(items[1:]):
        yield ((items[0],), *others)
        for index, group in enumerate(others):
            yield (*others[:index], (items[0], *group), *others[index + 1 :])


def integer_partitions(total: int, largest: int | None = None) -> Iterator[tuple[int, ...]]:
    """Yield every way to write a number as a sum, largest summand first."""
    if total == 0:
        yield ()
    for first in range(min(total, largest or total), 0, -1):
        for rest in integer_partitions(total - first, first):
            yield (first, *rest)


class Search:
    """The search for one number of look-alikes and one choice of first joins."""

    def __init__(self, sizes: tuple[int, ...]) -> None:
        self.ends = tuple(range(sum(sizes)))
        self.pairs = tuple(combinations(self.ends, 2))
        self.arrangements = list(permutations(self.ends))  # near end i is far end arrangement[i]
        self.whole = (1 << len(self.arrangements)) - 1
        group = [index for index, size in enumerate(sizes) for _ in range(size)]
        self.far_touches = tuple(
            self._mask(group[a.index(x)] == group[a.index(y)] for a in self.arrangements)
            for x, y in self.pairs
        )
        together = {
            (i, j, x, y): self._mask({a[i], a[j]} == {x, y} for a in self.arrangements)
            for i, j in self.pairs
            for x, y in self.pairs
        }
        self.second_joins = [
            tuple(
                sum(together[i, j, x, y] for one in joined for x, y in combinations(one, 2))
                for i, j in self.pairs
            )
            for joined in set_partitions(self.ends)
        ]
        self.by_readings: dict[tuple[int, int], float] = {}

    def _mask(self, closed: Iterable[bool]) -> int:
        return sum(1 << k for k, one in enumerate(closed) if one)

    def mean(self) -> float:
        """Return the mean number of touches under the best strategy."""
        apart: Graph = frozenset()
        return self._far((self.whole, self.whole), apart, apart)

    def _far(self, state: State, closed: Graph, opened: Graph) -> float:
        """Return the mean number of touches from here on, at the far place."""
        key = least_renumbering(closed, opened, len(self.ends))
        if key not in self.by_readings:
            best = NEVER
            for pair, touch in zip(self.pairs, self.far_touches, strict=True):
                yes, no = split(state, touch)
                if yes[0] and yes != state:
                    value = self._far(yes, *settle(closed | {pair}, opened)) * yes[0].bit_count()
                    if no[0]:
                        more = settle(closed, opened | {pair})
                        value += self._far(no, *more) * no[0].bit_count()
                    best = min(best, 1 + value / state[0].bit_count())
            for touches in self.second_joins:
                if decides(state, touches):
                    best = min(best, Near(touches).mean(state))
            self.by_readings[key] = best
        return self.by_readings[key]


class Near:
    """The search after the second walk, for one choice of second joins."""

    def __init__(self, touches: Touches) -> None:
        self.touches = touches
        self.known: dict[State, float] = {}

    def mean(self, state: State) -> float:
        """Return the mean number of touches from here on."""
        if state[1].bit_count() == 1:
            return 0.0
        if state in self.known:
            return self.known[state]
        best = NEVER
        for touch in self.touches:
            yes, no = split(state, touch)
            if not yes[0] or yes == state:
                continue
            total = state[0].bit_count()
            value = total + self.mean(yes) * yes[0].bit_count()
            if value < best * total and no[0]:
                value += self.mean(no) * no[0].bit_count()
            best = min(best, value / total)
        self.known[state] = best
        return best


def split(state: State, touch: int) -> tuple[State, State]:
    """Return the states after a closed and after an open reading."""
    fitting, proven = state
    return (fitting & touch, proven & touch), (fitting & ~touch, proven)


def decides(state: State, touches: Touches) -> bool:
    """Return whether all closed readings there are would always leave one arrangement."""
    left = state[0]
    while left:
        one = left & -left
        alike, proven = left, state[1]
        for touch in touches:
            closed = bool(touch & one)
            alike &= touch if closed else ~touch
            proven &= touch if closed else proven
        if proven.bit_count() != 1:
            return False
        left &= ~alike
    return True


def settle(closed: frozenset[Pair], opened: frozenset[Pair]) -> tuple[Graph, Graph]:
    """Return all pairs known to be closed, and all known to be open, by what was read."""
    home: dict[int, set[int]] = {}
    for one, two in closed:
        united = home.get(one, {one}) | home.get(two, {two})
        home.update(dict.fromkeys(united, united))
    together = {pair for group in home.values() for pair in combinations(sorted(group), 2)}
    apart = {
        (min(x, y), max(x, y))
        for one, two in opened
        for x in home.get(one, {one})
        for y in home.get(two, {two})
    }
    return frozenset(together), frozenset(apart)


@cache
def renumberings(count: int) -> list[dict[Pair, int]]:
    """Return, for every way to renumber the ends, the bit that each pair becomes."""
    bit = {pair: 1 << k for k, pair in enumerate(combinations(range(count), 2))}
    return [
        {(i, j): bit[min(move[i], move[j]), max(move[i], move[j])] for i, j in bit}
        for move in permutations(range(count))
    ]


@cache
def least_renumbering(closed: Graph, opened: Graph, count: int) -> tuple[int, int]:
    """Return the readings as they are least when the far ends, all alike, are renumbered."""
    return min(
        (sum(bit[pair] for pair in closed), sum(bit[pair] for pair in opened))
        for bit in renumberings(count)
    )


def optimum(count: int, without: tuple[tuple[int, ...], ...] = ()) -> tuple[float, tuple[int, ...]]:
    """Return the least mean number of touches for `count` look-alikes, and the first joins.

    First joins of the sizes in `without` aren't searched.
    """
    searched = [sizes for sizes in integer_partitions(count) if sizes not in without]
    return min((Search(sizes).mean(), sizes) for sizes in searched)


if __name__ == "__main__":
    for number in map(int, sys.argv[1:]):
        for sizes in integer_partitions(number):
            print(number, sizes, Search(sizes).mean(), flush=True)
