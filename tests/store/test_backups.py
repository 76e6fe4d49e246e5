# SPDX-License-Identifier: MIT
"""Copies: proved before they get their name, a few kept, a restore practised; no space, drafts."""

from __future__ import annotations

import os
import resource
import shutil
import signal
import subprocess
import sys
from datetime import date
from pathlib import Path

import pytest

from tests.pump import L1
from wiretrack import days
from wiretrack.errors import RegistryError
from wiretrack.files import file_in_place, new_file_draft
from wiretrack.store import health
from wiretrack.store.health import backup, problems, uncopied
from wiretrack.store.loading import create_registry
from wiretrack.store.store import open_registry
from wiretrack.tasks.describe.sites import verify_file
from wiretrack.tasks.test.testing import ReadingText, log_reading


@pytest.fixture(autouse=True)
def state(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))


def log(db: Path, value: str = "0.31") -> None:
    with open_registry(db) as registry:
        log_reading(registry, ReadingText(subject=L1, kind="continuity", value=value), who="roof")


def values(db: Path) -> list[str]:
    with open_registry(db) as registry:
        assert problems(registry) == []
        return [row["value"] for row in registry.rows("SELECT value FROM readings ORDER BY nr")]


def test_a_restore_brings_back_what_was_copied_and_goes_on_under_a_new_key(
    db: Path, tmp_path: Path
) -> None:
    log(db, "0.31")
    with open_registry(db) as registry:
        made = backup(registry, tmp_path / "copy.db")
    printed = verify_file(db).head
    log(db, "0.32")
    writers = {row["writer"] for row in rows(db)}
    for end in ("", "-wal", "-shm"):  # the machine is lost
        Path(f"{db}{end}").unlink(missing_ok=True)
    shutil.copy(made.file, db)
    assert values(db) == ["0.31"]
    log(db, "0.33")
    assert values(db) == ["0.31", "0.33"]
    assert {row["writer"] for row in rows(db)} > writers
    assert verify_file(db, printed).ok


def rows(db: Path) -> list[dict[str, bytes]]:
    with open_registry(db) as registry:
        return registry.rows("SELECT writer FROM log")


def test_a_copy_that_isnt_what_was_copied_gets_no_name(
    db: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    log(db)
    copy = health._copy

    def torn(registry: object, draft: Path) -> None:
        copy(registry, draft)  # type: ignore[arg-type]
        data = draft.read_bytes()
        assert b"0.31" in data
        draft.write_bytes(data.replace(b"0.31", b"0.41"))

    monkeypatch.setattr(health, "_copy", torn)
    with open_registry(db) as registry, pytest.raises(RegistryError, match="is no true copy"):
        backup(registry, tmp_path / "copies.db")
    assert [file.name for file in tmp_path.iterdir() if "copies" in file.name] == []


def test_what_was_wrong_before_is_copied_and_named_and_takes_no_older_copy_away(
    db: Path, tmp_path: Path
) -> None:
    with open_registry(db) as registry:
        first = backup(registry, tmp_path / "copy.db", keep=1)
        registry.connection.execute("UPDATE enclosures SET name = 'by another program'")
    with open_registry(db) as registry:
        second = backup(registry, tmp_path / "copy.db", keep=1)
    assert second.problems
    assert second.removed == ()
    assert Path(first.file).exists()


def test_only_the_newest_copies_are_kept_and_nothing_else_is_removed(
    db: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "copies"
    folder.mkdir()
    others = ("barn-2026-01-01.txt", "barn-2026-01-01-old.db", "barnyard-2026-01-01.db", "barn.db")
    for name in others:
        shutil.copy(db, folder / name)
    (folder / "barn-2020-01-01.db").write_text("no registry")
    made = []
    for day in (1, 2, 2, 2, 3):
        monkeypatch.setattr(days, "today", lambda day=day: date(2026, 5, day))
        with open_registry(db) as registry:
            made.append(Path(backup(registry, folder / "barn.db", keep=3).file).name)
    assert made == [
        "barn-2026-05-01.db", "barn-2026-05-02.db", "barn-2026-05-02.2.db",
        "barn-2026-05-02.3.db", "barn-2026-05-03.db",
    ]  # fmt: skip
    there = {file.name for file in folder.iterdir()}
    assert there == {*others, "barn-2020-01-01.db", *made[2:]}


def test_it_says_how_many_readings_are_newer_than_the_last_copy(db: Path, tmp_path: Path) -> None:
    log(db)
    with open_registry(db) as registry:
        assert (uncopied(registry).readings, uncopied(registry).last) == (1, None)
        backup(registry, tmp_path / "copy.db")
        assert uncopied(registry).readings == 0
    for _ in range(2):
        log(db)
    with open_registry(db) as registry:
        found = uncopied(registry)
    assert found.readings == 2
    assert found.last is not None
    assert found.last.file == str(tmp_path / "copy.db")


# A limit of 0 on the size of files fails every write, as a disk without space does.
READ = """
import resource, signal, sys
from wiretrack.cli.group import run
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (0, 0))
sys.exit(run(sys.argv[1:]))
"""


def without_space(*arguments: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-c", READ, *arguments]
    return subprocess.run(command, capture_output=True, text=True, check=False)


@pytest.mark.parametrize("logged", [False, True])
def test_with_no_space_left_reading_still_works_and_nothing_is_lost(
    db: Path, tmp_path: Path, logged: bool
) -> None:
    log(db, "0.31")
    if logged:  # a power cut left the last reading in the write-ahead log
        with open_registry(db) as registry:
            log_reading(registry, ReadingText(subject=L1, kind="continuity", value="0.32"))
            for end in ("", "-wal"):
                shutil.copy(f"{db}{end}", tmp_path / f"cut.db{end}")
        db = tmp_path / "cut.db"
    ran = without_space("--db", str(db), "show", L1, "--json")
    assert ran.returncode == 0, ran.stderr
    assert '"0.31"' in ran.stdout
    assert ('"0.32"' in ran.stdout) == logged
    written = without_space("--db", str(db), "test", "log", L1, "--kind", "continuity", "0.5")
    assert written.returncode == 3
    assert "can't be written" in written.stderr
    assert written.stderr.count("\n") == 1
    assert values(db) == (["0.31", "0.32"] if logged else ["0.31"])


def dead_process() -> int:
    process = subprocess.Popen([sys.executable, "-c", ""])
    process.wait()
    return process.pid


def test_drafts_of_killed_commands_go_and_those_of_running_ones_stay(tmp_path: Path) -> None:
    dead, place = dead_process(), tmp_path / "a.db"
    ours = [f".a.db.{dead}.new", f".a.db.{dead}.new-wal", f".a.db.{dead}.0123abcd.tmp"]
    others = [f".a.db.{os.getpid()}.new", f".b.db.{dead}.new", f"a.db.{dead}.new", ".a.db.x.new",
              f".a.db.bak.{dead}.new"]  # fmt: skip
    for name in (*ours, *others):
        (tmp_path / name).touch()
    (tmp_path / f".a.db.{dead}.89abcdef.tmp").mkdir()
    assert new_file_draft(place) == tmp_path / f".a.db.{os.getpid()}.new"
    assert {file.name for file in tmp_path.iterdir()} == set(others)


def test_a_killed_writer_leaves_a_draft_that_the_next_one_clears(tmp_path: Path) -> None:
    place = tmp_path / "report.html"
    child = os.fork()
    if child == 0:
        with file_in_place(place) as stream:
            stream.write(b"half")
            stream.flush()
            os.kill(os.getpid(), signal.SIGKILL)
    os.waitpid(child, 0)
    assert len(list(tmp_path.iterdir())) == 1
    with file_in_place(place) as stream:
        stream.write(b"whole")
    assert [file.name for file in tmp_path.iterdir()] == ["report.html"]


def test_a_new_registry_clears_what_a_killed_one_left(tmp_path: Path) -> None:
    left = tmp_path / f".a.db.{dead_process()}.new"
    left.write_bytes(b"half")
    create_registry(tmp_path / "a.db")
    assert [file.name for file in tmp_path.iterdir() if file.name.startswith(".")] == []
    assert resource.getrlimit(resource.RLIMIT_FSIZE)[0] != 0
