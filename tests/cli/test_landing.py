# SPDX-License-Identifier: MIT
"""Landing an end asks about what is unusual, and can be taken back."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import pytest

from tests.pump import L1, L2, PE
from tests.terminal import at_a_terminal

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Wiretrack


def _loaded(wiretrack: Wiretrack, tmp_path: Path, **tables: Any) -> None:
    file = tmp_path / "more.json"
    file.write_text(json.dumps({"format": "wiretrack-site/1", **tables}), encoding="utf-8")
    ran = wiretrack("load", file)
    assert ran.status == 0, ran.err


@pytest.fixture
def listed(wiretrack: Wiretrack, tmp_path: Path) -> Wiretrack:
    """The pump, with a terminal block recorded in its box."""
    rows = [{"enclosure": "PH1", "code": code} for code in ("TB1:1", "TB1:2", "TB1:3")]
    _loaded(wiretrack, tmp_path, terminals=rows)
    return wiretrack


def _end(wiretrack: Wiretrack, tag: str) -> tuple[str | None, str | None]:
    end = wiretrack("show", tag, "--json").json["ends"][1]
    return end["terminal"], end["state"]


def test_a_terminal_that_its_box_does_not_have_is_not_made_in_silence(listed: Wiretrack) -> None:
    ran = listed("land", L1, "PH1", "--terminal", "TB1:9")
    assert (ran.status, ran.out) == (2, "")
    assert ran.err == (
        "error: PH1 has no terminal TB1:9 in the record. It has TB1:3, TB1:2, TB1:1."
        " If it is so, repeat it with --new-terminal.\n"
    )
    assert _end(listed, L1) == (None, None)
    assert "TB1:9" not in listed("terminals", "PH1").out
    made = listed("land", L1, "PH1", "--terminal", "TB1:9", "--new-terminal", "--json")
    assert (made.status, made.json["new_terminal"]) == (0, True)
    assert _end(listed, L1) == ("TB1:9", "landed")


def test_a_terminal_that_is_there_needs_no_question(listed: Wiretrack) -> None:
    ran = listed("land", L1, "PH1", "--terminal", "TB1:1", "--json")
    assert (ran.status, ran.json["new_terminal"]) == (0, False)


def test_a_box_whose_terminals_nobody_listed_takes_a_new_one_and_says_so(
    wiretrack: Wiretrack,
) -> None:
    for tag, terminal in ((L1, "X:1"), (L2, "X:2")):
        ran = wiretrack("land", tag, "PH1", "--terminal", terminal)
        assert ran.status == 0
        assert f"the record had no terminal {terminal} in PH1" in ran.words


@pytest.mark.parametrize("other", [L2, PE])
def test_a_short_circuit_or_an_earth_fault_on_one_terminal_is_asked_about(
    listed: Wiretrack, other: str
) -> None:
    assert listed("land", L1, "PH1", "--terminal", "TB1:1").status == 0
    ran = listed("land", other, "PH1", "--terminal", "TB1:1")
    assert ran.status == 2
    assert "(PUMP L1) is on PH1 TB1:1." in ran.err
    assert "--anyway" in ran.err
    assert _end(listed, other) == (None, None)
    assert listed("land", other, "PH1", "--terminal", "TB1:1", "--anyway").status == 0
    rows = listed("check", "PH1", "--json").json
    found = [row["outcome"] for row in rows if row["subject"] == "PH1/TB1:1"]
    assert found == ["fail"]


def test_a_landing_changed_to_loose_is_taken_back(listed: Wiretrack) -> None:
    listed("land", L1, "PH1", "--terminal", "TB1:2")
    listed("land", L1, "PH1", "--loose")
    assert _end(listed, L1) == (None, "loose")
    ran = listed("land", L1, "PH1", "--take-back", "--json")
    assert (ran.status, ran.json["terminal"], ran.json["state"]) == (0, "TB1:2", "landed")
    assert _end(listed, L1) == ("TB1:2", "landed")


def test_an_end_that_was_never_landed_otherwise_has_nothing_to_take_back(
    listed: Wiretrack,
) -> None:
    ran = listed("land", L1, "PH1", "--take-back")
    assert ran.status == 2
    assert "holds no earlier landing" in ran.err


def test_taking_back_asks_like_landing_does(listed: Wiretrack) -> None:
    listed("land", L1, "PH1", "--terminal", "TB1:2")
    listed("land", L1, "PH1", "--loose")
    listed("land", PE, "PH1", "--terminal", "TB1:2")
    assert listed("land", L1, "PH1", "--take-back").status == 2
    assert _end(listed, L1) == (None, "loose")


def test_load_names_the_poles_that_nothing_is_landed_on(
    wiretrack: Wiretrack, tmp_path: Path
) -> None:
    device = {
        "enclosure": "MDB",
        "code": "Q4",
        "kind": "breaker",
        "poles": [["1", "2"], ["A", "B"]],
    }
    file = tmp_path / "more.json"
    file.write_text(json.dumps({"format": "wiretrack-site/1", "devices": [device]}))
    ran = wiretrack("load", file)
    assert "MDB: no wire is landed on Q4:2, Q4:A, Q4:B. Q4:3" in ran.words


SITE = {"code": "X", "name": "Example", "units": "m", "rules": "IEC"}


@pytest.mark.parametrize(
    ("site", "told"),
    [
        ({"rules": "NEC", "edition": 2023}, "rules is 'IEC' in the registry, 'NEC' in the file"),
        ({"units": "ft"}, "units is 'm' in the registry, 'ft' in the file"),
    ],
)
def test_load_does_not_change_what_is_known_of_the_site(
    wiretrack: Wiretrack, tmp_path: Path, site: dict[str, Any], told: str
) -> None:
    before = wiretrack("dump").out
    file = tmp_path / "more.json"
    more = {"format": "wiretrack-site/1", "site": site, "enclosures": [{"code": "NEW"}]}
    file.write_text(json.dumps(more), encoding="utf-8")
    ran = wiretrack("load", file)
    assert ran.status == 2
    assert told in ran.err
    assert wiretrack("dump").out == before


def test_load_takes_and_tells_what_was_not_known_of_the_site(
    wiretrack: Wiretrack, tmp_path: Path
) -> None:
    file = tmp_path / "more.json"
    site = {**SITE, "ambient_max": "45 C"}
    file.write_text(json.dumps({"format": "wiretrack-site/1", "site": site}), encoding="utf-8")
    ran = wiretrack("load", file)
    assert (ran.status, "site ambient_max 45 C" in ran.words) == (0, True)
    assert wiretrack("dump").json["site"]["ambient_max"] == "45 C"
    again = wiretrack("load", file)
    assert "nothing new" in again.words
    site["ambient_max"] = "30 C"
    file.write_text(json.dumps({"format": "wiretrack-site/1", "site": site}), encoding="utf-8")
    refused = wiretrack("load", file)
    assert refused.status == 2
    assert "ambient_max is '45 C' in the registry, '30 C' in the file" in refused.err


def test_at_a_terminal_where_the_end_goes_is_asked_for_once_wire_and_box_are_known(
    db: Path, wiretrack: Wiretrack
) -> None:
    with at_a_terminal("--db", str(db), "land") as terminal:
        terminal.answers("Tag of the wire: ", "NOWIRE")
        terminal.sees("No conductor is called 'NOWIRE'.")
        terminal.answers("Tag of the wire: ", L1)
        terminal.answers("Box: ", "MDBB")
        assert terminal.ends() == 2
    with at_a_terminal("--db", str(db), "land", L1, "MDBB") as terminal:
        assert terminal.ends() == 2
        assert "Terminal" not in terminal.shown
    for word, now in (("capped", (None, "capped")), ("X1:4", ("X1:4", "landed"))):
        with at_a_terminal("--db", str(db), "land", L1, "PH1") as terminal:
            terminal.answers("Terminal, or capped, or loose: ", word)
            assert terminal.ends() == 0
        assert _end(wiretrack, L1) == now
    assert "Give --terminal, or" in wiretrack("land", L1, "PH1").err
