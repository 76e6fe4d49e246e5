# SPDX-License-Identifier: MIT
"""A helper with a radio at the other box applies a reference: to one end, or to half of them.

With somebody to change the joins at once, walks cost nothing and touches count. The helper holds
a reference (something identified, or, lacking that, the joined ends themselves) to some of the
look-alikes of every class; whoever has the meter touches the class against the reference until
all of them have read closed. That cuts the class in two, and each part is cut again.

To find k of m this way takes k(m + 1)/(k + 1) touches on the mean: the place of the last one drawn
of k among m, when each of the draws is equally likely (order statistics of draws without
replacement; brute force in the tests). From that, one after the other (k = 1) is best up to four
look-alikes, and halves from five on.

In a stage with one join only, all ends are touched against one that is known to be in it.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

from wiretrack.ringout.bundle import other_place
from wiretrack.ringout.masks import bits, lowest, mask_of
from wiretrack.ringout.rounds import situation

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from wiretrack.ringout.bundle import Place
    from wiretrack.ringout.knowledge import Knowledge
    from wiretrack.ringout.probing import Model
    from wiretrack.ringout.rounds import Groups, Situation

_EQUAL = 1e-9  # touches; closer ones are the same number


def touches_to_find(share: int, count: int) -> float:
    """Return the mean touches that find `share` ends among `count` look-alikes, all closed.

    >>> touches_to_find(1, 4), touches_to_find(2, 2)
    (2.5, 2.0)
    """
    return share * (count + 1) / (share + 1)


def one_after_the_other(count: int) -> float:
    """Return the mean touches when a reference goes from one look-alike to the next.

    >>> one_after_the_other(4)
    6.0
    """
    return sum(touches_to_find(1, left) for left in range(2, count + 1))


@lru_cache(maxsize=1024)
def in_halves(count: int) -> float:
    """Return the mean touches when a reference goes to half of the look-alikes at a time.

    >>> in_halves(5)
    9.0
    """
    if count < 2:
        return 0.0
    half = count // 2
    return touches_to_find(half, count) + in_halves(half) + in_halves(count - half)


@lru_cache(maxsize=1024)
def fewest(count: int) -> float:
    """Return the mean touches with the better of the two at every step."""
    if count < 2:
        return 0.0
    return min(_with_share(one, count) for one in (1, count // 2))


def _with_share(share: int, count: int) -> float:
    return touches_to_find(share, count) + fewest(share) + fewest(count - share)


def best_share(count: int) -> int:
    """Return to how many of `count` look-alikes to put the reference next; halves where equal.

    >>> [best_share(count) for count in (2, 3, 4, 5, 8)]
    [1, 1, 1, 2, 4]
    """
    half = count // 2
    return 1 if _with_share(1, count) < _with_share(half, count) - _EQUAL else half


def rounds(count: int, how: Callable[[int], int] = best_share) -> int:
    """Return how many times the helper changes the joins for `count` look-alikes.

    The last time proves the one that was never joined.

    >>> rounds(2), rounds(4), rounds(16)
    (2, 4, 6)
    """
    parts, times = [count], 0
    while max(parts, default=1) > 1:
        parts = [part for one in parts if one > 1 for part in (how(one), one - how(one))]
        times += 1
    return times + 1


def helper_round(known: Knowledge, place: Place) -> Groups | None:
    """Return what the helper at `place` joins next; `None` where joins as for one person do."""
    if known.bundle.crew != 2 or known.bundle.joins == "pairs" or known.found.refused:
        return None
    now = situation(known, place)
    if now.loose or not (now.classes or (known.begun and now.unproven and now.proven)):
        return None
    held = [*now.proven[:1], *now.unproven]
    group = list(held)
    for members in now.classes:
        ends = _by_proof(known, now, members)
        # Without a reference the first closed touch has to find the join: the more, the sooner.
        share = best_share(len(ends)) if held else (len(ends) + 1) // 2
        group += ends[: share if held or len(now.classes) > 1 else max(2, share)]
    groups = (mask_of(group),)
    tried = (other_place(place), groups) in known.facts.stages
    return None if len(group) < 2 or len(group) == known.size or tried else groups


def _by_proof(known: Knowledge, now: Situation, members: int) -> list[int]:
    """Return the ends of a class, those whose conductors never read closed first."""
    ends = [end for end in bits(members) if end in now.doubtful]
    return sorted(ends, key=lambda end: known.proven(now.place, end))


Pair = tuple[int, int]


def the_join(model: Model) -> int | None:
    """Return the number of the only group with more than one end, if there is just one."""
    if model.glue or any(model.apart):
        return None
    joined = [index for index, room in enumerate(model.room) if room > 1]
    return joined[0] if len(joined) == 1 else None


def next_against_it(
    model: Model,
    components: Sequence[int],
    opens: Callable[[int, int], int],
    most: int,
) -> Pair | None:
    """Return the next end to touch against the join, the least often touched first.

    `None` if no end is known to be in the join, or if every end that may be was touched `most`
    times. Each end of the join is wanted closed, so no touch between two others says as much.
    """
    join = the_join(model)
    if join is None:
        return None
    inside = [members for members in components if model.fitting(members) == 1 << join]
    if not inside:
        return None if model.structures else _first_guess(model, join, components, opens)
    anchor = max(inside, key=lambda members: members.bit_count())
    best: tuple[int, int, int] | None = None
    for number, members in enumerate(components):
        if members == anchor or not model.fitting(members | anchor):
            continue
        rank = (opens(anchor, members), members not in inside, number)
        if rank[0] < most and (best is None or rank < best):
            best = rank
    return None if best is None else (lowest(anchor), lowest(components[best[2]]))


def _first_guess(
    model: Model, join: int, components: Sequence[int], opens: Callable[[int, int], int]
) -> Pair | None:
    """Return two ends not touched yet, likely in the join both; `None` if there are none left."""
    fresh = [
        members
        for members in components
        if model.fitting(members) >> join & 1
        and not any(opens(members, other) for other in components if other != members)
    ]
    fresh.sort(key=lambda members: -_share(model, join, lowest(members)))
    for number, first in enumerate(fresh, 1):
        for second in fresh[number:]:
            if model.fitting(first | second):
                return lowest(first), lowest(second)
    return None


def _share(model: Model, join: int, end: int) -> float:
    """Return which part of the ends of a kind is in the join."""
    kind = model.kind[end]
    return model.caps[kind][join] / model.totals[kind]


def most_against_it(model: Model, join: int) -> int:
    """Return the most touches that finding all ends of the join can take.

    Each end that may be in it is touched once against one that is. Where none is known to be,
    the first closed touch takes half as many, and few more, to find (the join holds half).
    """
    masks = [model.fitting(1 << end) for end in model.order]
    open_to = sum(mask >> join & 1 and mask != 1 << join for mask in masks)
    if any(mask == 1 << join for mask in masks):
        return open_to + sum(mask == 1 << join for mask in masks) - 1
    return open_to + open_to // 2 + 4
