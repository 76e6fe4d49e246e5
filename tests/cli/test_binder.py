# SPDX-License-Identifier: MIT
"""A binder is put in place whole or not at all, and never onto what is somebody else's."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from typing import TYPE_CHECKING

import pytest

from wiretrack.tasks.binder.folder import differences

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Wiretrack


def leftovers(folder: Path) -> list[str]:
    return [entry.name for entry in folder.iterdir() if entry.name.startswith(".")]


def state(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def test_a_new_and_an_empty_folder_both_take_a_binder(wiretrack: Wiretrack, tmp_path: Path) -> None:
    empty = tmp_path / "empty"
    empty.mkdir()
    for folder in (tmp_path / "new", empty):
        ran = wiretrack("binder", folder)
        assert (ran.status, ran.err) == (0, "")
        assert "sha256sum -c SHA256SUMS" in ran.words
        assert differences(folder) == []
    assert leftovers(tmp_path) == []


def test_as_json_it_is_one_document(wiretrack: Wiretrack, tmp_path: Path) -> None:
    ran = wiretrack("binder", tmp_path / "b", "--json", "--date", "2031-12-24")
    assert ran.json["folder"] == str(tmp_path / "b")
    assert ran.json["on"] == "2031-12-24"
    assert ran.json["files"] > ran.json["pages"] > 10
    assert "2031-12-24" in (tmp_path / "b" / "index.html").read_text("utf-8")


def test_a_folder_that_holds_other_files_is_refused_and_left_alone(
    wiretrack: Wiretrack, tmp_path: Path
) -> None:
    folder = tmp_path / "mine"
    (folder / "deep").mkdir(parents=True)
    (folder / "deep" / "notes.txt").write_text("mine")
    for replace in ([], ["--replace"]):
        ran = wiretrack("binder", folder, *replace)
        assert (ran.status, ran.out) == (2, "")
        assert ran.err == (
            f"error: {folder} holds other files (deep). Name a new or an empty folder.\n"
        )
    assert state(folder) == {"deep/notes.txt": b"mine"}
    assert leftovers(tmp_path) == []


def test_a_file_or_a_missing_parent_is_refused_in_words(
    wiretrack: Wiretrack, tmp_path: Path
) -> None:
    file = tmp_path / "file"
    file.write_text("mine")
    assert wiretrack("binder", file).err == f"error: {file} is a file. Name a folder.\n"
    deep = tmp_path / "no" / "such"
    ran = wiretrack("binder", deep)
    assert ran.status == 2
    assert ran.err == f"error: {deep} has no folder to stand in. Make {tmp_path / 'no'} first.\n"
    inside = file / "b"
    assert wiretrack("binder", inside).status == 2
    assert file.read_text() == "mine"


def test_the_folder_that_one_is_in_is_refused(
    wiretrack: Wiretrack, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    here = tmp_path / "here"
    here.mkdir()
    monkeypatch.chdir(here)
    ran = wiretrack("binder", ".")
    assert ran.err == "error: . is the folder that you are in. Name a folder in it: binder.\n"
    assert wiretrack("binder", "binder").status == 0


def test_an_older_binder_stays_unless_it_is_to_be_replaced(
    wiretrack: Wiretrack, tmp_path: Path
) -> None:
    folder = tmp_path / "b"
    wiretrack("binder", folder, "--date", "2020-01-01")
    before = state(folder)
    ran = wiretrack("binder", folder)
    assert ran.status == 2
    assert "holds a binder already. Add --replace" in ran.err
    assert state(folder) == before
    assert wiretrack("binder", folder, "--date", "2021-01-01", "--replace").status == 0
    assert "2021-01-01" in (folder / "index.html").read_text("utf-8")
    assert differences(folder) == []
    assert leftovers(tmp_path) == []


@pytest.mark.parametrize("harm", ["added", "changed", "missing", "linked"])
def test_an_older_binder_that_somebody_changed_is_never_replaced(
    wiretrack: Wiretrack, tmp_path: Path, harm: str
) -> None:
    folder = tmp_path / "b"
    wiretrack("binder", folder)
    if harm == "added":
        (folder / "photo.jpg").write_bytes(b"mine")
    elif harm == "changed":
        (folder / "tags.html").write_text("mine")
    elif harm == "missing":
        (folder / "tags.html").unlink()
    else:
        (folder / "link").symlink_to(tmp_path)
    before = state(folder)
    ran = wiretrack("binder", folder, "--replace")
    assert ran.status == 2
    assert "isn't as it was written (" in ran.err
    assert {"added": "photo.jpg", "linked": "link"}.get(harm, "tags.html") in ran.err
    assert state(folder) == before


def test_a_wrong_date_is_refused(wiretrack: Wiretrack, tmp_path: Path) -> None:
    for text in ("some day", "2026-02-30", ""):
        ran = wiretrack("binder", tmp_path / "b", "--date", text)
        assert ran.status == 2
        assert ran.err == f"error: '{text}' is not a date. Write it like 2026-05-02.\n"
    assert not (tmp_path / "b").exists()


def test_a_medium_that_takes_no_writes_is_told(db: Path, tmp_path: Path) -> None:
    if os.geteuid() == 0:
        pytest.skip("the administrator may write everywhere")
    shut = tmp_path / "shut"
    shut.mkdir(mode=0o500)
    ran = subprocess.run(
        [sys.executable, "-c", "from wiretrack.cli import main; main()", "--db", str(db),
         "binder", str(shut / "b")],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert ran.returncode == 2
    assert ran.stderr.count("\n") == 1
    assert list(shut.iterdir()) == []


def test_a_missing_registry_ends_with_3_and_no_folder(wiretrack: Wiretrack, tmp_path: Path) -> None:
    ran = wiretrack("--db", str(tmp_path / "none.db"), "binder", str(tmp_path / "b"))
    assert ran.status == 3
    assert not (tmp_path / "b").exists()


def test_the_registry_is_as_it_was_after_a_binder(wiretrack: Wiretrack, tmp_path: Path) -> None:
    before = wiretrack("dump").out
    wiretrack("binder", tmp_path / "b")
    assert json.loads(wiretrack("dump").out) == json.loads(before)
