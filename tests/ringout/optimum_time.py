# SPDX-License-Identifier: MIT
"""The least mean time in which look-alikes can be identified where contacts may be bad.

Dynamic programming over everything that may be known, written apart from the planner. A walk takes
180 s, an end twisted on or taken out 12 s, a touch 4 s. One person walks twice: some near ends are
joined; far ends are touched, two at a time, and then joined; the near joins are taken off, and near
ends touched. Two ends that are connected read open with the chance `BAD` the first time that they
are touched under the same joins, and closed from then on. It is over when the closed readings
alone leave one arrangement. Nobody searches for conductors that touch each other.

Run as ``python -m tests.ringout.optimum_time 4`` to print the least time and the first joins.
"""

from __future__ import annotations

import sys
from functools import cached_property
from itertools import combinations, permutations
from typing import TYPE_CHECKING

from tests.ringout.optimum import NEVER, decides, integer_partitions, renumberings, set_partitions

if TYPE_CHECKING:
    from collections.abc import Iterable

WALK, TWIST, TOUCH, BAD = 180, 12, 4, 0.02
MOST_HIDDEN = 2  # one connection is hidden at once at most; a second one has a chance under 1 %
Belief = tuple[int, ...]  # arrangements that fit all readings, if so many connections were hidden


def weight(belief: Belief) -> float:
    """Return how likely all that was read is, up to a factor."""
    return sum(fitting.bit_count() * BAD**hidden for hidden, fitting in enumerate(belief))


def hide(belief: Belief, closed: int) -> Belief:
    """Return what is believed after a first open reading of what `closed` arrangements connect."""
    more = zip((*belief, 0), (0, *belief), strict=True)
    return tuple((a & ~closed) | (b & closed) for a, b in more)[:MOST_HIDDEN]


class Touching:
    """Touches under the same joins, each the best one, until it is over or one leaves."""

    def __init__(self, touches: list[int]) -> None:
        self.touches = touches  # for each pair of ends, the arrangements in which it reads closed
        self.known: dict[object, float] = {}

    def mean_s(self, belief: Belief, proven: int, asked: int = 0, again: int = 0) -> float:
        """Return the mean time from here on; `asked` and `again` are pairs that read open."""
        if proven.bit_count() == 1:
            return 0.0
        key = self.key(belief, proven, asked, again)
        if key not in self.known:
            self.known[key] = min(
                self.leave(belief, proven),
                *(self.after(n, belief, proven, asked, again) for n in range(len(self.touches))),
            )
        return self.known[key]

    def key(self, belief: Belief, proven: int, asked: int, again: int) -> object:
        return belief, proven, asked, again

    def leave(self, belief: Belief, proven: int) -> float:
        """Return the mean time when one leaves now."""
        return NEVER

    def after(self, number: int, belief: Belief, proven: int, asked: int, again: int) -> float:
        """Return the mean time when a pair is touched now; never where that can tell nothing."""
        closed, bit = self.touches[number], 1 << number
        yes = tuple(fitting & closed for fitting in belief)
        fresh = not asked & bit
        chance = weight(yes) * (1 - BAD if fresh else 1) / weight(belief)
        if again & bit or not chance or (yes == belief and proven & closed == proven):
            return NEVER
        mean = TOUCH + chance * self.mean_s(yes, proven & closed, asked, again)
        if chance < 1:
            no = hide(belief, closed) if fresh else tuple(one & ~closed for one in belief)
            if weight(no):
                more = (asked | bit, again) if fresh else (asked, again | bit)
                mean += (1 - chance) * self.mean_s(no, proven, *more)
        return mean


class AtFar(Touching):
    """The touches at the far box, after the first joins, and all that follows."""

    def __init__(self, sizes: tuple[int, ...]) -> None:
        ends = tuple(range(sum(sizes)))
        self.pairs = list(combinations(ends, 2))
        self.arrangements = list(permutations(ends))  # near end i is far end arrangement[i]
        group = [index for index, size in enumerate(sizes) for _ in range(size)]
        self.twisted = sum(size for size in sizes if size > 1)
        home = [{far: group[near] for near, far in enumerate(way)} for way in self.arrangements]
        super().__init__([self.mask(one[i] == one[j] for one in home) for i, j in self.pairs])
        self.closed_pairs: dict[int, int] = {}

    def mask(self, closed: Iterable[bool]) -> int:
        return sum(1 << k for k, one in enumerate(closed) if one)

    @cached_property
    def second(self) -> list[tuple[int, Touching]]:
        """How many ends each choice of second joins twists, and the touches after it."""
        found = []
        for joined in set_partitions(tuple(range(len(self.arrangements[0])))):
            of = {end: number for number, group in enumerate(joined) for end in group}
            twisted = sum(len(group) for group in joined if len(group) > 1)
            masks = [
                self.mask(of[w[i]] == of[w[j]] for w in self.arrangements) for i, j in self.pairs
            ]
            found.append((twisted, Touching(masks)))
        return found

    def key(self, belief: Belief, proven: int, asked: int, again: int) -> object:
        """Return all that was read, as it is least when the far ends, all alike, are renumbered."""
        graph = [
            sum(1 << n for n, closed in enumerate(self.touches) if proven & closed == proven),
            asked,
            again,
        ]
        bits = [[pair for n, pair in enumerate(self.pairs) if one >> n & 1] for one in graph]
        return min(
            tuple(sum(bit[pair] for pair in one) for one in bits)
            for bit in renumberings(len(self.arrangements[0]))
        )

    def leave(self, belief: Belief, proven: int) -> float:
        alive = 0
        for fitting in belief:
            alive |= fitting
        times = [
            WALK + TWIST * (twisted + self.twisted) + then.mean_s(belief, proven)
            for twisted, then in self.second
            if decides((alive, proven), tuple(then.touches))
        ]
        return min(times, default=NEVER)


def least_s(count: int) -> tuple[float, tuple[int, ...]]:
    """Return the least mean time for `count` look-alikes, in seconds, and the first joins."""
    found = []
    for sizes in integer_partitions(count):
        far = AtFar(sizes)
        whole = (1 << len(far.arrangements)) - 1
        start = far.mean_s((whole, *[0] * (MOST_HIDDEN - 1)), whole)
        found.append((WALK + TWIST * far.twisted + start, sizes))
    return min(found)


if __name__ == "__main__":
    for number in map(int, sys.argv[1:]):
        print(number, *least_s(number), flush=True)
