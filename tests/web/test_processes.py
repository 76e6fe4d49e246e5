# SPDX-License-Identifier: MIT
"""Several processes at one address: all answer, none is left over, and they write in turn."""

from __future__ import annotations

import http.client
import json
import os
import signal
import socket
import subprocess
import sys
import threading
import time
import urllib.error
import urllib.request
import uuid
from contextlib import ExitStack, closing, contextmanager, suppress
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.pump import L1
from tests.web.conftest import reading
from wiretrack.store.store import open_registry
from wiretrack.web.crew import Turn, places
from wiretrack.web.keeping_alive import LONGEST_PAUSE_S, SHORTEST_PAUSE_S, helped, pause_s
from wiretrack.web.tries import OVERALL, PER_ADDRESS

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

if not Path("/proc/self/task").is_dir() or not hasattr(os, "fork"):
    pytest.skip("processes are looked at under /proc here", allow_module_level=True)
CODE = "lantern-moss-17"
EACH = 8
SERVE = (
    "import wiretrack.web.crew as crew; crew.processes_of_use = lambda: 3;"
    "from wiretrack.cli import main; main()"
)


@contextmanager
def three(db: Path) -> Iterator[tuple[str, subprocess.Popen[str]]]:
    """Serve a registry from three processes; give the address and the first of them."""
    arguments = ["--db", str(db), "serve", "--port", "0", "--code", CODE, "--json"]
    with subprocess.Popen(
        [sys.executable, "-c", SERVE, *arguments],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as server:
        assert server.stdout is not None
        lines: list[str] = []
        while not lines or lines[-1] != "}\n":
            lines.append(server.stdout.readline())
        try:
            yield json.loads("".join(lines))["address"], server
        finally:
            server.terminate()
            server.wait(timeout=20)


def children(process: int) -> list[int]:
    listed = Path(f"/proc/{process}/task/{process}/children").read_text("ascii")
    return [int(word) for word in listed.split()]


def keeper(server: subprocess.Popen[str]) -> int:
    """Return the process that makes the others, and makes them anew."""
    (found,) = children(server.pid)
    return found


def helpers(server: subprocess.Popen[str], without: Sequence[int] = ()) -> list[int]:
    """Return the two helping processes once both listen; those in `without` are awaited gone."""
    for _ in range(400):
        found = children(keeper(server))
        if len(found) == 2 and not {*found} & {*without} and all(map(listening_at, found)):
            return found
        time.sleep(0.05)
    pytest.fail(f"there are no two helping processes that listen, but {found}")


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


def connections_of(process: int) -> list[str]:
    """Return the connections that a process has open (proc(5), net/tcp; state 01)."""
    rows = [line.split() for line in Path("/proc/net/tcp").read_text("ascii").splitlines()[1:]]
    joined = {f"socket:[{row[9]}]" for row in rows if row[3] == "01"}
    held = Path(f"/proc/{process}/fd").iterdir()
    return [name for name in (os.readlink(file) for file in held) if name in joined]


def stay_connected(stack: ExitStack, address: str) -> None:
    """Look at a page, over a connection that stays open as a browser's does."""
    host = address.partition("//")[2]
    connection = stack.enter_context(closing(http.client.HTTPConnection(host, timeout=20)))
    connection.request("GET", f"/{L1}", headers={"Authorization": f"Bearer {CODE}"})
    with connection.getresponse() as answer:
        assert answer.status == 200
        answer.read()


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


def test_a_process_that_is_killed_is_replaced_and_pages_are_answered_all_along(db: Path) -> None:
    with three(db) as (address, server):
        others: list[int] = []
        for _ in range(2):
            others = helpers(server, without=others)
            assert all(listening_at(process) == [port_of(address)] for process in others)
            assert {ask(address, f"/{L1}") for _ in range(12)} == {200}
            for process in others:
                os.kill(process, signal.SIGKILL)
                assert gone(process)
            assert {ask(address, f"/{L1}") for _ in range(12)} == {200}
        assert helpers(server, without=others)
        assert {ask(address, f"/{L1}") for _ in range(12)} == {200}
        server.terminate()
        assert server.stderr is not None
        told = server.stderr.read().splitlines()
    replaced = "A process that answers was killed (SIGKILL). Another takes its place."
    assert told.count(replaced) == 4
    assert not [line for line in told if line not in (replaced, "Aborted!")]


def test_connections_that_stay_open_are_shared_out_among_the_processes(db: Path) -> None:
    with three(db) as (address, server):
        processes = [server.pid, *helpers(server)]
        with ExitStack() as stack:
            for _ in range(EACH * len(processes)):
                stay_connected(stack, address)
            connected = [len(connections_of(process)) for process in processes]
    assert sum(connected) == EACH * len(processes)
    assert min(connected) > EACH // 2  # one that wakes first would have nearly all of them


def test_a_process_that_has_come_to_a_stop_keeps_nobody_waiting(db: Path) -> None:
    with three(db) as (address, server):
        stopped = helpers(server)[0]
        with ExitStack() as stack:
            for _ in range(EACH):
                stay_connected(stack, address)
            os.kill(stopped, signal.SIGSTOP)
            try:
                for _ in range(EACH):
                    stay_connected(stack, address)
            finally:
                os.kill(stopped, signal.SIGCONT)


def test_a_process_is_ahead_as_soon_as_another_has_fewer_connections() -> None:
    one, other, third = places(3)
    assert not any(place.is_ahead() for place in (one, other, third))
    one.tell(1)
    assert [place.is_ahead() for place in (one, other, third)] == [True, False, False]
    other.tell(2)
    third.tell(1)
    assert [place.is_ahead() for place in (one, other, third)] == [False, True, False]


def test_readings_are_stored_by_a_process_that_took_the_place_of_another(db: Path) -> None:
    with three(db) as (address, server):
        others = helpers(server)
        for process in others:
            os.kill(process, signal.SIGKILL)
        helpers(server, without=others)
        sent = [reading(id=str(uuid.uuid4()), value=f"0.{n:03} ohm") for n in range(1, 25)]
        assert {ask(address, "/api/readings", body=one) for one in sent} == {201}
    with open_registry(db) as registry:
        assert len(registry.rows("SELECT id FROM readings")) == len(sent)


@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGTERM, signal.SIGKILL])
@pytest.mark.parametrize("killed", ["nobody", "a helper", "the keeper"])
def test_no_process_and_no_socket_is_left_over_however_the_first_one_ends(
    db: Path, how: signal.Signals, killed: str
) -> None:
    with three(db) as (address, server):
        everybody = [keeper(server), *helpers(server)]
        if killed != "nobody":
            os.kill(everybody[0 if killed == "the keeper" else 1], signal.SIGKILL)
        if killed == "a helper":
            everybody += helpers(server, without=everybody[1:2])
        assert ask(address, f"/{L1}") == 200
        server.send_signal(how)
        server.wait(timeout=20)
        assert all(map(gone, everybody))
        with socket.create_server(("127.0.0.1", port_of(address))):
            pass  # nobody else listens there


def test_one_that_dies_at_once_is_replaced_ever_more_slowly_and_one_that_lived_soon() -> None:
    pauses = [0.0]
    for _ in range(12):
        pauses.append(pause_s(0.01, pauses[-1]))
    assert pauses[1] == SHORTEST_PAUSE_S
    assert all(later == 2 * earlier for earlier, later in pairwise(pauses[1:7]))
    assert pauses[-1] == LONGEST_PAUSE_S
    assert pause_s(3600, pauses[-1]) == SHORTEST_PAUSE_S


def test_a_helper_that_cannot_live_is_tried_again_and_ends_with_the_others(tmp_path: Path) -> None:
    tried = tmp_path / "tried"

    def work(number: int) -> None:
        with tried.open("a", encoding="ascii") as file:
            file.write(f"{number}\n")
        raise ValueError("no luck")

    with helped(2, work):
        for _ in range(400):
            if tried.exists() and tried.read_text("ascii").count("\n") >= 3:
                break
            time.sleep(0.05)
    assert tried.read_text("ascii").splitlines()[:3] == ["1", "1", "1"]


def test_readings_sent_to_all_processes_at_once_are_each_stored_once(db: Path) -> None:
    sent = [reading(id=str(uuid.uuid4()), value=f"0.{n:03} ohm") for n in range(1, 61)]
    statuses: list[int] = []
    with three(db) as (address, _):

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
    with three(db) as (address, _):
        statuses = [ask(address, f"/{L1}", f"wrong {n}") for n in range(OVERALL)]
    assert statuses.count(401) <= PER_ADDRESS
    assert set(statuses) == {401, 429}


def test_one_process_at_a_time_has_the_turn_to_write(tmp_path: Path) -> None:
    turn, file, rounds = Turn(shared=True), tmp_path / "count", 200
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
