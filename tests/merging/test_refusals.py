# SPDX-License-Identifier: MIT
"""What can't be merged is refused in words."""

from __future__ import annotations

import gzip
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from tests.merging.laptops import Laptop, annotate, one
from tests.pump import L1
from wiretrack.cli.wording import told
from wiretrack.errors import BadInputError, RegistryError
from wiretrack.tasks.change.merging import decided, merge
from wiretrack.tasks.describe.sites import dump_site, new_site


def merged(laptop: Laptop, file: Path) -> None:
    with laptop.open() as registry:
        merge(registry, file)


def test_copies_that_do_not_belong_together_are_refused(a: Laptop, tmp_path: Path) -> None:
    new_site(tmp_path / "other.db", "Another")
    with pytest.raises(BadInputError, match="don't descend from one another"):
        merged(a, tmp_path / "other.db")
    with pytest.raises(BadInputError, match="is this registry itself"):
        merged(a, a.path)
    with pytest.raises(RegistryError, match="does not exist"):
        merged(a, tmp_path / "none.db")
    text = tmp_path / "text"
    text.write_text("no registry", "utf-8")
    with pytest.raises(RegistryError, match="is not a registry"):
        merged(a, text)


def test_a_site_file_is_no_log(a: Laptop, tmp_path: Path) -> None:
    with a.open() as registry:
        dump_site(registry, tmp_path / "all.json")
    with pytest.raises(BadInputError, match=r"all\.json is a site file: it has no log to merge"):
        merged(a, tmp_path / "all.json")


def test_a_damaged_copy_is_refused_in_words(a: Laptop, b: Laptop, tmp_path: Path) -> None:
    cut = tmp_path / "cut.db"
    cut.write_bytes(b.path.read_bytes()[:60_000])
    with pytest.raises(RegistryError, match=r"cut\.db is damaged"):
        merged(a, cut)


def altered(laptop: Laptop, *statements: str) -> None:
    with closing(sqlite3.connect(laptop.path)) as db:
        for statement in statements:
            db.execute(statement)
        db.commit()
        db.execute("PRAGMA wal_checkpoint(TRUNCATE)")


@pytest.mark.parametrize(
    ("change", "why"),
    [
        (
            "body = CAST(replace(CAST(body AS TEXT), 'note', 'nota') AS BLOB)",
            "its body was changed",
        ),
        ("signature = randomblob(64)", "its signature is wrong"),
        ("signature = NULL", "it isn't signed"),
        ("previous = randomblob(32)", "two copies wrote under its name"),
        ("number = number + 1", "entry 3 is missing"),
    ],
)
def test_entries_that_do_not_prove_themselves_are_refused_and_named(
    change: str, why: str, a: Laptop, b: Laptop
) -> None:
    annotate(b, "one", 0)
    altered(b, "DROP TRIGGER log_stays", f"UPDATE log SET {change} WHERE nr = "
            "(SELECT max(nr) FROM log)")  # fmt: skip
    before = a.state()
    with a.open() as registry:
        found = merge(registry, b.path)
    assert [each.why[: len(why)] for each in found.taken.refused] == [why]
    assert a.problems() == []
    assert a.state() == before
    assert one(a, "SELECT note FROM conductors WHERE tag = ?", L1) is None


def test_what_another_program_did_to_the_others_records_is_not_taken(a: Laptop, b: Laptop) -> None:
    altered(b, "DELETE FROM ends WHERE side = 'to'")
    before = a.state()
    merged(a, b.path)
    assert a.state() == before


def test_a_view_in_place_of_the_log_is_refused(a: Laptop, b: Laptop) -> None:
    altered(b, "ALTER TABLE log RENAME TO logs", "CREATE VIEW log AS SELECT * FROM logs")
    with pytest.raises(RegistryError, match="has no log"):
        merged(a, b.path)


def test_a_copy_of_a_newer_version_is_refused(a: Laptop, b: Laptop) -> None:
    with closing(sqlite3.connect(b.path)) as db:
        db.execute("PRAGMA user_version = 99")
    with pytest.raises(RegistryError, match=r"made by a newer wiretrack \(format 99"):
        merged(a, b.path)


def test_a_copy_of_an_older_wiretrack_is_refused_in_words(a: Laptop, tmp_path: Path) -> None:
    old = tmp_path / "old.db"
    data = Path(__file__).parents[1] / "store" / "data" / "version_4.db.gz"
    old.write_bytes(gzip.decompress(data.read_bytes()))
    with pytest.raises(RegistryError, match="was made by an older wiretrack"):
        merged(a, old)


@pytest.mark.parametrize("text", ["x", "x=", "=1"])
def test_a_wrong_decision_is_refused(text: str, a: Laptop) -> None:
    with a.open() as registry, pytest.raises(BadInputError) as caught:
        decided(registry, [text])
    assert told(caught.value) == f"'{text}' is no decision. Write it like KEY=1."
