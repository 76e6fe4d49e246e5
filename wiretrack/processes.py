# SPDX-License-Identifier: MIT
"""Long work that several processes share, each forked from this one with all that it knows."""

from __future__ import annotations

import os
import pickle
import signal
import threading
import time
import traceback
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING, Generic, Self, TypeVar

from wiretrack.errors import ProcessLostError
from wiretrack.progress import placed

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence
    from multiprocessing.connection import Connection
    from multiprocessing.context import ForkProcess
    from types import FrameType

T = TypeVar("T")
R = TypeVar("R")
U = TypeVar("U")

MOST_FORKS = 4  # what more of them would save isn't worth their memory
_MOST_SHARES = 256  # the number of a share is a byte
_ENDING = [getattr(signal, name) for name in ("SIGTERM", "SIGHUP") if hasattr(signal, name)]


def processors() -> int:
    """Return how many processors there are for this process."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def forks_of_use() -> int:
    """Return how many processes make sense where each is a fork: one a processor, four at most.

    Where a system has no forks, or its own libraries don't bear them, as on a Mac, it is one.
    """
    if not hasattr(os, "fork") or not hasattr(os, "sched_getaffinity"):
        return 1
    return min(MOST_FORKS, processors())


def _may_fork() -> bool:
    """Return whether this process bears it: a fork lacks other threads, but not their locks."""
    from multiprocessing import current_process

    if not hasattr(os, "fork") or current_process().daemon:
        return False
    try:
        return len(os.listdir("/proc/self/task")) == 1
    except OSError:
        return threading.active_count() == 1


def end_with(parent: int) -> None:
    """End this process, whatever it does, once the one that began it is gone."""

    def watch() -> None:
        while os.getppid() == parent:
            time.sleep(0.5)
        os._exit(0)

    threading.Thread(target=watch, daemon=True).start()


class Shared(Generic[T, R]):
    """Things that several processes do, each of them the next share, until none is left.

    The numbers of the shares lie in a pipe, a byte each. A byte goes to one who reads, and nobody
    holds a lock that would stay locked if he were killed.
    """

    def __init__(self, things: Sequence[T], do: Callable[[Iterable[T]], R]) -> None:
        self._things, self._do = things, do
        self._size = max(1, -(-len(things) // _MOST_SHARES))
        self._numbers, filling = os.pipe()
        os.write(filling, bytes(range(-(-len(things) // self._size))))
        os.close(filling)  # so that the pipe ends where it is empty
        self._helpers: list[tuple[ForkProcess, Connection]] = []
        self._made: list[R] = []

    def begin(self, helpers: int, apart: Callable[[], None]) -> None:
        """Fork so many helpers, or as many as the system lets us; each calls `apart` first."""
        from multiprocessing import get_context

        if helpers < 1 or not _may_fork():
            return
        forks, us = get_context("fork"), os.getpid()
        # What a signal does is undone up the stack; a helper must never come there.
        before = signal.pthread_sigmask(signal.SIG_BLOCK, [signal.SIGINT, *_ENDING])
        try:
            for _ in range(helpers):
                told, tells = forks.Pipe(duplex=False)
                given = (tells, us, before, apart)
                helper = forks.Process(target=self._help, args=given, daemon=True)
                helper.start()
                tells.close()
                self._helpers.append((helper, told))
        except OSError:  # of processes, of memory: we do it with those that there are
            pass
        finally:
            signal.pthread_sigmask(signal.SIG_SETMASK, before)

    def do(self, what: str = "") -> list[R]:
        """Do what is left, wait for the helpers, and return what `do` made in each process.

        Who watches is told how many are done, by whomever, if there is a word for `what` they are.
        """
        taken, total = self._taken(self.look), len(self._things)
        self._made.append(self._do(placed(taken, what, total) if what else (t for _, t in taken)))
        while self._helpers:
            self.look(wait_s=None)
        return self._made

    def watched(self, things: Iterable[U]) -> Iterator[U]:
        """Yield what is done here alone, and look after the helpers meanwhile."""
        for thing in things:
            self.look()
            yield thing

    def look(self, wait_s: float | None = 0.0) -> None:
        """Take what helpers have made; raise what one of them met, or that one was lost."""
        from multiprocessing.connection import wait

        ready = wait([told for _, told in self._helpers], wait_s) if self._helpers else []
        for helper, told in [each for each in self._helpers if each[1] in ready]:
            try:
                made, error = told.recv()
            except (EOFError, OSError):
                raise ProcessLostError from None
            if error is not None:
                raise error
            self._made.append(made)
            helper.join()
            self._helpers.remove((helper, told))

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        for helper, told in self._helpers:  # those still at work have nothing to do any more
            helper.kill()
            helper.join()
            told.close()
        os.close(self._numbers)

    def _help(
        self, tells: Connection, us: int, signals: Iterable[int], apart: Callable[[], None]
    ) -> None:
        """Do shares in a fork, and tell what came of it, or what was met."""
        try:
            signal.signal(signal.SIGINT, signal.SIG_IGN)  # we are told of it, and end the helpers
            for number in _ENDING:
                signal.signal(number, signal.SIG_DFL)
            signal.pthread_sigmask(signal.SIG_SETMASK, signals)
            apart()
            try:
                things = self._taken(lambda: None if os.getppid() == us else os._exit(0))
                tells.send((self._do(thing for _, thing in things), None))
            except Exception as error:
                tells.send((None, _sendable(error)))
        finally:
            os._exit(0)  # at once: nothing is closed that is open in us too, and nothing is said

    def _taken(self, look: Callable[[], None]) -> Iterator[tuple[int, T]]:
        """Yield things that nobody else takes, each with its place."""
        while number := os.read(self._numbers, 1):
            start = number[0] * self._size
            for place, thing in enumerate(self._things[start : start + self._size], start):
                look()
                yield place, thing


def _sendable(error: Exception) -> Exception:
    """Return an error as it passes to another process, with where it came from."""
    error.add_note(traceback.format_exc())
    with suppress(Exception):
        pickle.loads(pickle.dumps(error))
        return error
    return RuntimeError(f"{type(error).__name__}: {error}")


class _Ended(BaseException):
    """A signal that ends this process came."""


@contextmanager
def tidied_up() -> Iterator[None]:
    """Let the block tidy up as after any error before a signal ends this process."""
    is_ours = threading.current_thread() is threading.main_thread()
    taken = [n for n in _ENDING if is_ours and signal.getsignal(n) is signal.SIG_DFL]

    def end(number: int, _: FrameType | None) -> None:
        signal.signal(number, signal.SIG_IGN)  # once is enough
        raise _Ended(number)

    for number in taken:
        signal.signal(number, end)
    try:
        yield
    except _Ended as ended:
        signal.signal(ended.args[0], signal.SIG_DFL)
        os.kill(os.getpid(), ended.args[0])
    finally:
        for number in taken:
            signal.signal(number, signal.SIG_DFL)
