# SPDX-License-Identifier: MIT
"""What tests run in processes of their own, to kill them: forked from one that has loaded this."""

from __future__ import annotations

import errno
import importlib
import multiprocessing
import os
import pkgutil
import signal
import threading
import time
import warnings
from datetime import date
from typing import TYPE_CHECKING, Any

import wiretrack
from tests.pump import L1
from tests.warm import never_wait_for_the_disk, open_streams
from wiretrack import manner
from wiretrack import processes as forking
from wiretrack.cli.group import main
from wiretrack.progress import watched
from wiretrack.store import tails
from wiretrack.store.store import open_registry
from wiretrack.tasks.binder import binder, pages
from wiretrack.tasks.binder.binder import write_binder
from wiretrack.tasks.change.merging import merge
from wiretrack.tasks.test.testing import ReadingText, log_reading

if TYPE_CHECKING:
    from collections.abc import Iterator
    from multiprocessing.connection import Connection
    from pathlib import Path

# All that the program has, and what it loads no sooner than it is used.
OURS = [found.name for found in pkgutil.walk_packages(wiretrack.__path__, "wiretrack.")]
LATER = ("sqlite_utils", "jsonschema", "PIL.ImageDraw", "PIL.ImageFont", "qrcode", "rich.table")
for name in (*OURS, *LATER):
    if not name.endswith("__main__"):
        importlib.import_module(name)


def log_readings(db: Path, acknowledged: Connection) -> None:
    """Log readings one after the other, and tell the id of each once it is stored."""
    with open_registry(db) as registry:
        while True:
            text = ReadingText(subject=L1, kind="continuity", value="0.31", leads="0.1")
            acknowledged.send(log_reading(registry, text).id)


def merge_files(copy: Path, other: Path, die_at: str, told: Connection) -> None:
    """Merge a copy into another one in pages of five entries, perhaps to be killed in one."""
    tails.MOST_ENTRIES = 5
    if die_at:
        setattr(tails, die_at, lambda *_: os.kill(os.getpid(), signal.SIGKILL))
    with open_registry(copy) as registry:
        told.send("ready")
        merge(registry, other)


def bind(db: Path, folder: Path, told: Connection) -> None:
    """Write a binder, in place of the one that is there."""
    with open_registry(db) as registry:
        told.send("ready")
        write_binder(registry, folder, date(2026, 5, 2), replace=True)
        told.send("done")


def bind_together(db: Path, folder: Path, processes: int, beside: int, told: Connection) -> None:
    """Write a binder by some processes, with threads beside; tell how far, and with how many."""
    warnings.simplefilter("error", DeprecationWarning)  # as of a fork beside threads, Python 3.12
    for _ in range(beside):
        threading.Thread(target=threading.Event().wait, daemon=True).start()

    def tell(what: str, done: int, total: int) -> None:
        told.send((what, done, total, len(multiprocessing.active_children())))

    with open_registry(db) as registry, watched(tell):
        manner.use(registry.manner())
        told.send(write_binder(registry, folder, date(2026, 5, 2), processes=processes))


def bind_slowly(db: Path, folder: Path, failing: str, told: Connection) -> None:
    """Run the command by three processes, however small the site, with its words to `told`.

    Each circuit takes a while, so that who looks at the processes finds them at work. In a helper a
    circuit is `failing`, as on a full medium or as nobody foresaw.
    """
    first, made = os.getpid(), pages.circuit

    def circuit(*given: Any) -> Iterator[tuple[str, str]]:
        time.sleep(0.3)
        if failing and os.getpid() != first:
            raise OSError(errno.ENOSPC, failing) if failing.startswith("No") else KeyError(failing)
        return made(*given)

    os.setsid()
    for stream in (1, 2):
        os.dup2(told.fileno(), stream)
    told.close()
    open_streams()
    signal.signal(signal.SIGINT, signal.default_int_handler)
    for module, name, other in (
        (pages, "circuit", circuit),
        (binder, "MANY_CIRCUITS", 1),
        (binder, "forks_of_use", lambda: 3),
    ):
        setattr(module, name, other)
    main(["--db", str(db), "binder", str(folder)])


def serve(db: Path, arguments: list[str], processes: int, ignored: bool, told: Connection) -> None:
    """Serve as the command does, and write to us; interrupts may have been ignored before."""
    for stream in (1, 2):
        os.dup2(told.fileno(), stream)
    told.close()
    open_streams()
    multiprocessing.set_start_method("fork", force=True)  # as where nobody has chosen another one
    signal.signal(signal.SIGINT, signal.SIG_IGN if ignored else signal.default_int_handler)
    never_wait_for_the_disk()
    forking.forks_of_use = lambda: processes
    os.environ |= {"COLUMNS": "200", "NO_COLOR": "1"}
    main(["--db", str(db), "serve", "--port", "0", *arguments])
