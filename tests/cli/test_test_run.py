# SPDX-License-Identifier: MIT
"""``test run`` on a real terminal: what is owed, one at a time, judged at once and corrected."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING

import pytest

from tests.pump import L1, L2, PE
from tests.terminal import CTRL_D, Terminal, at_a_terminal
from wiretrack import state
from wiretrack.store.store import open_registry
from wiretrack.tasks.test.visit import Visit

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Wiretrack


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A state folder of its own."""
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    return tmp_path / "state"


def begin(terminal: Terminal) -> str:
    """Confirm the cautions; return them."""
    read = terminal.sees("(y/N)")
    terminal.types("y")
    return " ".join(read.split())


@pytest.mark.parametrize("columns", [80, 40])
def test_it_leads_through_what_is_owed(
    db: Path, home: Path, wiretrack: Wiretrack, columns: int
) -> None:
    with at_a_terminal("--db", db, "test", "run", "pump", columns=columns) as terminal:
        read = begin(terminal)
        assert "Never test continuity on a live conductor." in read
        assert "then prove it dead" in read
        assert read.index("The local code") > read.index("keep one hand off metal")
        terminal.answers("Who measures", "roof")
        shown = " ".join(terminal.sees("Instrument for continuity").split())
        assert "Instruments: M1 (ohmmeter)" in shown
        assert "Enter alone: unknown." in shown
        terminal.types("M1")
        terminal.answers("Resistance of the leads", "0.2")
        terminal.answers("Temperature of the wire", "20 C")
        # the protective conductor first (IEC 60364-6:2016 6.4.3.2)
        shown = " ".join(terminal.sees("Ω: ").split())
        assert "continuity, PMP-00EP" in shown
        assert "PMP-00EP (green-yellow, PE): MDB PE and PH1" in shown
        terminal.types("0.51")
        terminal.sees("PASS: 0.31 Ω")
        terminal.answers("Ω: ", "51")  # a slip of the decimal point
        terminal.sees("FAIL: ")
        terminal.answers("Ω: ", "c")
        terminal.sees("Again, continuity of PMP-001G")
        terminal.answers("Ω: ", "0.51")
        terminal.sees("PASS: ")
        terminal.sees("continuity, PMP-002E")  # told again which one is asked for now
        terminal.answers("Ω: ", "s")
        terminal.answers("Instrument for insulation", "")
        terminal.sees("The test voltage reaches everything")  # as the kind begins
        shown = " ".join(terminal.sees("MΩ: ").split())
        assert "Red lead on PMP-001G (brown, L1), black on PE, at MDB Q4:1." in shown
        assert "Test with 500 V." in shown
        terminal.types("q")
        terminal.sees("Stopped. All values are kept.")
        terminal.sees("PUMP: 2 readings taken.")
        terminal.sees("Next, ")
        assert terminal.ends() == 0
        assert all(len(line) <= columns for line in terminal.shown.split("Next, ")[0].splitlines())
    readings = wiretrack("show", L1, "--json").json["readings"]
    assert [r["value"] for r in readings] == [51, 0.51]
    assert [r["superseded"] for r in readings] == [True, False]
    assert (readings[1]["instrument"], readings[1]["temp_c"]) == ("M1", 20)
    assert readings[1]["by"] == "roof"
    assert len(wiretrack("show", PE, "--json").json["readings"]) == 1


def test_it_goes_on_where_it_stopped_and_asks_nothing_twice_in_a_day(db: Path, home: Path) -> None:
    with at_a_terminal("--db", db, "test", "run", "PUMP") as terminal:
        begin(terminal)
        for said in ("roof", "M1", "0.2", "20 C"):
            terminal.answers(": ", said)
        terminal.answers("Ω: ", "0.51")
        terminal.answers("Ω: ", "q")
        assert terminal.ends() == 0
    with at_a_terminal("--db", db, "test", "run", "PUMP") as terminal:
        begin(terminal)
        shown = terminal.sees("Ω: ")
        assert "continuity, PMP-001G" in shown
        assert "Instrument" not in shown
        terminal.types("m")
        terminal.answers("Who measures [roof]: ", "")
        terminal.answers("Instrument for continuity [M1]: ", "M9")
        terminal.sees("'M9'")  # no such instrument: its line, and the question again
        terminal.answers("Instrument for continuity [M1]: ", "-")
        terminal.answers("Resistance of the leads [0.2]: ", "")


def test_cautions_that_are_not_confirmed_end_it(db: Path, home: Path, wiretrack: Wiretrack) -> None:
    with at_a_terminal("--db", db, "test", "run", "PUMP") as terminal:
        terminal.answers("(y/N)", "")
        terminal.sees("error: stopped. Nothing was written.")
        assert terminal.ends() == 2


def test_the_end_of_input_keeps_what_was_measured(
    db: Path, home: Path, wiretrack: Wiretrack
) -> None:
    with at_a_terminal("--db", db, "test", "run", "PUMP") as terminal:
        begin(terminal)
        for _ in range(4):
            terminal.answers(": ", "")
        terminal.answers("Ω: ", "soon")
        terminal.sees("'soon' is not a resistance.")
        terminal.answers("Ω: ", "0.3")
        terminal.sees("DOUBT: 0.3 Ω; temperature not stated")
        terminal.leaves(CTRL_D, "Stopped. All values are kept.")
        assert terminal.ends() == 0
    assert len(wiretrack("show", PE, "--json").json["readings"]) == 1


def test_without_a_terminal_it_is_an_error_that_names_test_log(wiretrack: Wiretrack) -> None:
    for more in ((), ("--json",)):
        ran = wiretrack("test", "run", "PUMP", *more)
        assert (ran.status, ran.out) == (2, "")
        assert ran.err == (
            "error: test run needs a terminal, to ask on. Elsewhere use: wiretrack test log.\n"
        )


def log(wiretrack: Wiretrack, *more: str, tag: str = L1) -> str:
    ran = wiretrack("test", "log", tag, "--kind", "continuity", "0.31", *more)
    assert ran.status == 0, ran.err
    return ran.err


def test_cautions_are_one_line_after_the_first_of_a_day(
    home: Path, db: Path, wiretrack: Wiretrack
) -> None:
    assert log(wiretrack).count(" ! ") > 3
    line = (
        "CAUTION: Never test continuity on a live conductor."
        " All 5: wiretrack test cautions PMP-001G\n"
    )
    assert log(wiretrack) == line
    assert log(wiretrack, "--quiet") == ""
    kept = state.kept("visits", db)
    state.keep("visits", db, kept | {"day": (date.today() - timedelta(days=1)).isoformat()})
    assert log(wiretrack).count(" ! ") > 3
    insulation = ("test", "log", L1, "--kind", "insulation", "200M", "--test-voltage", "500")
    assert wiretrack(*insulation).err.count(" ! ") > 3
    said = wiretrack("test", "cautions", L1).words
    assert "Never test continuity on a live conductor. It can kill you" in said


def test_what_was_said_yesterday_is_offered_today(home: Path, db: Path) -> None:
    with open_registry(db) as registry:
        Visit.today(registry).say("leads", "continuity", "0.2")
        kept = state.kept("visits", db)
        state.keep("visits", db, kept | {"day": "2026-01-01"})
        visit = Visit.today(registry)
        assert not visit.knows("leads", "continuity")
        assert visit.default("leads", "continuity") == "0.2"


def test_a_correction_names_the_last_one_a_number_or_how_an_id_begins(
    home: Path, wiretrack: Wiretrack
) -> None:
    def superseded(what: str) -> int:
        """Return which reading, counted from 1, the new one superseded."""
        log(wiretrack, "--supersedes", what)
        found = wiretrack("show", L1, "--json").json["readings"]
        ids = [reading["id"] for reading in found]
        [gone] = [r for r in found if r["superseded"] and r["id"] not in seen]
        seen.add(gone["id"])
        return ids.index(gone["id"]) + 1

    seen: set[str] = set()
    for day in ("2026-05-01", "2026-05-02", "2026-05-03"):
        log(wiretrack, "--at", day)
    ids = [r["id"] for r in wiretrack("show", L1, "--json").json["readings"]]
    assert superseded("2") == 2
    assert superseded(ids[0][:8]) == 1
    assert superseded("last") == 5


def test_a_correction_of_nothing_is_refused_in_one_line(home: Path, wiretrack: Wiretrack) -> None:
    log(wiretrack, tag=L2)
    for what in ("last", "1", "abcd"):
        asked = ("test", "log", L1, "--kind", "continuity", "0.3", "--supersedes", what)
        ran = wiretrack(*asked)
        assert (ran.status, ran.out, ran.err.count("\n")) == (2, "", 1)
        assert f"PMP-001G has no continuity reading '{what}' to supersede." in ran.err
    log(wiretrack)
    log(wiretrack, "--supersedes", "1")
    asked = ("test", "log", L1, "--kind", "continuity", "0.3", "--supersedes", "1")
    assert "superseded already" in wiretrack(*asked).err


def test_at_a_terminal_log_asks_what_is_not_said_and_offers_what_was_said_last(
    db: Path, home: Path, wiretrack: Wiretrack
) -> None:
    asked = ("--db", db, "test", "log", L1, "--kind", "continuity", "0.51")
    with at_a_terminal(*asked, "--by", "roof") as terminal:
        terminal.answers("Instrument for continuity: ", "M1")
        terminal.answers("Resistance of the leads: ", "a lot")
        terminal.sees("'a lot'")
        terminal.answers("Resistance of the leads: ", "0,2")
        terminal.answers("Temperature of the wire: ", "20 C")
        terminal.sees("PASS: ")
        assert terminal.ends() == 0
    kept = state.kept("visits", db)
    state.keep("visits", db, kept | {"day": "2026-01-01"})  # another day
    with at_a_terminal(*asked, "--leads", "0.3") as terminal:
        terminal.answers("Who measures [", "")
        terminal.answers("Instrument for continuity [M1]: ", "")
        terminal.answers("Temperature of the wire [20 C]: ", "-")  # unknown
        assert terminal.ends() == 0
    for more in (["--json"], ["--quiet"], []):
        assert wiretrack("test", "log", L1, "--kind", "continuity", "0.51", *more).status == 0
    found = wiretrack("show", L1, "--json").json["readings"]
    assert [r["instrument"] for r in found] == ["M1", "M1", None, None, None]
    assert [r["temp_c"] for r in found] == [20, None, None, None, None]


def test_a_missing_argument_is_asked_for_and_the_last_answer_is_offered_but_not_taken(
    db: Path, home: Path, wiretrack: Wiretrack
) -> None:
    with at_a_terminal("--db", db, "land", L1, "--capped") as terminal:
        terminal.answers("Box: ", "PH1")
        assert terminal.ends() == 0
    with at_a_terminal("--db", db, "land", L2, "--loose") as terminal:
        terminal.answers("Box [PH1]: ", "")
        assert terminal.ends() == 0
    assert wiretrack("show", L2, "--json").json["ends"][1]["state"] == "loose"
    for more in ([], ["--json"]):
        ran = wiretrack("land", L2, "--capped", *more)
        assert (ran.status, ran.out) == (2, "")
        assert "Missing argument 'ENCLOSURE'" in ran.err
