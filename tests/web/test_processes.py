# SPDX-License-Identifier: MIT
"""Several processes at one address: all answer, none is left over, and they write in turn."""

from __future__ import annotations

import json
import os
import signal
import socket
import threading
import time
import urllib.error
import urllib.request
import uuid
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, TextIO

import pytest

from tests.pump import L1
from tests.web.browsing import serving
from tests.web.conftest import reading
from wiretrack.store.store import open_registry
from wiretrack.web.limits import OVERALL, PER_ADDRESS
from wiretrack.web.registries import WriteLock

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from multiprocessing.process import BaseProcess

if not Path("/proc/self/task").is_dir() or not hasattr(os, "fork"):
    pytest.skip("processes are looked at under /proc here", allow_module_level=True)
CODE = "lantern-moss-17"


@contextmanager
def three(db: Path, *, ignored: bool = False) -> Iterator[tuple[str, BaseProcess, TextIO]]:
    """Serve a registry from three processes; give the address, the first of them and its words."""
    asked = ["--code", CODE, "--json"]
    with serving(db, *asked, until="}", processes=3, ignored=ignored) as (lines, server, words):
        yield json.loads("".join(lines))["address"], server, words


def pid(server: BaseProcess) -> int:
    assert server.pid is not None
    return server.pid


def status(server: BaseProcess) -> int | None:
    """Return how the first process ended, once it did."""
    server.join(20)
    return server.exitcode


def children(process: int) -> list[int]:
    listed = Path(f"/proc/{process}/task/{process}/children").read_text("ascii")
    return [int(word) for word in listed.split()]


def workers(server: BaseProcess, without: Sequence[int] = ()) -> list[int]:
    """Return the processes that answer once all listen; those in `without` are awaited gone."""
    for _ in range(600):
        found = [process for process in children(pid(server)) if listening_at(process)]
        if len(found) == 3 and not {*found} & {*without}:
            return found
        time.sleep(0.05)
    pytest.fail(f"there are no three processes that listen, but {found}")


def listening_at(process: int) -> list[int]:
    """Return the ports at which a process listens, as the system has them (proc(5), net/tcp)."""
    rows = [line.split() for line in Path("/proc/net/tcp").read_text("ascii").splitlines()[1:]]
    ports = {f"socket:[{row[9]}]": int(row[1].split(":")[1], 16) for row in rows if row[3] == "0A"}
    found = []
    with suppress(OSError):
        for file in Path(f"/proc/{process}/fd").iterdir():
            with suppress(OSError):
                found += [ports[name] for name in [os.readlink(file)] if name in ports]
    return found


def ask(address: str, path: str, code: str = CODE, body: object = None) -> int:
    """Return the status of an answer, over a connection of its own."""
    request = urllib.request.Request(
        address + path,
        None if body is None else json.dumps(body).encode(),
        {"Authorization": f"Bearer {code}", "Content-Type": "application/json"},
    )
    try:
        with urllib.request.urlopen(request, timeout=20) as answer:
            answer.read()
            return int(answer.status)
    except urllib.error.HTTPError as error:
        with error:
            return error.code


def gone(process: int) -> bool:
    """Return whether a process has ended, waiting for it a while."""
    for _ in range(200):
        try:
            state = Path(f"/proc/{process}/stat").read_text("ascii").split(")")[1].split()[0]
            if state == "Z" and len(os.listdir(f"/proc/{process}/task")) == 1:
                return True  # its other threads, which held its sockets, are gone too
        except OSError:
            return True
        time.sleep(0.05)
    return False


def port_of(address: str) -> int:
    return int(address.rpartition(":")[2])


def test_a_process_that_is_killed_is_replaced(db: Path) -> None:
    with three(db) as (address, server, _):
        before = workers(server)
        assert all(port_of(address) in listening_at(process) for process in before)
        assert {ask(address, f"/{L1}") for _ in range(12)} == {200}
        os.kill(before[1], signal.SIGKILL)
        assert gone(before[1])
        after = workers(server, without=before[1:2])
        assert {before[0], before[2]} < {*after}
        assert {ask(address, f"/{L1}") for _ in range(12)} == {200}


def test_where_processes_die_again_at_once_the_pages_stop_with_one_line(db: Path) -> None:
    with three(db) as (_, server, words):
        everybody = workers(server)
        os.kill(everybody[0], signal.SIGKILL)
        while not (new := {*children(pid(server))} - {*everybody}):
            time.sleep(0.01)
        os.kill(new.pop(), signal.SIGKILL)
        assert status(server) == 2
        told = words.read()
        assert all(map(gone, everybody))
    assert told.startswith("error: The pages have stopped: a process that answers died again")
    assert told.count("\n") == 1


def test_interrupting_stops_everybody_where_interrupts_were_ignored_before(db: Path) -> None:
    with three(db, ignored=True) as (_, server, _):
        everybody = workers(server)
        os.kill(pid(server), signal.SIGINT)
        assert status(server) == 0
        assert all(map(gone, everybody))


def test_interrupting_all_processes_at_once_as_a_terminal_does_is_no_failure(db: Path) -> None:
    with three(db) as (_, server, _):
        everybody = [pid(server), *workers(server)]
        for process in reversed(everybody):
            os.kill(process, signal.SIGINT)
        assert status(server) == 0
        assert all(map(gone, everybody[1:]))


def test_readings_are_stored_by_a_process_that_took_the_place_of_another(db: Path) -> None:
    with three(db) as (address, server, _):
        killed = workers(server)[:1]
        os.kill(killed[0], signal.SIGKILL)
        workers(server, without=killed)
        sent = [reading(id=str(uuid.uuid4()), value=f"0.{n:03} ohm") for n in range(1, 25)]
        assert {ask(address, "/api/readings", body=one) for one in sent} == {201}
    with open_registry(db) as registry:
        assert len(registry.rows("SELECT id FROM readings")) == len(sent)


@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGTERM, signal.SIGKILL])
def test_no_process_and_no_socket_is_left_over_however_the_first_one_ends(
    db: Path, how: signal.Signals
) -> None:
    with three(db) as (address, server, _):
        everybody = workers(server)
        assert ask(address, f"/{L1}") == 200
        os.kill(pid(server), how)
        assert status(server) == (-signal.SIGKILL if how is signal.SIGKILL else 0)
        assert all(map(gone, everybody))
        with socket.create_server(("127.0.0.1", port_of(address))):
            pass  # nobody else listens there


def test_readings_sent_to_all_processes_at_once_are_each_stored_once(db: Path) -> None:
    sent = [reading(id=str(uuid.uuid4()), value=f"0.{n:03} ohm") for n in range(1, 61)]
    statuses: list[int] = []
    with three(db) as (address, *_):

        def send(part: list[dict[str, str]]) -> None:
            statuses.extend(ask(address, "/api/readings", body=one) for one in part)

        parts = [sent[n::6] for n in range(6)] * 2  # everything twice, at the same time
        threads = [threading.Thread(target=send, args=(part,)) for part in parts]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
    assert sorted(set(statuses)) == [200, 201]
    assert statuses.count(201) == len(sent)
    with open_registry(db) as registry:
        rows = registry.rows("SELECT id FROM readings")
    assert sorted(row["id"] for row in rows) == sorted(one["id"] for one in sent)


def test_all_processes_together_look_at_no_more_wrong_codes_than_one_would(db: Path) -> None:
    with three(db) as (address, *_):
        statuses = [ask(address, f"/{L1}", f"wrong {n}") for n in range(OVERALL)]
    assert statuses.count(401) <= PER_ADDRESS
    assert set(statuses) == {401, 429}


def test_one_process_at_a_time_has_the_turn_to_write(tmp_path: Path) -> None:
    turn, file, rounds = WriteLock(tmp_path / "turn"), tmp_path / "count", 200
    file.write_text("0", "ascii")
    process = os.fork()

    def count() -> None:
        for _ in range(rounds):
            with turn:
                number = int(file.read_text("ascii"))
                time.sleep(0)
                file.write_text(str(number + 1), "ascii")

    if process == 0:
        try:
            count()
        finally:
            os._exit(0)
    count()
    os.waitpid(process, 0)
    turn.close()
    assert file.read_text("ascii") == str(2 * rounds)
