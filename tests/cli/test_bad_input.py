# SPDX-License-Identifier: MIT
"""Bad input: the status that scripts rely on, one line that names the value, nothing written."""

from __future__ import annotations

import json
import os
from typing import TYPE_CHECKING

import pytest

from tests.pump import L1, PUMP
from wiretrack.cli.group import run
from wiretrack.store.schema import VERSION
from wiretrack.store.store import open_registry

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Wiretrack

WRONG_TAG = L1[:6] + ("A" if L1[6] != "A" else "B")


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["show", "nothing"], "Nothing here is called 'nothing'."),
        (["show", WRONG_TAG], f"'{WRONG_TAG}' is not a tag: the check character is wrong. Did"),
        (["show", "PUMPP"], "Close to it: PUMP."),
        (["test", "log", L1, "--kind", "continuity", "abc"], "'abc' is not a resistance"),
        (["test", "log", L1, "--kind", "continuity", "NaN"], "'NaN' is not a resistance"),
        (["test", "log", L1, "--kind", "sound", "1"], "sound"),
        (["test", "log", L1, "--kind", "voltage", "5ohm"], "'5ohm' is not a voltage"),
        (["test", "log", L1, "--kind", "continuity", "1", "--temp", "hot"], "'hot' is not a temp"),
        (["test", "log", L1, "--kind", "continuity", "1", "--at", "noon"], "'noon' is not a time"),
        (["test", "log", L1, "--kind", "continuity", "1", "--instrument", "M9"], "'M9'"),
        (["test", "log", L1, "--kind", "insulation", "1", "--against", "moon"], "moon"),
        (["test", "log", L1, "--kind", "insulation", "1", "--test-voltage", "-5"], "-5 V"),
        (["test", "log", L1, "--kind", "continuity", "1", "--supersedes", "x"], "'x'"),
        (["test", "plan", "NOPE"], "'NOPE'"),
        (["trace", "XX:9"], "'XX:9'"),
        (["label", "fit", L1, "--stock", "moon"], "no entry 'moon'"),
        (["land", L1, "MDB", "--terminal", "T", "--loose"], "An end is landed on a terminal"),
        (["land", L1, "W1", "--loose"], "No enclosure is called 'W1'."),
        (["find"], "Missing argument"),
        (["expect", "--size", "4 mm2", "--ohms", "OL"], "'OL' is open"),
        (["expect", "--size", "4 mm2", "--ohms", "0.1", "--leads", "0.2"], "The leads (0.2) exc"),
        (["expect", "--size", "4 mm2", "--ohms", "0"], "A reading of 0 says nothing"),
        (["expect", "--size", "7 mm2", "--length", "1 m"], "Nearest in it: 6 mm2, 10 mm2."),
        (["expect", "--size", "4 mm2", "--length", "0 m"], "it must be above 0 m"),
        (["check", "nowhere"], "'nowhere'"),
        (["marking", "nowhere"], "'nowhere'"),
        (["bogus"], "No such command 'bogus'"),
        (["scan", "/nowhere.png"], "nowhere.png"),
        (["load", "/nowhere.json"], "nowhere.json"),
        (["backup", "/nowhere/copy.db"], "/nowhere"),
    ],
)
def test_bad_input_ends_with_2_and_one_line_that_names_it(
    wiretrack: Wiretrack, arguments: list[str], message: str
) -> None:
    before = wiretrack("dump").out
    ran = wiretrack(*arguments)
    assert ran.status == 2
    assert ran.err.startswith("error: ")
    assert ran.err.count("\n") == 1
    assert message in ran.err
    assert ran.out == ""
    assert wiretrack("dump").out == before


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"{",
        b"[]",
        b'{"format": "wiretrack-site/1"',
        b"\xff\xfe{}",
        b'{"format": "wiretrack-site/9"}',
        b'{"format": "wiretrack-site/1", "surprise": 1}',
        b"[" * 100_000,
        b'{"format": "wiretrack-site/1", "site": {"name": "\\u001b[31mred"}}',
        b'{"format": "wiretrack-site/1", "site": {"name": "a"}, "site": {"name": "b"}}',
        b"\x00" * 4096,
    ],
    ids=range(11),
)
def test_a_hostile_site_file_is_refused_in_one_line_and_changes_nothing(
    wiretrack: Wiretrack, tmp_path: Path, content: bytes
) -> None:
    before = wiretrack("dump").out
    file = tmp_path / "site.json"
    file.write_bytes(content)
    ran = wiretrack("load", file)
    assert (ran.status, ran.err.count("\n")) == (2, 1)
    assert ran.err.startswith("error: ")
    assert "\x1b" not in ran.err
    assert wiretrack("dump").out == before


def test_every_fault_of_a_file_is_told_at_once(wiretrack: Wiretrack, tmp_path: Path) -> None:
    site = json.loads(json.dumps(PUMP))
    site["conductors"][0] |= {"size": "7 foo", "tag": WRONG_TAG}
    site["conductors"][1] |= {"circuit": "NONE", "tag": None}
    del site["conductors"][1]["tag"]
    site["raceways"][0]["length"] = "64 parsec"
    site["enclosures"][0]["kind"] = "wireway"
    file = tmp_path / "site.json"
    file.write_text(json.dumps(site), "utf-8")
    told = wiretrack("load", file).err
    for place in ("conductors[0].size", "conductors[0].tag", "conductors[1].circuit",
                  "raceways[0].length", "enclosures[0].kind"):  # fmt: skip
        assert place in told


def test_a_registry_that_can_not_be_used_ends_with_3(
    tmp_path: Path, db: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = tmp_path / "notes.db"
    text.write_text("no registry\n")
    with open_registry(db) as registry:
        registry.db.execute(f"PRAGMA user_version = {VERSION + 1}")
    for path in (text, tmp_path / "missing.db", tmp_path, db):
        for command in (["show", "X"], ["verify"], ["punchlist"], ["dump"]):
            assert run(["--db", str(path), *command]) == 3, (path, command)
            err = capsys.readouterr().err
            assert err.startswith(f"error: {path}")
            assert err.count("\n") == 1


def test_new_refuses_to_overwrite_and_leaves_nothing_behind(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "precious.db"
    file.write_text("precious")
    assert run(["--db", str(file), "new", "--name", "X"]) == 2
    assert file.read_text() == "precious"
    assert run(["--db", str(tmp_path / "none" / "x.db"), "new", "--name", "X"]) == 3
    assert run(["--db", str(tmp_path / "y.db"), "new", "--name", "\x07"]) == 2
    assert os.listdir(tmp_path) == ["precious.db"]
    assert capsys.readouterr().err.count("\n") == 3


def test_names_with_markup_and_control_signs_are_shown_as_text(
    wiretrack: Wiretrack, tmp_path: Path
) -> None:
    site = {
        "format": "wiretrack-site/1",
        "enclosures": [{"code": "E[red]1", "name": "[bold]<b>&amp;[/bold]"}],
    }
    file = tmp_path / "site.json"
    file.write_text(json.dumps(site), "utf-8")
    assert wiretrack("load", file).status == 0
    assert "[bold]<b>&amp;[/bold]" in wiretrack("show", "E[red]1").out


def test_a_code_that_begins_with_a_hyphen_is_no_option(wiretrack: Wiretrack) -> None:
    for words in (("-W1",), ("--", "-W1")):
        said = wiretrack("show", *words)
        assert (said.status, said.err.startswith("error: Nothing here is called '-W1'.")) == (
            2,
            True,
        )
    assert wiretrack("show", "--wat").err.endswith(" show --help\n")
