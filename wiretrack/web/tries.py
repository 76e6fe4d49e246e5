# SPDX-License-Identifier: MIT
"""How often access codes may be tried: a few times a minute for each address, and overall."""

from __future__ import annotations

from collections import deque
from threading import Lock
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

WINDOW_S = 60.0
PER_ADDRESS, OVERALL = 8, 40
MOST_ADDRESSES = 4096


class Tries:
    """Counts wrong codes of the last minute; each of several processes allows its share of them."""

    def __init__(self, clock: Callable[[], float], processes: int = 1) -> None:
        self._per_address = max(1, PER_ADDRESS // processes)
        self._together = max(1, OVERALL // processes)
        self._clock, self._lock = clock, Lock()
        self._overall: deque[float] = deque()
        self._by_address: dict[str, deque[float]] = {}

    def wait_s(self, address: str) -> float:
        """Return for how many seconds no code of `address` is looked at; 0 if one may be tried."""
        with self._lock:
            now = self._clock()
            own = self._by_address.get(address, deque())
            waits = [
                wrong[-most] + WINDOW_S - now
                for wrong, most in ((own, self._per_address), (self._overall, self._together))
                if len(wrong) >= most
            ]
            return max(0.0, *waits) if waits else 0.0

    def note_wrong(self, address: str) -> None:
        """Count one wrong code."""
        with self._lock:
            now = self._clock()
            if len(self._by_address) >= MOST_ADDRESSES:
                self._forget(now)
            for wrong in (self._overall, self._by_address.setdefault(address, deque())):
                wrong.append(now)
                while wrong[0] < now - WINDOW_S:
                    wrong.popleft()

    def _forget(self, now: float) -> None:
        old = [a for a, wrong in self._by_address.items() if wrong[-1] < now - WINDOW_S]
        for address in old or list(self._by_address)[: MOST_ADDRESSES // 2]:
            del self._by_address[address]
