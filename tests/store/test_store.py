# SPDX-License-Identifier: MIT
"""Opening, making, writing: what the store promises about one file."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
import uuid
from typing import TYPE_CHECKING

import pytest

from wiretrack.cli.wording import told
from wiretrack.errors import BadInputError, RegistryError
from wiretrack.model.parts import SiteFacts
from wiretrack.store.loading import create_registry
from wiretrack.store.schema import APPLICATION_ID, NOTED_TABLES, VERSION
from wiretrack.store.store import Registry, open_registry
from wiretrack.store.writing import add_site

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture
def path(tmp_path: Path) -> Path:
    file = tmp_path / "site.db"
    create_registry(file)
    with open_registry(file) as registry:
        add_site(registry, SiteFacts(name="Mill"))
    return file


def add_enclosure(registry: Registry, code: str = "MDB") -> str:
    record = str(uuid.uuid4())
    with registry.write("roof") as db:
        db.execute("INSERT INTO enclosures (id, code) VALUES (?, ?)", [record, code])
    return record


@pytest.mark.durable
def test_a_registry_is_in_wal_mode_fully_synchronous_and_keeps_foreign_keys(path: Path) -> None:
    with open_registry(path) as registry:
        pragmas = {
            name: registry.db.execute(f"PRAGMA {name}").fetchone()[0]
            for name in ("journal_mode", "synchronous", "foreign_keys", "user_version")
        }
    assert pragmas == {
        "journal_mode": "wal",
        "synchronous": 2,  # FULL: https://sqlite.org/pragma.html#pragma_synchronous
        "foreign_keys": 1,
        "user_version": VERSION,
    }


def test_every_table_of_records_is_strict(path: Path) -> None:
    with open_registry(path) as registry:
        loose = registry.rows(
            "SELECT name FROM pragma_table_list WHERE type = 'table' AND NOT strict"
            " AND name NOT LIKE 'sqlite%'"
        )
    assert loose == []


def test_a_change_is_noted_with_who_what_old_and_new(path: Path) -> None:
    with open_registry(path) as registry:
        record = add_enclosure(registry)
        with registry.write("cellar") as db:
            db.execute("UPDATE enclosures SET name = 'main board' WHERE id = ?", [record])
        changes = registry.rows("SELECT by, what, record, action, old, new FROM changes")
    assert [(c["by"], c["what"], c["record"], c["action"]) for c in changes] == [
        ("roof", "enclosures", record, "added"),
        ("cellar", "enclosures", record, "changed"),
    ]
    assert '"name":null' in changes[1]["old"]
    assert '"name":"main board"' in changes[1]["new"]


@pytest.mark.parametrize("table", NOTED_TABLES)
def test_every_noted_table_has_its_three_history_triggers(path: Path, table: str) -> None:
    with open_registry(path) as registry:
        names = {
            row["name"]
            for row in registry.rows(
                "SELECT name FROM sqlite_master WHERE type = 'trigger' AND tbl_name = ?", [table]
            )
        }
    assert {f"{table}_added", f"{table}_changed", f"{table}_removed"} <= names


@pytest.mark.parametrize("statement", ["UPDATE changes SET by = 'me'", "DELETE FROM changes"])
def test_the_history_can_not_be_changed(path: Path, statement: str) -> None:
    with open_registry(path) as registry:
        add_enclosure(registry)
        with pytest.raises(sqlite3.IntegrityError, match="the history is never"):
            registry.db.execute(statement)


def test_a_failing_block_writes_nothing(path: Path) -> None:
    def fail(registry: Registry) -> None:
        with registry.write() as db:
            db.execute("INSERT INTO enclosures (id, code) VALUES ('x', 'X')")
            raise ZeroDivisionError

    with open_registry(path) as registry:
        with pytest.raises(ZeroDivisionError):
            fail(registry)
        assert registry.rows("SELECT * FROM enclosures") == []


def test_making_refuses_to_overwrite(path: Path) -> None:
    before = path.read_bytes()
    with pytest.raises(BadInputError) as caught:
        create_registry(path)
    assert told(caught.value) == f"{path} exists already. Choose another name with --db."
    assert path.read_bytes() == before


def test_a_missing_registry_is_said_with_the_command_that_makes_one(tmp_path: Path) -> None:
    with pytest.raises(RegistryError) as caught:
        open_registry(tmp_path / "none.db")
    assert told(caught.value) == (
        f"{tmp_path}/none.db does not exist. Make it with: wiretrack new --name NAME"
    )


def test_a_text_file_named_db_is_not_a_registry(tmp_path: Path) -> None:
    file = tmp_path / "notes.db"
    file.write_text("dear diary\n" * 200)
    with pytest.raises(RegistryError) as caught:
        open_registry(file)
    assert told(caught.value) == f"{file} is not a registry. Name the registry's file with --db."
    assert file.read_text().startswith("dear diary")


def test_another_programs_database_is_not_a_registry(tmp_path: Path) -> None:
    file = tmp_path / "other.db"
    with sqlite3.connect(file) as db:
        db.execute("CREATE TABLE t (x)")
    db.close()
    with pytest.raises(RegistryError, match="is not a registry"):
        open_registry(file)


def test_a_registry_of_a_newer_version_is_left_alone(path: Path) -> None:
    db = sqlite3.connect(path)
    db.execute(f"PRAGMA user_version = {VERSION + 1}")
    db.close()
    with pytest.raises(RegistryError) as caught:
        open_registry(path)
    assert told(caught.value) == (
        f"{path} was made by a newer wiretrack (format {VERSION + 1}; this one knows {VERSION})."
        " Install the newer version."
    )


def test_a_damaged_registry_is_called_damaged(path: Path) -> None:
    with open_registry(path) as registry:
        add_enclosure(registry)
    content = bytearray(path.read_bytes())
    content[4096:] = b"\xff" * (len(content) - 4096)
    path.write_bytes(bytes(content))
    with (
        pytest.raises(RegistryError, match=r"is damaged\. Go back to the latest copy"),
        open_registry(path) as registry,
    ):
        add_enclosure(registry, "TWO")


def test_a_locked_registry_is_called_locked(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("wiretrack.store.store.BUSY_TIMEOUT_S", 0.05)
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    with (
        pytest.raises(RegistryError, match="is locked by another program"),
        open_registry(path) as registry,
    ):
        add_enclosure(registry)
    other.close()


def test_a_full_disk_leaves_the_registry_as_it_was(path: Path) -> None:
    def fill_up() -> None:
        # PRAGMA max_page_count makes SQLite answer SQLITE_FULL, as a full disk does.
        with open_registry(path) as registry, registry.write() as db:
            db.execute("PRAGMA max_page_count = 1")
            for number in range(5000):
                row = [str(number), f"E{number}"]
                db.execute("INSERT INTO enclosures (id, code) VALUES (?, ?)", row)

    with pytest.raises(RegistryError, match="the disk is full"):
        fill_up()
    with open_registry(path) as registry:
        assert registry.rows("SELECT * FROM enclosures") == []


def test_a_registry_on_a_medium_that_takes_no_writes_can_be_read_but_not_written(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("os.access", lambda *_: False)
    with open_registry(path) as registry:
        assert registry.rows("SELECT name FROM site") == [{"name": "Mill"}]
        with pytest.raises(RegistryError, match="It or its folder is read-only"):
            add_enclosure(registry)


def test_the_application_id_tells_a_registry_from_other_databases(path: Path) -> None:
    db = sqlite3.connect(path)
    assert db.execute("PRAGMA application_id").fetchone()[0] == APPLICATION_ID
    db.close()


def test_a_look_up_does_not_wait_for_the_library_that_writes(path: Path) -> None:
    looked = "from wiretrack.cli.group import run; import sys; status = run(sys.argv[1:]);" + (
        "print(status, 'sqlite_utils' in sys.modules)"
    )
    for words, imports in (["find", "--json", "barn"], False), (["new", "--name", "x"], True):
        db = path if not imports else path.with_name("other.db")
        command = [sys.executable, "-c", looked, "--db", str(db), *words]
        done = subprocess.run(command, capture_output=True, text=True, check=True)
        assert done.stdout.splitlines()[-1] == f"0 {imports}", done.stderr
