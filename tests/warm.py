# SPDX-License-Identifier: MIT
"""Processes forked from one that has loaded the program: begun in milliseconds, and may be killed.

They know nothing of what a test has changed in its own process. A function waits for the disk, and
a command doesn't. Functions are those of `to_be_killed`: what their module loads is loaded once.
"""

from __future__ import annotations

import atexit
import gc
import json
import multiprocessing
import os
import shutil
import signal
import socket
import sys
import tempfile
import threading
import time
from contextlib import contextmanager, suppress
from functools import cache
from multiprocessing.connection import wait
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Callable, Iterator
    from multiprocessing.connection import Connection
    from multiprocessing.process import BaseProcess

_processes = multiprocessing.get_context("forkserver")
_processes.set_forkserver_preload(["tests.to_be_killed"])


@contextmanager
def started(run: Callable[..., None], *given: Any) -> Iterator[tuple[BaseProcess, Connection]]:
    """Run a function of `to_be_killed` in a process; its last argument tells us things."""
    ours, its = _processes.Pipe(duplex=False)
    process = _processes.Process(target=run, args=(*given, its))
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


# What is run as ``wiretrack``: it hands over its arguments, folder, environment and streams, passes
# signals on and ends as the process forked for it ends; when it is killed, that one is killed too.
_SCRIPT = """#!{python} -IS
import json, os, signal, socket, sys
line = socket.socket(socket.AF_UNIX)
line.connect({address!r})
for number in (signal.SIGINT, signal.SIGTERM):
    signal.signal(number, lambda number, _: line.send(bytes([number])))
given = json.dumps([sys.argv[1:], os.getcwd(), dict(os.environ)]).encode("ascii")
socket.send_fds(line, [len(given).to_bytes(4, "big")], [0, 1, 2])
line.sendall(given)
for number in range(3):
    os.close(number)
killed, status = line.recv(2)
if killed:
    signal.signal(killed, signal.SIG_DFL)
    os.kill(os.getpid(), killed)
os._exit(status)
"""


@cache
def command() -> str:
    """Return a script ``wiretrack``, alone in its folder, which needn't load the program."""
    folder = Path(tempfile.mkdtemp())
    address, script = str(folder / "socket"), folder / "bin" / "wiretrack"
    ours, its = _processes.Pipe()
    keeper = _processes.Process(target=keep, args=(address, its), daemon=True)
    keeper.start()
    its.close()
    assert ours.recv() == "ready"
    script.parent.mkdir()
    script.write_text(_SCRIPT.format(python=sys.executable, address=address), encoding="utf-8")
    script.chmod(0o700)
    atexit.register(keeper.join)
    atexit.register(ours.close)  # before that
    return str(script)


def never_wait_for_the_disk(replace: Callable[[object, str, object], None] = setattr) -> None:
    """Leave it to the system when a registry or a file reaches the disk."""
    from wiretrack.store import store

    set_up = store._set_up

    def without_waiting(db: sqlite3.Connection) -> None:
        set_up(db)
        db.execute("PRAGMA synchronous = OFF")

    replace(store, "_set_up", without_waiting)
    replace(os, "fsync", lambda _: None)


def keep(address: str, whole: Connection) -> None:
    """Fork a process for each script that connects, until nobody holds the other end of `whole`."""
    os.setsid()  # what the terminal interrupts isn't meant for us
    never_wait_for_the_disk()
    gc.freeze()
    signal.signal(signal.SIGCHLD, signal.SIG_IGN)  # nobody waits for those who wait
    with socket.socket(socket.AF_UNIX) as listening:
        listening.bind(address)
        listening.listen(64)
        whole.send("ready")
        while whole not in wait([listening, whole]):
            line, _ = listening.accept()
            if os.fork() == 0:
                signal.signal(signal.SIGCHLD, signal.SIG_DFL)
                listening.close()
                whole.close()
                _wait_for_it(line)
            line.close()
    shutil.rmtree(Path(address).parent)


def _wait_for_it(line: socket.socket) -> None:
    """Fork the program, give it the signals that come, and tell how it ended."""
    size, streams, _, _ = socket.recv_fds(line, 4, 3)
    with line.makefile("rb", buffering=0) as rest:
        given = b""
        while len(given) < int.from_bytes(size, "big"):
            given += rest.read(1 << 16) or b""
    process = os.fork()
    if process == 0:
        line.close()
        _run(streams, *json.loads(given))

    def pass_on() -> None:
        while number := line.recv(1):
            os.kill(process, number[0])
        os.kill(process, signal.SIGKILL)

    for stream in (*streams, 0, 1, 2):
        os.close(stream)
    threading.Thread(target=pass_on, daemon=True).start()
    _, status = os.waitpid(process, 0)
    line.sendall(bytes([os.WTERMSIG(status), os.WEXITSTATUS(status)]))
    os._exit(0)


def open_streams() -> None:
    """Have the three streams again, as at the start of a program."""
    encoding = os.environ.get("PYTHONIOENCODING", "utf-8")
    sys.stdin, sys.stdout, sys.stderr = (
        open(number, mode, encoding=encoding, errors=errors, closefd=False)
        for number, mode, errors in ((0, "r", "strict"), (1, "w", "strict"), (2, "w", "replace"))
    )


def _run(
    streams: list[int], arguments: list[str], folder: str, environment: dict[str, str]
) -> None:
    """Be the program."""
    from wiretrack.cli.group import main

    for number, stream in enumerate(streams):
        os.dup2(stream, number)
        os.close(stream)
    os.chdir(folder)
    os.environ.clear()
    os.environ.update(environment)
    time.tzset()
    sys.argv = ["wiretrack", *arguments]
    open_streams()
    status: Any = 1
    try:
        main(arguments)
    except SystemExit as end:
        status = end.code or 0
    finally:
        sys.stdout.flush()
        sys.stderr.flush()
        os._exit(status)
