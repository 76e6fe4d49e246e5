# SPDX-License-Identifier: MIT
"""Several processes at one address: all answer, none is left over, and they write in turn."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import threading
import time
import urllib.error
import urllib.request
import uuid
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.pump import L1
from tests.web.conftest import reading
from wiretrack.registry.store import open_registry
from wiretrack.web.crew import Turn
from wiretrack.web.tries import OVERALL, PER_ADDRESS

if TYPE_CHECKING:
    from collections.abc import Iterator

if not Path("/proc/self/task").is_dir() or not hasattr(os, "fork"):
    pytest.skip("processes are looked at under /proc here", allow_module_level=True)
CODE = "lantern-moss-17"
SERVE = (
    "import wiretrack.web.crew as crew; crew.processes_of_use = lambda: 3;"
    "from wiretrack.cli import main; main()"
)


@contextmanager
def three(db: Path) -> Iterator[tuple[str, subprocess.Popen[str]]]:
    """Serve a registry from three processes; give the address and the first of them."""
    arguments = ["--db", str(db), "serve", "--port", "0", "--code", CODE, "--json"]
    with subprocess.Popen(
        [sys.executable, "-c", SERVE, *arguments], stdout=subprocess.PIPE, text=True
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


def helpers(process: int) -> list[int]:
    listed = Path(f"/proc/{process}/task/{process}/children").read_text("ascii")
    return [int(word) for word in listed.split()]


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


def test_pages_are_answered_as_long_as_one_process_lives(db: Path) -> None:
    with three(db) as (address, server):
        others = helpers(server.pid)
        assert len(others) == 2
        assert {ask(address, f"/{L1}") for _ in range(12)} == {200}
        for process in others:
            os.kill(process, signal.SIGKILL)
            assert gone(process)
        assert {ask(address, f"/{L1}") for _ in range(12)} == {200}


@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGTERM, signal.SIGKILL])
def test_no_process_is_left_over_however_the_first_one_ends(db: Path, how: signal.Signals) -> None:
    with three(db) as (address, server):
        others = helpers(server.pid)
        assert ask(address, f"/{L1}") == 200
        server.send_signal(how)
        server.wait(timeout=20)
        assert all(gone(process) for process in others)


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
