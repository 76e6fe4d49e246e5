# SPDX-License-Identifier: MIT
"""Many registries: those of a folder, one search through all, and the one of a folder above."""

from __future__ import annotations

import json
import os
import shutil
from typing import TYPE_CHECKING

import pytest

from tests.pump import L1, PUMP
from wiretrack.cli.group import run
from wiretrack.model.tags import format_tag
from wiretrack.store.store import open_registry

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Wiretrack


@pytest.fixture
def folder(db: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with the pump in one sub-folder and an empty registry in another."""
    folder = tmp_path / "all"
    (folder / "pump" / "photos").mkdir(parents=True)
    (folder / "barn").mkdir()
    shutil.copy(db, folder / "pump" / "wiretrack.db")
    assert run(["--db", str(folder / "barn" / "wiretrack.db"), "new", "--name", "Barn"]) == 0
    (folder / "letters.db").write_bytes(b"no registry")
    monkeypatch.delenv("WIRETRACK_DB", raising=False)
    monkeypatch.chdir(folder)
    return folder


@pytest.mark.usefixtures("folder")
def test_the_registries_of_a_folder_are_listed_with_what_is_open(
    wiretrack: Wiretrack, capsys: pytest.CaptureFixture[str]
) -> None:
    capsys.readouterr()
    assert run(["sites", "--json"]) == 0
    rows = json.loads(capsys.readouterr().out)
    assert [(row["file"], row["name"], row["problem"]) for row in rows] == [
        ("barn/wiretrack.db", "Barn", None),
        ("pump/wiretrack.db", "Example", None),
    ]
    assert [row["open"] for row in rows] == [0, len(wiretrack("punchlist", "--json").json)]


def test_where_nothing_is_open_what_comes_next_there_is_said_and_no_day_made_up(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shutil.rmtree(folder / "pump")
    capsys.readouterr()
    assert run(["sites"]) == 0
    told = capsys.readouterr().out
    assert "undated" not in told
    assert "Next, enter what is there: wiretrack --db barn/wiretrack.db load FILE\n" in told
    shutil.rmtree(folder / "barn")
    gone = {"retired_at": "2025-03-04", "retired_because": "removed"}
    done = {**PUMP, "conductors": [{**row, **gone} for row in PUMP["conductors"]]}
    (folder / "site.json").write_text(json.dumps(done), "utf-8")
    assert run(["--db", "old.db", "new", "--name", "Old"]) == 0
    assert run(["--db", "old.db", "load", "site.json"]) == 0
    capsys.readouterr()
    assert run(["sites"]) == 0
    told = capsys.readouterr().out
    assert told.endswith("Next, report it: wiretrack --db old.db report --out report.html\n")


def test_one_that_is_damaged_is_named_and_the_others_are_told(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    whole = (folder / "pump" / "wiretrack.db").read_bytes()
    (folder / "cut.db").write_bytes(whole[: len(whole) // 3])
    capsys.readouterr()
    assert run(["sites"]) == 1
    out = capsys.readouterr().out
    assert "cut.db is damaged." in out
    assert "pump/wiretrack.db" in out
    assert run(["find", "--all", "bore", "--json"]) == 1
    assert {row["file"] for row in json.loads(capsys.readouterr().out)} == {"pump/wiretrack.db"}


@pytest.mark.usefixtures("folder")
def test_a_search_through_all_says_which_registry(capsys: pytest.CaptureFixture[str]) -> None:
    capsys.readouterr()
    assert run(["find", "--all", format_tag(L1), "--json"]) == 0
    first = json.loads(capsys.readouterr().out)[0]
    found = (first["file"], first["what"], first["code"])
    assert found == ("pump/wiretrack.db", "conductor", format_tag(L1))


def test_a_folder_without_registries_and_none_are_named(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for folder in (tmp_path / "none", tmp_path / "empty"):
        if folder.name == "empty":
            folder.mkdir()
        capsys.readouterr()
        assert run(["sites", str(folder)]) == 2
        assert str(folder) in capsys.readouterr().err


def test_in_a_sub_folder_the_registry_above_is_used_and_new_makes_one_here(
    folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    below = folder / "pump" / "photos"
    monkeypatch.chdir(below)
    assert run(["show", "PUMP"]) == 0
    assert run(["new", "--name", "Here"]) == 0
    assert (below / "wiretrack.db").exists()
    capsys.readouterr()
    assert run(["show", "PUMP"]) == 2  # the nearest one is another site's now
    assert "PUMP" in capsys.readouterr().err


@pytest.mark.skipif(os.name == "nt", reason="files have no such owner there")
def test_one_above_that_is_somebody_else_s_is_passed_over(
    folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(folder / "pump" / "photos")
    monkeypatch.setattr(os, "geteuid", lambda: os.getuid() + 1)
    assert run(["show", "PUMP"]) == 3
    assert "does not exist" in capsys.readouterr().err


def test_the_log_says_that_it_was_the_command_line(wiretrack: Wiretrack, db: Path) -> None:
    assert wiretrack("land", format_tag(L1), "MDB", "--loose").status == 0
    with open_registry(db) as registry:
        (row,) = registry.rows("SELECT body FROM log ORDER BY nr DESC LIMIT 1")
    assert json.loads(row["body"])["face"] == "cli"


def test_alone_in_a_folder_without_a_registry_it_leads_to_those_below(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run([]) == 0
    assert "2 other registries are here: wiretrack sites" in capsys.readouterr().out
    shutil.rmtree(folder / "barn")
    assert run([]) == 0
    told = capsys.readouterr().out
    command = "wiretrack --db pump/wiretrack.db"
    assert f"Go on with pump/wiretrack.db: {command}\n" in told
    assert "Next, begin a registry: wiretrack new --name NAME" in told
    assert run(command.split()[1:]) == 0
    assert "There is no" not in capsys.readouterr().out
