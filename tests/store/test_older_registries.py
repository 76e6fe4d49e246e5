# SPDX-License-Identifier: MIT
"""A registry made by an older wiretrack comes up to date with all that it holds.

``data/version_4.db.gz`` and its dump, ``data/version_4.site.json``, were both written by the last
wiretrack whose registries had version 4 (commit 8ba82d0); only the names of who wrote were changed
since, in both.
"""

from __future__ import annotations

import gzip
import json
import sqlite3
from pathlib import Path
from typing import Any

import pytest

from wiretrack.exchange.read import read_site
from wiretrack.exchange.write import write_site
from wiretrack.model.records import Site
from wiretrack.store import searching
from wiretrack.store.dumping import document
from wiretrack.store.health import problems
from wiretrack.store.loading import add_document
from wiretrack.store.migrations import VERSION
from wiretrack.store.store import create_registry, open_registry

DATA = Path(__file__).parent / "data"


@pytest.fixture
def old(tmp_path: Path) -> Path:
    file = tmp_path / "old.db"
    file.write_bytes(gzip.decompress((DATA / "version_4.db.gz").read_bytes()))
    return file


def schema_of(path: Path) -> dict[str, str]:
    db = sqlite3.connect(path)
    rows = db.execute("SELECT type || ' ' || name, sql FROM sqlite_master WHERE sql IS NOT NULL")
    found = {name: " ".join(sql.split()) for name, sql in rows}
    db.close()
    return found


def test_all_that_an_older_registry_held_is_there_after_opening_it(
    old: Path, tmp_path: Path
) -> None:
    with open_registry(old) as registry:
        assert problems(registry) == []
        found = document(registry)
    write_site(found, tmp_path / "now.json")
    before = json.loads((DATA / "version_4.site.json").read_text("utf-8"))
    now = json.loads((tmp_path / "now.json").read_text("utf-8"))
    assert now == before | {"placed_labels": []}  # a print of then is no label on a wire


def test_an_older_dump_loads(tmp_path: Path) -> None:
    create_registry(tmp_path / "new.db", Site(name="new"))
    given = read_site(DATA / "version_4.site.json")
    with open_registry(tmp_path / "new.db") as registry:
        add_document(registry, given)
        assert document(registry).readings == given.readings


def test_an_older_registry_gets_the_schema_of_a_new_one(old: Path, tmp_path: Path) -> None:
    create_registry(tmp_path / "new.db")
    open_registry(old).db.close()
    assert schema_of(old) == schema_of(tmp_path / "new.db")
    db = sqlite3.connect(old)
    assert db.execute("PRAGMA user_version").fetchone()[0] == VERSION
    db.close()


def test_an_older_registry_notes_what_is_retired_in_it(old: Path) -> None:
    with open_registry(old) as registry:
        with registry.write("cellar") as db:
            db.execute("UPDATE conductors SET retired_at = '2026-05-02', retired_because = 'cut'")
        change: Any = document(registry).rest["changes"][-1]
        assert (change["old"]["retired_at"], change["new"]["retired_at"]) == (None, "2026-05-02")
        assert [hit.what for hit in searching.find(registry, "retired cut")] == ["conductor"]
