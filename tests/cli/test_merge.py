# SPDX-License-Identifier: MIT
"""``wiretrack merge`` as a script and a person meet it."""

from __future__ import annotations

import json
import os
import subprocess
from typing import TYPE_CHECKING, Any

import pytest

from tests.pump import L1, L2
from tests.warm import command
from wiretrack.model.tags import format_tag
from wiretrack.store.store import open_registry

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Wiretrack

TAG = format_tag(L1)
KEY = f"end/{TAG}/to/landing"


@pytest.fixture
def other(wiretrack: Wiretrack, db: Path) -> Path:
    """A copy of the pump's registry in which the same end was landed elsewhere."""
    copy = db.with_name("other.db")
    assert wiretrack("backup", copy).status == 0
    assert wiretrack("--db", copy, "land", L1, "PH1", "--terminal", "X2").status == 0
    assert wiretrack("land", L1, "PH1", "--terminal", "X1").status == 0
    return copy


def state_of(db: Path) -> str:
    with open_registry(db) as registry:
        row = registry.row(
            "SELECT t.code FROM ends AS e JOIN terminals AS t ON t.id = e.terminal_id"
            " JOIN conductors AS c ON c.id = e.conductor_id WHERE c.tag = ? AND e.side = 'to'",
            [L1],
        )
    assert row is not None
    return str(row["code"])


def test_without_a_terminal_what_is_undecided_is_listed_and_nothing_written(
    wiretrack: Wiretrack, other: Path, db: Path
) -> None:
    ran = wiretrack("merge", other)
    assert ran.status == 1
    assert KEY in ran.out
    assert "landed, PH1 X1" in ran.out
    assert "landed, PH1 X2" in ran.out
    assert "Undecided: 1 conflict. Nothing was written." in ran.out
    assert state_of(db) == "X1"


def test_the_document_for_programs_has_both_sides(wiretrack: Wiretrack, other: Path) -> None:
    ran = wiretrack("merge", other, "--json")
    assert ran.status == 1
    assert ran.json["merged"] is False
    (conflict,) = ran.json["conflicts"]
    assert conflict["key"] == KEY
    assert (conflict["mine"]["value"], conflict["theirs"]["value"]) == (
        "landed, PH1 X1",
        "landed, PH1 X2",
    )
    assert conflict["takes"] is None


@pytest.mark.parametrize(
    ("options", "terminal"),
    [(["--decide", f"{KEY}=theirs"], "X2"), (["--all", "theirs"], "X2"), (["--all", "mine"], "X1")],
)
def test_a_script_decides_beforehand(
    options: list[str], terminal: str, wiretrack: Wiretrack, other: Path, db: Path
) -> None:
    before = other.read_bytes()
    looked = wiretrack("merge", other, "--look", *options)
    assert (looked.status, state_of(db)) == (0, "X1")
    ran = wiretrack("merge", other, "--json", *options)
    assert (ran.status, ran.json["merged"]) == (0, True)
    assert state_of(db) == terminal
    assert other.read_bytes() == before
    again = wiretrack("merge", other)
    assert (again.status, again.words) == (0, f"{other} has nothing that isn't here already.")


def test_decisions_come_from_a_file(wiretrack: Wiretrack, other: Path, db: Path) -> None:
    file = db.with_name("decisions.json")
    file.write_text(json.dumps({KEY: "theirs"}), "utf-8")
    assert wiretrack("merge", other, "--decisions", file).status == 0
    assert state_of(db) == "X2"


def test_labels_that_the_merge_made_untrue_are_named(
    wiretrack: Wiretrack, other: Path, db: Path
) -> None:
    pdf = db.with_name("labels.pdf")
    stock = "flag-90x25-letter"
    assert wiretrack("label", "print", L1, "--stock", stock, "--out", pdf).status == 0
    assert wiretrack("label", "placed", L1).status == 0
    ran = wiretrack("merge", other, "--all", "theirs")
    assert ran.status == 0
    assert f"Labels no longer true: {TAG} from, {TAG} to." in ran.words


@pytest.mark.parametrize(
    ("make", "status", "words"),
    [
        (lambda folder: folder / "pump.db", 2, "is this registry itself"),
        (lambda folder: folder / "none.db", 3, "does not exist"),
        (lambda folder: folder, 2, "was not loaded"),
        (lambda folder: folder / "pump.json", 2, "don't descend from one another"),
    ],
)
def test_what_can_not_be_merged_is_one_line(
    make: Any, status: int, words: str, wiretrack: Wiretrack, db: Path
) -> None:
    ran = wiretrack("merge", make(db.parent))
    assert ran.status == status
    assert words in ran.err
    assert ran.err.count("\n") == 1
    assert ran.out == ""


def on_a_terminal(db: Path, other: Path, typed: str) -> tuple[int, str]:
    """Run the command on a terminal on which all of `typed` is typed."""
    import pty

    ours, theirs = pty.openpty()
    typing = [command(), "--db", str(db), "merge", str(other)]
    with subprocess.Popen(typing, stdin=theirs, stdout=theirs, stderr=theirs) as process:
        os.close(theirs)
        os.write(ours, typed.encode())
        told = b""
        while True:
            try:
                told += os.read(ours, 4096)
            except OSError:  # the terminal is gone with the process
                break
        status = process.wait()
    os.close(ours)
    return status, told.decode()


def test_on_a_terminal_each_conflict_is_asked(wiretrack: Wiretrack, other: Path, db: Path) -> None:
    status, told = on_a_terminal(db, other, "what\nt\ny\n")
    assert status == 0
    assert "Type m or t." in told
    assert "Merge now?" in told
    assert state_of(db) == "X2"


@pytest.mark.parametrize("typed", ["q\n", "t\nn\n"])
def test_whoever_stops_on_a_terminal_has_written_nothing(
    typed: str, wiretrack: Wiretrack, other: Path, db: Path
) -> None:
    status, told = on_a_terminal(db, other, typed)
    assert status == 130
    assert "error: stopped. Nothing was merged." in told
    assert state_of(db) == "X1"


def test_a_shared_terminal_is_named(wiretrack: Wiretrack, db: Path) -> None:
    copy = db.with_name("copy.db")
    wiretrack("backup", copy)
    wiretrack("land", L1, "PH1", "--terminal", "X1")
    wiretrack("--db", copy, "land", L2, "PH1", "--terminal", "X1")
    ran = wiretrack("merge", copy)
    assert ran.status == 0
    shared = f"{TAG}, {format_tag(L2)} now share PH1 X1: each copy landed its own there."
    assert shared in ran.words
