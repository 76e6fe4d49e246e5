# SPDX-License-Identifier: MIT
"""The turn to write, which the threads of all processes that serve one registry share."""

from __future__ import annotations

import threading
from typing import IO, TYPE_CHECKING, Self

if TYPE_CHECKING:
    from pathlib import Path


class Turn:
    """One thread of one process has it at a time.

    Waiting in line here is quicker than sqlite's, which sleeps between its attempts. Between
    processes the system's record locks on `file` decide; they end with the process that held one.
    """

    def __init__(self, file: Path | None = None) -> None:
        self._own = threading.Lock()
        self._file: IO[bytes] | None = file.open("ab") if file else None

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
