# SPDX-License-Identifier: MIT
"""The first joins of a ring-out that needs two walks.

They cut every class of look-alikes into groups of different sizes, so that the far ends' groups
are known by size, and so that the refined classes can be told apart by one more walk. For that
there must be different sets of classes in which every class occurs a given number of times:
look-alikes of one class go into different groups, and no two groups look alike.
"""

from __future__ import annotations

from functools import lru_cache
from itertools import pairwise
from typing import TYPE_CHECKING

from wiretrack.ringout.choice_sets import MOST_WORK, distinct_sets
from wiretrack.ringout.masks import bits, look_alikes, mask_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from wiretrack.ringout.bundle import Place
    from wiretrack.ringout.deductions import Deductions

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
