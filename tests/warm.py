# SPDX-License-Identifier: MIT
"""Processes forked from one that has loaded the program: begun in milliseconds, and may be killed.

They know nothing of what a test has changed in its own process; they wait for the disk.
"""

from __future__ import annotations

import multiprocessing
import time
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from multiprocessing.connection import Connection
    from multiprocessing.process import BaseProcess

PRELOADED = ["tests.warm", "wiretrack.cli.group", "wiretrack.tasks.test.testing",
             "wiretrack.tasks.merge.merging", "wiretrack.tasks.describe.sites"]  # fmt: skip
_processes = multiprocessing.get_context("forkserver")
_processes.set_forkserver_preload(PRELOADED)


@contextmanager
def started(run: Callable[..., None], *given: Any) -> Iterator[tuple[BaseProcess, Connection]]:
    """Run a function of a module in a process of its own; its last argument tells us things."""
    ours, its = _processes.Pipe(duplex=False)
    process = _processes.Process(target=run, args=(*given, its), daemon=True)
    process.start()
    its.close()
    try:
        yield process, ours
    finally:
        process.kill()
        process.join()
        ours.close()


def killed(run: Callable[..., None], *given: Any, after: int = 1, after_s: float) -> list[Any]:
    """Kill a process so long after it told so many things; return all that it told."""
    with started(run, *given) as (process, told):
        found = [told.recv() for _ in range(after)]
        time.sleep(after_s)
        process.kill()  # one that is through already is gone
        process.join()
        with suppress(EOFError):
            while True:
                found.append(told.recv())
    return found
