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
from wiretrack.ringout.masks import bits, mask_of
from wiretrack.ringout.rounds import situation

if TYPE_CHECKING:
    from collections.abc import Callable

    from wiretrack.ringout.bundle import Place
    from wiretrack.ringout.deductions import Deductions
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


def helper_round(known: Deductions, place: Place) -> Groups | None:
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
    tried = (other_place(place), groups) in known.evidence.stages
    return None if len(group) < 2 or len(group) == known.size or tried else groups


def _by_proof(known: Deductions, now: Situation, members: int) -> list[int]:
    """Return the ends of a class, those whose conductors never read closed first."""
    ends = [end for end in bits(members) if end in now.doubtful]
    return sorted(ends, key=lambda end: known.proven(now.place, end))
