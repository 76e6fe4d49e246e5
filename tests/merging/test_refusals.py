# SPDX-License-Identifier: MIT
"""What can't be merged is refused in words, and a wrong decision too."""

from __future__ import annotations

import gzip
import sqlite3
from pathlib import Path
from typing import Any

import pytest

from tests.merging.laptops import Laptop, annotate, look, merge, write
from wiretrack.cli.wording import told
from wiretrack.errors import BadInputError, RegistryError
from wiretrack.tasks.describe.sites import new_site
from wiretrack.tasks.merge.merging import decisions_of, read_decisions


def test_copies_that_do_not_belong_together_are_refused(
    a: Laptop, b: Laptop, tmp_path: Path
) -> None:
    new_site(tmp_path / "other.db", "Another")
    with pytest.raises(BadInputError, match="don't descend from one another"):
        look(a, tmp_path / "other.db")
    with pytest.raises(BadInputError, match="is this registry itself"):
        look(a, a.path)
    with pytest.raises(RegistryError, match="does not exist"):
        look(a, tmp_path / "none.db")
    text = tmp_path / "text"
    text.write_text("no registry", "utf-8")
    with pytest.raises(RegistryError, match="is not a registry"):
        look(a, text)


def test_a_damaged_copy_is_refused_in_words(a: Laptop, b: Laptop, tmp_path: Path) -> None:
    cut = tmp_path / "cut.db"
    cut.write_bytes(b.path.read_bytes()[:60_000])
    with pytest.raises(RegistryError, match=r"cut\.db is damaged"):
        look(a, cut)
    write(b, "DELETE FROM ends WHERE side = 'to'")
    with pytest.raises(RegistryError) as caught:
        look(a, b)
    assert told(caught.value).startswith(
        f"{b.path} is damaged: conductors PMP001G: conductor PMP001G has not two ends"
    )
    assert told(caught.value).endswith(f"Prove it with: wiretrack --db {b.path} verify")


def test_a_copy_of_a_newer_version_is_refused(a: Laptop, b: Laptop) -> None:
    with sqlite3.connect(b.path) as db:
        db.execute("PRAGMA user_version = 99")
    with pytest.raises(RegistryError, match=r"made by a newer wiretrack \(format 99"):
        look(a, b)


@pytest.mark.parametrize(
    ("typed", "message"),
    [
        ({"decided": ["x=yes"]}, "'yes' is no side in 'x=yes'. Write mine or theirs."),
        ({"decided": ["x"]}, "'x' is no decision. Write it like KEY=mine or KEY=theirs."),
        ({"decided": ["x=mine", "x=theirs"]}, "x is decided twice. Decide it once."),
        ({"renamed": ["a/b/note=C"]},
         "a/b/note is not about two of one name. Decide it with --decide."),
    ],
)  # fmt: skip
def test_a_wrong_decision_is_refused(typed: dict[str, Any], message: str) -> None:
    with pytest.raises(BadInputError) as caught:
        decisions_of(**typed)
    assert told(caught.value) == message


def test_a_decision_on_what_is_no_conflict_is_refused(a: Laptop, b: Laptop) -> None:
    annotate(a, "one", 0)
    annotate(b, "two", 0)
    with pytest.raises(BadInputError) as caught:
        look(a, b, decided=["conductor/X/note=mine"])
    assert told(caught.value) == (
        "'conductor/X/note' is not among what is to be decided. That is: conductor/PMP-001G/note."
    )


@pytest.mark.parametrize("text", ["[]", "{", '{"x": 1}', '{"x": {"keep": "mine"}}'])
def test_a_wrong_file_of_decisions_is_refused(text: str, tmp_path: Path) -> None:
    file = tmp_path / "decisions.json"
    file.write_text(text, "utf-8")
    with pytest.raises(BadInputError, match="Write it like"):
        read_decisions(file)


def test_a_file_of_decisions_says_what_would_be_typed(tmp_path: Path) -> None:
    file = tmp_path / "decisions.json"
    file.write_text('{"a/b": "mine", "c/d": {"keeps": "theirs", "rename": "E"}}', "utf-8")
    assert read_decisions(file) == (("a/b=mine", "c/d=theirs"), ("c/d=E",))


def test_a_copy_of_an_older_wiretrack_is_refused_in_words(a: Laptop, tmp_path: Path) -> None:
    old = tmp_path / "old.db"
    data = Path(__file__).parents[1] / "store" / "data" / "version_4.db.gz"
    old.write_bytes(gzip.decompress(data.read_bytes()))
    with pytest.raises(RegistryError, match="was made by an older wiretrack"):
        merge(a, old)
