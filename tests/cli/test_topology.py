# SPDX-License-Identifier: MIT
"""Trees, drawings and what a device leaves live, from the command line on the demo site."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING
from xml.etree import ElementTree

import pytest

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Wiretrack


@pytest.fixture
def db(mill_db: Path) -> Path:
    return mill_db


def test_the_tree_shows_every_way_on_from_the_source(wiretrack: Wiretrack) -> None:
    found = wiretrack("trace", "M0H-TA7K", "--tree", "--json").json
    assert found["root"] == {"enclosure": "ARR", "terminal": "S1+"}
    text = "\n".join(found["lines"])
    # The site file: three strings meet at the combiner's fuse, then go through one disconnect.
    for tag in ("M0H-TA7K", "JQW-F9KW", "4CM-8KGG", "11V-83VT", "G2M-9KPY"):
        assert tag in text
    assert found["loop"] == []
    assert "│" in wiretrack("trace", "M0H-TA7K", "--tree").out


@pytest.mark.parametrize("columns", ["80", "40"])
def test_a_long_tree_is_a_screen_without_what_is_farthest_and_all_of_it_is_a_command_away(
    wiretrack: Wiretrack, monkeypatch: pytest.MonkeyPatch, columns: str
) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    whole = wiretrack("trace", "YNF-W939", "--tree", "--json").json["lines"]
    short = wiretrack("trace", "YNF-W939", "--tree").out.splitlines()
    assert len(short) <= 24
    more = "wiretrack trace YNF-W939 --tree --all"
    (told,) = (line for line in short if line.endswith(more))
    left_out = [int(count) for line in short for count in re.findall(r"  … (\d+) more$", line)]
    assert int(told.split()[0]) == sum(left_out) > 0
    assert short.index(told) + sum(left_out) == len(whole)
    assert "├─ YNF-W939  YARD L1 → LT1 L" in short  # the last but one of all
    assert wiretrack(*more.split()[1:]).out.splitlines()[: len(whole)] == whole


def test_the_tree_is_drawn_with_the_path_lit_up(wiretrack: Wiretrack, tmp_path: Path) -> None:
    file = tmp_path / "tree.svg"
    assert wiretrack("trace", "M0H-TA7K", "--svg", file).status == 0
    root = ElementTree.fromstring(file.read_text("utf-8"))
    lines = {e.get("data-name"): e.get("stroke-width") for e in root.iter() if e.get("data-name")}
    assert (lines["M0H-TA7K"], lines["11V-83VT"], lines["JQW-F9KW"]) == ("5", "5", "2")


def test_pv_stays_live_when_its_disconnect_is_opened(wiretrack: Wiretrack) -> None:
    found = wiretrack("isolate", "DS1/Q1", "--json").json
    assert {row["conductor"] for row in found["goes_dead"]} == {"G2M-9KPY", "WCY-G08E"}
    live = {row["conductor"]: row["why"] for row in found["stays_live"]}
    assert live["11V-83VT"] == "PV modules: live in daylight"
    said = " ".join(found["cautions"])
    assert "PV array is live whenever light falls on it" in said
    assert "An inverter's own capacitors" in said
    ran = wiretrack("isolate", "ds1/q1")
    assert "The record is not a test" in ran.words
    assert "Before you begin" in ran.err


def test_what_a_breaker_feeds_goes_dead_and_the_rest_stays(wiretrack: Wiretrack) -> None:
    found = wiretrack("isolate", "MDP/Q3", "--json").json
    assert {row["circuit"] for row in found["goes_dead"]} == {"FDR-BY"}
    assert {row["circuit"] for row in found["stays_live"]} == {"INV-AC", "YARD"}
    named = wiretrack("isolate", "MDP/Q5", "--source", "LT1/L", "--json").json
    assert {row["from"] for row in named["stays_live"] if row["circuit"] == "YARD"} == {"LT1 L"}


def test_what_goes_dead_comes_first_and_what_can_not_be_decided_is_named(
    wiretrack: Wiretrack,
) -> None:
    found = wiretrack("isolate", "MDP/Q3", "--json").json
    assert list(found)[:5] == ["device", "enclosure", "goes_dead", "stays_live", "unknown"]
    text = wiretrack("isolate", "MDP/Q3").out
    assert text.index("Goes dead") < text.index("053-XJAB") < text.index("Stays live")
    # The site file has no conductor on the line side of MDP Q1, where the grid comes in.
    found = wiretrack("isolate", "MDP/Q2", "--json").json
    assert {row["circuit"] for row in found["stays_live"]} == {"INV-AC"}
    assert {row["circuit"] for row in found["unknown"]} == {"FDR-BY", "YARD"}
    assert all("MDP Q1:" in row["why"] for row in found["unknown"])
    text = wiretrack("isolate", "MDP/Q2").out
    assert "Unknown, may be live" in text
    named = wiretrack("isolate", "MDP/Q2", "--source", "MDP/BUS:L2", "--json").json
    assert {row["from"] for row in named["stays_live"] if row["circuit"] == "YARD"} == {
        "MDP BUS:L2"
    }
    assert {row["function"] for row in named["unknown"]} == {"L1", "L3"}


@pytest.mark.parametrize("words", ["Q4 in MDP", "mdp q4", "breaker 4 in MDP"])
def test_a_place_is_named_as_people_write_it(wiretrack: Wiretrack, words: str) -> None:
    found = wiretrack("isolate", words, "--json").json
    assert (found["enclosure"], found["device"]) == ("MDP", "Q4")
    traced = wiretrack("trace", "MDP Q4 4", "--json").json
    assert traced == wiretrack("trace", "MDP/Q4:4", "--json").json
    assert traced["path"]


@pytest.mark.parametrize(
    ("word", "words"),
    [
        ("Q1", "names 5 devices. Write one of: BAT1/Q1, BYP/Q1, DS1/Q1, MDP/Q1, SLC/Q1."),
        ("MDP/BUS", "is a bus, which doesn't open"),
        ("MDP/Q77", "No device with poles is called 'MDP/Q77'"),
    ],
)
def test_devices_that_can_not_be_opened_are_refused(
    wiretrack: Wiretrack, word: str, words: str
) -> None:
    ran = wiretrack("isolate", word)
    assert (ran.status, words in ran.err) == (2, True)
