# SPDX-License-Identifier: MIT
"""Threads that answer requests: readers are served by one at a time, unless that takes long.

Python runs one thread of a process at a time. Several that read at once hand the interpreter, and
what the processor has at hand of their registries, to and fro within each answer; it then takes
them a quarter longer. Who writes waits for the disk, so of those there are several.
"""

from __future__ import annotations

import time
from math import ceil
from queue import SimpleQueue
from threading import Event, Lock, Thread, current_thread
from typing import TYPE_CHECKING, Any

from waitress.task import ThreadedTaskDispatcher

from wiretrack.web.access import SAFE_METHODS

if TYPE_CHECKING:
    from collections.abc import Callable

WRITERS, MOST_READERS = 4, 24
PATIENCE_S = 0.04


class Workers(ThreadedTaskDispatcher):
    """Waitress's threads for those who write, and one that serves those who read.

    When an answer isn't there after `PATIENCE_S`, another thread takes over those that wait; the
    one that was slow ends with that answer. `leave` is called in each that ends.
    """

    def __init__(self, leave: Callable[[], None]) -> None:
        super().__init__()
        self.set_thread_count(WRITERS)
        self._leave, self._ended = leave, False
        self._waiting: SimpleQueue[Any] = SimpleQueue()
        self._changing, self._came = Lock(), Event()
        self._readers: set[Thread] = set()
        self._reader: Thread | None = None
        self._begun_s: float | None = None  # since when the reader is at an answer
        self._take_over()
        Thread(target=self._watch, name="watch", daemon=True).start()

    def add_task(self, task: Any) -> None:
        """Have a request answered as soon as somebody is free."""
        if getattr(task.requests[0], "command", "") not in SAFE_METHODS:
            super().add_task(task)
            return
        self._waiting.put(task)
        self._came.set()

    def shutdown(self, cancel_pending: bool = True, timeout: float = 5) -> bool:
        """End the threads; those at an answer may end it within `timeout` seconds."""
        self._ended = True
        self._came.set()
        self._waiting.put(None)
        until_s = time.monotonic() + timeout
        for reader in list(self._readers):
            reader.join(max(until_s - time.monotonic(), 0.0))
        while cancel_pending and not self._waiting.empty():
            task = self._waiting.get()
            if task is not None:
                task.cancel()
        return bool(super().shutdown(cancel_pending, ceil(max(until_s - time.monotonic(), 0.0))))

    def _take_over(self) -> None:
        self._begun_s = None
        self._reader = Thread(target=self._read, name="reader", daemon=True)
        self._readers.add(self._reader)
        self._reader.start()

    def _read(self) -> None:
        own = current_thread()
        while self._reader is own and not self._ended:
            task = self._waiting.get()
            if task is None:
                break
            self._begun_s = time.monotonic()
            try:
                task.service()
            except BaseException:
                self.logger.exception("Exception when answering %r", task)
            with self._changing:
                if self._reader is own:
                    self._begun_s = None
        self._readers.discard(own)
        self._leave()

    def _watch(self) -> None:
        """Let another thread take over from one that is slow while others wait."""
        while not self._ended:
            self._came.wait()
            time.sleep(PATIENCE_S)
            self._came.clear()
            if self._waiting.empty():
                continue
            self._came.set()
            with self._changing:
                begun_s = self._begun_s
                slow = begun_s is not None and time.monotonic() - begun_s > PATIENCE_S
                if slow and len(self._readers) < MOST_READERS and not self._ended:
                    self._take_over()
