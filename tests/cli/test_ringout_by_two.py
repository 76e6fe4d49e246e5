# SPDX-License-Identifier: MIT
"""Two processes, or people, answer one ring-out at once: nothing is spoilt, nothing lost."""

from __future__ import annotations

import json
import queue
import random
import threading
import time
from contextlib import ExitStack, suppress
from typing import TYPE_CHECKING, Any

import pytest

from tests.cli.test_ringout import ARGUMENTS, MATE, bundle, started
from wiretrack.encoding import document
from wiretrack.errors import ChangedMeanwhileError
from wiretrack.procedure import RINGOUT
from wiretrack.ringout.results import Result
from wiretrack.store.procedures import latest
from wiretrack.store.store import open_registry
from wiretrack.tasks.identify.request import Wanted
from wiretrack.tasks.identify.ringing import Ringing

if TYPE_CHECKING:
    import subprocess
    from collections.abc import Callable, Iterator, Sequence
    from pathlib import Path

    from tests.cli.conftest import Wiretrack
    from wiretrack.store.store import Registry

Line = dict[str, Any]


class Program:
    """A ``--jsonl`` process: what it wrote, and answers to it."""

    def __init__(self, db: Path, *more: str) -> None:
        self.process: subprocess.Popen[str] = started(db, *ARGUMENTS, *more, "--jsonl")

    def read(self) -> Line:
        assert self.process.stdout is not None
        line = self.process.stdout.readline()
        return dict(json.loads(line)) if line else {}

    def write(self, answer: Line) -> None:
        assert self.process.stdin is not None
        self.process.stdin.write(json.dumps(answer) + "\n")
        self.process.stdin.flush()

    def end(self) -> int:
        assert self.process.stdin is not None
        self.process.stdin.close()
        return self.process.wait()


@pytest.fixture
def begin() -> Iterator[Callable[..., Program]]:
    """Start programs; those still running at the end are killed."""
    with ExitStack() as stack:

        def one_more(db: Path, *more: str) -> Program:
            program = Program(db, *more)
            stack.enter_context(program.process)
            stack.callback(program.process.kill)
            return program

        yield one_more


@pytest.fixture
def two(db: Path, begin: Callable[..., Program]) -> tuple[Program, Program]:
    """Two programs that were given the same first step."""
    first = begin(db, "--reference", "raceway")
    one = first.read()
    second = begin(db, "--reference", "raceway")
    assert second.read() == one
    assert (one["step"], type(one["id"])) == ("join", str)
    first.write({"done": True})
    return first, second


def stored(db: Path) -> list[Line]:
    with open_registry(db) as registry:
        found = latest(registry, RINGOUT, pull="P1")
    assert found is not None
    return [one.step for one in found.answers]


def test_a_late_answer_is_told_so_and_gets_the_step_that_now_stands(
    db: Path, two: tuple[Program, Program]
) -> None:
    first, second = two
    now = first.read()
    second.write({"done": True})  # to the join, which the first one has answered
    told = second.read()
    assert (told["step"], set(told)) == ("answered", {"step", "id"})
    assert second.read() == now
    assert [step["step"] for step in stored(db)] == ["join"]
    second.write({"done": True})
    after = second.read()
    first.write({"ohms": "no such reading"})  # late too, so what it says doesn't matter
    assert first.read() == {"step": "answered", "id": now["id"]}
    assert first.read() == after
    assert [step["step"] for step in stored(db)] == ["join", now["step"]]
    assert (first.end(), second.end()) == (2, 2)  # answers ended before the ring-out did


def test_an_answer_may_name_the_step_that_it_belongs_to(
    db: Path, two: tuple[Program, Program], begin: Callable[..., Program], wiretrack: Wiretrack
) -> None:
    first, second = two
    now = first.read()
    second.write({"done": True, "to": now["id"]})  # known from the first one's output
    after = second.read()
    assert (after["step"], after["id"] == now["id"]) != ("answered", True)
    assert [step["step"] for step in stored(db)] == ["join", now["step"]]
    second.write({"done": True, "to": now["id"]})
    assert second.read() == {"step": "answered", "id": now["id"]}
    assert second.read() == after
    for nonsense in ("7", ["x"]):
        program = begin(db, "--reference", "raceway")
        assert program.read() == after
        program.write({"done": True, "to": nonsense})
        assert program.end() == 2
        assert program.process.stderr is not None
        assert "No step has the id" in program.process.stderr.read()
    assert wiretrack("ringout", "status", "P1", "--json").json["steps"] == 2


def test_an_answer_to_a_step_that_was_undone_and_asked_again_is_late(
    db: Path, two: tuple[Program, Program], wiretrack: Wiretrack
) -> None:
    first, second = two
    walk = first.read()
    assert wiretrack("ringout", "undo", "P1", "--json").json["steps"] == 0
    first.write({"done": True})
    assert first.read() == {"step": "answered", "id": walk["id"]}
    again = first.read()
    assert again["step"] == "join"
    second.write({"done": True})
    assert second.read()["step"] == "answered"
    assert second.read() == again
    assert stored(db) == []


def test_two_programs_answer_hundreds_of_steps_at_once_and_the_log_stays_whole(
    db: Path, begin: Callable[..., Program], wiretrack: Wiretrack
) -> None:
    """Two processes answer as fast as they can, and a third one takes steps back meanwhile.

    It lets them answer while few are left standing, so that they never come to a result.
    """
    with open_registry(db) as registry:
        Ringing.begin(registry, Wanted(pull="P1", near="MDB", far="PH1"))
    programs = [begin(db), begin(db)]
    told: tuple[list[Line], list[Line]] = ([], [])
    turns: queue.Queue[None] = queue.Queue(maxsize=2)
    threads = [
        threading.Thread(target=hurried, args=(program, told[n], random.Random(n), turns))
        for n, program in enumerate(programs)
    ]
    for thread in threads:
        thread.start()
    with open_registry(db) as registry:
        while any(thread.is_alive() for thread in threads):
            ringing = Ringing.latest(registry, "P1")
            if ringing.steps_done <= 6:
                with suppress(queue.Full):
                    turns.put_nowait(None)
            if ringing.steps_done > 4:
                with suppress(ChangedMeanwhileError):
                    ringing.undo()
    for program in programs:
        program.end()
    acknowledged = [one for lines in told for one in lines]
    assert all(told)
    assert len({one["id"] for one in acknowledged}) == len(acknowledged) > 100
    assert {json.dumps(one, sort_keys=True) for one in acknowledged} <= check_log(db)
    assert wiretrack("ringout", "status", "P1").status == 0


def hurried(
    program: Program, told: list[Line], chance: random.Random, turns: queue.Queue[None]
) -> None:
    """Answer whatever is asked until 60 are taken; note what the next step followed: those are."""
    asked = program.read()
    while len(told) < 60:
        turns.get()
        if asked["step"] == "answered":
            asked = program.read()
        if asked["step"] == "result":
            return
        probe = asked["step"] == "probe"
        given: Line = {"ohms": chance.choice((0.3, "OL"))} if probe else {"done": True}
        time.sleep(chance.uniform(0, 0.004))
        program.write(given)
        following = program.read()
        if following["step"] != "answered":
            told.append({"id": asked["id"], **given})
        asked = following


def check_log(db: Path) -> set[str]:
    """See that every stored answer fits those before it; return each with its step's id."""
    kept = set()
    with open_registry(db) as registry:
        found = latest(registry, RINGOUT, pull="P1")
        assert found is not None
        ringing = Ringing(registry, found)
        assert ringing.left_out == ()
        before = found.id
        rows = registry.rows(
            "SELECT id, answer FROM procedure_answers WHERE procedure_id = ? ORDER BY seq",
            [found.id],
        )
        for row in rows:
            given = {k: v for k, v in json.loads(row["answer"]).items() if k != "by"}
            kept.add(json.dumps({"id": f"{before}.0.0", **given}, sort_keys=True))
            before = row["id"]
    return kept


def test_threads_that_answer_and_undo_at_once_never_spoil_the_log(db: Path) -> None:
    with open_registry(db) as registry:
        Ringing.begin(registry, Wanted(pull="P1", near="MDB", far="PH1"))
    stored_by: list[list[str]] = [[], [], []]
    threads = [
        threading.Thread(target=at_random, args=(db, stored_by[n], random.Random(n)))
        for n in range(3)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(120)
        assert not thread.is_alive()
    with open_registry(db) as registry:
        rows = registry.rows("SELECT id, answer FROM procedure_answers ORDER BY seq")
        found = latest(registry, RINGOUT, pull="P1")
        assert found is not None
        assert Ringing(registry, found).left_out == ()
    kept = [row["id"] for row in rows]
    acknowledged = [one for some in stored_by for one in some]
    assert sorted(acknowledged) == sorted(kept)
    assert len(kept) > 100


def at_random(db: Path, mine: list[str], chance: random.Random) -> None:
    """Answer or undo 100 times; note the id of each answer that was acknowledged."""
    with open_registry(db) as registry:
        for _ in range(100):
            ringing = Ringing.latest(registry, "P1")
            step = ringing.next_step()
            try:
                over = isinstance(step, Result)
                if ringing.steps_done and (over or chance.random() < 0.4):
                    ringing = ringing.undo()
                else:
                    typed = chance.choice("co") if document(step)["step"] == "probe" else "d"
                    ringing.answer_typed(step, typed)
                mine.append(ringing.record.last or "")
            except ChangedMeanwhileError:
                continue


def spoil(registry: Registry) -> None:
    """Store the answers of two people who were given the same first step, as it could be once."""
    from wiretrack.store.procedures import append

    ringing = Ringing.begin(registry, Wanted(pull="P1", near="MDB", far="PH1"))
    join = ringing.next_step()
    ringing.answer(join, {"done": True})
    walk = ringing.next_step()
    ringing.answer(walk, {"done": True})
    for step in (join, walk):
        with registry.write():
            now = latest(registry, RINGOUT, pull="P1")
            assert now is not None
            append(registry, now, document(step), {"done": True}, None)


def test_a_log_that_was_spoilt_before_is_read_and_gone_on_with(
    db: Path, registry: Registry, begin: Callable[..., Program], wiretrack: Wiretrack
) -> None:
    spoil(registry)
    status = wiretrack("ringout", "status", "P1", "--json").json
    assert status["steps"] == 2
    assert "Step 3 (join) does not fit the steps before it. It is left out." in status["notes"]
    assert "Step 4 (walk) does not fit the steps before it. It is left out." in status["notes"]
    assert wiretrack("ringout", "record", "P1").status == 0
    real = bundle()
    for step in status_steps(registry)[:2]:
        real.answer(step)
    program = begin(db)
    while (step := program.read())["step"] != "result":
        program.write(real.answer(step))
    assert program.end() == 0
    assert {m["near"]: m["far"] for m in step["matches"]} == MATE
    assert len([note for note in step["notes"] if "left out" in note]) == 2


def status_steps(registry: Registry) -> Sequence[Line]:
    found = latest(registry, RINGOUT, pull="P1")
    assert found is not None
    return [one.step for one in found.answers]


def test_two_who_begin_at_the_same_moment_begin_one_ring_out(
    db: Path, begin: Callable[..., Program]
) -> None:
    programs = [begin(db) for _ in range(3)]
    steps = [program.read() for program in programs]
    assert all(step == steps[0] for step in steps)
    with open_registry(db) as registry:
        assert registry.rows("SELECT count(*) AS n FROM procedures") == [{"n": 1}]


def test_at_the_terminal_a_late_answer_is_told_so_and_the_step_that_stands_is_shown(
    db: Path,
) -> None:
    with open_registry(db) as registry:
        ringing = Ringing.begin(registry, Wanted(pull="P1", near="MDB", far="PH1"))
        process = started(db, *ARGUMENTS)
        assert process.stdin is not None
        assert process.stdout is not None
        while "Twist together" not in process.stdout.readline():
            pass
        ringing.answer_typed(ringing.next_step(), "d")
        out, _ = process.communicate("d\nq\n")
        told = " ".join(out.split())
        assert "This step was answered already. Here is the step that stands now." in told
        assert "Walk to PH1 " in told.partition("answered already")[2]
        assert [one.step["step"] for one in Ringing.latest(registry, "P1").record.answers] == [
            "join"
        ]


def test_to_go_on_the_pull_alone_is_enough_and_gear_can_be_added(
    db: Path, begin: Callable[..., Program]
) -> None:
    first = begin(db, "--reference", "raceway", "--far-colours", "BN,BK,GNYE")
    step = first.read()
    first.write({"ohms": "OL"} if step["step"] == "probe" else {"done": True})
    following = first.read()
    alone = ("ringout", "run", "P1")
    for more in ((), ("--crew", "2")):
        with started(db, *alone, *more, "--jsonl") as process:
            told = json.loads(process.communicate("")[0].splitlines()[0])
        if not more:
            assert told == following
        assert told["id"] != step["id"]
    with open_registry(db) as registry:
        (row,) = registry.rows("SELECT settings FROM procedures")
    settings = json.loads(row["settings"])
    assert (settings["crew"], settings["references"]) == (2, ["raceway"])
    assert [end["colour"] for end in settings["far"]] == ["BN", "BK", "GNYE"]


def test_references_and_colours_are_added_in_the_midst_and_what_is_known_is_kept(
    db: Path, begin: Callable[..., Program], wiretrack: Wiretrack
) -> None:
    first = begin(db)
    step = first.read()
    first.write({"ohms": "OL"} if step["step"] == "probe" else {"done": True})
    first.read()
    added = ("ringout", "run", "P1", "--reference", "raceway", "--far-colours", "BK,GNYE,BN")
    with started(db, *added, "--jsonl") as process:
        process.communicate("")
    with open_registry(db) as registry:
        ringing = Ringing.latest(registry, "P1")
    assert (ringing.steps_done, ringing.settings.references) == (1, ("raceway",))
    assert [end.colour for end in ringing.settings.far] == ["BK", "GNYE", "BN"]
    assert [one.step for one in ringing.record.answers] == stored(db)
    for wrong in (("--far-colours", "BK,BN"), ("--reference", "moon"), ("--far-colours", "mauve")):
        assert wiretrack("ringout", "run", "P1", *wrong, "--jsonl").status == 2
    with open_registry(db) as registry:
        assert Ringing.latest(registry, "P1").settings == ringing.settings
