# SPDX-License-Identifier: MIT
"""Killed between any two statements, torn or failing at any write: what was acknowledged stays."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from PIL import Image

import wiretrack
from tests.drawing import HOURS
from tests.pump import L1, L2
from wiretrack.cli.group import run
from wiretrack.errors import RegistryError
from wiretrack.model.tags import Tag
from wiretrack.ringout.steps import Probe
from wiretrack.store import store
from wiretrack.store.health import problems
from wiretrack.store.schema import RECORDS
from wiretrack.store.store import open_registry
from wiretrack.tasks.test.testing import ReadingText, log_reading

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Callable

ROOT = Path(__file__).parents[2]
COMMANDS = {
    "log a reading": ["test", "log", L1, "--kind", "continuity", "0.31"],
    "land": ["land", L1, "PH1", "--capped"],
    "retire": ["retire", L1, "--removed"],
    "set": ["set", L1, "length=61 m"],
    "note": ["note", L1, "bent"],
    "load": ["load", "more.json"],
}
BY_HAND = {  # with hours to spend
    "add": ["add", "conductor", "N", "circuit=PUMP", "size=4 mm2", "from=MDB/Q9:1", "to=PH1"],
    "set a code": ["set", "MDB", "code=MDP", "--why", "as the door says"],
    "replace": ["replace", L1, "--same"],
    "extend": ["extend", "PUMP", "--through", "JB1", "--new-box", "junction-box", "--raceway", "W1",
               "--into", "W2,W3", "--raceway-lengths", "30 m,34 m", "--capped"],
    "swap": ["swap", L1, L2, "--at", "MDB"],
    "undo": ["undo"],
    "retire a circuit": ["retire", "PUMP", "--removed"],
    "attach": ["attach", "MDB", "photo.png"],
    "print labels": ["label", "print", L1, "--stock", "flag-90x25-300", "--out", "l.png"],
    "label by hand": ["label", "placed", L1, "--end", "from", "--by-hand"],
    "start a search": ["symptom", "start", "dead-circuit", L1],
    "answer it": ["symptom", "answer", L1, "no"],
    "load --update": ["load", "--update", "update.json"],
    "merge": ["merge", "other.db"],
    "decide": ["merge", "--decide", f"conductor/{Tag(L1)}/length_m=2"],
    "correct an answer": ["ringout", "correct", "P1", "3", "OL"],
    "undo a step": ["ringout", "undo", "P1"],
    "correct a search": ["symptom", "correct", L1, "1", "yes"],
    "undo an answer": ["symptom", "undo", L1],
    "address": ["label", "address", "mill.lan"],
}  # fmt: skip
SEARCH = ["symptom", "start", "dead-circuit", L1]
BEFORE = {  # what each needs
    "undo": [["land", L1, "PH1", "--capped"]],
    "answer it": [SEARCH],
    "correct a search": [SEARCH, ["symptom", "answer", L1, "no"]],
    "undo an answer": [SEARCH, ["symptom", "answer", L1, "no"]],
    "merge": [
        ["backup", "other.db"],
        ["--db", "other.db", "land", L1, "PH1", "--capped"],
        ["--db", "other.db", "load", "more.json"],
    ],
    "decide": [
        ["backup", "other.db"],
        ["set", L1, "length=61 m"],
        ["--db", "other.db", "set", L1, "length=62 m"],
        ["merge", "other.db"],
    ],
}


def rung_out(db: Path) -> None:
    """Ring a pull out as far as one touch."""
    with wiretrack.open(db) as site:
        ringing = site.ring_out("P1", "MDB", "PH1")
        while not isinstance(step := ringing.next_step(), Probe):
            ringing.answer(step, {"done": True})
        ringing.answer(step, {"ohms": 0.5})


def taken_back(db: Path) -> None:
    """Note something, and take it back."""
    with wiretrack.open(db) as site:
        site.take_back(site.note(L1, "bent").id)


BY_LIBRARY = {"ring out": rung_out, "take a note back": taken_back}  # several changes each
MORE = {"format": "wiretrack-site/1", "enclosures": [{"code": "X1"}, {"code": "X2"}]}
UPDATE = MORE | {"enclosures": [{"code": "MDB", "wet": True}, {"code": "X2"}]}


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    (tmp_path / "more.json").write_text(json.dumps(MORE), "utf-8")
    (tmp_path / "update.json").write_text(json.dumps(UPDATE), "utf-8")
    Image.new("RGB", (8, 8)).save(tmp_path / "photo.png")
    monkeypatch.chdir(tmp_path)


def kill_at(number: int) -> None:
    """Have this process die at its n-th statement of SQL or change of a file's name."""
    left = number

    def count(*_: object) -> None:
        nonlocal left
        left -= 1
        if left < 0:
            os._exit(9)

    connect, replace = store._connect, Path.replace

    def counted(path: Path, mode: str) -> sqlite3.Connection:
        db = connect(path, mode)
        db.set_trace_callback(count)
        return db

    def renamed(self: Path, target: Any) -> Path:
        count()
        return replace(self, target)

    store._connect = counted
    Path.replace = renamed  # type: ignore[method-assign,assignment]


def in_a_child(work: Callable[[], int]) -> int:
    process = os.fork()
    if process == 0:
        status = 99
        try:
            null = os.open(os.devnull, os.O_WRONLY)
            os.dup2(null, 1)
            os.dup2(null, 2)
            status = work()
        finally:
            os._exit(status)
    return os.waitstatus_to_exitcode(os.waitpid(process, 0)[1])


def tables(db: Path) -> dict[str, int]:
    with open_registry(db) as registry:
        assert problems(registry) == []
        return {
            table: registry.rows(f"SELECT count(*) AS n FROM {table}")[0]["n"] for table in RECORDS
        }


def killed(db: Path, arguments: list[str], step: int, first: int) -> int:
    """Kill a command at each `step`-th point; return how often it was. Each left all or nothing."""
    before = tables(db)
    found = killed_in(db, lambda: run(["--db", str(db), *arguments]), step, first)
    assert found[-1] != before
    for each in found:
        assert each in (before, found[-1])
    return len(found) - 1


def killed_in(db: Path, work: Callable[[], int], step: int, first: int) -> list[dict[str, int]]:
    """Kill work at each `step`-th point; return what the tables held after each; the last is all.

    The registry is whole after each, and can be written to.
    """
    template = Path(shutil.copy(db, db.with_name("template.db")))
    found, number = [], first

    def to_its_death() -> int:
        kill_at(number)
        return work()

    while True:
        for end in ("", "-wal", "-shm"):
            Path(f"{db}{end}").unlink(missing_ok=True)
        shutil.copy(template, db)
        Path("l.png").unlink(missing_ok=True)
        status = in_a_child(to_its_death)
        assert status in (0, 9), status
        found.append(tables(db))
        if status == 0:
            break
        with open_registry(db) as registry, registry.write("after") as again:
            again.execute("UPDATE site SET name = 'after'")
        tables(db)
        number += step
    return found


@pytest.mark.parametrize("name", COMMANDS)
def test_a_command_killed_at_any_statement_did_all_or_nothing(db: Path, name: str) -> None:
    assert killed(db, COMMANDS[name], step=23, first=len(name)) > 0


@pytest.mark.full
@pytest.mark.parametrize("name", COMMANDS)
def test_a_command_killed_at_every_statement_did_all_or_nothing(db: Path, name: str) -> None:
    times = killed(db, COMMANDS[name], step=1 if HOURS else 6, first=0)
    print(f"{name}: killed {times} times")
    assert times > (20 if HOURS else 5)  # a sixth of them without hours to spend


@pytest.mark.full
@pytest.mark.skipif(not HOURS, reason="thousands of runs, by hand")
@pytest.mark.parametrize("name", BY_HAND)
def test_every_other_command_killed_at_every_statement_did_all_or_nothing(
    db: Path, name: str
) -> None:
    for arguments in BEFORE.get(name, []):
        assert run(["--db", str(db), *arguments]) in (0, 1)
    if BY_HAND[name][0] == "ringout":
        rung_out(db)
    times = killed(db, BY_HAND[name], step=int(os.environ.get("WIRETRACK_STEP", "1")), first=0)
    print(f"{name}: killed {times} times")
    assert times > 0


@pytest.mark.full
@pytest.mark.parametrize("name", BY_LIBRARY)
def test_work_from_python_killed_at_any_statement_did_each_change_or_not(
    db: Path, name: str
) -> None:
    def work() -> int:
        BY_LIBRARY[name](db)
        return 0

    found = killed_in(db, work, step=1 if HOURS else 40, first=0)
    print(f"{name}: killed {len(found) - 1} times")
    assert len({json.dumps(each) for each in found}) > 2  # some were killed between two changes


@pytest.fixture(scope="module")
def torn_library(tmp_path_factory: pytest.TempPathFactory) -> Path:
    compiler = shutil.which("gcc") or shutil.which("cc")
    if compiler is None or sys.platform != "linux":
        pytest.skip("there is no C compiler here")
    library = tmp_path_factory.mktemp("torn") / "torn.so"
    source = Path(__file__).with_name("torn.c")
    command = [compiler, "-shared", "-fPIC", "-O1", "-o", str(library), str(source), "-ldl"]
    subprocess.run(command, check=True)
    return library


def torn(library: Path, db: Path, step: int, modes: str = "04") -> int:
    script = Path(__file__).with_name("tearing.py")
    folder = db.with_name("torn")
    folder.mkdir()
    done = subprocess.run(
        [sys.executable, str(script), str(library), str(db), str(folder), str(step), modes],
        env={**os.environ, "LD_PRELOAD": str(library), "PYTHONPATH": str(ROOT)},
        capture_output=True, text=True, check=False, cwd=ROOT,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    assert found["faults"] == []
    return int(found["runs"])


def test_a_write_that_fails_or_is_torn_loses_nothing_acknowledged(
    torn_library: Path, db: Path
) -> None:
    assert torn(torn_library, db, 29) >= 4


@pytest.mark.full
@pytest.mark.parametrize("mode", "0123456789" if HOURS else "04")
def test_each_write_that_fails_or_is_torn_loses_nothing_acknowledged(
    torn_library: Path, db: Path, mode: str
) -> None:
    times = torn(torn_library, db, 1 if HOURS else 5, mode)
    print(f"{times} writes failed or torn")
    assert times > (60 if HOURS else 30)  # a fifth of them without hours to spend


FRAME, HEAD = 24 + 4096, 32


def cut(db: Path, cuts: Callable[[int], list[int]]) -> int:
    """Cut the write-ahead log off at each of these lengths: what is whole there is all there."""
    with open_registry(db) as registry:
        registry.connection.execute("PRAGMA wal_autocheckpoint = 0")
        ends = [0]
        wal = db.with_name(f"{db.name}-wal")
        for number in range(3):
            text = ReadingText(subject=L1, kind="continuity", value=f"0.3{number}")
            log_reading(registry, text)
            ends.append(wal.stat().st_size)
        data, logged = db.read_bytes(), wal.read_bytes()
    lengths = cuts(len(logged))
    for length in lengths:
        copy = db.with_name("cut.db")
        for end in ("", "-wal", "-shm"):
            Path(f"{copy}{end}").unlink(missing_ok=True)
        copy.write_bytes(data)
        torn_frame = logged[:length] + bytes(min(100, len(logged) - length))
        copy.with_name("cut.db-wal").write_bytes(torn_frame)
        with open_registry(copy) as registry:
            assert problems(registry) == []
            values = [row["value"] for row in registry.rows("SELECT value FROM readings")]
        whole = sum(torn_frame[:end] == logged[:end] for end in ends[1:])
        assert values == ["0.30", "0.31", "0.32"][:whole], length
    return len(lengths)


def test_a_write_ahead_log_cut_off_anywhere_keeps_each_whole_commit(db: Path) -> None:
    assert cut(db, lambda size: list(range(0, size + 1, size // 25))) >= 25


@pytest.mark.full
def test_a_write_ahead_log_cut_off_at_each_frame_keeps_each_whole_commit(db: Path) -> None:
    def everywhere(size: int) -> list[int]:
        frames = range(HEAD, size + 1, FRAME if HOURS else 3 * FRAME)
        found = {at + more for at in frames for more in (-1, 0, 1, 24, 2000)}
        return sorted(length for length in found if 0 <= length <= size)

    times = cut(db, everywhere)
    print(f"cut off {times} times")
    assert times > (100 if HOURS else 33)  # a third of them without hours to spend


def answers(db: Path) -> list[str] | None:
    """Return what a registry answers; None where it can't be used."""
    asked = (
        ["show", L1, "--json"], ["punchlist", "--json"], ["dump"], ["history", "--json"],
        ["find", "pump", "--json"], ["find", "cont", "--json"],
    )  # fmt: skip
    found = []
    for arguments in asked:
        script = ["--db", str(db), *arguments]
        out = capture(script)
        if out is None:
            return None
        found.append(out)
    return found


def capture(arguments: list[str]) -> str | None:
    import contextlib
    import io

    out = io.TextIOWrapper(io.BytesIO(), "utf-8")
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(io.StringIO()):
        status = run(arguments)
        out.flush()
    return out.buffer.getvalue().decode() if status in (0, 1) else None


def flipped(db: Path, count: int, seed: int) -> tuple[int, int]:
    """Flip bits: what changes an answer is named. Return how many did, and how many are named."""
    import random

    from wiretrack.tasks.describe.sites import verify_file

    log_readings(db)
    wanted, data, chance = answers(db), db.read_bytes(), random.Random(seed)
    assert wanted is not None
    other = named = 0
    for _ in range(count):
        place, bit = chance.randrange(len(data)), chance.randrange(8)
        changed = bytearray(data)
        changed[place] ^= 1 << bit
        for end in ("-wal", "-shm"):
            Path(f"{db}{end}").unlink(missing_ok=True)
        db.write_bytes(bytes(changed))
        found = answers(db)
        try:
            ok = verify_file(db).ok
        except RegistryError:
            ok = False
        named += not ok
        if found is not None and found != wanted:
            other += 1
            assert not ok, f"byte {place}, bit {bit}"
    return other, named


def log_readings(db: Path) -> None:
    with open_registry(db) as registry:
        for number in range(5):
            text = ReadingText(subject=L1, kind="continuity", value=f"0.3{number}")
            log_reading(registry, text)
        registry.connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")


def test_a_flipped_bit_that_changes_an_answer_is_named(db: Path) -> None:
    flipped(db, 12, 1)


@pytest.mark.full
def test_many_flipped_bits_that_change_an_answer_are_named(db: Path) -> None:
    count = 4000 if HOURS else 60
    other, named = flipped(db, count, 2)
    print(f"{count} bits flipped: {named} named, {other} of them had changed an answer")
