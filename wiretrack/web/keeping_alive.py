# SPDX-License-Identifier: MIT
"""Helping processes, and one that starts another in the place of any that dies.

Threads and open connections don't survive a fork. So before there are any, the first process makes
a keeper, which never has any; the keeper makes the helpers, whenever that is.
"""

from __future__ import annotations

import logging
import os
import select
import signal
import threading
import time
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    Work = Callable[[int], None]

SHORTEST_PAUSE_S, LONGEST_PAUSE_S = 0.5, 30.0
LONG_LIFE_S = 10.0  # whoever lived so long didn't die of how it was started
LOG = logging.getLogger("wiretrack.processes")


@contextmanager
def helped(processes: int, work: Work) -> Iterator[None]:
    """Let that many processes less one do `work` while the block runs.

    `work` is told which of them it is: 1, 2 and so on, as this process is 0.

    None outlives this process, however it ends: they watch a pipe that closes with it. When the
    block ends all of them are gone, as they hold another pipe open on which this one waits.
    """
    if processes == 1:
        yield
        return
    (watched, held), (ended, living) = os.pipe(), os.pipe()
    keeper = os.fork()
    if keeper == 0:
        _as_child(lambda: _keep(range(1, processes), work, watched), held, ended)
    os.close(watched)
    os.close(living)
    try:
        yield
    finally:
        os.close(held)
        os.read(ended, 1)
        os.close(ended)
        with suppress(ChildProcessError):
            os.waitpid(keeper, 0)


def pause_s(lived_s: float, before_s: float) -> float:
    """Return how long to wait before one that died is replaced.

    Twice as long each time if it died soon, lest one that can't live keeps the machine busy.
    """
    if lived_s >= LONG_LIFE_S:
        return SHORTEST_PAUSE_S
    return min(max(2 * before_s, SHORTEST_PAUSE_S), LONGEST_PAUSE_S)


@dataclass
class _Helper:
    """One helper: its process while it lives, else how it ended and when it is replaced."""

    number: int
    process: int = 0
    since: float = 0.0
    pause_s: float = 0.0
    ended: str = ""

    @property
    def due(self) -> float:
        """Return when it is to be replaced, in seconds of the clock that always goes forward."""
        return self.since + self.pause_s

    def start(self, work: Work, watched: int, unwanted: tuple[int, ...]) -> None:
        """Make its process; where the system has none to spare, it is due again later."""
        try:
            process = os.fork()
        except OSError as error:
            self._gone(f"can't be started ({error.strerror})")
            return
        if process == 0:
            _as_child(lambda: _help(lambda: work(self.number), watched), *unwanted)
        if self.ended:
            LOG.warning("A process that answers %s. Another takes its place.", self.ended)
        self.since, self.process = time.monotonic(), process

    def look(self) -> None:
        """Find out whether it lives still."""
        process, status = os.waitpid(self.process, os.WNOHANG)
        if process:
            self._gone(_told(os.waitstatus_to_exitcode(status)))

    def _gone(self, how: str) -> None:
        now = time.monotonic()
        self.pause_s = pause_s(now - self.since if self.process else 0.0, self.pause_s)
        self.process, self.since, self.ended = 0, now, how


def _keep(numbers: range, work: Work, watched: int) -> None:
    """Start the helpers, and others in the place of those that die, until `watched` closes."""
    woken, wake = os.pipe()
    os.set_blocking(wake, False)
    signal.signal(signal.SIGCHLD, lambda *_: None)
    signal.set_wakeup_fd(wake, warn_on_full_buffer=False)
    helpers = [_Helper(number) for number in numbers]
    for helper in helpers:
        helper.start(work, watched, (woken, wake))
    while True:
        waiting = [helper.due for helper in helpers if not helper.process]
        patience_s = max(min(waiting) - time.monotonic(), 0.0) if waiting else None
        ready, _, _ = select.select([watched, woken], [], [], patience_s)
        if watched in ready:
            break
        if woken in ready:
            os.read(woken, 4096)
        for helper in helpers:
            if helper.process:
                helper.look()
            elif helper.due <= time.monotonic():
                helper.start(work, watched, (woken, wake))
    for helper in helpers:
        if helper.process:
            os.waitpid(helper.process, 0)


def _as_child(do: Callable[[], None], *unwanted: int) -> None:
    """Do something in a process just made, and end it; its parent's files are closed in it."""
    status = 1
    try:
        signal.signal(signal.SIGINT, signal.SIG_IGN)
        signal.signal(signal.SIGTERM, signal.SIG_DFL)
        for file in unwanted:
            os.close(file)
        do()
        status = 0
    except Exception as error:
        LOG.error("%s: %s", type(error).__name__, error)
    finally:
        os._exit(status)


def _help(work: Callable[[], None], watched: int) -> None:
    signal.set_wakeup_fd(-1)
    signal.signal(signal.SIGCHLD, signal.SIG_DFL)
    threading.Thread(target=_end_with, args=(watched,), daemon=True).start()
    work()


def _end_with(watched: int) -> None:
    """End this process once nobody holds the other end of the pipe any more."""
    os.read(watched, 1)
    os._exit(0)


def _told(code: int) -> str:
    """Return how a process ended.

    >>> _told(-9), _told(1)
    ('was killed (SIGKILL)', 'ended with status 1')
    """
    return f"was killed ({signal.Signals(-code).name})" if code < 0 else f"ended with status {code}"
