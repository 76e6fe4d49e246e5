# SPDX-License-Identifier: MIT
"""Each kind of change is taken back whole: the record is as before, but for its history."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing, suppress
from datetime import date
from typing import TYPE_CHECKING, Any

import pytest
from PIL import Image

from tests.binder.crawling import records
from tests.changing.barn import FREE, L1, PE, SOCKET, N
from wiretrack.cli.wording import told
from wiretrack.errors import BadInputError, RestsOnError
from wiretrack.library import OpenSite
from wiretrack.library import new as new_site
from wiretrack.model.parts import End
from wiretrack.model.tags import format_tag
from wiretrack.procedure import RINGOUT
from wiretrack.store import changing, label_log, procedures
from wiretrack.store.changelog import changes
from wiretrack.store.health import problems
from wiretrack.tasks.binder.binder import write_binder
from wiretrack.tasks.change.cutting import CutEnds, Division
from wiretrack.tasks.change.extending import Extension, extend
from wiretrack.tasks.change.replacing import Replacement, replace_conductor
from wiretrack.tasks.change.retiring import retire
from wiretrack.tasks.change.swapping import swap
from wiretrack.tasks.change.undoing import ways_back
from wiretrack.tasks.describe.landing import Sure, land
from wiretrack.tasks.label.ends import Ends, place_labels, take_back_labels

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from wiretrack.store.store import Registry

SHED = """{"format": "wiretrack-site/1", "site": {"earthing": "TN"},
"enclosures": [{"code": "SHED"}, {"code": "LAMP"}],
"devices": [{"enclosure": "SHED", "code": "F1", "poles": [["1", "2"]]}],
"raceways": [{"code": "W9", "from": "SHED", "to": "LAMP"}],
"circuits": [{"code": "SHED1"}, {"code": "SHED2"}],
"pulls": [{"code": "P9", "path": ["W9"]}],
"conductors": [{"circuit": ["SHED1", "SHED2"], "function": "N", "size": "4 mm2", "pull": "P9",
    "from": {"enclosure": "SHED", "terminal": "F1:1"}, "to": {"enclosure": "LAMP"}}],
"instruments": [{"code": "M9"}]}"""
OVER = """{"format": "wiretrack-site/1",
"enclosures": [{"code": "SHED"}, {"code": "D", "name": "hall"}],
"raceways": [{"code": "W3", "from": "C", "to": "D", "length": "13 m"},
    {"code": "W8", "from": "D", "to": "SHED"}],
"circuits": [{"code": "LIGHT", "title": "lamps"}],
"conductors": [{"tag": "%s", "circuit": ["LIGHT", "SOCKET"], "to": {"terminal": "TB9:9"}}]}"""
PIECES = Division(raceway="W3", into="W3A,W3B")


def write(*statements: str) -> Callable[[Registry, Path], object]:
    """Return a change that writes these statements."""

    def change(registry: Registry, _: Path) -> None:
        with registry.write("Mira") as db:
            for statement in statements:
                db.execute(statement)

    return change


def load(registry: Registry, folder: Path) -> None:
    (folder / "shed.json").write_text(SHED, "utf-8")
    OpenSite(registry, who="Mira").load_file(folder / "shed.json")


def load_over(registry: Registry, folder: Path) -> None:
    (folder / "over.json").write_text(OVER % PE, "utf-8")
    OpenSite(registry, who="Mira").load_file(folder / "over.json", update=True)


def lead_through(registry: Registry) -> None:
    ends = CutEnds(terminals="TB7:1-3")
    extend(registry, Extension(what=("LIGHT",), through="Y", new_box="junction-box",
                               division=PIECES, ends=ends))  # fmt: skip


def attach(registry: Registry, folder: Path) -> None:
    Image.new("RGB", (40, 30), "red").save(folder / "box.png")
    OpenSite(registry).attach("D", folder / "box.png")


def print_label(registry: Registry, tag: str) -> None:
    legend = {"tag": format_tag(tag)}
    row = {"tag": tag, "end": "to", "form": "flag", "stock": "s", "legend": legend}
    label_log.add_prints(registry, [row])


NEW_ID = "c0ffee00-0000-4000-8000-00000000000"
KINDS: dict[str, Callable[[Registry, Path], object]] = {
    "cap": lambda r, _: land(r, FREE, End(enclosure="X", state="capped")),
    "land on a new terminal": lambda r, _: land(
        r, FREE, End(enclosure="X", terminal="X9:9"), sure=Sure(new_terminal=True, anyway=True)
    ),
    "retire a conductor": lambda r, _: retire(r, SOCKET, abandoned=False),
    "retire a circuit": lambda r, _: retire(r, "LIGHT", abandoned=True),
    "replace": lambda r, _: replace_conductor(r, Replacement(tag=L1, same=True)),
    "swap": lambda r, _: swap(r, (L1, N), "D", marks=True),
    "extend": lambda r, _: lead_through(r),
    "load": load,
    "load over records": load_over,
    "labels are on": lambda r, _: place_labels(r, Ends(PE), by_hand=True),
    "a note": lambda r, _: OpenSite(r).note("LIGHT", "flickers"),
    "a file": attach,
    "base address": lambda r, _: changing.set_base_address(r, "http://barn.example"),
    "a length is set": write(f"UPDATE conductors SET length_m = 41, note = '' WHERE tag = '{L1}'"),
    "a code is set": write("UPDATE enclosures SET code = 'HALL', wet = 1 WHERE code = 'D'"),
    "a device is moved": write(
        "UPDATE devices SET enclosure_id = (SELECT id FROM enclosures WHERE code = 'C')"
        " WHERE code = 'S1'"
    ),
    "a path is shorter": write("DELETE FROM pull_raceways WHERE position = 3"),
    "a box is added": write(f"INSERT INTO enclosures (id, code) VALUES ('{NEW_ID}1', 'ATTIC')"),
    "nothing is left of it": write(
        f"INSERT INTO circuits (id, code) VALUES ('{NEW_ID}2', 'TOWER')",
        "UPDATE circuits SET title = 'tower' WHERE code = 'TOWER'",
        "UPDATE circuits SET title = 'lamp' WHERE code = 'TOWER'",
    ),
}  # fmt: skip
LOGS = ("changes", "label_prints", "placed_labels", "notes", "attachments")


def record(site: OpenSite, folder: Path) -> dict[str, Any]:
    """Return all of a registry but its history and logs, and which labels are on."""
    site.dump(folder / "all.json")
    found = json.loads((folder / "all.json").read_text("utf-8"))
    on = [
        (str(c.tag), side, label.holds) for c in site.conductors for side, label in c.labels.items()
    ]
    kept = {
        table: sorted(rows, key=json.dumps) if isinstance(rows, list) else rows
        for table, rows in found.items()
        if table not in LOGS
    }
    noted = {
        row["id"]: [row["text"]]
        for row in site.registry.rows("SELECT * FROM note_list ORDER BY text")
    }
    files = [row["sha256"] for row in site.registry.rows("SELECT sha256 FROM attachment_list")]
    return kept | {"labels on": on, "notes": [*noted.values()], "files": files}


@pytest.mark.parametrize("kind", KINDS)
def test_the_record_is_as_before_after_the_undo_of_each_kind_of_change(
    kind: str, barn: Registry, tmp_path: Path
) -> None:
    site = OpenSite(barn, who="Mira")
    before = record(site, tmp_path)
    KINDS[kind](barn, tmp_path)
    change = barn.commit.change
    site = OpenSite(barn, who="Noor")
    after = record(site, tmp_path)
    assert after != before
    done = site.undo()
    assert done.undone.change == change
    assert done.undone.records
    assert record(site, tmp_path) == before
    assert problems(barn) == []
    newest = site.history(limit=1)[0]
    assert (newest.change, newest.undoes, newest.by) == (done.change, change, "Noor")
    with pytest.raises(BadInputError, match=f"was taken back already, by {done.change}"):
        site.undo(change)
    again = site.undo()
    assert again.undone.change == done.change
    assert record(site, tmp_path) == after
    assert problems(barn) == []
    site.undo(again.change)
    assert record(site, tmp_path) == before
    assert problems(barn) == []


def title(site: OpenSite, text: str) -> str:
    with site.registry.write("Mira") as db:
        db.execute("UPDATE circuits SET title = ? WHERE code = 'LIGHT'", [text])
    return site.registry.commit.change


def entries(registry: Registry) -> int:
    (row,) = registry.rows("SELECT count(*) AS n FROM log")
    return int(row["n"])


@pytest.fixture
def site(barn: Registry) -> OpenSite:
    return OpenSite(barn, who="Mira")


def test_a_later_change_of_the_same_field_is_named_and_nothing_is_written(site: OpenSite) -> None:
    first, second = title(site, "lamps"), title(site, "lamps and fans")
    before = entries(site.registry)
    with pytest.raises(RestsOnError) as caught:
        site.undo(first)
    assert str(caught.value).startswith(
        f"Later work rests on change {first}: circuit LIGHT (title) (change {second})."
    )
    assert told(caught.value).endswith(f"Take that back first: wiretrack undo {second}")
    assert caught.value.changes == (second,)
    assert (entries(site.registry), site.circuit("LIGHT").title) == (before, "lamps and fans")
    done = site.undo(first, together=True)
    assert [each.change for each in (done.undone, *done.along)] == [first, second]
    assert site.circuit("LIGHT").title == "barn lights"
    for change in (first, second):
        with pytest.raises(BadInputError, match=f"taken back already, by {done.change}"):
            site.undo(change)
    site.undo()
    assert site.circuit("LIGHT").title == "lamps and fans"


def test_what_was_taken_back_itself_rests_on_nothing(site: OpenSite) -> None:
    first, second = title(site, "lamps"), title(site, "fans")
    site.undo(second)
    site.undo(first)
    assert site.circuit("LIGHT").title == "barn lights"
    third = title(site, "lights")
    with pytest.raises(RestsOnError) as caught:
        site.undo(site.history("LIGHT", limit=2)[1].change)
    assert caught.value.changes == (third,)


def test_another_field_of_the_same_record_is_no_hindrance(site: OpenSite) -> None:
    first = title(site, "lamps")
    write("UPDATE circuits SET motor = 1 WHERE code = 'LIGHT'")(site.registry, site.registry.path)
    site.undo(first)
    found = site.circuit("LIGHT")
    assert (found.title, found.motor) == ("barn lights", True)


def test_rows_that_point_to_what_would_go_are_named(site: OpenSite, tmp_path: Path) -> None:
    site.land(FREE, "X", "X9:9", sure=True)
    made = site.registry.commit.change
    site.land(FREE, "X", state="loose")
    write(
        "UPDATE ends SET enclosure_id = (SELECT id FROM enclosures WHERE code = 'X'),"
        " terminal_id = (SELECT id FROM terminals WHERE code = 'X9:9'), state = 'landed'"
        f" WHERE side = 'to' AND conductor_id = (SELECT id FROM conductors WHERE tag = '{L1}')"
    )(site.registry, tmp_path)
    landed = site.registry.commit.change
    site.land(FREE, "X", "X9:9", sure=True)
    with pytest.raises(RestsOnError) as caught:
        site.undo(made)
    assert f"conductor {format_tag(L1)} (change {landed})" in str(caught.value)
    assert landed in caught.value.changes


def test_a_load_that_rests_on_another_is_named(site: OpenSite, tmp_path: Path) -> None:
    load(site.registry, tmp_path)
    first = site.registry.commit.change
    (tmp_path / "more.json").write_text(
        '{"format": "wiretrack-site/1", "raceways": [{"code": "W10", "from": "LAMP", "to": "A"}]}'
    )
    site.load_file(tmp_path / "more.json")
    second = site.registry.commit.change
    with pytest.raises(RestsOnError, match=rf"raceway W10 \(change {second}\)"):
        site.undo(first)
    site.undo(first, together=True)
    assert [e.code for e in site.enclosures] == ["A", "B", "C", "D", "X"]


def test_a_reading_keeps_the_conductor_that_it_is_of(site: OpenSite, tmp_path: Path) -> None:
    load(site.registry, tmp_path)
    change = site.registry.commit.change
    new = site.conductors[-1].tag
    site.log(new, "continuity", "0.1 ohm")
    with pytest.raises(RestsOnError) as caught:
        site.undo(change)
    tag = format_tag(new)
    assert told(caught.value) == (
        f"Change {change} stays: a reading of conductor {tag} stays for good. Retire it instead."
    )
    assert caught.value.changes == ()
    with pytest.raises(RestsOnError):
        site.undo(change, together=True)


def test_what_would_not_hold_then_is_refused(site: OpenSite) -> None:
    retire(site.registry, FREE, abandoned=False)
    change = site.registry.commit.change
    retire(site.registry, "SOCKET", abandoned=False)
    with pytest.raises(RestsOnError, match="is in use in circuit SOCKET, which is retired"):
        site.undo(change)
    assert site.conductor(FREE).retired_at


def test_a_code_that_another_record_has_by_now_is_not_given_back(site: OpenSite) -> None:
    write("UPDATE circuits SET code = 'LAMPS' WHERE code = 'LIGHT'")(
        site.registry, site.registry.path
    )
    change = site.registry.commit.change
    write(f"INSERT INTO circuits (id, code) VALUES ('{NEW_ID}3', 'LIGHT')")(
        site.registry, site.registry.path
    )
    other = site.registry.commit.change
    with pytest.raises(RestsOnError, match=rf"circuit LIGHT \(change {other}\)"):
        site.undo(change)


def test_what_stays_says_what_to_do_instead(site: OpenSite) -> None:
    reading = site.log(L1, "continuity", "0.1 ohm")
    with pytest.raises(BadInputError) as caught:
        site.undo()
    tag = format_tag(L1)
    assert told(caught.value) == (
        f"Change {site.registry.commit.change} is a reading of conductor {tag}. It stays. Supersede"
        f" it: wiretrack test log {tag} --kind continuity VALUE --supersedes {str(reading.id)[:8]}"
    )
    print_label(site.registry, L1)
    with pytest.raises(BadInputError, match="is a printed label of conductor"):
        site.undo()
    about = {"pull": "P", "near": "A", "far": "D"}
    begun = procedures.start(site.registry, RINGOUT, about, {}, after=None)
    with pytest.raises(BadInputError, match=r"is the ring-out of P\. It stays\. It has no answers"):
        site.undo()
    change = site.registry.commit.change
    procedures.start(site.registry, RINGOUT, about, {}, after=begun)
    with pytest.raises(BadInputError, match=r"is the ring-out of P\. It stays\. A later one was"):
        site.undo(change)
    for wrong in ("", "zzzzzzzz", "last"):
        with pytest.raises(BadInputError, match="No change is called"):
            site.undo(wrong)


def test_what_is_said_to_be_taken_back_is_what_undo_does_not_refuse(
    site: OpenSite, tmp_path: Path
) -> None:
    load(site.registry, tmp_path)
    site.log(L1, "continuity", "0.1 ohm")
    print_label(site.registry, L1)
    place_labels(site.registry, Ends(L1), by_hand=True)
    procedures.start(site.registry, RINGOUT, {"pull": "P", "near": "A", "far": "D"}, {}, after=None)
    title(site, "beams")
    site.undo(title(site, "lamps"))
    names = [change.id for change in changes(site.registry) if change.id]
    ways = ways_back(site.registry, names)
    assert ways.keys() == {*names}
    offered = {name for name, way in ways.items() if (way.job, way.about) == ("undo", name)}
    for name in (each for each in names if each in offered):
        with suppress(RestsOnError):
            site.undo(name)
            site.undo()
    for name in {*names} - offered:
        with pytest.raises(BadInputError) as caught:
            site.undo(name)
        assert caught.value.hint == ways[name]
    jobs = sorted(ways[name].job for name in {*names} - offered)
    assert (len(offered), jobs) == (4, ["", "", "", "supersede", "take-off", "undo"])


def test_in_an_empty_registry_there_is_nothing_to_take_back(tmp_path: Path) -> None:
    with new_site(tmp_path / "new.db", "New") as site:
        with pytest.raises(BadInputError, match="Nothing was changed here yet"):
            site.undo()
        with pytest.raises(BadInputError, match="the registry began"):
            site.undo(site.history()[0].change)


def test_a_load_with_readings_and_a_dump_stay(site: OpenSite, tmp_path: Path) -> None:
    site.dump(tmp_path / "dump.json")
    found = json.loads((tmp_path / "dump.json").read_text("utf-8"))
    for name, words in (
        ("dump.json", "a reading"),
        ("plain.json", "a reading"),
        ("no.json", "history"),
    ):
        with new_site(tmp_path / f"{name}.db", "New") as copy:
            kept = {k: v for k, v in found.items() if name == "dump.json" or k not in LOGS}
            if name == "no.json":
                kept = {k: v for k, v in found.items() if k != "readings"}
            (tmp_path / name).write_text(json.dumps(kept), "utf-8")
            copy.load_file(tmp_path / name)
            with pytest.raises(BadInputError, match=words):
                copy.undo()


def test_conductors_are_credited_to_the_load_that_stands(site: OpenSite, tmp_path: Path) -> None:
    load(site.registry, tmp_path)
    site.undo()
    (tmp_path / "again.json").write_text(SHED.replace("SHED", "HUT"), "utf-8")
    site.load_file(tmp_path / "again.json")
    change = site.registry.commit.change
    new = site.conductors[-1]
    (row,) = site.registry.rows(
        "SELECT x.change FROM conductors AS c JOIN changes AS x ON x.seq = c.came WHERE c.tag = ?",
        [new.tag],
    )
    assert row["change"] == change
    first = site.history(new.tag)[-1]
    assert (first.change, first.file) == (change, "again.json")
    write_binder(site.registry, tmp_path / "binder", date(2026, 5, 2))
    record = records(tmp_path / "binder")[str(new.tag)]
    assert record.count("added with again.json") == 1


def test_labels_taken_off_by_mistake_are_on_again(site: OpenSite) -> None:
    place_labels(site.registry, Ends(PE), by_hand=True)
    take_back_labels(site.registry, Ends(PE))
    site = OpenSite(site.registry)
    assert not site.conductor(PE).labels["to"].holds
    done = site.undo()
    assert done.undone.records[0].action == "taken back"
    assert site.conductor(PE).labels["to"].holds
    assert done.labels_due == []


def test_what_another_program_wrote_since_is_no_change_that_can_be_taken_back(
    site: OpenSite,
) -> None:
    change = title(site, "lamps")
    with closing(sqlite3.connect(site.registry.path)) as other:
        other.execute("UPDATE circuits SET title = 'beams' WHERE code = 'LIGHT'")
        other.commit()
    with pytest.raises(RestsOnError) as caught:
        site.undo(change)
    assert caught.value.changes == ()


def test_what_is_due_again_is_told_and_what_was_due_before_is_not(site: OpenSite) -> None:
    retire(site.registry, SOCKET, abandoned=False)
    done = site.undo()
    tag = format_tag(SOCKET)
    assert {(due.tag, due.end) for due in done.labels_due} == {(tag, "from"), (tag, "to")}
    assert tag in {test.subject for test in done.tests_owed}
    title(site, "lamps")
    done = site.undo()
    assert (done.labels_due, done.tests_owed, done.cautions) == ([], [], ())


def test_notes_are_taken_back_and_said_again(site: OpenSite) -> None:
    def stand() -> list[str]:
        rows = site.registry.rows("SELECT of, text FROM note_list ORDER BY text")
        return [f"{row['of']}: {row['text']}" for row in rows]

    first = site.note("LIGHT", "flickers")
    site.note("LIGHT", "flickers at night", instead=first.id)
    instead = site.registry.commit.change
    assert stand() == ["LIGHT: flickers at night"]
    assert site.undo().undone.change == instead
    assert stand() == ["LIGHT: flickers"]
    site.undo()
    assert stand() == ["LIGHT: flickers at night"]
    newest = site.history("LIGHT", limit=1)[0]
    assert (newest.what, newest.code, newest.fields["text"]) == (
        "note", "LIGHT", (None, "flickers at night"))  # fmt: skip
    (row,) = site.registry.rows("SELECT id FROM note_list")
    site.take_back(row["id"])
    assert stand() == []
    assert site.history("LIGHT", limit=1)[0].action == "taken back"
    site.undo()
    assert stand() == ["LIGHT: flickers at night"]
    assert problems(site.registry) == []
    with pytest.raises(BadInputError, match="a note of circuit LIGHT is taken back already"):
        site.undo(instead)


def test_what_a_load_adds_to_the_list_of_a_record_that_was_there_follows_from_the_log(
    site: OpenSite, tmp_path: Path
) -> None:
    for tag in (L1, N, PE):
        (tmp_path / "over.json").write_text(OVER % tag, "utf-8")
        site.load_file(tmp_path / "over.json", update=True)
        assert problems(site.registry) == []
        assert site.conductor(tag).circuits == ("LIGHT", "SOCKET")
