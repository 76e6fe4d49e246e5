# SPDX-License-Identifier: MIT
"""A bar with an estimate for work that takes long, on standard error, where that is a terminal."""

from __future__ import annotations

import sys
from contextlib import contextmanager
from time import monotonic
from typing import TYPE_CHECKING

from wiretrack.progress import watched

if TYPE_CHECKING:
    from collections.abc import Iterator

    from rich.progress import Progress

AFTER_S = 0.7  # what is done sooner needs no bar


@contextmanager
def bars() -> Iterator[None]:
    """Show how far the work in this block has come."""
    if not sys.stderr.isatty():
        yield
        return
    bar = _Bar()
    try:
        with watched(bar.tell):
            yield
    finally:
        bar.stop()


class _Bar:
    """One bar at a time: that of what is counted now."""

    def __init__(self) -> None:
        self._of, self._since = "", 0.0
        self._shown: Progress | None = None

    def tell(self, what: str, done: int, total: int) -> None:
        """Show that so many of them are done; the bar goes once all are."""
        if what != self._of or done == 0:
            self.stop()
            self._of, self._since = what, monotonic()
        if done >= total:
            self.stop()
        elif self._shown:
            self._shown.update(self._shown.task_ids[0], completed=done)
        elif done and monotonic() - self._since > AFTER_S:
            self._begin(what, done, total)

    def _begin(self, what: str, done: int, total: int) -> None:
        from rich.console import Console
        from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

        self._shown = Progress(
            TextColumn("{task.description} {task.percentage:3.0f} %"),
            BarColumn(bar_width=None),
            TimeRemainingColumn(compact=True),
            TextColumn("left"),
            console=Console(stderr=True),
            transient=True,
            redirect_stdout=False,
            redirect_stderr=False,
        )
        self._shown.add_task(what, completed=done, total=total)
        self._shown.start()

    def stop(self) -> None:
        """Take the bar away."""
        if self._shown:
            self._shown.stop()
            self._shown = None
