# SPDX-License-Identifier: MIT
"""What is saved of a damaged registry: all that proves itself; the rest is named."""

from __future__ import annotations

import json
import random
import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.drawing import full
from tests.pump import L1
from wiretrack.errors import BadInputError, RegistryError
from wiretrack.store import salvage
from wiretrack.store.health import problems
from wiretrack.store.rescue import rescue
from wiretrack.store.searching import find
from wiretrack.store.store import open_registry
from wiretrack.tasks.change.merging import merge
from wiretrack.tasks.describe.sites import dump_site, verify_file
from wiretrack.tasks.test.testing import ReadingText, log_reading

if TYPE_CHECKING:
    from collections.abc import Callable

READINGS = 60
COLUMNS = "writer, number, hash, previous, content, salt, body, signature"


@pytest.fixture(scope="module")
def logged(pump_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A registry with readings, in one file."""
    file = Path(shutil.copy(pump_template, tmp_path_factory.mktemp("logged")))
    with open_registry(file) as registry:
        for number in range(READINGS):
            value = f"0.{number + 10}"
            log_reading(registry, ReadingText(subject=L1, kind="continuity", value=value))
        registry.connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    return file


@pytest.fixture
def file(logged: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    return Path(shutil.copy(logged, tmp_path / "a.db"))


def entries(file: Path) -> list[tuple[object, ...]]:
    with closing(sqlite3.connect(file)) as db:
        return db.execute(f"SELECT {COLUMNS} FROM log ORDER BY nr").fetchall()


def readings(file: Path) -> set[tuple[str, str]]:
    with closing(sqlite3.connect(file)) as db:
        return set(db.execute("SELECT id, value FROM readings"))


def dump(file: Path) -> str:
    target = file.with_suffix(".dump")
    with open_registry(file) as registry:
        dump_site(registry, target)
    return target.read_text("utf-8")


def place_of_033(file: Path) -> int:
    """Where an entry says it as a value; a time of day may hold the same digits."""
    return file.read_bytes().index(b'"0.33"') + 1


def changed(file: Path, at: int, data: bytes) -> None:
    with file.open("r+b") as stream:
        stream.seek(at)
        stream.write(data)


def test_every_entry_is_found_without_sqlite(file: Path) -> None:
    found = [tuple(row[name] for name in COLUMNS.split(", "))
             for row in salvage.log_rows(salvage.read(file), b"")]  # fmt: skip
    assert set(entries(file)) <= set(found)


def test_all_of_a_sound_registry_is_saved_byte_for_byte(file: Path, tmp_path: Path) -> None:
    before, new = file.read_bytes(), tmp_path / "new.db"
    found = rescue(file, new, who="roof")
    assert (found.lost, found.unproved, found.readings) == ((), (), READINGS)
    assert entries(new)[: found.entries] == entries(file)
    assert file.read_bytes() == before
    assert verify_file(new).ok
    assert json.loads(dump(new))["readings"] == json.loads(dump(file))["readings"]
    assert new.stat().st_mode & 0o077 == 0


def test_the_new_one_goes_on_under_a_new_writer_and_a_printed_hash_still_stands(
    file: Path, tmp_path: Path
) -> None:
    printed, new = verify_file(file).head, tmp_path / "new.db"
    rescue(file, new, who="roof")
    own = {row[0] for row in entries(file)}
    assert {row[0] for row in entries(new)} > own
    assert entries(new)[-1][0] not in own
    found = verify_file(new, printed)
    assert found.ok
    assert found.anchor is not None
    assert found.anchor.hash == printed


def test_what_only_the_write_ahead_log_has_is_saved(file: Path, tmp_path: Path) -> None:
    with open_registry(file) as registry:
        log_reading(registry, ReadingText(subject=L1, kind="continuity", value="0.99"))
        for end in ("", "-wal"):
            shutil.copy(f"{file}{end}", tmp_path / f"torn.db{end}")
    torn = tmp_path / "torn.db"
    assert ("0.99") not in {value for _, value in readings_alone(torn, tmp_path)}
    changed(torn.with_name("torn.db-wal"), 0, bytes(32))  # its head is torn: sqlite drops it all
    found = rescue(torn, tmp_path / "new.db", who="roof")
    assert (found.lost, found.readings) == ((), READINGS + 1)
    assert "0.99" in {value for _, value in readings(tmp_path / "new.db")}


def readings_alone(file: Path, folder: Path) -> set[tuple[str, str]]:
    return readings(Path(shutil.copy(file, folder / "alone.db")))


@pytest.mark.parametrize("seed", [*range(4), *map(full, range(4, 12))])
def test_a_torn_page_takes_no_entry_with_it_that_lies_elsewhere(
    file: Path, tmp_path: Path, seed: int
) -> None:
    chance, before, all_entries = random.Random(seed), readings(file), entries(file)
    size = file.stat().st_size // 4096
    log_pages = pages_of_the_log(file)
    page = chance.choice(log_pages) if seed % 2 else chance.randrange(size)
    changed(file, 4096 * page, chance.randbytes(4096))
    found = rescue(file, tmp_path / "new.db", who="roof")
    after = readings(tmp_path / "new.db")
    assert after <= before
    assert set(entries(tmp_path / "new.db")[: found.entries]) <= {
        row for one in all_entries for row in (one, (*one[:-1], None))
    }
    assert bool(found.lost) == (found.entries < len(all_entries))
    if page not in log_pages:
        assert after == before
    with open_registry(tmp_path / "new.db") as registry:
        assert problems(registry) == []


def pages_of_the_log(file: Path) -> list[int]:
    with closing(sqlite3.connect(file)) as db:
        sql = "SELECT pageno - 1 FROM dbstat WHERE name = 'log' AND pagetype <> 'internal'"
        return [row[0] for row in db.execute(sql)]


def test_a_lost_load_is_named_and_its_records_are_taken_only_when_asked(
    file: Path, tmp_path: Path
) -> None:
    changed(file, file.read_bytes().index(b'"kind":"load"'), b'"kind":"loaf"')
    found = rescue(file, tmp_path / "new.db", who="roof")
    assert found.lost
    assert {row.table for row in found.unproved} >= {"enclosures", "conductors"}
    assert len([row for row in found.homeless if row.table == "readings"]) == READINGS
    assert (found.readings, found.taken) == (0, False)
    taken = rescue(file, tmp_path / "all.db", who="roof", unproved=True)
    assert (taken.readings, taken.taken) == (READINGS, True)
    assert readings(tmp_path / "all.db") == readings(file)
    for name in ("new.db", "all.db"):
        assert verify_file(tmp_path / name).problems == ()


def test_a_reading_altered_in_its_table_is_saved_as_the_log_has_it(
    file: Path, tmp_path: Path
) -> None:
    before = readings(file)
    with closing(sqlite3.connect(file)) as db:
        db.execute("DROP TRIGGER readings_stay")
        db.execute("UPDATE readings SET value = '9 ohm'")
        db.commit()
    rescue(file, tmp_path / "new.db", who="roof", unproved=True)
    assert readings(tmp_path / "new.db") == before


def test_a_schema_that_is_no_text_any_more_hinders_no_rescue(file: Path, tmp_path: Path) -> None:
    before = readings(file)
    changed(file, file.read_bytes().index(b"CREATE TABLE terminals"), b"CREATE \x8aABLE")
    rescue(file, tmp_path / "new.db", who="roof", unproved=True)
    assert readings(tmp_path / "new.db") == before


def test_an_entry_without_its_body_is_gone_and_those_after_it_are_kept(
    file: Path, tmp_path: Path
) -> None:
    changed(file, place_of_033(file), b"0.44")
    found = rescue(file, tmp_path / "new.db", who="roof")
    assert len(found.lost) == 1
    assert found.readings == READINGS - 1
    assert "0.33" not in {value for _, value in readings(tmp_path / "new.db")}
    assert verify_file(tmp_path / "new.db").ok
    script = Path(__file__).with_name("prove_log.py")
    command = [sys.executable, "-I", str(script), str(tmp_path / "new.db")]
    done = subprocess.run(command, capture_output=True, text=True)
    assert done.stdout.endswith("entries proved\n")


def without_a_reading(file: Path) -> None:
    changed(file, place_of_033(file), b"0.44")


def without_the_load(file: Path) -> None:
    changed(file, file.read_bytes().index(b'"kind":"load"'), b'"kind":"loaf"')


def without_a_page(file: Path) -> None:
    changed(file, 4096 * pages_of_the_log(file)[3], bytes(4096))


def without_its_end(file: Path) -> None:
    with file.open("r+b") as stream:
        stream.truncate(int(file.stat().st_size * 0.97))


@pytest.mark.parametrize(
    "damage", [without_a_reading, without_the_load, without_a_page, without_its_end]
)
def test_a_rescued_copy_takes_what_it_lacks_from_another_copy(
    damage: Callable[[Path], None], file: Path, tmp_path: Path
) -> None:
    sound, new = Path(shutil.copy(file, tmp_path / "sound.db")), tmp_path / "new.db"
    damage(file)
    assert rescue(file, new, who="roof").lost
    with open_registry(new) as registry:
        with registry.write("roof") as db:
            db.execute("UPDATE site SET name = 'after the rescue'")
        found = merge(registry, sound)
        assert merge(registry, sound).nothing_new
        assert find(registry, "barn")
    assert found.taken.refused == []
    assert found.taken.filled > 0 or damage is without_its_end
    assert {row[:-1] for row in entries(sound)} <= {row[:-1] for row in entries(new)}
    assert readings(new) == readings(sound)
    assert verify_file(new).problems == ()
    with open_registry(sound) as registry:
        assert merge(registry, new).taken.refused == []
    one, other = (json.loads(dump(each)) for each in (sound, new))
    assert one.keys() == other.keys()
    for key, rows in one.items():
        assert in_any_order(rows) == in_any_order(other[key])
    assert verify_file(sound).problems == ()


def in_any_order(rows: object) -> object:
    return sorted(map(json.dumps, rows)) if isinstance(rows, list) else rows


@pytest.mark.parametrize("part", [0.9, 0.97])
def test_a_file_cut_short_gives_what_is_left(file: Path, tmp_path: Path, part: float) -> None:
    before, all_entries = readings(file), entries(file)
    with file.open("r+b") as stream:
        stream.truncate(int(file.stat().st_size * part))
    found = rescue(file, tmp_path / "new.db", who="roof", unproved=True)
    assert readings(tmp_path / "new.db") <= before
    assert found.entries < len(all_entries) or readings(tmp_path / "new.db") == before


def test_a_file_cut_off_ahead_of_its_log_says_that_nothing_is_left(
    file: Path, tmp_path: Path
) -> None:
    with file.open("r+b") as stream:
        stream.truncate(file.stat().st_size // 4)
    with pytest.raises(RegistryError, match=r"no entry that proves itself\. Go back to the latest"):
        rescue(file, tmp_path / "new.db", who="roof")
    assert not (tmp_path / "new.db").exists()


def test_what_is_no_registry_gives_nothing_and_leaves_nothing(tmp_path: Path) -> None:
    (tmp_path / "a.db").write_bytes(random.Random(1).randbytes(200_000))
    with pytest.raises(RegistryError, match="no entry that proves itself"):
        rescue(tmp_path / "a.db", tmp_path / "new.db")
    assert [file.name for file in tmp_path.iterdir()] == ["a.db"]


def test_an_unsigned_entry_at_the_end_is_named(file: Path) -> None:
    with closing(sqlite3.connect(file)) as db:
        db.execute("DROP TRIGGER log_stays")
        db.execute("UPDATE log SET signature = NULL WHERE nr = (SELECT max(nr) FROM log)")
        db.commit()
    assert [each.what for each in verify_file(file).problems if each.where.startswith("log ")] == [
        "the log doesn't hold together: it is not signed; what this writer wrote after it is not"
        " proved"
    ]


def test_a_new_file_that_exists_stays(file: Path, tmp_path: Path) -> None:
    (tmp_path / "new.db").write_text("mine")
    with pytest.raises(BadInputError, match="exists already"):
        rescue(file, tmp_path / "new.db")
    assert (tmp_path / "new.db").read_text() == "mine"
