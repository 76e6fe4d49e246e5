# SPDX-License-Identifier: MIT
"""The registry as the pages use it: opened once in each thread, writes one after the other."""

from __future__ import annotations

import threading
from contextlib import contextmanager
from typing import TYPE_CHECKING

from flask import current_app

from wiretrack.registry.store import Registry, explain, open_registry

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

_own = threading.local()


@contextmanager
def opened() -> Iterator[Registry]:
    """Give this thread's open registry; sqlite's errors leave as ours, and close it."""
    path: Path = current_app.config["DB"]
    registry = _kept(path)
    try:
        yield registry
    except registry.errors as error:
        _forget()
        raise explain(path, error) from error


@contextmanager
def for_writing() -> Iterator[Registry]:
    """Give the open registry while no other thread of this process writes.

    Waiting in line here is quicker than sqlite's, which sleeps between its attempts.
    """
    lock: threading.Lock = current_app.extensions["write_lock"]
    with lock, opened() as registry:
        yield registry


def _kept(path: Path) -> Registry:
    """Return the registry that this thread has open, if the file is still the same one."""
    try:
        seen = path.stat()
    except OSError:
        _forget()
        return open_registry(path)
    identity = (str(path), seen.st_dev, seen.st_ino)
    if getattr(_own, "identity", None) != identity:
        _forget()
        _own.registry, _own.identity = open_registry(path), identity
    registry: Registry = _own.registry
    return registry


def _forget() -> None:
    registry: Registry | None = getattr(_own, "registry", None)
    _own.registry, _own.identity = None, None
    if registry is not None:
        registry.db.close()
