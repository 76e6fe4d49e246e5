# SPDX-License-Identifier: MIT
"""Several processes write one binder: the same bytes, whole or not at all, whatever ends them."""

from __future__ import annotations

import os
import signal
import time
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from tests.binder.test_folder import leftovers, state
from tests.to_be_killed import bind_slowly, bind_together
from tests.warm import started
from wiretrack import manner
from wiretrack.processes import Shared
from wiretrack.store.store import open_registry
from wiretrack.tasks.binder import binder, pages
from wiretrack.tasks.binder.folder import differences
from wiretrack.tasks.report.report import Reporter

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from tests.binder.conftest import Bound

if not Path("/proc/self/task").is_dir() or not hasattr(os, "fork"):
    pytest.skip("processes are looked at under /proc here", allow_module_level=True)
LOST = (
    "error: Something stopped a part of wiretrack, or memory ran out. "
    "Nothing was written. Close other programs and try again.\n"
)
STOPPED = "error: stopped. Nothing is half done. What was saved stays saved."


def told_of(mill: Bound, folder: Path, processes: int, beside: int = 0) -> tuple[list[Any], Any]:
    """Write a binder by some processes; return what was told of it, and what was written."""
    with started(bind_together, mill.db, folder, processes, beside) as (_, told):
        found = [told.recv()]
        while isinstance(found[-1], tuple):
            found.append(told.recv())
    return found[:-1], found[-1]


@pytest.mark.parametrize("processes", [1, 2, 3])
def test_however_many_write_it_each_byte_is_the_same(
    mill: Bound, tmp_path: Path, processes: int
) -> None:
    told, made = told_of(mill, tmp_path / "b", processes)
    assert max(helpers for *_, helpers in told) == processes - 1
    assert state(tmp_path / "b") == state(mill.folder)
    assert vars(made) == vars(mill.made) | {"folder": str(tmp_path / "b")}
    total = len(mill.document.circuits)
    done = [number for what, number, of, _ in told if what == "circuits" and of == total]
    assert done[: total + 1] == [*range(total + 1)]  # the site's report, which is made by one
    shared = done[total + 1 :]
    assert shared == sorted({*shared})
    assert shared[-1] == total
    assert len(shared) <= total + 1
    assert (len(shared) == total + 1) == (processes == 1)


def test_beside_other_threads_one_process_writes_it(mill: Bound, tmp_path: Path) -> None:
    told, _ = told_of(mill, tmp_path / "b", 3, beside=1)
    assert {helpers for *_, helpers in told} == {0}
    assert state(tmp_path / "b") == state(mill.folder)


def test_no_page_of_a_circuit_asks_the_registry(mill: Bound) -> None:
    """A fork must never use the registry's connection: sqlite.org/howtocorrupt.html, 2.6."""
    asked: list[str] = []
    with open_registry(mill.db) as registry:
        manner.use(registry.manner())
        reporter = Reporter(registry, made_at="2026-05-02")
        book = binder._book(reporter, date(2026, 5, 2))
        registry.connection.set_trace_callback(asked.append)
        reporter.facts.read_through()
        book.records.read_through()
        assert asked
        asked.clear()
        reporter.facts.know(reporter.facts.follows())
        assert asked == []
        reporter.read_through()
        asked.clear()
        for circuit in book.records.document.circuits:
            assert [*pages.circuit(book, circuit, reporter.part(circuit.code))]
        assert asked == []


def test_how_the_site_speaks_is_known_before_any_fork(
    mill: Bound, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asks: list[bool] = []
    asked = manner._asked.__dict__
    monkeypatch.setattr(Shared, "begin", lambda *_: asks.append("read" in asked))
    with open_registry(mill.db) as registry:
        manner.use_once_asked(registry.manner)  # as the command does
        binder.write_binder(registry, tmp_path / "b", date(2026, 5, 2), processes=2)
    assert asks == [False, False]


def test_a_fork_that_asks_the_registry_all_the_same_fails(db: Path) -> None:
    with open_registry(db) as registry:
        connection = registry.connection
        registry.leave_to_parent()
        with pytest.raises(AttributeError):
            registry.rows("SELECT 1")
        registry.connection = connection


@contextmanager
def writing(
    mill: Bound, folder: Path, failing: str = ""
) -> Iterator[tuple[int, list[int], Callable[[], tuple[int | None, str]]]]:
    """Write a binder slowly; give the process, its helpers, and what waits for the end of all."""
    with started(bind_slowly, mill.db, folder, failing) as (process, told):
        first, helpers = process.pid or 0, list[int]()
        listed = Path(f"/proc/{first}/task/{first}/children")
        while len(helpers) < 2:
            assert process.is_alive()
            helpers = [int(word) for word in listed.read_text("ascii").split()]
            time.sleep(0.002)

        def ended() -> tuple[int | None, str]:
            with open(told.fileno(), encoding="utf-8", closefd=False) as words:
                said = words.read()  # till nobody has it open any more
            process.join(20)
            return process.exitcode, said.strip("\n")

        yield first, helpers, ended


def test_an_interrupt_ends_all_of_them_with_one_line(mill: Bound, tmp_path: Path) -> None:
    with writing(mill, tmp_path / "b") as (first, _, ended):
        os.killpg(first, signal.SIGINT)  # as a terminal does
        assert ended() == (130, STOPPED)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP])
def test_a_signal_to_the_first_ends_all_of_them_without_a_word(
    mill: Bound, tmp_path: Path, number: signal.Signals
) -> None:
    with writing(mill, tmp_path / "b") as (first, _, ended):
        os.kill(first, number)
        assert ended() == (-number, "")
    assert list(tmp_path.iterdir()) == []


def test_a_helper_that_is_killed_ends_it_with_one_line(mill: Bound, tmp_path: Path) -> None:
    with writing(mill, tmp_path / "b") as (_, helpers, ended):
        os.kill(helpers[1], signal.SIGKILL)
        assert ended() == (70, LOST.strip())
    assert list(tmp_path.iterdir()) == []


def test_helpers_whose_parent_is_killed_end_and_the_next_binder_clears_up(
    mill: Bound, tmp_path: Path
) -> None:
    with writing(mill, tmp_path / "b") as (first, _, ended):
        os.kill(first, signal.SIGKILL)
        assert ended() == (-signal.SIGKILL, "")
    assert len(leftovers(tmp_path)) == 1
    told_of(mill, tmp_path / "b", 2)
    assert [entry.name for entry in tmp_path.iterdir()] == ["b"]
    assert differences(tmp_path / "b") == []


@pytest.mark.parametrize(
    ("failing", "status", "said"),
    [
        ("No space left on device", 2, "{} can't be written: No space left on device. Nothing was"),
        ("C7", 70, "wiretrack failed (KeyError: 'C7'). Set WIRETRACK_DEBUG=1 to see where, and"),
    ],
)
def test_what_a_helper_meets_is_told_in_one_line(
    mill: Bound, tmp_path: Path, failing: str, status: int, said: str
) -> None:
    with writing(mill, tmp_path / "b", failing) as (_, _, ended):
        found, words = ended()
    assert found == status
    assert words.startswith(f"error: {said.format(tmp_path / 'b')}")
    assert "\n" not in words
    assert list(tmp_path.iterdir()) == []
