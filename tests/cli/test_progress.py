# SPDX-License-Identifier: MIT
"""Long work shows how far it has come, and leaves nothing half done when it is interrupted."""

from __future__ import annotations

import json
import shutil
from typing import TYPE_CHECKING

import pytest

from tests.pump import PUMP
from tests.terminal import program_at_a_terminal
from wiretrack.cli.group import run
from wiretrack.progress import counted, steps, watched

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Wiretrack

STOCK = ("--stock", "flag-90x25-300")
# Each long job, and what it counts.
WORK = {
    "load": (["load", "more.json"], {"conductors"}),
    "print": (["label", "print", "PUMP", *STOCK, "--out", "made.pdf"], {"labels"}),
    "binder": (["binder", "made"], {"circuits", "boxes"}),
    "report": (["report", "--out", "made.html"], {"circuits"}),
    "merge": (["merge", "other.db"], {"entries"}),
    "verify": (["verify"], {"entries of the log"}),
}


@pytest.fixture
def here(db: Path, wiretrack: Wiretrack, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The folder of the pump's registry, a copy of it with work of its own, and a site file."""
    monkeypatch.chdir(db.parent)
    shutil.copy(db, "other.db")
    assert wiretrack("--db", "other.db", "set", "PUMP", "title=borehole").status == 0
    wire = {k: v for k, v in PUMP["conductors"][0].items() if k != "tag"} | {"function": "L3"}
    kept = {"format": PUMP["format"], "conductors": [wire]}
    (db.parent / "more.json").write_text(json.dumps(kept))
    return db


@pytest.mark.parametrize("work", WORK)
def test_it_tells_how_far_it_has_come(
    here: Path, work: str, capsys: pytest.CaptureFixture[str]
) -> None:
    arguments, counts = WORK[work]
    told: list[tuple[str, int, int]] = []
    with watched(lambda *said: told.append(said)):
        assert run(["--db", str(here), *arguments]) in (0, 1), capsys.readouterr()
    for what in counts:
        done = [(number, total) for name, number, total in told if name == what]
        assert done[0][0] == 0
        assert done[-1][0] == done[-1][1] == max(total for _, total in done) > 0


@pytest.mark.parametrize("work", WORK)
def test_an_interrupt_leaves_nothing_half_done(
    here: Path, wiretrack: Wiretrack, work: str, capsys: pytest.CaptureFixture[str]
) -> None:
    before, files = wiretrack("dump").out, sorted(here.parent.iterdir())

    def interrupt(what: str, done: int, total: int) -> None:
        if done == total:  # as late as can be
            raise KeyboardInterrupt

    with watched(interrupt):
        assert run(["--db", str(here), *WORK[work][0]]) == 130
    err = capsys.readouterr().err
    assert err.strip() == "error: stopped. Nothing is half done. What was saved stays saved."
    assert sorted(here.parent.iterdir()) == files
    assert wiretrack("dump").out == before
    assert wiretrack("verify", "--json").json["ok"]


PROGRAM = """
from wiretrack.cli import bar
from wiretrack.cli.group import run
bar.AFTER_S = {after}
run(["--db", {db!r}, "verify", "--json"])
"""


@pytest.mark.parametrize("columns", [80, 40])
def test_a_terminal_shows_a_bar_with_an_estimate(db: Path, columns: int) -> None:
    program = PROGRAM.format(after=-1, db=str(db))
    with program_at_a_terminal(program, columns) as terminal:
        assert terminal.ends() == 0
    assert "entries of the log" in terminal.shown
    assert " %" in terminal.shown
    assert "left" in terminal.shown
    with program_at_a_terminal(PROGRAM.format(after=60, db=str(db)), columns) as terminal:
        assert terminal.ends() == 0
    assert "entries of the log" not in terminal.shown  # soon done: no bar


def test_no_bar_in_a_pipe(wiretrack: Wiretrack, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("wiretrack.cli.bar.AFTER_S", -1)
    assert "entries" not in wiretrack("verify").err


def test_nobody_who_watches_costs_nothing_and_what_fails_is_told() -> None:
    assert [*steps([1, 2], "labels"), *counted(iter("ab"), "pages", 2)] == [1, 2, "a", "b"]
