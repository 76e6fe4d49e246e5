# SPDX-License-Identifier: MIT
"""Several processes that answer at one address, so that every processor is of use.

Python runs one thread of a process at a time. The processes share the address, the registry and
the turn to write, and nothing else. Each listens at a socket of its own, among which the system
spreads connections evenly (``SO_REUSEPORT``); at one that they shared, whichever woke first took
them all. ``keeping_alive.py`` makes them.
"""

from __future__ import annotations

import os
import tempfile
import threading
from typing import IO, Self

MOST = 4


def processes_of_use() -> int:
    """Return how many processes make sense here: one for each processor, four at most."""
    if not hasattr(os, "fork") or not hasattr(os, "sched_getaffinity"):
        return 1
    return max(1, min(MOST, len(os.sched_getaffinity(0))))


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
