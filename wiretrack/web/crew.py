# SPDX-License-Identifier: MIT
"""Several processes that answer at one address, so that every processor is of use.

Python runs one thread of a process at a time. The processes share the address, the registry and
the turn to write, and nothing else. ``keeping_alive.py`` makes them.

They listen at one socket, where whichever wakes first would take every connection; and the system,
given a socket for each (``SO_REUSEPORT``), spreads them by lot, so that some phones wait twice as
long as others. So a process that has more connections than another leaves a new one to it for a
moment; if it is still there then, the other is slow or dead, and the first takes it after all.
"""

from __future__ import annotations

import mmap
import os
import tempfile
import threading
import time
from typing import IO, Self

MOST = 4
MOMENT_S, GLANCE_S = 0.05, 0.0002


def processes_of_use() -> int:
    """Return how many processes make sense here: one for each processor, four at most."""
    if not hasattr(os, "fork") or not hasattr(os, "sched_getaffinity"):
        return 1
    return max(1, min(MOST, len(os.sched_getaffinity(0))))


class Place:
    """One process's place among them; how many connections each has, all of them see."""

    def __init__(self, number: int, counts: memoryview) -> None:
        self._number, self._counts = number, counts
        self._first_left_s = self._left_s = -MOMENT_S

    def tell(self, connections: int) -> None:
        """Let the others know how many connections this process has."""
        self._counts[self._number] = connections

    def is_ahead(self) -> bool:
        """Return whether this process has more connections than another."""
        return bool(self._counts[self._number] > min(self._counts))

    def leaves(self) -> bool:
        """Return, after a glance at the others, whether a connection that waits is left to them.

        Whoever takes connections asks this before each, time and again.
        """
        if self.is_ahead():
            now_s = time.monotonic()
            if now_s - self._left_s > MOMENT_S:
                self._first_left_s = now_s  # it is another one than that left last
            if now_s - self._first_left_s < MOMENT_S:
                self._left_s = now_s
                time.sleep(GLANCE_S)
                return True
        self._left_s = -MOMENT_S
        return False


def places(processes: int) -> tuple[Place, ...]:
    """Return a place for each of several processes that are forked later."""
    counts = memoryview(mmap.mmap(-1, 8 * processes)).cast("q")
    return tuple(Place(number, counts) for number in range(processes))


class Turn:
    """The turn to write: one thread of one process has it at a time.

    Waiting in line here is quicker than sqlite's, which sleeps between its attempts. Between
    processes the system's record locks decide; they end with the process that held one.
    """

    def __init__(self, *, shared: bool) -> None:
        self._own = threading.Lock()
        self._file: IO[bytes] | None = tempfile.TemporaryFile() if shared else None

    def close(self) -> None:
        """Nobody writes any more."""
        if self._file is not None:
            self._file.close()

    def __enter__(self) -> Self:
        self._own.acquire()
        if self._file is not None:
            import fcntl

            fcntl.lockf(self._file, fcntl.LOCK_EX)
        return self

    def __exit__(self, *_: object) -> None:
        if self._file is not None:
            import fcntl

            fcntl.lockf(self._file, fcntl.LOCK_UN)
        self._own.release()
