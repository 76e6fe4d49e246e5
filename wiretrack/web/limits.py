# SPDX-License-Identifier: MIT
"""How often codes may be tried, and how many forms of strangers are read at once."""

from __future__ import annotations

import ipaddress
import time
from collections import deque
from threading import Lock
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

WINDOW_S = 60.0
PER_ADDRESS, OVERALL, AMID_ATTACK = 8, 40, 1
DELAY_S, MOST_DELAYED = 1.0, 8
MOST_ADDRESSES = 4096


class WrongCodes:
    """Counts wrong codes of the last minute; each of several processes allows its share of them.

    Many addresses together can't lock anybody out. While they guess, each address has one try a
    minute, which takes a second; whoever knows the code is in at the first one.
    """

    def __init__(self, clock: Callable[[], float], processes: int = 1) -> None:
        self._per_address = max(1, PER_ADDRESS // processes)
        self._together = max(1, OVERALL // processes)
        self._clock, self._lock = clock, Lock()
        self._overall: deque[float] = deque()
        self._by_address: dict[str, deque[float]] = {}
        self._delayed = 0
        self.sleep: Callable[[float], None] = time.sleep

    def wait_s(self, address: str) -> float:
        """Return for how many seconds no code of `address` is looked at; 0 if one may be tried."""
        with self._lock:
            now = self._clock()
            own = self._by_address.get(network_of(address), deque())
            most = AMID_ATTACK if self._attacked(now) else self._per_address
            return max(0.0, own[-most] + WINDOW_S - now) if len(own) >= most else 0.0

    def delay(self) -> None:
        """Let a code take its time while many are guessed; only so many threads wait at once."""
        with self._lock:
            if not self._attacked(self._clock()) or self._delayed >= MOST_DELAYED:
                return
            self._delayed += 1
        try:
            self.sleep(DELAY_S)
        finally:
            with self._lock:
                self._delayed -= 1

    def _attacked(self, now: float) -> bool:
        wrong = self._overall
        return len(wrong) >= self._together and wrong[-self._together] > now - WINDOW_S

    def note_wrong(self, address: str) -> None:
        """Count one wrong code."""
        address = network_of(address)
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


def network_of(address: str) -> str:
    """Return what counts as one address: of IPv6 the network, of which one machine has all.

    >>> network_of("::ffff:10.0.0.7"), network_of("2001:db8:1:2:3:4:5:6")
    ('10.0.0.7', '2001:db8:1:2::/64')
    """
    try:
        found = ipaddress.ip_address(address)
    except ValueError:
        return address
    if found.version == 6 and found.ipv4_mapped:  # where one socket listens for both
        return str(found.ipv4_mapped)
    return str(ipaddress.ip_network((address, 64), strict=False)) if found.version == 6 else address


MOST_BODIES, BODIES_PER_ADDRESS = 24, 4


class Bodies:
    """How many who haven't signed in send a form at once: one that never ends holds a thread."""

    def __init__(self) -> None:
        self._lock, self._of = Lock(), dict[str, int]()

    def enter(self, address: str) -> bool:
        """Return whether a form of `address` may be read now; `leave` follows if so."""
        with self._lock:
            own, all_ = self._of.get(address, 0), sum(self._of.values())
            if own >= BODIES_PER_ADDRESS or all_ >= MOST_BODIES:
                return False
            self._of[address] = own + 1
            return True

    def leave(self, address: str) -> None:
        """Say that the form was read."""
        with self._lock:
            self._of[address] -= 1
            if not self._of[address]:
                del self._of[address]
