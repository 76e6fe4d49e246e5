# SPDX-License-Identifier: MIT
"""Notes, pictures and documents: kept with any record, taken back, and given back as kept."""

from __future__ import annotations

import json
import os
import sqlite3
from base64 import b64encode
from contextlib import closing
from hashlib import sha256
from typing import TYPE_CHECKING

import pytest

from wiretrack.errors import BadInputError, NotFoundError, SiteFileError
from wiretrack.model.entities import Circuit, Enclosure, Pull, Raceway
from wiretrack.model.parts import Device, Terminal
from wiretrack.store import notes
from wiretrack.store.dumping import document
from wiretrack.store.health import problems
from wiretrack.store.searching import find
from wiretrack.store.source import site_of
from wiretrack.store.store import open_registry
from wiretrack.store.writing import insert
from wiretrack.tasks.describe.remarks import add_note, attach, attached, take_back
from wiretrack.tasks.describe.sites import dump_site, load_site, new_site
from wiretrack.tasks.report.report import report

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from wiretrack.store.store import Registry

# The smallest PDF that is whole: header and end (ISO 32000-2, 7.5.2 and 7.5.5).
PDF = b"%PDF-1.7\n1 0 obj\n<< >>\nendobj\ntrailer\n<< >>\nstartxref\n0\n%%EOF\n"
IS_A_PART = """instr(body, CAST('"kind":"part"' AS BLOB)) > 0"""


@pytest.fixture
def registry(demo_db: Path, tmp_path: Path) -> Iterator[Registry]:
    copy = tmp_path / "site.db"
    copy.write_bytes(demo_db.read_bytes())
    with open_registry(copy) as opened:
        yield opened


def texts(of: object) -> list[str | None]:
    return [note.text for note in of.notes]  # type: ignore[attr-defined]


@pytest.mark.parametrize("what", ["SLC", "sluice", "W8", "P-SLIP", "0az emtb", "MDP/Q4", "mdp/q4",
                                  "MDP/Q4:2", "M1", "site"])  # fmt: skip
def test_any_record_bears_a_note_and_is_found_by_its_words(registry: Registry, what: str) -> None:
    add_note(registry, what, "Zinkstaub here", who="Ana")
    (hit,) = find(registry, "zinkstaub")
    of = {"sluice": "SLUICE", "0az emtb": "0AZ-EMTB", "mdp/q4": "MDP/Q4"}.get(what, what)
    assert str(hit.code) == of
    (row,) = [dict(row) for row in document(registry).rest["notes"]]
    assert (row["text"], row["by"], row["what"]) == ("Zinkstaub here", "Ana", hit.what)
    assert problems(registry) == []


def test_each_entity_knows_its_own_notes_and_no_others(registry: Registry) -> None:
    for what in ("SLC", "SLUICE", "W8", "P-SLIP", "0AZ-EMTB", "MDP/Q4", "MDP/Q4:2", "site"):
        add_note(registry, what, f"of {what}")
    site = site_of(registry)
    assert texts(site) == ["of site"]
    for of in (Circuit, Enclosure, Pull, Raceway, Device, Terminal):
        found = [one for one in site.every(of) if one.notes]
        assert len(found) == 1, of
        assert len(found[0].notes) == 1
    (wire,) = [c for c in site.one(Circuit, "SLUICE").conductors if c.notes]
    assert (wire.tag, texts(wire)) == ("0AZEMTB", ["of 0AZ-EMTB"])


def test_a_note_follows_a_record_that_is_called_otherwise(registry: Registry) -> None:
    add_note(registry, "SLC", "lid cracked")
    with registry.write() as db:
        db.execute("UPDATE enclosures SET code = 'SLUICEBOX' WHERE code = 'SLC'")
    assert texts(site_of(registry).one(Enclosure, "SLUICEBOX")) == ["lid cracked"]
    assert [hit.code for hit in find(registry, "sluicebox lid")] == ["SLUICEBOX"]


def test_a_note_is_taken_back_by_a_later_one_and_stays_in_the_log(registry: Registry) -> None:
    kept = add_note(registry, "SLC", "lid is loose")
    file = attach(registry, "SLC", "plan.pdf", PDF)
    add_note(registry, "SLC", "lid is tight", instead=kept.id[:6])
    assert texts(site_of(registry).one(Enclosure, "SLC")) == ["lid is tight"]
    assert find(registry, "loose lid") == []
    take_back(registry, file.id[:8])
    assert site_of(registry).one(Enclosure, "SLC").attachments == ()
    with pytest.raises(NotFoundError):
        take_back(registry, kept.id)
    assert len(document(registry).rest["notes"]) == 3
    assert problems(registry) == []
    for sql in ("UPDATE notes SET text = 'x'", "DELETE FROM notes", "DELETE FROM attachments",
                "INSERT OR REPLACE INTO notes SELECT * FROM notes"):  # fmt: skip
        with pytest.raises(sqlite3.IntegrityError, match="take it back"):
            registry.connection.execute(sql)


def test_what_is_noted_of_is_not_deleted(registry: Registry) -> None:
    add_note(registry, "MDP/Q4:2", "hums")
    registry.connection.execute("PRAGMA foreign_keys = OFF")
    with pytest.raises(sqlite3.IntegrityError, match="a note"), registry.write() as db:
        db.execute("DELETE FROM terminals WHERE id = (SELECT record FROM notes)")


@pytest.mark.parametrize(
    ("what", "text", "told"),
    [
        ("SLX", "x", "'SLX'"),
        ("MDP/Q99", "x", "'MDP/Q99'"),
        ("SLC", " \n ", "empty"),
        ("SLC", "x" * 2001, "2001"),
        ("SLC", "a\x1b[31mb", "U+001B"),
        ("SLC", "a\u202eb", "U+202E"),
    ],
)
def test_a_wrong_note_is_one_line_and_nothing_is_kept(
    registry: Registry, what: str, text: str, told: str
) -> None:
    with pytest.raises(BadInputError) as caught:
        add_note(registry, what, text)
    assert told in str(caught.value)
    assert "\n" not in str(caught.value)
    assert not document(registry).rest["notes"]


def test_the_longest_note_and_one_of_several_lines_are_kept(registry: Registry) -> None:
    add_note(registry, "SLC", "x" * 2000)
    add_note(registry, "SLC", "one\r\ntwo")
    assert texts(site_of(registry).one(Enclosure, "SLC")) == ["x" * 2000, "one\ntwo"]


def test_the_start_of_an_id_names_it_if_it_is_the_only_one(registry: Registry) -> None:
    kept = attach(registry, "SLC", "plan.pdf", PDF)
    assert attached(registry, kept.id[:4].upper())[1] == PDF
    with pytest.raises(BadInputError, match="4 characters"):
        attached(registry, kept.id[:3])
    row = {"what": "site", "record": "site", "at": "2026-11-28T10:00:00Z", "text": "x"}
    with registry.write() as db:
        for end in ("1", "2"):
            insert(db, "notes", [row | {"id": f"abcdef00-0000-4000-8000-00000000000{end}"}])
    with pytest.raises(BadInputError, match="begins the id of 2"):
        take_back(registry, "abcd")


def test_a_content_is_kept_once_however_often_it_is_attached(registry: Registry) -> None:
    large = PDF[:9] + os.urandom(2_500_000) + PDF[9:]
    first = attach(registry, "SLC", "a.pdf", large)
    parts = f"SELECT count(*), sum(length(body)) FROM log WHERE {IS_A_PART}"
    before = registry.connection.execute(parts).fetchone()
    assert before[0] >= 3
    second = attach(registry, "MDP", "b.pdf", large)
    assert registry.connection.execute(parts).fetchone() == before
    assert [attached(registry, kept.id)[1] == large for kept in (first, second)] == [True, True]
    assert problems(registry) == []


def test_a_dump_with_notes_and_attachments_loads_equal(registry: Registry, tmp_path: Path) -> None:
    note = add_note(registry, "MDP/Q4", "hums\nin the rain", who="Ana")
    attach(registry, "SLC", "a.pdf", PDF, who="Ben")
    attach(registry, "0AZ-EMTB", "b.pdf", PDF)
    take_back(registry, note.id)
    dump_site(registry, tmp_path / "one.json")
    held = json.loads((tmp_path / "one.json").read_text("utf-8"))
    assert [("content" in row) for row in held["attachments"]] == [True, False]
    new_site(tmp_path / "two.db", "x")
    with open_registry(tmp_path / "two.db") as other:
        load_site(other, tmp_path / "one.json")
        dump_site(other, tmp_path / "two.json")
        assert problems(other) == []
        assert notes.content(other, sha256(PDF).hexdigest()) == PDF
        whole = sha256((tmp_path / "one.json").read_bytes()).hexdigest()
        kept = [row["sha256"] for row in other.rows("SELECT sha256 FROM files")]
        assert sha256(PDF).hexdigest() in kept
        assert whole not in kept  # the file isn't kept beside its contents
    assert (tmp_path / "two.json").read_bytes() == (tmp_path / "one.json").read_bytes()


OF = {"id": "0a1b2c3d-4e5f-4a6b-8c7d-0123456789ab", "what": "enclosure", "of": "A",
      "at": "2026-05-02T10:15:00Z"}  # fmt: skip
FILE = OF | {"name": "a.pdf", "type": "application/pdf", "sha256": sha256(PDF).hexdigest()}


@pytest.mark.parametrize(
    ("table", "row", "place", "told"),
    [
        ("notes", OF | {"text": "x", "of": "B"}, "notes[0].of", "'B'"),
        ("notes", OF | {"text": "x", "what": "box"}, "notes[0].what", "'box'"),
        ("notes", OF | {"text": "x", "what": "site"}, "notes[0].of", "'A'"),
        ("notes", OF | {"text": "x", "what": "terminal", "of": "A/1"}, "notes[0].of", "'A/1'"),
        ("notes", OF | {"text": "x", "what": "conductor"}, "notes[0].of", "'A'"),
        ("notes", OF, "notes[0]", "says nothing"),
        ("notes", OF | {"takes_back": "0a1b2c3d-4e5f-4a6b-8c7d-0123456789ac"},
         "notes[0].takes_back", "0123456789ac"),
        ("attachments", FILE, "attachments[0].content", "neither"),
        ("attachments", FILE | {"content": "JVBERi0"}, "attachments[0].content", "is refused"),
        ("attachments", FILE | {"content": b64encode(PDF + b"x").decode()},
         "attachments[0].content", "SHA-256"),
        ("attachments", FILE | {"content": b64encode(PDF).decode(), "type": "image/png"},
         "attachments[0].content", "picture"),
        ("attachments", FILE | {"content": b64encode(PDF).decode(), "type": "text/html"},
         "attachments[0].type", "'text/html'"),
        ("attachments", FILE | {"content": b64encode(b"<script>").decode(),
                                "sha256": sha256(b"<script>").hexdigest()},
         "attachments[0].content", "no whole PDF"),
    ],
)  # fmt: skip
def test_a_fault_of_a_file_is_named_and_nothing_is_loaded(
    tmp_path: Path, table: str, row: dict[str, object], place: str, told: str
) -> None:
    file = tmp_path / "site.json"
    held = {"format": "wiretrack-site/1", "enclosures": [{"code": "A"}], table: [row]}
    file.write_text(json.dumps(held), "utf-8")
    new_site(tmp_path / "new.db", "x")
    with open_registry(tmp_path / "new.db") as new, pytest.raises(SiteFileError) as caught:
        load_site(new, file)
    (fault,) = caught.value.faults
    assert fault.place == place
    assert told in fault.message


def test_a_file_may_bring_notes_of_terminals_that_only_a_landing_names(tmp_path: Path) -> None:
    end = {"enclosure": "A", "terminal": "TB1:4"}
    row = OF | {"what": "terminal", "of": "A/TB1:4", "text": "loose"}
    content = b64encode(PDF).decode()
    held = {
        "format": "wiretrack-site/1", "enclosures": [{"code": "A"}],
        "conductors": [{"function": "PE", "size": "4 mm2", "from": end, "to": {"enclosure": "A"}}],
        "notes": [row], "attachments": [FILE | {"content": content}],
    }  # fmt: skip
    file = tmp_path / "site.json"
    file.write_text(json.dumps(held), "utf-8")
    new_site(tmp_path / "new.db", "x")
    with open_registry(tmp_path / "new.db") as new:
        load_site(new, file)
        assert problems(new) == []
        assert [str(hit.code) for hit in find(new, "loose")] == ["A/TB1:4"]
        assert attached(new, FILE["id"])[1] == PDF


@pytest.mark.parametrize("place", [0.02, 0.5, 0.98])
def test_a_flipped_bit_in_what_was_attached_is_named(registry: Registry, place: float) -> None:
    attach(registry, "SLC", "lid.pdf", PDF[:9] + bytes(range(256)) * 40 + PDF[9:])
    sql = f"SELECT nr, body FROM log WHERE {IS_A_PART} ORDER BY nr DESC LIMIT 1"
    (row,) = registry.rows(sql)
    head, data = row["body"].split(b"\n", 1)
    at = int(place * len(data))
    broken = head + b"\n" + data[:at] + bytes([data[at] ^ 1]) + data[at + 1 :]
    with closing(sqlite3.connect(registry.path)) as db, db:
        db.execute("DROP TRIGGER log_stays")
        db.execute("UPDATE log SET body = ? WHERE nr = ?", [broken, row["nr"]])
    affected = [problem.affects for problem in problems(registry)]
    assert affected.count(("lid.pdf with SLC",)) == 2  # by the chain, and by its SHA-256


def test_a_report_counts_what_stands(registry: Registry) -> None:
    kept = add_note(registry, "SLC", "never mind")
    add_note(registry, "SLC", "lid cracked")
    attach(registry, "SLC", "a.pdf", PDF)
    take_back(registry, kept.id)
    state = report(registry, "SLUICE").registry
    assert (state.notes, state.attachments) == (1, 1)
