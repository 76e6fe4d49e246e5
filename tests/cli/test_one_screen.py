# SPDX-License-Identifier: MIT
"""``punchlist``, ``check`` and ``isolate`` take WHAT, group by place and stay within a screen."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tests.cli.conftest import on_registry
from wiretrack.store.store import open_registry
from wiretrack.tasks.report.punchlist import punch_list
from wiretrack.tasks.trouble.isolation import UNSWITCHED

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Wiretrack

SCREEN = 24  # lines
WHATS = ["", "SLUICE", "MDP", "W8", "P-SLIP", "QF1-895O"]


@pytest.fixture
def mill(
    demo_db: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> Wiretrack:
    """The command line on the registry of the demo."""
    return on_registry(demo_db, capsys, monkeypatch)


@pytest.mark.parametrize("columns", [80, 40])
@pytest.mark.parametrize("command", ["punchlist", "check"])
@pytest.mark.parametrize("what", WHATS)
def test_it_takes_what_and_is_a_screen(
    mill: Wiretrack, monkeypatch: pytest.MonkeyPatch, command: str, what: str, columns: int
) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    asked = (command, *filter(None, [what]))
    short, whole = mill(*asked), mill(*asked, "--all")
    assert len(short.out.splitlines()) <= SCREEN
    assert short.status == whole.status
    for row in mill(*asked, "--json").json:
        assert row["subject"] in whole.out


def test_the_punch_list_of_a_thing_is_its_part_of_the_whole(demo_db: Path, mill: Wiretrack) -> None:
    def told(*asked: str) -> set[tuple[str, ...]]:
        rows = mill("punchlist", *asked, "--json").json
        return {(row["what"], row["subject"], row["detail"], row["box"]) for row in rows}

    whole = told()
    assert told("QF1-895O") == {row for row in whole if row[1] == "QF1-895O"}
    assert told("SLC") == {row for row in whole if row[3] == "SLC"}
    of_sluice = {c["tag"] for c in mill("show", "SLUICE", "--json").json["conductors"]}
    assert told("SLUICE") == {row for row in whole if row[1] in of_sluice}
    in_w8 = {c["tag"] for c in mill("show", "W8", "--json").json["conductors"]}
    assert told("W8") == {row for row in whole if row[1] in in_w8}
    assert mill("punchlist", "NOWHERE").status == 2


def test_many_points_are_counted_by_box_and_few_are_named(mill: Wiretrack, demo_db: Path) -> None:
    with open_registry(demo_db) as registry:
        rows = punch_list(registry)
    out = mill("punchlist").out
    assert f"{len(rows)} points open" in out
    line = next(line.split() for line in out.splitlines() if line.startswith("MDP "))
    labels = sum(row.box == "MDP" and row.what == "end not labelled" for row in rows)
    assert str(labels) in line
    few = mill("punchlist", "SLC").out
    assert few.splitlines()[0].split() == ["SLC", "4"]
    assert few.count("end not labelled") == 4


def test_check_names_the_place_of_what_fails(mill: Wiretrack) -> None:
    out = mill("check").out
    assert "\nMDP: earthing-size  W13" in out
    assert out.index("HH2: ") < out.index("LB4: ") < out.index("MDP: ")
    assert out.splitlines()[-1] == "Next, look at it: wiretrack show W12"


def test_what_is_isolated_for_a_circuit_makes_it_dead_with_the_least(mill: Wiretrack) -> None:
    """Against every device of the site, opened alone."""
    devices = [
        f"{box['code']}/{device['code']}"
        for box in mill("dump").json["enclosures"]
        for device in mill("show", box["code"], "--json").json["devices"]
    ]
    dead = {}
    for name in devices:
        ran = mill("isolate", name, "--json")
        if ran.status == 0:
            dead[name] = {row["conductor"] for row in ran.json["goes_dead"]}
    for circuit in ("SLUICE", "YARD", "FDR-BY", "HOIST", "PUMP"):
        members = mill("show", circuit, "--json").json["conductors"]
        lines = {c["tag"] for c in members if c["function"] not in UNSWITCHED}
        alone = [name for name in dead if lines <= dead[name]]
        found = mill("isolate", circuit, "--json").json
        gone = {row["conductor"] for row in found["goes_dead"]}
        assert lines <= gone
        assert bool(alone) != bool(found["also"])
        if alone:
            assert len(gone) == min(len(dead[name]) for name in alone)


def test_several_devices_make_a_board_dead_and_what_they_leave_live_is_said(
    mill: Wiretrack,
) -> None:
    found = mill("isolate", "MDP", "--json").json
    opened = {f"{found['enclosure']}/{found['device']}", *found["also"]}
    assert opened == {"MDP/Q3", "MDP/Q4", "MDP/Q5"}
    assert {row["circuit"] for row in found["stays_live"]} == {"INV-AC"}  # its supply
    assert "MDP/Q4, MDP/Q3, MDP/Q5  opened" in mill("isolate", "MDP").out


def test_what_no_device_makes_dead_is_refused(mill: Wiretrack) -> None:
    ran = mill("isolate", "PV-S1")  # live in daylight
    assert (ran.status, ran.out, ran.err.count("\n")) == (2, "", 1)
    assert "No one device in the record makes a line of PV-S1 dead. Treat it as live" in ran.err


@pytest.mark.parametrize("what", ["MDP/Q4", "SLUICE", "DS1/Q1", "MDP", "BYP"])
def test_isolate_is_a_screen_and_its_cautions_are_in_full_once(
    mill: Wiretrack, what: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    first, again = mill("isolate", what), mill("isolate", what)
    assert len(first.out.splitlines()) <= SCREEN
    assert "Before you begin:" in first.err
    assert again.err.startswith("CAUTION: The record is not a test. Prove dead before you touch.")
    assert again.err.count("\n") == 1
    assert "Before you begin:" in mill("isolate", what, "--all").err
    led_on = "Next, lock it off, prove it dead, then measure: wiretrack test run "
    assert again.out.splitlines()[-1].startswith(led_on)
    assert f" The record is not a test. {led_on}" in again.words


@pytest.mark.parametrize(
    "command",
    ["label due", "label fit HOIST --stock flag-90x25-300", "ringout record P-SLIP",
     "ringout status P-SLIP", "test plan SLUICE", "label stocks", "find conductor MDP"],
)  # fmt: skip
@pytest.mark.parametrize("columns", [80, 40])
def test_a_long_list_is_a_screen_and_says_what_shows_the_rest(
    mill: Wiretrack, monkeypatch: pytest.MonkeyPatch, command: str, columns: int
) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    words = command.split()
    short = mill(*words).out.splitlines()
    assert len(short) <= SCREEN
    cut = [line for line in short if " more lines: " in line]
    for line in cut:
        said = line.partition(" more lines: wiretrack ")[2]
        assert said.startswith(command)
        whole = mill(*said.split()).out.splitlines()
        assert len(whole) - len(short) + 1 == int(line.split()[0])
        assert whole[: short.index(line)] == short[: short.index(line)]
    every = mill(*words, "--json").json
    assert every == mill(*words, *(() if "find" in command else ("--all",)), "--json").json


def test_what_a_change_brings_with_it_is_told_by_its_first_rows(
    mill: Wiretrack, capsys: pytest.CaptureFixture[str]
) -> None:
    from wiretrack.cli import output

    rows = [(f"W{n}", "no label") for n in range(40)]
    output.few(("code", "why"), rows, "wiretrack label due")
    told = capsys.readouterr().out.splitlines()
    assert len(told) == 12
    assert told[-1] == "and 30 more: wiretrack label due"
    output.few(("code", "why"), rows[:11], "wiretrack label due")
    assert "more" not in capsys.readouterr().out
