# SPDX-License-Identifier: MIT
"""Which components of a stage may be one, and were touched least often."""

from __future__ import annotations

from heapq import heappop, heappush
from typing import TYPE_CHECKING

from wiretrack.ringout.masks import lowest

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence


class Waiting:
    """Pairs of components that may be one, those least often touched first.

    Of those touched as often the ones with a small component come first, then by number. What looks
    alike is kept together: `components` may be many.

    `look` names what a component shares with those that look like it, and `fits` says whether there
    is a group, as bits, for two components at once.
    """

    def __init__(
        self,
        components: Sequence[int],
        look: Callable[[int], int],
        fits: Callable[[int, int], int],
    ) -> None:
        self._components, self._look, self._fits = components, look, fits
        self._rows: dict[tuple[int, int, int], int] = {}  # by touches, size, and number of one
        self._order: list[tuple[int, int, int]] = []
        self._alike: dict[int, int] = {}  # per look, the numbers of those added, as bits
        self._sized: dict[int, int] = {}  # the same per size

    def add(self, number: int, opens: Mapping[int, int], out: int) -> None:
        """Add a component with those before it, but for some to leave `out`, as bits.

        `opens` is how often it read open to which.
        """
        one, left = self._components[number], 0
        for alike in self._alike.values():
            some = alike & ~out
            if some and self._fits(one, self._components[lowest(some)]):
                left |= some
        for other, times in opens.items():
            if left >> other & 1:
                self._put(times, number, 1 << other)
                left &= ~(1 << other)
        self._put(0, number, left)
        for kept, name in ((self._alike, self._look(one)), (self._sized, one.bit_count())):
            kept[name] = kept.get(name, 0) | 1 << number

    def _put(self, times: int, number: int, others: int) -> None:
        own = self._components[number].bit_count()
        for size, alike in self._sized.items():
            if others & alike:
                key = (times, min(size, own), number)
                if key not in self._rows:
                    heappush(self._order, key)
                self._rows[key] = self._rows.get(key, 0) | others & alike

    def first(self) -> tuple[int, int, int] | None:
        """Return the first pair after how often it was touched; `None` if none is left."""
        while self._order:
            others = self._rows[self._order[0]]
            if others:
                times, _, number = self._order[0]
                return times, self._components[number], self._components[lowest(others)]
            del self._rows[heappop(self._order)]
        return None

    def drop_first(self) -> None:
        """Drop the first pair."""
        self._rows[self._order[0]] &= self._rows[self._order[0]] - 1

    def drop_alike(self) -> None:
        """Drop the first pair, and all of the same component with what looks like its other one."""
        key = self._order[0]
        other = self._components[lowest(self._rows[key])]
        self._rows[key] &= ~self._alike[self._look(other)]

    def put_back_first(self, times: int) -> None:
        """Put the first pair where those touched so often are."""
        *_, number = key = self._order[0]
        other = self._rows[key] & -self._rows[key]
        self._rows[key] &= ~other
        self._put(times, number, other)
