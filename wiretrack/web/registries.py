# SPDX-License-Identifier: MIT
"""The registry as the pages use it: opened once in each thread, writes one after the other."""

from __future__ import annotations

import threading
from collections import deque
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from typing import IO, TYPE_CHECKING, Self

from flask import current_app

from wiretrack import manner
from wiretrack.store.foreign import explain
from wiretrack.store.reading_log import add_readings
from wiretrack.store.store import Registry, open_registry

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from wiretrack.model.entities import Reading


class WriteLock:
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


@dataclass
class Waiting:
    """A reading that waits to be stored, and what became of it."""

    reading: Reading
    who: str | None
    outcome: str | Exception | None = None


class Registries:
    """One open registry for each thread that asks for it."""

    def __init__(self, path: Path, lock_file: Path | None = None) -> None:
        self.path = path
        self.writing = WriteLock(lock_file)
        self.waiting: deque[Waiting] = deque()
        self._own = threading.local()
        self._all: set[Registry] = set()

    def own(self) -> Registry:
        """Return this thread's registry, opened again if the file is another one by now."""
        identity = self._identity()
        if identity is None or getattr(self._own, "identity", None) != identity:
            self.forget()
            self._own.registry = open_registry(self.path, "web")
            self._own.registry.map_file()
            self._own.identity = identity
            self._all.add(self._own.registry)
        registry: Registry = self._own.registry
        return registry

    def forget(self) -> None:
        """Close this thread's registry."""
        registry: Registry | None = getattr(self._own, "registry", None)
        self._own.registry = self._own.identity = None
        if registry is not None:
            self._all.discard(registry)
            registry.close()

    def close(self) -> None:
        """Close every thread's registry; nobody uses them any more."""
        while self._all:
            with suppress(KeyError):
                self._all.pop().close()
        self.writing.close()

    def _identity(self) -> tuple[int, int] | None:
        try:
            seen = self.path.stat()
        except OSError:
            return None
        return seen.st_dev, seen.st_ino


@contextmanager
def for_reading() -> Iterator[Registry]:
    """Give this thread's open registry; sqlite's errors leave as ours, and close it."""
    registries = _registries()
    registry = registries.own()
    try:
        manner.use_once_asked(registry.manner)
        yield registry
    except registry.errors as error:
        registries.forget()
        raise explain(registries.path, error) from error


@contextmanager
def for_writing() -> Iterator[Registry]:
    """Give the open registry while no other thread of these pages writes."""
    with _registries().writing, for_reading() as registry:
        yield registry


def add_together(registry: Registry, reading: Reading, *, who: str | None) -> str:
    """Store a reading durably, entered by `who`, together with those that other threads have.

    Whoever comes to the front of the line stores all that wait in one transaction, so that the
    disk is waited for once; the others find theirs done.
    """
    registries, own = _registries(), Waiting(reading, who)
    registries.waiting.append(own)
    with registries.writing:
        if own.outcome is None:
            _store_all(registry, registries.waiting)
    if isinstance(own.outcome, Exception):
        raise own.outcome
    return str(own.outcome)


def _store_all(registry: Registry, waiting: deque[Waiting]) -> None:
    several = [waiting.popleft() for _ in range(len(waiting))]
    try:
        outcomes = add_readings(registry, [(one.reading, one.who) for one in several])
    except Exception as error:
        for one in several:
            one.outcome = error
        return
    for one, outcome in zip(several, outcomes, strict=True):
        one.outcome = outcome


def _registries() -> Registries:
    found: Registries = current_app.extensions["registries"]
    return found
