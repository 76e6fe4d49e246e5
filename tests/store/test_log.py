# SPDX-License-Identifier: MIT
"""The log of a registry: who wrote what, which writer a copy has, and what `verify` finds."""

from __future__ import annotations

import json
import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from tests.drawing import full
from tests.store.prove_log import prove as prove_apart
from wiretrack.errors import BadInputError
from wiretrack.model.parts import SiteFacts
from wiretrack.store import writers
from wiretrack.store.health import backup, problems
from wiretrack.store.loading import create_registry
from wiretrack.store.store import Registry, open_registry
from wiretrack.tasks.describe.sites import dump_site, load_site, verify_file
from wiretrack.tasks.test.testing import ReadingText, log_reading

if TYPE_CHECKING:
    from wiretrack.store.proof import Problem

SITE = """{"format": "wiretrack-site/1", "enclosures": [{"code": "A"}, {"code": "B"}],
"raceways": [{"code": "W1", "from": "A", "to": "B"}],
"circuits": [{"code": "PUMP"}], "pulls": [{"code": "P1", "path": ["W1"]}],
"conductors": [{"tag": "PMP001G", "circuit": "PUMP", "function": "L1", "size": "4 mm2",
    "pull": "P1", "from": {"enclosure": "A"}, "to": {"enclosure": "B"}}],
"readings": [{"kind": "continuity", "subject": "PMP001G", "value": "0.31 ohm"},
    {"kind": "continuity", "subject": "PMP001G", "value": "0.42 ohm"}]}"""


@pytest.fixture(autouse=True)
def state(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    return tmp_path / "state"


@pytest.fixture
def file(tmp_path: Path) -> Path:
    (tmp_path / "site.json").write_text(SITE, "utf-8")
    create_registry(tmp_path / "a.db", SiteFacts(name="Mill"))
    with open_registry(tmp_path / "a.db") as registry:
        load_site(registry, tmp_path / "site.json", who="roof")
    return tmp_path / "a.db"


def name(file: Path, value: str, who: str = "roof") -> None:
    with open_registry(file) as registry, registry.write(who) as db:
        db.execute("UPDATE enclosures SET name = ? WHERE code = 'A'", [value])


def said(file: Path) -> list[dict[str, Any]]:
    from wiretrack.store.log import entries

    with open_registry(file) as registry:
        return [entry.said for entry, _ in entries(registry.connection, "nr")]


def writers_in(file: Path) -> list[str]:
    with closing(sqlite3.connect(file)) as db:
        return [row[0] for row in db.execute("SELECT hex(writer) FROM log ORDER BY nr")]


def found_in(file: Path) -> list[Problem]:
    with open_registry(file, as_found=True) as registry:
        return problems(registry)


def altered(file: Path, *statements: str) -> Path:
    """Do what somebody with another program can do."""
    with closing(sqlite3.connect(file)) as db:
        for statement in statements:
            db.execute(statement)
        db.commit()
        db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    return file


def test_each_work_is_an_entry_that_says_who_when_and_by_which_face(file: Path) -> None:
    name(file, "barn", "cellar")
    first, new, *parts, load, change = said(file)
    assert (first["kind"], new["kind"], load["kind"], change["kind"]) == (
        "writer", "new", "load", "change",
    )  # fmt: skip
    assert {part["kind"] for part in parts} == {"part"}
    assert (load["by"], load["face"], change["by"]) == ("roof", "python", "cellar")
    assert change["rows"][0]["changed"] == {"name": [None, "barn"]}
    assert change["at"].endswith("Z")


def test_a_load_is_one_entry_that_names_its_file_and_keeps_it(file: Path, tmp_path: Path) -> None:
    from hashlib import sha256

    from wiretrack.store.log import entries
    from wiretrack.store.rows import Kept

    (load,) = [each for each in said(file) if each["kind"] == "load"]
    assert [each["name"] for each in load["files"]] == ["site.json"]
    kept = Kept()
    with open_registry(file) as registry:
        for entry, _ in entries(registry.connection, "nr"):
            if entry.said["kind"] == "part":
                kept.add(entry)
    data = kept.take(load["files"][0]["sha256"])
    assert data == (tmp_path / "site.json").read_bytes()
    assert load["files"][0]["sha256"] == sha256(data).hexdigest()


def test_a_script_of_the_standard_library_proves_the_log(file: Path) -> None:
    name(file, "barn")
    script = Path(__file__).with_name("prove_log.py")
    count = len(said(file))
    done = subprocess.run([sys.executable, "-I", script, file], capture_output=True, text=True)
    assert done.stdout == f"{count} entries proved\n"


def test_what_came_to_nothing_is_no_entry(file: Path) -> None:
    before = writers_in(file)
    with (
        pytest.raises(BadInputError, match="UNIQUE"), open_registry(file) as registry,
        registry.write() as db,
    ):  # fmt: skip
        db.execute("UPDATE enclosures SET code = 'A'")
    assert writers_in(file) == before
    name(file, "barn")
    assert len(set(writers_in(file))) == 1
    assert found_in(file) == []


def test_the_writer_of_a_copy_goes_on(file: Path) -> None:
    name(file, "barn")
    name(file, "shed")
    assert len(set(writers_in(file))) == 1


def test_a_copied_registry_begins_a_new_writer(file: Path, tmp_path: Path) -> None:
    with open_registry(file) as registry:
        backup(registry, tmp_path / "copy.db")
    name(tmp_path / "copy.db", "barn")
    name(file, "shed")
    assert len(set(writers_in(tmp_path / "copy.db"))) == 2
    assert len(set(writers_in(file))) == 1
    assert found_in(tmp_path / "copy.db") == found_in(file) == []


def test_one_put_back_from_a_backup_begins_a_new_writer(file: Path, tmp_path: Path) -> None:
    with open_registry(file) as registry:
        backup(registry, tmp_path / "copy.db")
    name(file, "barn")
    shutil.copy(tmp_path / "copy.db", file)
    for beside in ("-wal", "-shm"):
        file.with_name(file.name + beside).unlink(missing_ok=True)
    name(file, "shed")
    assert len(set(writers_in(file))) == 2
    assert found_in(file) == []


def test_where_the_state_is_lost_a_new_writer_begins(file: Path, state: Path) -> None:
    shutil.rmtree(state)
    name(file, "barn")
    assert len(set(writers_in(file))) == 2


def test_a_killed_commit_leaves_the_state_ahead_and_a_new_writer_begins(file: Path) -> None:
    kept = writers.kept(file)
    assert kept is not None
    writers.keep(file, kept.after(kept.number + 1, bytes(32)))
    name(file, "barn")
    assert len(set(writers_in(file))) == 2
    assert found_in(file) == []


def test_the_key_is_for_its_owner_alone(file: Path, state: Path) -> None:
    (place,) = (state / "wiretrack" / "writers").iterdir()
    assert place.stat().st_mode & 0o077 == 0
    assert place.parent.stat().st_mode & 0o077 == 0


def test_a_registry_and_its_copy_are_for_their_owner_alone(file: Path, tmp_path: Path) -> None:
    with open_registry(file) as registry:
        backup(registry, tmp_path / "copy.db")
    for each in (file, tmp_path / "copy.db"):
        assert each.stat().st_mode & 0o077 == 0


def test_a_state_folder_that_cant_be_written_stops_nobody(
    file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", "/proc/nowhere")
    name(file, "barn")
    assert found_in(file) == []


REPLACED = """INSERT OR REPLACE INTO readings SELECT nr, id, kind, conductor_id, device_id,
    circuit_id, '9 ohm', 9, unit, over_range, at, instrument_id, leads_ohm, temp_c,
    against, test_voltage_v, after_s, by, note, supersedes, cell_temp_c, entered_at, entered_by
    FROM readings LIMIT 1"""


def test_a_reading_is_not_replaced(file: Path) -> None:
    with pytest.raises(sqlite3.IntegrityError, match="a reading is never changed"):
        altered(file, REPLACED)


def test_a_replaced_reading_is_named_and_what_it_affects(file: Path) -> None:
    altered(file, "DROP TRIGGER readings_are_not_replaced", REPLACED)
    found = [each for each in found_in(file) if each.where.startswith("readings ")]
    assert [each.affects for each in found] == [("PMP-001G",)]
    assert "value is '9 ohm', the log has '0.31 ohm'" in found[0].what


@pytest.mark.parametrize(
    ("statement", "where"),
    [
        ("UPDATE enclosures SET name = 'other' WHERE code = 'A'", "enclosures"),
        ("DELETE FROM conductor_circuits", "conductor_circuits"),
        ("INSERT INTO enclosures (id, code) VALUES ('x', 'C')", "enclosures"),
        ("DROP TRIGGER readings_stay", "schema readings_stay"),
        ("DROP VIEW reading_list", "schema reading_list"),
        ("DROP INDEX ends_terminal", "schema ends_terminal"),
        ("CREATE TRIGGER odd AFTER INSERT ON readings BEGIN SELECT 1; END", "schema odd"),
        ("CREATE TABLE odd (a)", "schema odd"),
    ],
)
def test_what_another_program_did_is_named(file: Path, statement: str, where: str) -> None:
    altered(file, statement)
    assert any(each.where.startswith(where) for each in found_in(file))
    found = verify_file(file)
    assert not found.ok


@pytest.mark.parametrize(
    "change",
    [
        "UPDATE log SET body = CAST(replace(CAST(body AS TEXT), 'roof', 'rood') AS BLOB)"
        " WHERE signature IS NOT NULL AND instr(body, CAST('roof' AS BLOB))",
        "DELETE FROM log WHERE nr = 3",
        "UPDATE log SET number = 70 WHERE nr = 4",
        "UPDATE log SET signature = randomblob(64) WHERE nr = 2",
        "UPDATE log SET salt = randomblob(16) WHERE nr = 4",
        "UPDATE log SET hash = randomblob(32) WHERE nr = 4",
        "UPDATE log SET content = randomblob(32) WHERE nr = 4",
        "UPDATE log SET previous = randomblob(32) WHERE nr = 4",
        "UPDATE log SET writer = randomblob(16) WHERE nr = 5",
    ],
)
def test_a_log_that_was_altered_is_named(file: Path, change: str) -> None:
    name(file, "barn")
    altered(file, "DROP TRIGGER log_stays", "DROP TRIGGER log_remains", change)
    assert any(each.where.startswith("log ") for each in found_in(file))
    if "signature" not in change:
        assert "proved" not in prove_apart(str(file))


@pytest.mark.parametrize("bits", [range(0, 64, 5), full(range(64))], ids=str)
def test_every_flipped_bit_of_a_reading_is_named(file: Path, bits: range) -> None:
    """Each bit of each value of a reading, one at a time, as the file has it on the disk."""
    altered(file)
    data = file.read_bytes()
    at = data.index(b"0.31 ohm")
    missed = []
    for bit in bits:
        changed = bytearray(data)
        changed[at + bit // 8] ^= 1 << bit % 8
        file.write_bytes(bytes(changed))
        if verify_file(file).ok:
            missed.append(bit)
    assert missed == []


def _damage(file: Path, at: float) -> None:
    data = bytearray(file.read_bytes())
    start = int(len(data) * at) // 4096 * 4096
    data[start : start + 4096] = bytes(4096)
    file.write_bytes(bytes(data))


def test_a_name_in_the_schema_that_is_no_text_any_more_is_named(file: Path) -> None:
    altered(
        file,
        "PRAGMA writable_schema = ON",
        "UPDATE sqlite_master SET type = CAST(type AS BLOB) WHERE name = 'notes_stay'",
    )
    assert any("notes_stay" in problem.where for problem in found_in(file))


@pytest.mark.parametrize("at", [n / 20 for n in range(1, 20)])
def test_verify_never_fails_on_a_page_of_zeros(file: Path, at: float) -> None:
    altered(file)
    _damage(file, at)
    assert not verify_file(file).ok


def test_a_large_change_keeps_its_rows_in_parts(file: Path) -> None:
    with open_registry(file) as registry, registry.write() as db:
        for number in range(3000):
            db.execute(
                "INSERT INTO enclosures (id, code, name) VALUES (?, ?, hex(randomblob(400)))",
                [f"id-{number}", f"X{number}"],
            )
    assert sum(each["kind"] == "part" for each in said(file)) > 2
    assert found_in(file) == []


def test_two_registries_from_one_file_have_different_writers(file: Path, tmp_path: Path) -> None:
    create_registry(tmp_path / "b.db", SiteFacts(name="Mill"))
    assert set(writers_in(file)).isdisjoint(writers_in(tmp_path / "b.db"))


def test_readers_wait_for_nobody(file: Path) -> None:
    with open_registry(file) as one, one.write() as db:
        db.execute("UPDATE enclosures SET name = 'barn'")
        assert isinstance(one, Registry)
        assert found_in(file) == []


def test_what_was_printed_once_is_still_the_past(file: Path) -> None:
    head = verify_file(file).head
    assert head is not None
    count = len(said(file))
    name(file, "barn")
    name(file, "shed")
    grouped = " ".join(head[i : i + 8] for i in range(0, 64, 8)).upper()
    for printed in (head, head[:16], grouped):
        found = verify_file(file, printed)
        assert found.ok
        assert found.anchor is not None
        assert (found.anchor.hash, found.anchor.entries, found.anchor.since) == (head, count, 2)
        assert [each.signed_to for each in found.anchor.keys] == [count]


def test_what_was_printed_of_another_record_is_not_its_past(file: Path, tmp_path: Path) -> None:
    create_registry(tmp_path / "b.db", SiteFacts(name="Mill"))
    found = verify_file(file, verify_file(tmp_path / "b.db").head)
    assert (found.ok, found.anchor) == (False, None)
    assert found.problems[-1].where.startswith("anchor ")


@pytest.mark.parametrize("printed", ["", "12", "xyz0123456789abcdef", "0" * 65])
def test_what_is_no_hash_is_refused(file: Path, printed: str) -> None:
    with pytest.raises(BadInputError, match=r"16 to 64 digits"):
        verify_file(file, printed)


def test_a_reading_says_who_entered_it_beside_who_took_it(file: Path, tmp_path: Path) -> None:
    with open_registry(file) as registry:
        text = ReadingText(kind="continuity", subject="PMP001G", value="0.4 ohm", by="Ana")
        log_reading(registry, text, who="Bo")
        found = registry.rows("SELECT by, entered_by, entered_at FROM readings ORDER BY nr")
        dump_site(registry, tmp_path / "dump.json")
    assert [(row["by"], row["entered_by"]) for row in found] == [
        (None, "roof"), (None, "roof"), ("Ana", "Bo"),
    ]  # fmt: skip
    assert [row["entered_at"] for row in found][1:] == [said(file)[i]["at"] for i in (-2, -1)]
    create_registry(tmp_path / "b.db", SiteFacts(name="Mill"))
    with open_registry(tmp_path / "b.db") as copy:
        load_site(copy, tmp_path / "dump.json", who="office")
        again = copy.rows("SELECT by, entered_by, entered_at FROM readings ORDER BY nr")
    assert again == found


def test_what_was_changed_is_named_first_and_the_search_in_one_line(file: Path) -> None:
    found = found_in(altered(file, "UPDATE enclosures SET name = 'other'"))
    assert found[0].where.startswith("enclosures ")
    assert [each.where for each in found].count("search") == 1
    name(file, "barn")
    assert "search" not in [each.where for each in found_in(file)]


@pytest.mark.parametrize("volts", [0.1 + 0.2, 576146.8081197999, 1 / 3, 2.5e-7, 1e22, 230.0])
def test_a_number_that_is_changed_keeps_all_its_digits(file: Path, volts: float) -> None:
    """sqlite's own JSON keeps 15 digits of the 17 that a double may need (IEEE 754, 5.12.2)."""
    with open_registry(file) as registry:
        with registry.write() as db:
            sql = "INSERT INTO circuits (id, code, max_voltage_v) VALUES ('K', 'K', ?)"
            db.execute(sql, [volts])
        (row,) = registry.rows("SELECT new FROM changes WHERE what = 'circuits'")
        assert json.loads(row["new"])["max_voltage_v"] == volts
    assert said(file)[-1]["rows"][0]["added"]["max_voltage_v"] == volts
    assert found_in(file) == []
