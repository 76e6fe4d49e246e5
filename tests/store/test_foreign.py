# SPDX-License-Identifier: MIT
"""A registry that somebody else made: nothing in it runs, hangs or misleads."""

from __future__ import annotations

import shutil
import sqlite3
import time
from contextlib import closing
from pathlib import Path

import pytest

from wiretrack.errors import RegistryError
from wiretrack.model.parts import SiteFacts
from wiretrack.store import foreign
from wiretrack.store.loading import create_registry
from wiretrack.store.rescue import rescue
from wiretrack.store.store import open_registry
from wiretrack.tasks.describe.sites import verify_file

ENDLESS = "WITH RECURSIVE n (x) AS (SELECT 1 UNION ALL SELECT x + 1 FROM n)"
HOSTILE = {
    "a trigger": "CREATE TRIGGER odd AFTER INSERT ON readings BEGIN DELETE FROM search_due; END",
    "an endless trigger": "CREATE TRIGGER odd AFTER UPDATE ON writing BEGIN"
    " INSERT INTO gathered (what, record, action) SELECT x, x, x FROM ("
    f"{ENDLESS} SELECT x FROM n); END",
    "an endless view": f"DROP VIEW served; CREATE VIEW served AS {ENDLESS}"
    " SELECT x AS conductor_id, x AS circuits FROM n",
    "a view in a table's place": "ALTER TABLE readings RENAME TO hidden;"
    f" CREATE VIEW readings AS {ENDLESS} SELECT h.* FROM hidden AS h, n",
    "another table": "DROP TABLE placed_labels; CREATE TABLE placed_labels (id, takes_back)",
}


@pytest.fixture
def file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A registry that came from elsewhere."""
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    create_registry(tmp_path / "theirs.db", SiteFacts(name="Mill"))
    return Path(shutil.copy(tmp_path / "theirs.db", tmp_path / "a.db"))


def altered(file: Path, statements: str) -> None:
    with closing(sqlite3.connect(file)) as db:
        db.execute("PRAGMA legacy_alter_table = ON")
        db.execute("PRAGMA foreign_keys = OFF")
        db.executescript(statements)
        db.execute("PRAGMA wal_checkpoint(TRUNCATE)")


@pytest.mark.parametrize("what", HOSTILE)
def test_what_could_run_is_refused_before_anything_is_asked_of_it(file: Path, what: str) -> None:
    altered(file, HOSTILE[what])
    began = time.monotonic()
    with pytest.raises(RegistryError, match="holds what isn't wiretrack's: "):
        open_registry(file)
    assert time.monotonic() - began < 5


@pytest.mark.parametrize("what", HOSTILE)
def test_verify_names_it_within_its_patience(
    file: Path, what: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(foreign.guarded, "__defaults__", (1.0,))
    altered(file, HOSTILE[what])
    began = time.monotonic()
    found = verify_file(file)
    assert not found.ok
    assert any("schema" in problem.where for problem in found.problems)
    assert time.monotonic() - began < 15


@pytest.mark.parametrize("what", HOSTILE)
def test_rescue_takes_nothing_of_it(file: Path, tmp_path: Path, what: str) -> None:
    altered(file, HOSTILE[what])
    found = rescue(file, tmp_path / "new.db", unproved=True)
    assert found.lost == ()
    assert verify_file(tmp_path / "new.db").problems == ()


def test_a_schema_that_was_looked_through_is_looked_at_again_once_it_changes(file: Path) -> None:
    with open_registry(file):
        pass
    altered(file, HOSTILE["a trigger"])
    with pytest.raises(RegistryError, match="trigger odd"):
        open_registry(file)


def test_a_table_or_view_of_another_program_stays_and_is_never_asked(file: Path) -> None:
    altered(file, f"CREATE TABLE theirs (a); CREATE VIEW odd AS {ENDLESS} SELECT x FROM n")
    with open_registry(file) as registry, registry.write("roof") as db:
        db.execute("UPDATE site SET name = 'Barn'")


def test_an_oversized_row_is_not_read(file: Path) -> None:
    with closing(sqlite3.connect(file, isolation_level=None)) as db:
        foreign.guarded(db)
        with pytest.raises(sqlite3.DataError, match="too big"):
            db.execute("SELECT zeroblob(100000000)").fetchone()


def test_a_packed_file_that_grows_without_end_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    import zlib

    from wiretrack.chain import sealed
    from wiretrack.store import rows

    monkeypatch.setattr(rows, "_MOST_UNPACKED", 1000)
    kept = rows.Kept()
    said = {"kind": "part", "file": "a", "part": 1}
    kept.add(sealed(said, bytes(16), 1, "S", bytes(32), zlib.compress(bytes(10**7))))
    with pytest.raises(ValueError, match="make another file"):
        kept.take("a")
