# SPDX-License-Identifier: MIT
"""Several processes that answer at one address, so that every processor is of use.

Python runs one thread of a process at a time. The processes share the address, the registry and
the turn to write, and nothing else. They are made before any thread or connection is. Each listens
at a socket of its own, among which the system spreads connections evenly (``SO_REUSEPORT``); at
one that they shared, whichever woke first took them all.
"""

from __future__ import annotations

import os
import signal
import tempfile
import threading
from contextlib import contextmanager, suppress
from functools import partial
from typing import IO, TYPE_CHECKING, Self

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

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


@contextmanager
def helped(processes: int, work: Callable[[int], None]) -> Iterator[list[int]]:
    """Let that many processes less one do `work` while the block runs; give their process ids.

    `work` is told which of them it is: 1, 2 and so on; this process is 0. One that dies is not
    replaced: this process does the same work and carries on. None outlives this one, however it
    ends: they watch a pipe that closes with it.
    """
    watched, held = os.pipe()
    made = [_made(partial(work, number), watched, held) for number in range(1, processes)]
    os.close(watched)
    try:
        yield made
    finally:
        os.close(held)
        for process in made:
            with suppress(ChildProcessError):
                os.waitpid(process, 0)


def _made(work: Callable[[], None], watched: int, held: int) -> int:
    process = os.fork()
    if process:
        return process
    status = 1
    try:
        os.close(held)
        signal.signal(signal.SIGINT, signal.SIG_IGN)
        signal.signal(signal.SIGTERM, signal.SIG_DFL)
        threading.Thread(target=_end_with, args=(watched,), daemon=True).start()
        work()
        status = 0
    finally:
        os._exit(status)


def _end_with(watched: int) -> None:
    """End this process once nobody holds the other end of the pipe any more."""
    os.read(watched, 1)
    os._exit(0)
