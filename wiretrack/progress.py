# SPDX-License-Identifier: MIT
"""How far long work has come, told to whoever watches; nobody does unless he says so."""

from __future__ import annotations

from contextlib import contextmanager
from contextvars import ContextVar
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence

    Tell = Callable[[str, int, int], None]

T = TypeVar("T")
_tell: ContextVar[Tell | None] = ContextVar("tell", default=None)


@contextmanager
def watched(tell: Tell) -> Iterator[None]:
    """Let `tell` know how far work in this block has come: what is counted, how many, of how many.

    >>> told = []
    >>> with watched(lambda *said: told.append(said)):
    ...     done = [2 * each for each in steps([1, 2], "labels")]
    >>> done, told
    ([2, 4], [('labels', 0, 2), ('labels', 1, 2), ('labels', 2, 2)])
    """
    before = _tell.set(tell)
    try:
        yield
    finally:
        _tell.reset(before)


def steps(things: Sequence[T], what: str) -> Iterator[T]:
    """Yield things, and tell how many are done."""
    return counted(things, what, len(things))


def counted(things: Iterable[T], what: str, total: int) -> Iterator[T]:
    """Yield things of which there are so many, and tell how many are done."""
    return placed(enumerate(things), what, total)


def placed(things: Iterable[tuple[int, T]], what: str, total: int) -> Iterator[T]:
    """Yield things by their places among so many, and tell how far that is; others may do some."""
    tell = _tell.get() or (lambda *_: None)
    for done, thing in things:
        tell(what, done, total)
        yield thing
    tell(what, total, total)
