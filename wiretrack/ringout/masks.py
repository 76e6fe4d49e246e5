# SPDX-License-Identifier: MIT
"""Sets of ends as bits of a whole number."""

from __future__ import annotations

from bisect import insort
from functools import lru_cache, reduce
from operator import or_
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence


@lru_cache(maxsize=1 << 14)  # a ring-out asks for the same few thousand again and again
def bits(mask: int) -> tuple[int, ...]:
    """Return the positions in `mask`, lowest first.

    >>> bits(0b1010)
    (1, 3)
    """
    found = []
    while mask:
        low = mask & -mask
        found.append(low.bit_length() - 1)
        mask ^= low
    return tuple(found)


def mask_of(positions: Iterable[int]) -> int:
    """Return the set of `positions`.

    >>> mask_of([1, 3])
    10
    """
    mask = 0
    for position in positions:
        mask |= 1 << position
    return mask


def lowest(mask: int) -> int:
    """Return the lowest position in `mask`, which isn't empty."""
    return (mask & -mask).bit_length() - 1


def union(masks: Iterable[int]) -> int:
    """Return all that is in any of `masks`."""
    return reduce(or_, masks, 0)


def look_alikes(rows: Sequence[int], ends: Iterable[int]) -> list[tuple[int, int]]:
    """Return sets of ends that can be taken for each other, each with what they can belong to.

    Ends are in one set if their candidates overlap, directly or over others.

    >>> look_alikes([0b011, 0b001, 0b100], [0, 1, 2])
    [(3, 3), (4, 4)]
    """
    found: list[tuple[int, int]] = []
    for end in ends:
        alike, mates = 1 << end, rows[end]
        apart = []
        for others, theirs in found:
            if theirs & mates:
                alike, mates = alike | others, mates | theirs
            else:
                apart.append((others, theirs))
        found = [*apart, (alike, mates)]
    return sorted(found)


def merged(groups: Iterable[int], glue: Iterable[int]) -> list[int]:
    """Return `groups` with those made one that share an end of the same set of `glue`.

    >>> merged([0b001, 0b010, 0b100], [0b011])
    [3, 4]
    """
    result = sorted(groups, key=lambda group: group & -group)
    for bond in glue:
        touched = [group for group in result if group & bond]
        if len(touched) > 1:
            result = [group for group in result if not group & bond]
            insort(result, union(touched), key=lambda group: group & -group)
    return result
