# SPDX-License-Identifier: MIT
"""The first joins of a ring-out that needs two walks.

They cut every class of look-alikes into groups of different sizes, so that the far ends' groups
are known by size, and so that the refined classes can be told apart by one more walk. For that
there must be different sets of classes in which every class occurs a given number of times:
look-alikes of one class go into different groups, and no two groups look alike. A search over how
each class splits the groups that still look alike finds them.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import pairwise, product
from typing import TYPE_CHECKING

from wiretrack.ringout.masks import bits, look_alikes, mask_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from wiretrack.ringout.bundle import Place
    from wiretrack.ringout.deductions import Deductions

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

    def run(self, depth: int, cells: tuple[Cell, ...]) -> tuple[int, ...] | None:
        """Split `cells` by the classes from `depth` on; return the final sets."""
        if depth == len(self.degrees):
            return tuple(held for held, _ in cells)
        free = not self.forbidden and not any(self.apart)  # then just how many count
        looks = ((held.bit_count() if free else held, n) for held, n in cells)
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
        room = [
            0 if held.bit_count() >= self.max_size or held & self.apart[depth] else n
            for held, n in cells
        ]
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
    sets = [0] * count
    for kind, degree in enumerate(degrees):
        free = (i for i in range(count) if sets[i].bit_count() < most and not sets[i] & apart[kind])
        chosen = sorted(free, key=lambda i: (sets[i].bit_count(), (i * degree + kind) % count))
        if len(chosen) < degree:
            return None
        for i in chosen[:degree]:
            sets[i] |= 1 << kind
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


def _refined(groups: Sequence[dict[int, int]]) -> tuple[list[int], list[int]]:
    """Return how many ends look alike once the groups are known; and of one group with which."""
    counts: dict[tuple[tuple[tuple[int, int], ...], int], int] = {}
    for group in groups:
        kind = tuple(sorted(group.items()))
        for colour, n in kind:
            counts[kind, colour] = counts.get((kind, colour), 0) + n
    kinds = [kind for kind, _ in counts]
    fellows = [mask_of(j for j, other in enumerate(kinds) if other == one) for one in kinds]
    return list(counts.values()), [mask & ~(1 << i) for i, mask in enumerate(fellows)]


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


@lru_cache(maxsize=256)
def plan_counts(
    counts: tuple[int, ...], helpers: int = 0, *, searched: bool | None = True
) -> tuple[list[dict[int, int]], bool]:
    """Return groups of a first stage, as counts per class, for classes of the given sizes.

    And whether no two ends need be joined both times, so that whatever touches shows. That is asked
    for where nobody `searched` for contacts here; with `None` nobody wants to.

    `helpers` is the number of references that the second stage can use. An end that is joined to
    none at one stage must read closed at the other, or else a broken conductor whose loose part
    touches another one reads the same. So groups of one are avoided: in the second stage, and,
    where nobody searched, in the first one too.
    """
    for parted in (True, False) if searched is False and len(counts) > 1 else (False,):
        for lone_now, lone_then in _LONE[searched]:
            work = [MOST_WORK]
            for groups in _choices(counts):
                if not lone_now and any(sum(group.values()) == 1 for group in groups):
                    continue
                degrees, fellows = _refined(groups)
                degrees += [1] * min(helpers, 2)
                barred = frozenset(() if lone_then else (1 << i for i in range(len(degrees))))
                apart = fellows if parted else ()
                if distinct_sets(degrees, forbidden=barred, apart=apart, work=work) is not None:
                    return groups, parted or len(counts) == 1
    if len(counts) == 1:  # five look-alikes: only a chain of pairs does it
        return _overlay([pair_sizes(counts[0])]), True
    return next(_choices(counts), []), False


def _members(known: Deductions, place: Place, doubtful: Sequence[int]) -> list[tuple[int, ...]]:
    classes = [bits(ends) for ends, _ in look_alikes(known.found.of[place], doubtful)]
    return sorted(classes, key=lambda ends: (-len(ends), ends))


def _planned(
    known: Deductions, place: Place, members: Sequence[tuple[int, ...]]
) -> tuple[list[dict[int, int]], bool]:
    counts = tuple(map(len, members))
    if known.bundle.joins == "pairs":
        return pair_counts(counts), len(counts) == 1
    searched = None if known.bundle.screen == "none" else known.bare_depth(place) > 0
    return plan_counts(counts, len(known.bundle.references), searched=searched)


def joined_once(known: Deductions, place: Place, doubtful: Sequence[int]) -> bool:
    """Return whether joins at both places can be so that no two ends are joined both times."""
    return _planned(known, place, _members(known, place, doubtful))[1]


def first_groups(
    known: Deductions, place: Place, doubtful: Sequence[int]
) -> tuple[int, ...] | None:
    """Return the first joins at `place` for ends of which nothing but colours is known."""
    members = _members(known, place, doubtful)
    if not members or [len(ends) for ends in members] == [2]:
        return None
    given = [iter(ends) for ends in members]
    masks = [
        mask_of(next(given[kind]) for kind, n in sorted(group.items()) for _ in range(n))
        for group in _planned(known, place, members)[0]
    ]
    joined = tuple(sorted(mask for mask in masks if mask.bit_count() > 1))
    return joined or None
