# SPDX-License-Identifier: MIT
"""New files get their names at once, whole, and never over something else; damage is found."""

from __future__ import annotations

import errno
import os
import sqlite3
from typing import TYPE_CHECKING

import pytest

from wiretrack.errors import BadInputError, DamagedRegistryError
from wiretrack.files import name_new_file
from wiretrack.model.parts import SiteFacts
from wiretrack.store.health import backup
from wiretrack.store.loading import create_registry
from wiretrack.store.source import site_of
from wiretrack.store.store import open_registry
from wiretrack.tasks.describe.sites import verify_file

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture
def without_hard_links(monkeypatch: pytest.MonkeyPatch) -> None:
    """A medium like FAT: link(2) fails with EPERM there, says its manual page."""

    def refuse(*_: object) -> None:
        raise PermissionError(errno.EPERM, os.strerror(errno.EPERM))

    monkeypatch.setattr(os, "link", refuse)


@pytest.mark.usefixtures("without_hard_links")
def test_registries_are_made_and_copied_on_a_medium_without_hard_links(tmp_path: Path) -> None:
    made, copied = tmp_path / "a.db", tmp_path / "b.db"
    create_registry(made, SiteFacts(name="Mill"))
    with open_registry(made) as registry:
        backup(registry, copied)
    with open_registry(copied) as registry:
        assert site_of(registry).facts.name == "Mill"
    assert sorted(os.listdir(tmp_path)) == ["a.db", "b.db"]


@pytest.mark.usefixtures("without_hard_links")
def test_nothing_is_overwritten_on_a_medium_without_hard_links(tmp_path: Path) -> None:
    draft, target = tmp_path / "draft", tmp_path / "target"
    draft.write_text("new")
    target.write_text("precious")
    with pytest.raises(FileExistsError):
        name_new_file(draft, target)
    assert target.read_text() == "precious"
    with pytest.raises(BadInputError, match="exists already"):
        create_registry(target)


def test_a_registry_has_its_site_from_the_first_moment(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "a.db"

    def look_then_link(draft: Path, target: Path) -> None:
        with sqlite3.connect(draft) as db:
            assert db.execute("SELECT name FROM site").fetchall() == [("Mill",)]
        db.close()
        assert target == file

    monkeypatch.setattr(os, "link", look_then_link)
    create_registry(file, SiteFacts(name="Mill"))


@pytest.mark.parametrize("kept", [0.3, 0.6, 0.9])
def test_verify_calls_a_registry_that_was_cut_off_broken(tmp_path: Path, kept: float) -> None:
    file = tmp_path / "a.db"
    create_registry(file, SiteFacts(name="Mill"))
    os.truncate(file, int(file.stat().st_size * kept))
    found = verify_file(file)
    assert (found.ok, found.readings) == (False, None)
    assert "is damaged. Go back to the latest copy" in found.problems[0].what
    with pytest.raises(DamagedRegistryError), open_registry(file):
        pass
