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


def test_what_both_changed_is_listed_with_how_it_is_decided(
    wiretrack: Wiretrack, other: Path, db: Path
) -> None:
    before = other.read_bytes()
    ran = wiretrack("merge", other)
    assert ran.status == 0
    assert "PH1 X1 landed" in ran.words
    assert "PH1 X2 landed" in ran.words
    assert "Undecided: 1. The record shows the first value." in ran.words
    assert f"Decide with: wiretrack merge --decide {KEY}=1" in ran.words
    assert state_of(db) == state_of_first(ran.words)
    assert other.read_bytes() == before
    again = wiretrack("merge", other)
    assert f"{other} has nothing that isn't here already." in again.words


def state_of_first(words: str) -> str:
    return words[words.index("PH1 X") + 4 :][:2]


def test_the_document_for_programs_has_what_came_and_both_values(
    wiretrack: Wiretrack, other: Path
) -> None:
    assert wiretrack("--db", other, "test", "log", L2, "--kind", "continuity", "0.3").status == 0
    ran = wiretrack("merge", other, "--json")
    assert ran.status == 0
    assert (ran.json["merged"], ran.json["nothing_new"], ran.json["refused"]) == (True, False, [])
    assert (ran.json["changes"], ran.json["added"]) == (2, {"readings": 1, "terminals": 1})
    (found,) = ran.json["undecided"]
    assert found["key"] == KEY
    said = {value["value"] for value in found["values"]}
    assert said == {"PH1 X1 landed", "PH1 X2 landed"}
    again = wiretrack("merge", "--json")
    assert (again.json["merged"], again.json["undecided"]) == (False, ran.json["undecided"])


def test_show_and_the_punch_list_tell_both_values(wiretrack: Wiretrack, other: Path) -> None:
    wiretrack("merge", other)
    for typed in (("show", L1), ("punchlist",)):
        words = wiretrack(*typed).words
        assert "undecided" in words.casefold()
        assert (
            "PH1 X1 landed or PH1 X2 landed" in words or "PH1 X2 landed or PH1 X1 landed" in words
        )


def test_a_look_writes_nothing(wiretrack: Wiretrack, other: Path, db: Path) -> None:
    ran = wiretrack("merge", other, "--look", "--json")
    assert (ran.status, ran.json["merged"], ran.json["changes"]) == (0, False, 1)
    assert state_of(db) == "X1"
    assert wiretrack("merge", other, "--json").json["changes"] == 1


@pytest.mark.parametrize("number", [1, 2])
def test_a_decision_is_taken_with_the_merge_or_later(
    number: int, wiretrack: Wiretrack, other: Path, db: Path
) -> None:
    found = wiretrack("merge", other, "--json").json["undecided"][0]["values"]
    terminal = found[number - 1]["value"].split()[1]
    ran = wiretrack("merge", "--decide", f"{KEY}={number}")
    assert (ran.status, ran.words.partition(" Next, ")[0]) == (0, "Nothing is undecided.")
    assert state_of(db) == terminal
    assert wiretrack("--db", other, "merge", db, "--json").json["undecided"] == []
    assert state_of(other) == terminal


def test_a_code_given_twice_is_told_apart_until_one_is_renamed(
    wiretrack: Wiretrack, db: Path
) -> None:
    copy = db.with_name("copy.db")
    wiretrack("backup", copy)
    for path, name in ((db, "mine"), (copy, "theirs")):
        file = db.with_name(f"{name}.json")
        box = {"code": "JB7", "name": name}
        file.write_text(json.dumps({"format": "wiretrack-site/1", "enclosures": [box]}), "utf-8")
        assert wiretrack("--db", path, "load", file).status == 0
    ran = wiretrack("merge", copy)
    assert "enclosure/JB7 (2)/same: another one is called JB7 too." in ran.words
    shown = [wiretrack("show", code, "--json").json["name"] for code in ("JB7", "JB7 (2)")]
    assert set(shown) == {"mine", "theirs"}
    assert wiretrack("merge", "--decide", "enclosure/JB7 (2)/same=JB8").status == 0
    assert wiretrack("show", "JB8", "--json").json["name"] == shown[1]


def test_a_wrong_decision_is_one_line(wiretrack: Wiretrack, other: Path) -> None:
    ran = wiretrack("merge", other, "--decide", "end/X/to/landing=1")
    assert (ran.status, ran.err.count("\n")) == (2, 1)
    assert "is not undecided" in ran.err


@pytest.mark.parametrize(
    ("make", "status", "words"),
    [
        (lambda folder: folder / "pump.db", 2, "is this registry itself"),
        (lambda folder: folder / "none.db", 3, "does not exist"),
        (lambda folder: folder, 2, "is a site file"),
        (lambda folder: folder / "pump.json", 2, "is a site file"),
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


@pytest.mark.parametrize(("typed", "left"), [("2\n", 0), ("9\nlater\n", 1)])
def test_on_a_terminal_each_is_asked_and_can_wait(
    typed: str, left: int, wiretrack: Wiretrack, other: Path
) -> None:
    status, told = on_a_terminal(other.with_name("pump.db"), other, typed)
    assert status == 0
    assert "Which holds" in told
    assert ("is none of them" in told) == ("9" in typed)
    assert len(wiretrack("merge", "--json").json["undecided"]) == left
