# SPDX-License-Identifier: MIT
"""`wiretrack undo`: what it answers to people and programs, and what it asks at a terminal."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

import pytest

from tests.pump import L1
from tests.terminal import at_a_terminal
from wiretrack.store.store import open_registry

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Wiretrack

TAG = f"{L1[:3]}-{L1[3:]}"


def land(wiretrack: Wiretrack, *where: str) -> str:
    assert wiretrack("land", L1, "PH1", *where).status == 0
    newest: str = wiretrack("history", "--limit", "1", "--json").json[0]["change"]
    return newest


def test_the_last_change_is_taken_back_and_told(wiretrack: Wiretrack) -> None:
    change = land(wiretrack, "--capped")
    found = wiretrack("undo", "--json").json
    undone = found["undone"]
    assert (undone["change"], undone["what"]) == (change, f"{TAG}: to state unknown → capped")
    (row,) = undone["records"]
    assert (row["what"], row["code"], row["action"]) == ("conductor", TAG, "changed")
    assert row["fields"] == {"to.state": [None, "capped"]}
    newest = wiretrack("history", "--json").json[0]
    assert (newest["change"], newest["undoes"]) == (found["change"], change)
    assert newest["fields"] == {"to.state": ["capped", None]}
    assert wiretrack("show", L1, "--json").json["ends"][1]["state"] is None
    assert wiretrack("verify", "--json").json["ok"]


def test_people_read_what_was_taken_back_and_how_to_do_it_again(wiretrack: Wiretrack) -> None:
    change = land(wiretrack, "--capped")
    ran = wiretrack("undo", change.upper())
    assert f"Taken back: change {change} of " in ran.words
    assert f"{TAG}: to state unknown → capped" in ran.words
    again = wiretrack("history", "--limit", "1", "--json").json[0]["change"]
    assert f"To do it again: wiretrack undo {again} Next, " in ran.words
    assert wiretrack("undo", again).status == 0
    assert wiretrack("show", L1, "--json").json["ends"][1]["state"] == "capped"


def test_where_later_work_rests_on_it_a_script_gets_one_line(wiretrack: Wiretrack) -> None:
    first = land(wiretrack, "--capped")
    second = land(wiretrack, "--loose")
    ran = wiretrack("undo", first)
    assert (ran.status, ran.out) == (2, "")
    assert ran.err.strip() == (
        f"error: Later work rests on change {first}: conductor {TAG} (state) (change {second})."
        f" Take that back first: wiretrack undo {second}"
    )


@pytest.mark.parametrize("columns", [80, 40])
def test_at_a_terminal_it_is_asked_whether_that_is_taken_back_too(
    wiretrack: Wiretrack, db: Path, columns: int
) -> None:
    first = land(wiretrack, "--capped")
    second = land(wiretrack, "--loose")
    with at_a_terminal("--db", db, "undo", first, columns=columns) as terminal:
        assert second in terminal.sees("Take 1 later change back too")
        terminal.types("n")
        assert terminal.ends() == 2
    assert wiretrack("history", "--limit", "1", "--json").json[0]["change"] == second
    with at_a_terminal("--db", db, "undo", first, columns=columns) as terminal:
        terminal.answers("Take 1 later change back too", "y")
        terminal.sees("To do it again")
        assert terminal.ends() == 0
    with open_registry(db) as registry:
        assert registry.rows("SELECT state FROM ends WHERE state IS 'loose'") == []


def test_a_reading_is_superseded_in_place_of_that(wiretrack: Wiretrack) -> None:
    reading = wiretrack("test", "log", L1, "--kind", "continuity", "0.31", "--json").json["id"][:8]
    ran = wiretrack("undo")
    assert ran.status == 2
    command = f"test log {TAG} --kind continuity VALUE --supersedes {reading}"
    assert ran.err.strip().endswith(f"Supersede it: wiretrack {command}")
    done = wiretrack(*command.replace("VALUE", "0.32").split())
    assert done.status == 0


def test_a_change_that_said_what_was_so_already_is_passed_over(wiretrack: Wiretrack) -> None:
    change = land(wiretrack, "--capped")
    assert wiretrack("land", L1, "PH1", "--capped").status == 0
    assert wiretrack("undo", "--json").json["undone"]["change"] == change
    assert wiretrack("undo").status == 0  # the undo itself
    assert wiretrack("show", L1, "--json").json["ends"][1]["state"] == "capped"


def test_guided_work_is_undone_by_its_own_command_which_is_named(
    wiretrack: Wiretrack, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert wiretrack("symptom", "start", "insulation-alarm", L1).status in (0, 1)
    assert wiretrack("symptom", "answer", "PUMP", "no").status in (0, 1)
    searched = wiretrack("undo")
    assert searched.status == 2
    command = "wiretrack symptom undo PUMP"
    assert f"Take its last answer back: {command}\n" in searched.err
    assert wiretrack(*command.split()[1:]).status in (0, 1)
    begin = ("ringout", "run", "P1", "--near", "MDB", "--far", "PH1", "--jsonl")
    monkeypatch.setattr("sys.stdin", io.StringIO('{"done":true}\n'))
    wiretrack(*begin)
    rung = wiretrack("undo")
    assert rung.status == 2
    assert "is an answer of the ring-out of P1. It stays. Take" in rung.err
    command = "wiretrack ringout undo P1"
    assert rung.err.endswith(f"Take its last answer back: {command}\n")
    assert wiretrack(*command.split()[1:]).status == 0
    assert wiretrack("undo").err.endswith("It stays. It has no answers to take back.\n")


def test_a_circuit_whose_code_ends_as_a_kind_of_record_is_searched_not_rung_out(
    wiretrack: Wiretrack, db: Path
) -> None:
    """What a change is stands in its record: words of its name may be those of a code."""
    assert wiretrack("set", "PUMP", "code=old pull").status == 0
    assert wiretrack("symptom", "start", "insulation-alarm", L1).status in (0, 1)
    assert wiretrack("symptom", "answer", "old pull", "no").status in (0, 1)
    assert wiretrack("undo").err.endswith("back: wiretrack symptom undo 'old pull'\n")
