# SPDX-License-Identifier: MIT
"""``show`` fits a screen and begins with what matters; its last line is what to do next."""

from __future__ import annotations

import shlex
from typing import TYPE_CHECKING

import pytest

from tests.pump import L1, L2, PE
from wiretrack.cli.group import COMMANDS

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Wiretrack

SCREEN = 24  # lines


def last_command(out: str) -> list[str]:
    """Return the words of the command that the last line names."""
    line = out.splitlines()[-1]
    assert line.startswith("Next, ")
    words = shlex.split(line.partition(": ")[2])
    assert words[0] == "wiretrack"
    assert words[1] in COMMANDS
    return words[1:]


@pytest.mark.parametrize("columns", [80, 40])
@pytest.mark.parametrize("what", ["MDP", "SLUICE", "QF1-895O", "P-SLIP", "W8", "INV1", "PUMP"])
def test_a_record_is_one_screen_that_says_how_to_see_the_rest(
    demo_db: Path, wiretrack: Wiretrack, monkeypatch: pytest.MonkeyPatch, what: str, columns: int
) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    lines = wiretrack("--db", demo_db, "show", what).out.splitlines()
    whole = wiretrack("--db", demo_db, "show", what, "--all").out.splitlines()
    assert len(lines) <= SCREEN
    if [line for line in lines if "more lines" in line]:
        assert len(whole) > SCREEN - 3
        assert f"wiretrack --db {demo_db} show {what} --all" in " ".join(lines)
    else:
        assert set(lines[:3]) <= set(whole)


def test_it_begins_with_where_it_goes_what_failed_and_what_is_to_do(
    demo_db: Path, wiretrack: Wiretrack
) -> None:
    lines = wiretrack("--db", demo_db, "show", "QF1-895O").out.splitlines()
    assert lines[1].split() == ["goes", "MDP", "Q4:4", "→", "SLC", "Q1:3"]
    # By the demo site's readings: continuity passes, insulation to PE is 210 kΩ where 1 MΩ is
    # needed (IEC 60364-6:2016 table 6.1), and the two towards L3 and neighbours were never taken.
    assert lines[3].startswith("proved by  1 of 4 readings")
    assert "failed" in lines[4]
    assert "210 kΩ" in lines[4]
    assert "end not labelled 2, test due 2" in lines[6]


def test_next_goes_with_the_work(wiretrack: Wiretrack) -> None:
    assert last_command(wiretrack("show", "P1").out) == [
        "ringout", "run", "P1", "--near", "MDB", "--far", "PH1"
    ]  # fmt: skip
    for number, tag in enumerate((L1, L2, PE), 1):
        assert wiretrack("land", tag, "PH1", "--terminal", f"T:{number}").status == 0
    printing = last_command(wiretrack("show", "PUMP").out)
    assert printing == ["label", "print", "PUMP", "--out", "labels.pdf"]
    assert wiretrack("label", "placed", "PUMP", "--by-hand").status == 0
    testing = last_command(wiretrack("show", L1).out)
    assert testing == ["test", "run", "PUMP"]
    logged = wiretrack(
        "test", "log", L1, "--kind", "insulation", "0.2M", "--against", "PE",
        "--test-voltage", "500",
    )  # fmt: skip
    assert logged.status == 1
    failing = last_command(wiretrack("show", L1).out)
    assert failing == ["symptom", "start", "insulation-alarm", "PMP-001G"]


def test_the_next_line_is_not_in_json(wiretrack: Wiretrack) -> None:
    assert "Next, " not in wiretrack("show", "P1", "--json").out


def test_readings_are_numbered_in_order_of_time(wiretrack: Wiretrack) -> None:
    for value in ("0.31", "0.32", "0.33"):
        wiretrack("test", "log", L1, "--kind", "continuity", value)
    assert "\n3  20" in wiretrack("show", L1).out  # the last of its kind alone
    assert "\n1  20" not in wiretrack("show", L1).out
    whole = wiretrack("show", L1, "--all").out
    assert all(f"\n{number}  20" in whole for number in (1, 2, 3))
