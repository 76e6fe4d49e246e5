# SPDX-License-Identifier: MIT
"""The first joins of a ring-out that needs two walks.

They cut every class of look-alikes into groups of different sizes, so that the far ends' groups
are known by size, and so that the refined classes can be told apart by one more walk. For that
there must be different sets of classes in which every class occurs a given number of times:
look-alikes of one class go into different groups, and no two groups look alike. A search over how
each class splits the groups that still look alike finds them.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise
from typing import TYPE_CHECKING

from wiretrack.ringout.masks import bits, look_alikes, mask_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from wiretrack.ringout.bundle import Place
    from wiretrack.ringout.deductions import Deductions

_NODES = 4000  # sets of groups looked into, in one search for a number of groups
MOST_WORK = 60_000  # ways to share a class among groups, in all searches for choice sets
LAST_WORK = 400_000  # as many in a search for any sets at all

Cell = tuple[int, int]  # the classes that its groups hold so far, as bits; how many groups


@dataclass
class _SetSearch:
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

    A set has `max_size` classes at most, and is none of `forbidden`, given as bits. Of all such
    choices it is one with the fewest sets of one class; `None` if there are none, or if none was
    found within a fixed effort, which is never used up by fewer than 13 conductors. `work` is what
    all searches that share this list may look into, as its only item; each takes from it.
    """
    order = sorted(range(len(degrees)), key=lambda i: (-degrees[i], i))
    ranked = tuple(degrees[i] for i in order)
    rank_of = {index: rank for rank, index in enumerate(order)}
    barred = frozenset(mask_of(rank_of[i] for i in bits(word)) for word in forbidden)
    best: tuple[int, ...] | None = None
    work = [LAST_WORK] if work is None else work
    for count in range(max(ranked), sum(ranked) + 1):
        search = _SetSearch(ranked, max_size or len(ranked), barred, work)
        found = search.run(0, ((0, count),)) if _fits(ranked, count) else None
        if found is not None and (best is None or _singles(found) < _singles(best)):
            best = found
        if best is not None and (_singles(best) == 0 or count > max(ranked) + 2):
            break
    if best is None:
        return None
    sets = [tuple(sorted(order[rank] for rank in bits(word))) for word in best]
    return tuple(sorted(sets, key=lambda one: (-len(one), one)))


def _fits(degrees: Sequence[int], count: int) -> bool:
    width = len(degrees)
    most = count * width - _fewest_ones(count, width)
    return count < 1 << width and _fewest_ones(count + 1, width) <= sum(degrees) <= most


def _singles(words: Sequence[int]) -> int:
    return sum(word.bit_count() == 1 for word in words)


Sizes = tuple[int, ...]
_TRIES = 40
_LONE = {  # whether groups of one may be in the first and in the second stage, best first
    True: ((True, False), (True, True)),
    None: ((True, True),),
    False: ((False, False), (True, False), (True, True)),
}


def size_choices(count: int) -> Iterator[Sizes]:
    """Yield ways to cut `count` look-alikes into groups, likely ones first.

    The staircase k, k-1, ..., 1 needs the fewest touches. What is left over raises the largest
    groups by one each; or it makes one more group of one, and the rest raises them.
    """
    if count <= 2:
        yield (1,) * count
        yield (count,)
        return
    steps = int(((8 * count + 1) ** 0.5 - 1) / 2)
    stair = list(range(steps, 0, -1))
    left = count - sum(stair)
    if left:
        yield tuple(size + (i < left) for i, size in enumerate(stair))
        yield tuple([size + (i < left - 1) for i, size in enumerate(stair)] + [1])
        yield (*stair, *(1,) * left)
        yield tuple(sorted((*stair, left), reverse=True))
    else:
        yield tuple(stair)
    yield from _no_singles(count)
    yield tuple([2] * (count // 2) + [1] * (count % 2))


def _no_singles(count: int) -> Iterator[Sizes]:
    chosen: list[int] = []
    while sum(chosen) + len(chosen) + 2 <= count:
        chosen.insert(0, len(chosen) + 2)
    if not chosen:
        return
    left = count - sum(chosen)
    spread = [size + left // len(chosen) for size in chosen]
    yield tuple(size + (i < left % len(chosen)) for i, size in enumerate(spread))
    if left > 1:
        yield tuple(sorted((*chosen, left), reverse=True))


def pair_sizes(count: int) -> Sizes:
    """Return pairs and, so that a chain over both places has a beginning, one or two singles."""
    pairs = (count - 1) // 2
    return (2,) * pairs + (1,) * (count - 2 * pairs)


def pair_counts(counts: Sequence[int]) -> list[dict[int, int]]:
    """Return pairs and singles, as counts per class, that a chain over both places can follow.

    A class of odd number leaves one single, a class of even number two, so that the chain has a
    beginning. Two singles of one class are told apart by pairing one with a single of another.
    """
    groups: list[dict[int, int]] = []
    for kind, count in enumerate(counts):
        groups += [{kind: 2} for _ in range((count - 1) // 2)]
    twice = [kind for kind, count in enumerate(counts) if count % 2 == 0]
    once = [kind for kind, count in enumerate(counts) if count % 2]
    if len(twice) == 1 and once:
        groups.append({twice[0]: 1, once.pop(0): 1})
        return [*groups, {twice[0]: 1}, *({kind: 1} for kind in once)]
    groups += [{one: 1, two: 1} for one, two in pairwise(twice)]
    ends = (twice[0], twice[-1]) if twice else ()
    return [*groups, *({kind: 1} for kind in (*ends, *once))]


def _overlay(choice: Sequence[Sizes]) -> list[dict[int, int]]:
    groups: list[dict[int, int]] = [{} for _ in range(max(len(sizes) for sizes in choice))]
    for kind, sizes in enumerate(choice):
        if len(sizes) == 1 and sizes[0] == 1:
            loneliest = min(range(len(groups)), key=lambda g: (sum(groups[g].values()), -g))
            groups[loneliest][kind] = 1
            continue
        for group, size in zip(groups, sizes, strict=False):
            group[kind] = size
    return groups


def _refined(groups: Sequence[dict[int, int]]) -> list[int]:
    counts: dict[tuple[tuple[tuple[int, int], ...], int], int] = {}
    for group in groups:
        kind = tuple(sorted(group.items()))
        for colour, n in kind:
            counts[kind, colour] = counts.get((kind, colour), 0) + n
    return list(counts.values())


def _choices(counts: Sequence[int]) -> Iterator[list[dict[int, int]]]:
    """Yield groupings: the likeliest sizes for every class, then one class cut otherwise."""
    options = [list(dict.fromkeys(size_choices(count))) for count in counts]
    yield _overlay([sizes[0] for sizes in options])
    tried = 0
    for kind, sizes in enumerate(options):
        for other in sizes[1:]:
            tried += 1
            if tried > _TRIES:
                return
            yield _overlay([other if i == kind else o[0] for i, o in enumerate(options)])


def plan_counts(
    counts: Sequence[int], helpers: int = 0, *, searched: bool | None = True
) -> list[dict[int, int]]:
    """Return groups of a first stage, as counts per class, for classes of the given sizes.

    `helpers` is the number of references that the second stage can use. An end that is joined to
    none at one stage must read closed at the other, or else a broken conductor whose loose part
    touches another one reads the same. So groups of one are avoided: in the second stage, and,
    where nobody `searched` for contacts here, in the first one too. With `None` nobody wants to.
    """
    first = None
    for lone_now, lone_then in _LONE[searched]:
        work = [MOST_WORK]
        for groups in _choices(counts):
            first = first or groups
            if not lone_now and any(sum(group.values()) == 1 for group in groups):
                continue
            degrees = _refined(groups) + [1] * min(helpers, 2)
            barred = frozenset(() if lone_then else (1 << i for i in range(len(degrees))))
            if distinct_sets(degrees, forbidden=barred, work=work) is not None:
                return groups
    if len(counts) == 1:  # five look-alikes: only a chain of pairs does it
        return _overlay([pair_sizes(counts[0])])
    return first or []


def first_groups(
    known: Deductions, place: Place, doubtful: Sequence[int]
) -> tuple[int, ...] | None:
    """Return the first joins at `place` for ends of which nothing but colours is known."""
    rows = known.found.of[place]
    classes = [list(bits(ends)) for ends, _ in look_alikes(rows, doubtful)]
    members = sorted(classes, key=lambda ends: (-len(ends), ends))
    counts = [len(ends) for ends in members]
    if counts == [2] or not counts:
        return None
    if known.bundle.joins == "pairs":
        groups = pair_counts(counts)
    else:
        groups = plan_counts(
            counts,
            len(known.bundle.references),
            searched=None if known.bundle.screen == "none" else known.bare_depth(place) > 0,
        )
    given = [iter(ends) for ends in members]
    masks = [
        mask_of(next(given[kind]) for kind, n in sorted(group.items()) for _ in range(n))
        for group in groups
    ]
    joined = tuple(sorted(mask for mask in masks if mask.bit_count() > 1))
    return joined or None
