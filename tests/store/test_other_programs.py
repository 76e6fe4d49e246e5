# SPDX-License-Identifier: MIT
"""What another program writes with SQL is in the history, and is booked on nobody."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from typing import TYPE_CHECKING

import pytest

from tests.pump import L1, L2
from tests.web.browsing import process
from wiretrack.cli.group import run
from wiretrack.store.health import backup
from wiretrack.store.store import open_registry

if TYPE_CHECKING:
    from pathlib import Path


def written_by_another_program(db: Path) -> list[tuple[str, str | None]]:
    """Change and add a record with SQL alone; return the action and the author that are noted."""
    with closing(sqlite3.connect(db)) as other, other:
        before = other.execute("SELECT coalesce(max(seq), 0) FROM changes").fetchone()[0]
        other.execute("UPDATE circuits SET title = coalesce(title, '') || '!'")
        other.execute("INSERT INTO enclosures (id, code) VALUES (hex(randomblob(8)), 'SQL')")
        return list(
            other.execute("SELECT action, by FROM changes WHERE seq > ? ORDER BY seq", [before])
        )


NOTED = [("changed", None), ("added", None)]
COMMANDS = {
    "a reading": ["test", "log", L1, "--kind", "continuity", "0.31", "--by", "roof"],
    "a landing": ["land", L1, "PH1", "--terminal", "TB1:1"],
    "a retirement": ["retire", L2, "--removed"],
    "a swap": ["swap", L1, L2, "--at", "MDB"],
}


@pytest.fixture(autouse=True)
def _a_person(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("getpass.getuser", lambda: "roof")


def test_after_a_registry_is_made_and_loaded(db: Path) -> None:
    assert written_by_another_program(db) == NOTED


@pytest.mark.parametrize("command", COMMANDS.values(), ids=COMMANDS.keys())
def test_after_a_command(db: Path, command: list[str]) -> None:
    assert run(["--db", str(db), *command]) in (0, 1)
    assert written_by_another_program(db) == NOTED


def test_after_a_refused_command(db: Path) -> None:
    assert run(["--db", str(db), "test", "log", L1, "--kind", "continuity", "moon"]) == 2
    assert written_by_another_program(db) == NOTED


def test_after_a_dump_with_its_history_is_loaded(
    db: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    run(["--db", str(db), "dump"])
    dump = tmp_path / "dump.json"
    dump.write_text(capsys.readouterr().out, encoding="utf-8")
    assert json.loads(dump.read_text("utf-8"))["changes"]
    copy = tmp_path / "copy.db"
    assert run(["--db", str(copy), "new", "--name", "Example"]) == 0
    assert written_by_another_program(copy) == NOTED[1:]  # no circuit yet
    second = tmp_path / "second.db"
    assert run(["--db", str(second), "new", "--name", "Example"]) == 0
    assert run(["--db", str(second), "load", str(dump)]) == 0
    assert written_by_another_program(second) == NOTED


def test_after_a_merge(db: Path, tmp_path: Path) -> None:
    copy = tmp_path / "copy.db"
    with open_registry(db) as registry:
        backup(registry, copy)
    assert run(["--db", str(copy), "retire", L2, "--removed"]) == 0
    assert run(["--db", str(db), "merge", str(copy)]) == 0
    assert written_by_another_program(db) == NOTED


def test_while_the_pages_are_served_and_after(db: Path) -> None:
    with process(db):
        assert written_by_another_program(db) == NOTED
    with closing(sqlite3.connect(db)) as other, other:
        other.execute("DELETE FROM enclosures WHERE code = 'SQL'")
    assert written_by_another_program(db) == NOTED


def test_our_own_writes_keep_their_author(db: Path) -> None:
    with open_registry(db) as registry:
        with registry.write("roof") as mine:
            mine.execute("UPDATE circuits SET title = 'hers'")
        found = registry.rows("SELECT by FROM changes ORDER BY seq DESC LIMIT 1")
    assert found == [{"by": "roof"}]
