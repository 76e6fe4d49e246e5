# SPDX-License-Identifier: MIT
"""A load is one line of the history, which names its file; what came with it is as of then."""

from __future__ import annotations

import hashlib
import json
import sqlite3
from typing import TYPE_CHECKING, Any

import pytest

from tests.merging.laptops import Laptop, annotate
from tests.pump import L1, L2, PE, PUMP, conductor, tag
from tests.record_of import add_document
from wiretrack.model.entities import Conductor
from wiretrack.model.parts import SiteFacts
from wiretrack.model.tags import format_tag
from wiretrack.store import history
from wiretrack.store.dumping import document
from wiretrack.store.loading import create_registry
from wiretrack.store.searching import find
from wiretrack.store.source import site_of
from wiretrack.store.store import open_registry
from wiretrack.tasks.describe.sites import load_site

if TYPE_CHECKING:
    from pathlib import Path

    from wiretrack.store.store import Registry

NEW, NEWER = tag("9ABCDE"), tag("9ABCDF")
MORE: dict[str, Any] = {
    "format": "wiretrack-site/1",
    "enclosures": [{"code": "SHED", "name": "lambing shed"}],
    "conductors": [conductor(NEW, "N", "BU", "Q4:7")],
}


def write(path: Path, site: dict[str, Any]) -> Path:
    path.write_text(json.dumps(site), "utf-8")
    return path


def loads(registry: Registry) -> list[dict[str, Any]]:
    return registry.rows("SELECT * FROM changes WHERE action = 'loaded' ORDER BY seq")


def since(registry: Registry) -> dict[str, str]:
    """Return since when each conductor is there, by its tag."""
    found = site_of(registry).every(Conductor)
    at = history.added_at(registry, found)
    return {c.tag: at[c.id or ""] for c in found}


def test_a_load_is_one_line_that_names_its_file_and_counts_what_came(
    registry: Registry, tmp_path: Path
) -> None:
    before = registry.rows("SELECT * FROM changes")
    file = write(tmp_path / "more.json", MORE)
    load_site(registry, file, who="roof")
    line = registry.rows("SELECT * FROM changes ORDER BY seq")[len(before) :]
    assert [(row["what"], row["action"], row["by"]) for row in line] == [("file", "loaded", "roof")]
    assert line[0]["record"] == hashlib.sha256(file.read_bytes()).hexdigest()
    assert json.loads(line[0]["new"]) == {
        "name": "more.json",
        "added": {
            "enclosures": 1,
            "terminals": 1,
            "conductors": 1,
            "conductor_circuits": 1,
            "ends": 2,
        },
    }


def test_what_came_with_a_load_is_there_since_that_load(registry: Registry, tmp_path: Path) -> None:
    load_site(registry, write(tmp_path / "more.json", MORE))
    first, second = (row["at"] for row in loads(registry))
    assert since(registry) == {L1: first, L2: first, PE: first, NEW: second}


def test_a_dump_keeps_with_which_load_each_conductor_came(
    registry: Registry, tmp_path: Path
) -> None:
    load_site(registry, write(tmp_path / "more.json", MORE))
    create_registry(tmp_path / "copy.db", SiteFacts(name="copy"))
    with open_registry(tmp_path / "copy.db") as copy:
        add_document(copy, document(registry))
        assert since(copy) == since(registry)
        assert document(copy).rest == document(registry).rest


def test_a_merge_keeps_with_which_load_each_conductor_came(
    a: Laptop, b: Laptop, tmp_path: Path
) -> None:
    newer = MORE | {"enclosures": [], "conductors": [conductor(NEWER, "N", "BU", "Q4:9")]}
    for laptop, site in ((a, newer), (b, MORE)):
        annotate(laptop, "", 0)
        with laptop.open() as registry:
            load_site(registry, write(tmp_path / "more.json", site), who=laptop.path.stem)
    with b.open() as registry:
        theirs = since(registry)[NEW]
    a.merge(b)
    with a.open() as registry:
        lines = [row for row in loads(registry) if row["by"] is not None]
        found = since(registry)
        hits = [(hit.what, hit.code) for hit in find(registry, "lambing")]
    assert (found[NEW], len(lines)) == (theirs, 2)
    assert found[NEWER] == lines[0]["at"]
    assert hits == [("enclosure", "SHED")]


def test_two_copies_that_load_a_tag_apart_keep_both(a: Laptop, b: Laptop, tmp_path: Path) -> None:
    file = write(tmp_path / "more.json", MORE | {"enclosures": []})
    for laptop in (a, b):
        with laptop.open() as registry:
            load_site(registry, file, who=laptop.path.stem)
    a.merge(b)
    b.merge(a)
    (found,) = [each for each in a.undecided() if each.table == "conductors"]
    assert (found.field, found.values[0].value) == ("same", format_tag(NEW))
    assert a.state() == b.state()
    assert a.problems() == b.problems() == []


def test_a_file_can_not_supersede_a_reading_again(registry: Registry, tmp_path: Path) -> None:
    ids = [f"00000000-0000-4000-8000-00000000000{n}" for n in range(3)]
    plain = {"kind": "continuity", "subject": L1, "value": "0.31 ohm"}
    for number, record in enumerate(ids):
        reading = {**plain, "id": record, "at": f"2026-05-02T10:0{number}:00+02:00"}
        if number:
            reading["supersedes"] = ids[0]
        file = write(tmp_path / f"{number}.json", {"format": PUMP["format"], "readings": [reading]})
        if number < 2:
            load_site(registry, file)
            continue
        with pytest.raises(sqlite3.IntegrityError, match="superseded"):
            load_site(registry, file)
    assert len(registry.rows("SELECT * FROM readings")) == 2


def test_what_was_loaded_is_found_by_its_words(registry: Registry, tmp_path: Path) -> None:
    load_site(registry, write(tmp_path / "more.json", MORE))
    assert [hit.code for hit in find(registry, "lamb")] == ["SHED"]
    assert registry.rows("SELECT * FROM search_due") == []
