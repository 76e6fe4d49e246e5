# SPDX-License-Identifier: MIT
"""Different sets of classes in which every class occurs a given number of times.

A search over how each class splits the sets that still look alike finds them, or that there are
none. Where its work is spent, classes are dealt out evenly and exchanged until the sets differ.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import field
from functools import lru_cache
from itertools import product
from typing import TYPE_CHECKING

from wiretrack.late import dataclass
from wiretrack.ringout.masks import bits, mask_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

_NODES = 4000  # sets of groups looked into, in one search for a number of groups
MOST_WORK = 4_000  # ways to share a class among groups, in all searches for choice sets
MENDING_WORK = 2_000  # exchanges tried to make sets different, where no search found any

Cell = tuple[int, int]  # the classes that its groups hold so far, as bits; how many groups


@dataclass
class _SetSearch:
    degrees: tuple[int, ...]
    max_size: int
    forbidden: frozenset[int]
    apart: tuple[int, ...]  # per class, those that are in no set with it
    work: list[int]
    nodes: int = _NODES
    dead: set[tuple[int, tuple[Cell, ...]]] = field(default_factory=set)

    def __post_init__(self) -> None:
        """See whether just how many classes a set holds counts, and not which."""
        self.is_free = not self.forbidden and not any(self.apart)

    def run(self, depth: int, cells: tuple[Cell, ...]) -> tuple[int, ...] | None:
        """Split `cells` by the classes from `depth` on; return the final sets."""
        if depth == len(self.degrees):
            return tuple(held for held, _ in cells)
        looks = [(held.bit_count() if self.is_free else held, n) for held, n in cells]
        key = (depth, tuple(sorted(looks)))
        if self._tired or key in self.dead:
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
        rooms, after, groups = list[tuple[int, int, int]](), 0, 0
        for held, n in reversed(cells):
            is_full = held.bit_count() >= self.max_size or held & self.apart[depth]
            room, groups = 0 if is_full else n, groups + n
            rooms.append((room, after, groups))
            after += room
        rooms.reverse()
        for counts in _shares(cells, rooms, start, wanted, None, self.work):
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
    rooms: Sequence[tuple[int, int, int]],
    at: int,
    wanted: int,
    previous: int | None,
    work: list[int],
) -> Iterator[tuple[int, ...]]:
    """Yield how many groups of each cell take the class; the most even split comes first.

    `rooms` are, per cell, how many of its groups can take it, how many of those after it can, and
    how many groups there are from it on.
    `work` is what may still be looked into, as its only item; nothing more comes once it is spent.
    """
    work[0] -= 1
    if work[0] <= 0:
        return
    if at == len(cells):
        if wanted == 0:
            yield ()
        return
    room, after, groups = rooms[at]
    low, high = max(0, wanted - after), min(room, wanted)
    held, n = cells[at]
    alike = at > 0 and cells[at - 1][1] == n == 1 and cells[at - 1][0] != 0 and held != 0
    if alike and previous is not None and room == rooms[at - 1][0]:
        high = min(high, previous)
    share = wanted * n / max(1, groups)
    counts: Sequence[int] = range(low, high + 1)
    if low < high:
        counts = sorted(counts, key=lambda t: (abs(t - share), -t))
    for count in counts:
        for others in _shares(cells, rooms, at + 1, wanted - count, count, work):
            yield (count, *others)


@lru_cache(maxsize=1 << 12)
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
    apart: Sequence[int] = (),
    work: list[int] | None = None,
) -> tuple[tuple[int, ...], ...] | None:
    """Return different non-empty sets of classes, class ``i`` being in ``degrees[i]`` of them.

    A set has `max_size` classes at most, is none of `forbidden`, given as bits, and holds no two
    classes of which one is among those of the other in `apart`. Of all such
    choices it is one with the fewest sets of one class; `None` if there are none, or if none was
    found within a fixed effort, which is never used up by fewer than 13 conductors. `work` is what
    all searches that share this list may look into, as its only item; each takes from it. Where
    that is spent, classes are dealt out and exchanged until the sets differ.
    """
    if max_size == 2 and not any(apart) and all(word.bit_count() == 1 for word in forbidden):
        return _pairs(degrees, forbidden)
    order = sorted(range(len(degrees)), key=lambda i: (-degrees[i], i))
    ranked = tuple(degrees[i] for i in order)
    rank_of = {index: rank for rank, index in enumerate(order)}
    barred = frozenset(mask_of(rank_of[i] for i in bits(word)) for word in forbidden)
    never = tuple(
        mask_of(rank_of[i] for i in bits(apart[one])) if one < len(apart) else 0 for one in order
    )
    best: tuple[int, ...] | None = None
    work = [MOST_WORK] if work is None else work
    most = max_size or len(ranked)
    counts = range(max(ranked), sum(ranked) + 1)
    for count in counts:
        search = _SetSearch(ranked, most, barred, never, work)
        found = search.run(0, ((0, count),)) if _fits(ranked, count) else None
        if found is not None and (best is None or _singles(found) < _singles(best)):
            best = found
        if best is not None and (_singles(best) == 0 or count > max(ranked) + 2):
            break
    if best is None and work[0] <= 0:
        tried = (_mended(ranked, n, most, barred, never, work) for n in counts if _fits(ranked, n))
        best = next(filter(None, tried), None)
    if best is None:
        return None
    sets = [tuple(sorted(order[rank] for rank in bits(word))) for word in best]
    return tuple(sorted(sets, key=lambda one: (-len(one), one)))


def _mended(
    degrees: Sequence[int], count: int, most: int, forbidden: frozenset[int], apart: Sequence[int],
    work: list[int],
) -> tuple[int, ...] | None:  # fmt: skip
    """Return `count` sets, dealt out evenly and then made different by exchanges; `None` if stuck.

    Each exchange makes a set good that wasn't, and none bad, so they come to an end.
    """
    sets, sizes = [0] * count, [0] * count
    for kind, degree in enumerate(degrees):
        # Sorted as numbers: by size, then dealt out evenly, then as they come.
        free = sorted(
            (sizes[i] * count + (i * degree + kind) % count) * count + i
            for i in range(count)
            if sizes[i] < most and not sets[i] & apart[kind]
        )
        if len(free) < degree:
            return None
        for i in (rank % count for rank in free[:degree]):
            sets[i] |= 1 << kind
            sizes[i] += 1
    held = Counter(sets)

    def is_good(one: int) -> bool:
        alone = 0 < one.bit_count() <= most and one not in forbidden
        return alone and not any(apart[kind] & one for kind in bits(one))

    def exchange(i: int) -> bool:
        for j in (*range(i + 1, count), *range(i)):
            both = sets[i], sets[j]
            sides = ((*(1 << kind for kind in bits(a & ~b)), 0) for a, b in (both, both[::-1]))
            for given, taken in product(*sides):
                work[0] -= 1
                if work[0] <= -MENDING_WORK:
                    return False
                pair = both[0] ^ given ^ taken, both[1] ^ given ^ taken
                if pair[0] != pair[1] and not any(held[one] for one in pair):
                    if all(map(is_good, pair)):
                        held.subtract(both)
                        held.update(pair)
                        sets[i], sets[j] = pair
                        return True
        return False

    for i in range(count):
        if (held[sets[i]] > 1 or not is_good(sets[i])) and not exchange(i):
            return None
    return tuple(sets)


def _pairs(degrees: Sequence[int], forbidden: frozenset[int]) -> tuple[tuple[int, ...], ...] | None:
    """Return different pairs and the fewest singles; `None` if there are none.

    Pairs make a graph without loops. It is drawn by giving the class that lacks most to those that
    lack most after it (V. Havel 1955, S. L. Hakimi 1962, from memory); it exists for any degrees if
    it does once singles took one from the largest.
    """
    order = sorted(range(len(degrees)), key=lambda i: -degrees[i])
    may_be_alone = [i for i in order if 1 << i not in forbidden]
    for singles in range(sum(degrees) % 2, len(may_be_alone) + 1, 2):
        left = list(degrees)
        found = [(i,) for i in may_be_alone[:singles]]
        for (i,) in found:
            left[i] -= 1
        pairs: list[tuple[int, ...]] = []
        while any(left):
            first, *others = sorted(order, key=lambda i: -left[i])
            chosen = [i for i in others[: left[first]] if left[i]]
            if len(chosen) < left[first]:
                break
            pairs += [(min(first, i), max(first, i)) for i in chosen]
            for i in chosen:
                left[i] -= 1
            left[first] = 0
        else:
            return (*sorted(pairs), *sorted(found))
    return None


def _fits(degrees: Sequence[int], count: int) -> bool:
    width = len(degrees)
    most = count * width - _fewest_ones(count, width)
    return count < 1 << width and _fewest_ones(count + 1, width) <= sum(degrees) <= most


def _singles(words: Sequence[int]) -> int:
    return sum(word.bit_count() == 1 for word in words)
