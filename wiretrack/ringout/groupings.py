# SPDX-License-Identifier: MIT
"""Every way the ends of a small stage can be grouped, and the touch that tells most about them.

A touch is worth what it is expected to prove, plus a share of what it is expected to tell: an
open reading only tells, a closed one does both. Where the ways are few enough to be listed,
this needs fewer touches than placing one end after the other.
"""

from __future__ import annotations

from functools import lru_cache
from itertools import combinations
from math import inf, log2

MOST_WAYS = 720
MOST_TRIED = 40_000  # ends put into groups before the ways are given up as too many to list
TELLING_SHARE = 2.0  # weight of a bit told against a bit proven; tried on stages solved exactly

FEW_WAYS = {6: 12, 10: 6}  # up to so many ends: so few groupings are searched to the end
Pair = tuple[int, int]
Caps = tuple[tuple[int, ...], ...]  # per kind of end, how many of it each group takes


class Structures:
    """All groupings of the ends of a stage, ends being numbered kind after kind."""

    def __init__(self, ways: list[tuple[int, ...]]) -> None:
        self.count = len(ways)
        self.whole = (1 << self.count) - 1
        ends = len(ways[0])
        groups = max(max(way) for way in ways) + 1
        self._in = [[0] * groups for _ in range(ends)]
        for number, way in enumerate(ways):
            for end, group in enumerate(way):
                self._in[end][group] |= 1 << number
        self._together: dict[tuple[int, int], int] = {}
        self._costs: dict[tuple[int, int], tuple[float, Pair | None]] = {}
        self._pairs = list(combinations(range(ends), 2))

    def together(self, one: int, two: int) -> int:
        """Return the groupings, as bits, in which two ends are in one group."""
        key = (one, two) if one < two else (two, one)
        found = self._together.get(key)
        if found is None:
            found = 0
            for first, second in zip(self._in[one], self._in[two], strict=True):
                found |= first & second
            self._together[key] = found
        return found

    def groups(self, way: int) -> list[int]:
        """Return the groups of one grouping, given as its bit, as sets of ends."""
        count = len(self._in[0])
        return [
            sum(1 << end for end, homes in enumerate(self._in) if homes[group] & way)
            for group in range(count)
        ]

    @property
    def few(self) -> bool:
        """Return whether the groupings can be searched through to the end in good time."""
        most = next((ways for size, ways in FEW_WAYS.items() if len(self._in) <= size), 0)
        return self.count <= most

    def best_pair(self, alive: int, proven: int) -> Pair | None:
        """Return the touch with which the fewest are expected to be needed in all.

        `alive` are the groupings that fit all readings, `proven` those that fit the closed ones;
        it is over when only one is left of the latter.
        """
        return self._cost(alive, proven)[1]

    def _cost(self, alive: int, proven: int) -> tuple[float, Pair | None]:
        """Return the expected touches from here, and the first of them."""
        if proven.bit_count() == 1:
            return 0.0, None
        kept = self._costs.get((alive, proven))
        if kept is None:
            kept = self._costs[alive, proven] = min(
                (self._cost_of(pair, alive, proven), pair) for pair in self._pairs
            )
        return kept

    def _cost_of(self, pair: Pair, alive: int, proven: int) -> float:
        mask = self.together(*pair)
        yes, no = alive & mask, alive & ~mask
        if not yes or (not no and proven & mask == proven):
            return inf
        share = yes.bit_count() / alive.bit_count()
        closed = self._cost(yes, proven & mask)[0]
        opened = self._cost(no, proven)[0] if no else 0.0
        return 1 + share * closed + (1 - share) * opened


@lru_cache(maxsize=128)
def structures(totals: tuple[int, ...], caps: Caps, apart: tuple[int, ...]) -> Structures | None:
    """Return all groupings of so many ends of each kind, or `None` if there are too many.

    `apart` are, per end, the ends as bits that it can't be in one group with.
    """
    groups = len(caps[0])
    kinds = [kind for kind, total in enumerate(totals) for _ in range(total)]
    looks = [tuple(row[group] for row in caps) for group in range(groups)]
    found: set[tuple[int, ...]] = set()
    inside = [0] * groups
    left = [list(row) for row in caps]
    names: list[int] = []
    tries = 0

    def place(end: int, used: dict[int, int]) -> bool:
        """Put the ends from `end` on into groups; return False once there are too many ways."""
        nonlocal tries
        tries += 1
        if tries > MOST_TRIED:
            return False
        if end == len(kinds):
            found.add(tuple(names))
            return len(found) <= MOST_WAYS
        tried = set()
        for group in range(groups):
            fresh = group not in used
            if not left[kinds[end]][group] or (fresh and looks[group] in tried):
                continue
            if inside[group] & apart[end]:
                continue
            if fresh:
                tried.add(looks[group])
                used[group] = len(used)
            left[kinds[end]][group] -= 1
            inside[group] |= 1 << end
            names.append(used[group])
            go_on = place(end + 1, used)
            names.pop()
            left[kinds[end]][group] += 1
            inside[group] &= ~(1 << end)
            if fresh:
                del used[group]
            if not go_on:
                return False
        return True

    return Structures(sorted(found)) if place(0, {}) and found else None


def worth(share: float, proving: float) -> float:
    """Return what a touch is worth, in bits.

    `share` is the part of the groupings that fit all readings in which it reads closed;
    `proving` the part of those that fit the closed readings which a closed one would leave.
    """
    if not 0 < share < 1:
        told = 0.0
    else:
        told = -share * log2(share) - (1 - share) * log2(1 - share)
    return share * -log2(proving) + TELLING_SHARE * told
