# SPDX-License-Identifier: MIT
"""The search finds what records say now, whatever they said before and wherever their rows lie."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from typing import TYPE_CHECKING

import pytest

import wiretrack
from tests.pump import PUMP, tag
from wiretrack.model.entities import Conductor, Enclosure
from wiretrack.model.parts import SiteFacts
from wiretrack.model.tags import parse_tag
from wiretrack.store.health import problems
from wiretrack.store.loading import add_coded, create_registry
from wiretrack.store.rescue import rescue
from wiretrack.store.searching import find
from wiretrack.store.source import site_of
from wiretrack.store.store import open_registry
from wiretrack.tasks.describe.sites import load_site, new_site

if TYPE_CHECKING:
    from pathlib import Path

NEW = tag("PVQR01")
NAMES = {"MDB": "main board", "PH1": "Pumpe am Brunnen", "JB1": "Überspannung_Kasten"}


@pytest.fixture
def path(tmp_path: Path) -> Path:
    path = tmp_path / "site.db"
    create_registry(path, SiteFacts(name="barn"))
    with open_registry(path) as registry, registry.write() as db:
        for code, name in NAMES.items():
            add_coded(db, "enclosures", Enclosure(code=code, name=name))
    return path


def found(path: Path, text: str) -> list[str]:
    with open_registry(path) as registry:
        return [hit.code for hit in find(registry, text)]


@pytest.mark.parametrize(
    ("text", "codes"),
    [
        ("board", ["MDB"]),
        ("BOA", ["MDB"]),
        ("pumpe brun", ["PH1"]),
        ("uberspannung", ["JB1"]),
        ("kasten", ["JB1"]),
        ("überspannung-kasten", ["JB1"]),
        ("jb1", ["JB1"]),
        ("main pumpe", []),
        ("ain", []),
    ],
)
def test_words_and_their_beginnings_are_found(path: Path, text: str, codes: list[str]) -> None:
    assert found(path, text) == codes


def test_a_word_that_a_record_no_longer_has_does_not_lead_to_it(path: Path) -> None:
    with open_registry(path) as registry, registry.write() as db:
        db.execute("UPDATE enclosures SET name = 'attic board' WHERE code = 'MDB'")
    assert found(path, "main") == []
    assert found(path, "attic") == found(path, "board") == ["MDB"]


def test_a_word_that_damage_took_from_the_index_is_named_and_rescue_brings_it_back(
    path: Path, tmp_path: Path
) -> None:
    with open_registry(path) as registry:
        assert problems(registry) == []
    with closing(sqlite3.connect(path)) as other, other:
        (block,) = [b for (b,) in other.execute("SELECT block FROM search_data") if b"runnen" in b]
        flipped = block.replace(b"runnen", b"rvnnen")  # words share their beginnings
        other.execute("UPDATE search_data SET block = ? WHERE block = ?", [flipped, block])
    assert found(path, "brunnen") == []
    with open_registry(path) as registry:
        (problem,) = problems(registry)
    assert (problem.where, problem.affects) == ("search", ("PH1",))
    rescue(path, tmp_path / "new.db")
    assert found(tmp_path / "new.db", "brunnen") == ["PH1"]


@pytest.mark.parametrize(
    ("sql", "word", "what"),
    [
        ("UPDATE devices SET code = 'Q77'", "q77", "device"),
        ("UPDATE enclosures SET code = 'QUAY' WHERE code = 'MDB'", "quay", "device"),
        ("UPDATE conductors SET tag = :new WHERE tag = :tag", NEW, "conductor"),
        ("DELETE FROM conductor_circuits WHERE conductor_id ="
         " (SELECT id FROM conductors WHERE tag = :tag)", "spare", "reading"),
    ],
)  # fmt: skip
def test_what_names_a_record_is_found_by_its_new_name(
    tmp_path: Path, sql: str, word: str, what: str
) -> None:
    document, wire = json.loads(json.dumps(PUMP)), tag("PMP001")
    document["devices"] = [{"enclosure": "MDB", "code": "Q4", "kind": "breaker"}]
    (tmp_path / "site.json").write_text(json.dumps(document), "utf-8")
    new_site(tmp_path / "site.db", "pump")
    with wiretrack.open(tmp_path / "site.db") as site:
        site.load_file(tmp_path / "site.json")
        site.log(wire, "continuity", "0.3 ohm")
        for thing in ("MDB/Q4", wire):
            site.note(thing, "sticks")
        with site.registry.write() as db:
            db.execute(sql, {"tag": wire, "new": NEW})
        assert problems(site.registry) == []
        assert what in {hit.what for hit in find(site.registry, word)}


def test_what_is_found_is_the_same_after_the_file_was_packed(path: Path) -> None:
    with open_registry(path) as registry, registry.write() as db:
        db.execute("DELETE FROM enclosures WHERE code = 'MDB'")
    with closing(sqlite3.connect(path)) as other:
        other.execute("VACUUM")
    assert found(path, "brunnen") == ["PH1"]
    assert found(path, "kasten") == ["JB1"]


@pytest.mark.parametrize(
    ("text", "colours"),  # IEC 60757: RD red, BK black, GNYE green-yellow
    [
        ("red", {"RD", "BKRD"}),
        ("rd", {"RD", "BKRD"}),
        ("Hoist red", {"RD"}),
        ("black", {"BK", "BKRD"}),
        ("red/black", {"BKRD"}),
        ("yellow-green", {"GNYE"}),
        ("green yellow", {"GNYE"}),
        ("yellow", {"GNYE"}),
        ("violet", set()),
    ],
)
def test_a_colour_finds_the_conductors_that_have_it(
    tmp_path: Path, text: str, colours: set[str]
) -> None:
    document = json.loads(json.dumps(PUMP))
    document["circuits"].append({"code": "HOIST"})
    wires = document["conductors"][:1] * 4
    document["conductors"] = [
        {**wire, "tag": tag(f"HST00{n}"), "circuit": circuit, "colour": colour,
         "from": {"enclosure": "MDB"}}
        for n, (wire, circuit, colour) in enumerate(
            zip(wires, ("HOIST", "PUMP", "PUMP", "PUMP"), ("RD", "BKRD", "BK", "GNYE"), strict=True)
        )
    ]  # fmt: skip
    (tmp_path / "site.json").write_text(json.dumps(document))
    new_site(tmp_path / "red.db", "Red")
    with open_registry(tmp_path / "red.db") as registry:
        load_site(registry, tmp_path / "site.json")
        tags = [hit.code for hit in find(registry, text) if hit.what == "conductor"]
        site = site_of(registry)
        assert {site.one(Conductor, parse_tag(str(one))).colour for one in tags} == colours
