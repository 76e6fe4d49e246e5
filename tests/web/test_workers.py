# SPDX-License-Identifier: MIT
"""The threads of the pages: readers one after the other, none held up by one that is slow."""

from __future__ import annotations

import threading
import time
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import pytest

from wiretrack.web.workers import MOST_READERS, PATIENCE_S, WRITERS, Workers

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

LONG_S = 20.0  # no task takes this long unless something is stuck


class Asked:
    """What waitress calls a task: a request, and how it is answered."""

    def __init__(self, answer: Callable[[], object], command: str = "GET") -> None:
        self.command, self.answer = command, answer
        self.done, self.cancelled = threading.Event(), False

    @property
    def requests(self) -> list[Any]:
        return [self]

    def service(self) -> None:
        try:
            self.answer()
        finally:
            self.done.set()

    def cancel(self) -> None:
        self.cancelled = True


class Log:
    """What happened in which order, from several threads."""

    def __init__(self) -> None:
        self.lines: list[str] = []
        self.at_once = self.most_at_once = 0
        self.lock = threading.Lock()

    def work(self, name: str, seconds: float = 0.0) -> Callable[[], None]:
        def do() -> None:
            with self.lock:
                self.lines.append(name)
                self.at_once += 1
                self.most_at_once = max(self.most_at_once, self.at_once)
            time.sleep(seconds)
            with self.lock:
                self.at_once -= 1

        return do


@contextmanager
def workers(leave: Callable[[], None] = lambda: None) -> Iterator[Workers]:
    made = Workers(leave)
    try:
        yield made
    finally:
        made.shutdown(timeout=1)


def asked(made: Workers, *tasks: Asked) -> None:
    for task in tasks:
        made.add_task(task)
    for task in tasks:
        assert task.done.wait(LONG_S)


def test_readers_are_answered_in_order_and_one_at_a_time() -> None:
    log = Log()
    with workers() as made:
        asked(made, *(Asked(log.work(str(n), PATIENCE_S / 100)) for n in range(50)))
    assert log.lines == [str(n) for n in range(50)]
    assert log.most_at_once == 1


def test_slow_answers_hold_up_none_of_the_others() -> None:
    gate, log = threading.Event(), Log()
    slow = [Asked(lambda: gate.wait(LONG_S)) for _ in range(6)]
    with workers() as made:
        for task in slow:
            made.add_task(task)
        asked(made, *(Asked(log.work(str(n))) for n in range(20)))
        assert not any(task.done.is_set() for task in slow)
        gate.set()
        assert all(task.done.wait(LONG_S) for task in slow)
        asked(made, Asked(log.work("afterwards")))
    assert log.lines == [*(str(n) for n in range(20)), "afterwards"]


def test_a_thread_that_was_slow_ends_with_its_answer_and_leaves_nothing_open() -> None:
    gate, left = threading.Event(), threading.Event()
    leaving: list[threading.Thread] = []

    def leave() -> None:
        leaving.append(threading.current_thread())
        left.set()

    answering: list[threading.Thread] = []

    def slow() -> None:
        answering.append(threading.current_thread())
        gate.wait(LONG_S)

    with workers(leave) as made:
        made.add_task(Asked(slow))
        asked(made, Asked(lambda: answering.append(threading.current_thread())))
        assert not leaving
        gate.set()
        assert left.wait(LONG_S)
        assert leaving == answering[:1]
        assert answering[1] is not answering[0]
        answering[0].join(LONG_S)
        assert not answering[0].is_alive()
        assert answering[1].is_alive()
    assert leaving == answering


def test_no_more_threads_read_than_there_is_room_for() -> None:
    gate, log = threading.Event(), Log()
    tasks = [Asked(lambda: gate.wait(LONG_S)) for _ in range(MOST_READERS + 5)]
    with workers() as made:
        for task in tasks:
            made.add_task(task)
        time.sleep(PATIENCE_S * 3 * MOST_READERS)
        reading = [t for t in threading.enumerate() if t.name == "reader"]
        assert 1 < len(reading) <= MOST_READERS
        gate.set()
        assert all(task.done.wait(LONG_S) for task in tasks)
        asked(made, Asked(log.work("afterwards")))


@pytest.mark.parametrize("command", ["POST", "PUT", ""])
def test_who_writes_waits_for_no_reader_and_several_write_at_once(command: str) -> None:
    gate, together = threading.Event(), threading.Barrier(WRITERS, timeout=LONG_S)
    with workers() as made:
        made.add_task(Asked(lambda: gate.wait(LONG_S)))
        asked(made, *(Asked(together.wait, command) for _ in range(WRITERS)))
        gate.set()


def test_a_failing_answer_ends_no_thread(caplog: pytest.LogCaptureFixture) -> None:
    def fail() -> None:
        raise ValueError("not this one")

    log = Log()
    with workers() as made:
        asked(made, Asked(fail), Asked(log.work("next")))
    assert log.lines == ["next"]
    assert "not this one" in caplog.text


def test_at_the_end_all_threads_end_and_what_waits_is_given_up() -> None:
    gate = threading.Event()
    before = set(threading.enumerate())
    made = Workers(lambda: None)
    slow, waiting = Asked(lambda: gate.wait(LONG_S)), Asked(lambda: None)
    made.add_task(slow)
    made.add_task(waiting)
    threading.Timer(PATIENCE_S / 4, gate.set).start()
    made.shutdown(timeout=5)
    assert slow.done.is_set()
    assert waiting.done.is_set() or waiting.cancelled
    for _ in range(100):
        if not set(threading.enumerate()) - before:
            break
        time.sleep(PATIENCE_S)
    assert not set(threading.enumerate()) - before
