# SPDX-License-Identifier: MIT
"""Different sets of classes in which every class occurs a given number of times.

The heart of "one walk suffices": look-alikes of one class go into different groups, and no two
groups look alike. A search over how each class splits the groups that still look alike.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

_NODES = 4000  # sets of groups looked into, in one search for a number of groups
MOST_WORK = 60_000  # ways to share a class among groups, in all searches for choice sets
LAST_WORK = 400_000  # as many in a search for any sets at all

Cell = tuple[int, int]  # the classes that its groups hold so far, as bits; how many groups


@dataclass
class _Search:
    degrees: tuple[int, ...]
    max_size: int
    forbidden: frozenset[int]
    work: list[int]
    nodes: int = _NODES
    dead: set[tuple[int, tuple[tuple[int, int], ...]]] = field(default_factory=set)

    def run(self, depth: int, cells: tuple[Cell, ...]) -> tuple[int, ...] | None:
        """Split `cells` by the classes from `depth` on; return the final sets."""
        if depth == len(self.degrees):
            return tuple(held for held, _ in cells)
        key = (depth, tuple(sorted((n, held.bit_count()) for held, n in cells)))
        if self._tired or (not self.forbidden and key in self.dead):
            return None
        self.nodes -= 1
        for split in self._splits(cells, 0, self.degrees[depth], depth):
            if self._possible(split, depth + 1):
                found = self.run(depth + 1, split)
                if found is not None:
                    return found
            if self._tired:
                return None
        if not self._tired:
            self.dead.add(key)
        return None

    @property
    def _tired(self) -> bool:
        return self.nodes <= 0 or self.work[0] <= 0

    def _splits(
        self, cells: tuple[Cell, ...], start: int, wanted: int, depth: int
    ) -> Iterator[tuple[Cell, ...]]:
        """Yield the ways to put a class into `wanted` groups of ``cells[start:]``."""
        room = [n if held.bit_count() < self.max_size else 0 for held, n in cells]
        for counts in _shares(cells, room, start, wanted, None, self.work):
            split: list[Cell] = []
            for (held, n), count in zip(cells, counts, strict=True):
                if count:
                    split.append((held | 1 << depth, count))
                if n - count:
                    split.append((held, n - count))
            yield tuple(sorted(split, key=lambda cell: (-cell[1], cell[0])))

    def _possible(self, cells: tuple[Cell, ...], depth: int) -> bool:
        """Return whether the classes left can still tell all groups of `cells` apart."""
        left = len(self.degrees) - depth
        total = sum(self.degrees[depth:])
        least = most = 0
        for held, n in cells:
            empty = held == 0
            if n > (1 << left) - empty or (left == 0 and held in self.forbidden):
                return False
            low = _fewest_ones(n + empty, left)
            least += low
            most += n * left - _fewest_ones(n, left)
        return least <= total <= most


def _shares(
    cells: Sequence[Cell],
    room: Sequence[int],
    at: int,
    wanted: int,
    previous: int | None,
    work: list[int],
) -> Iterator[tuple[int, ...]]:
    """Yield how many groups of each cell take the class; the most even split comes first.

    `work` is what may still be looked into, as its only item; nothing more comes once it is spent.
    """
    work[0] -= 1
    if work[0] <= 0:
        return
    if at == len(cells):
        if wanted == 0:
            yield ()
        return
    rest = sum(room[at + 1 :])
    low, high = max(0, wanted - rest), min(room[at], wanted)
    held, n = cells[at]
    alike = at > 0 and cells[at - 1][1] == n == 1 and cells[at - 1][0] != 0 and held != 0
    if alike and previous is not None and room[at] == room[at - 1]:
        high = min(high, previous)
    share = wanted * n / max(1, n + sum(m for _, m in cells[at + 1 :]))
    for count in sorted(range(low, high + 1), key=lambda t: (abs(t - share), -t)):
        for others in _shares(cells, room, at + 1, wanted - count, count, work):
            yield (count, *others)


def _fewest_ones(count: int, width: int) -> int:
    """Return the fewest ones in `count` different words of `width` bits."""
    ones, weight, words = 0, 0, 1
    while count > 0 and weight <= width:
        used = min(count, words)
        ones += used * weight
        count -= used
        words = words * (width - weight) // (weight + 1)
        weight += 1
    return ones


def distinct_sets(
    degrees: Sequence[int],
    *,
    max_size: int | None = None,
    forbidden: frozenset[int] = frozenset(),
    work: list[int] | None = None,
) -> tuple[tuple[int, ...], ...] | None:
    """Return different non-empty sets of classes, class ``i`` being in ``degrees[i]`` of them.

    Parameters
    ----------
    degrees : sequence of int
        How often each class must occur; above 0.
    max_size : int or None
        The most classes in one set; `None` for any number.
    forbidden : frozenset of int
        Sets that must not be used, as bits over the classes.
    work : list of int or None
        What all searches that share this list may look into, as its only item; each takes from it.

    Returns
    -------
    tuple of tuple of int, or None
        The sets with the fewest of size one; `None` if there are none, or if none was found
        within a fixed effort, which is never used up by fewer than 13 conductors.
    """
    order = sorted(range(len(degrees)), key=lambda i: (-degrees[i], i))
    ranked = tuple(degrees[i] for i in order)
    rank_of = {index: rank for rank, index in enumerate(order)}
    barred = frozenset(sum(1 << rank_of[i] for i in _bits(word)) for word in forbidden)
    best: tuple[int, ...] | None = None
    work = [LAST_WORK] if work is None else work
    for count in range(max(ranked), sum(ranked) + 1):
        search = _Search(ranked, max_size or len(ranked), barred, work)
        found = search.run(0, ((0, count),)) if _fits(ranked, count) else None
        if found is not None and (best is None or _singles(found) < _singles(best)):
            best = found
        if best is not None and (_singles(best) == 0 or count > max(ranked) + 2):
            break
    if best is None:
        return None
    sets = [tuple(sorted(order[rank] for rank in _bits(word))) for word in best]
    return tuple(sorted(sets, key=lambda one: (-len(one), one)))


def _fits(degrees: Sequence[int], count: int) -> bool:
    width = len(degrees)
    total = sum(degrees)
    if count > (1 << width) - 1:
        return False
    most = count * width - _fewest_ones(count, width)
    return _fewest_ones(count + 1, width) <= total <= most


def _singles(words: Sequence[int]) -> int:
    return sum(word.bit_count() == 1 for word in words)


def _bits(word: int) -> Iterator[int]:
    while word:
        low = word & -word
        yield low.bit_length() - 1
        word ^= low
