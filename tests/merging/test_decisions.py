# SPDX-License-Identifier: MIT
"""What is decided stays decided, and what makes no sense together is put to a person."""

from __future__ import annotations

import json
import sqlite3
import uuid
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from tests import pump
from tests.merging.laptops import Laptop, annotate, land, look, merge, one, read, ring, write
from tests.pump import L1, L2, PE
from wiretrack.cli.wording import told
from wiretrack.errors import BadInputError
from wiretrack.model.entities import Pull, Reading
from wiretrack.model.parts import End
from wiretrack.model.tags import format_tag
from wiretrack.procedure import RINGOUT
from wiretrack.store import procedures, reading_log, writing
from wiretrack.store.health import problems
from wiretrack.store.source import site_of
from wiretrack.store.writing import part_id
from wiretrack.tasks.describe.landing import land as land_end
from wiretrack.tasks.describe.sites import dump_site

if TYPE_CHECKING:
    from pathlib import Path

NEW = pump.tag("9ABCDE")


def test_both_values_are_shown_with_who_wrote_them_and_when(a: Laptop, b: Laptop) -> None:
    with a.open() as registry, registry.write("laptop-1") as db:
        db.execute("UPDATE conductors SET note = 'chafed' WHERE tag = ?", [L1])
    with b.open() as registry, registry.write("laptop-2") as db:
        db.execute("UPDATE conductors SET note = 'sound' WHERE tag = ?", [L1])
    (found,) = look(a, b).undecided
    assert found.key == f"conductor/{format_tag(L1)}/note"
    assert (found.mine.value, found.mine.by) == ("chafed", "laptop-1")
    assert (found.theirs.value, found.theirs.by) == ("sound", "laptop-2")
    moment = one(b, "SELECT max(at) FROM changes WHERE record IN (SELECT id FROM conductors)")
    assert found.theirs.at == moment


def test_an_undecided_merge_writes_nothing(a: Laptop, b: Laptop) -> None:
    annotate(a, "one", 0)
    annotate(b, "two", 0)
    land(b, "JB1", 1)
    before = a.state()
    with pytest.raises(BadInputError) as caught:
        merge(a, b)
    assert told(caught.value) == (
        "Undecided is conductor/PMP-001G/note, one of 1. Look at them, then merge again."
    )
    assert a.state() == before


def test_keeping_mine_is_a_decision_too_and_outlives_a_third_copy(
    a: Laptop, b: Laptop, tmp_path: Path
) -> None:
    annotate(a, "one", 0)
    annotate(b, "two", 0)
    c = a.twin(tmp_path / "c.db")
    merge(c, b, rest="theirs")  # c says two, and decided so
    merge(a, b, rest="mine")  # a says one, and decided so
    (conflict,) = look(a, c).conflicts  # two decisions made apart
    assert (conflict.mine.value, conflict.theirs.value) == ("note one", "note two")
    merge(a, c, rest="mine")
    assert look(c, a).conflicts == ()  # a knew of both decisions, so a's holds
    merge(c, a)
    merge(b, c)
    for laptop in (a, b, c):
        assert one(laptop, "SELECT note FROM conductors WHERE tag = ?", L1) == "note one"


def test_the_decision_is_in_the_history_with_what_was_given_up(a: Laptop, b: Laptop) -> None:
    annotate(a, "one", 0)
    annotate(b, "two", 0)
    merge(a, b, rest="mine")
    with a.open() as registry:
        (last,) = registry.rows("SELECT by, old, new FROM changes ORDER BY seq DESC LIMIT 1")
    assert last["by"] == "laptop-1"
    assert json.loads(last["old"])["note"] == "note two"
    assert json.loads(last["new"])["note"] == "note one"


def test_of_two_boxes_of_one_code_one_is_called_otherwise(a: Laptop, b: Laptop) -> None:
    for laptop, kind in ((a, "junction-box"), (b, "wireway")):
        with laptop.open() as registry, registry.write() as db:
            row = {"id": f"00000000-0000-4000-8000-{len(kind):012}", "code": "JB7", "kind": kind}
            writing.insert(db, "enclosures", [row])
    (found,) = look(a, b).undecided
    assert (found.key, found.renames) == ("enclosure/JB7/same-code", True)
    assert (found.mine.value, found.theirs.value) == ("junction-box", "wireway")
    with pytest.raises(BadInputError, match="Another enclosure is called 'PH1' already"):
        look(a, b, renamed=["enclosure/JB7/same-code=PH1"])
    merge(a, b, renamed=["enclosure/JB7/same-code=JB8"])
    kinds = "SELECT kind FROM enclosures WHERE code = ?"
    assert (one(a, kinds, "JB7"), one(a, kinds, "JB8")) == ("junction-box", "wireway")
    merge(b, a)
    assert a.state() == b.state()


def test_without_a_name_the_other_box_gets_the_first_free_number(a: Laptop, b: Laptop) -> None:
    for laptop, kind in ((a, "junction-box"), (b, "wireway")):
        for code in ("JB7", "JB7-2"):
            with laptop.open() as registry, registry.write() as db:
                number = len(kind) * 10 + len(code)
                row = {"id": f"00000000-0000-4000-8000-{number:012}", "code": code, "kind": kind}
                writing.insert(db, "enclosures", [row])
    merge(a, b, rest="theirs")
    with a.open() as registry:
        rows = registry.rows("SELECT kind, code FROM enclosures WHERE code LIKE 'JB7%'")
    assert {(row["kind"], row["code"]) for row in rows} == {
        ("wireway", "JB7"),
        ("wireway", "JB7-2"),
        ("junction-box", "JB7-3"),
        ("junction-box", "JB7-2-2"),
    }


def test_codes_swapped_in_one_copy_come_over(a: Laptop, b: Laptop) -> None:
    for code, new in (("MDB", "T"), ("PH1", "MDB"), ("T", "PH1")):
        write(b, "UPDATE enclosures SET code = ? WHERE code = ?", new, code)
    merge(a, b)
    assert a.state() == b.state()


def test_two_conductors_of_one_tag_are_tagged_apart(a: Laptop, b: Laptop) -> None:
    for laptop, function in ((a, "N"), (b, "L3")):
        number = ord(function[0])
        record = f"00000000-0000-4000-8000-{number:012}"
        with laptop.open() as registry, registry.write() as db:
            like = dict(registry.rows("SELECT * FROM conductors LIMIT 1")[0])
            writing.insert(
                db,
                "conductors",
                [
                    {
                        **like,
                        "nr": None,
                        "came": None,
                        "id": record,
                        "tag": NEW,
                        "function": function,
                    }
                ],
            )
            served = dict(registry.rows("SELECT * FROM conductor_circuits")[0])
            served |= {"id": part_id(record, "circuit:1"), "conductor_id": record}
            writing.insert(db, "conductor_circuits", [served])
            for side in ("from", "to"):
                end = dict(registry.rows("SELECT * FROM ends WHERE side = ?", [side])[0])
                end |= {"id": part_id(record, f"end:{side}"), "conductor_id": record}
                writing.insert(db, "ends", [end])
    (found,) = look(a, b).undecided
    key = f"conductor/{format_tag(NEW)}/same-tag"
    assert (found.key, found.mine.value) == (key, "PUMP N 4 mm2 BN")
    merge(a, b, renamed=[f"{key}={pump.tag('9XYZ99')}"])
    functions = "SELECT function FROM conductors WHERE tag = ?"
    assert one(a, functions, NEW) == "N"
    assert one(a, functions, pump.tag("9XYZ99")) == "L3"
    merge(b, a)
    assert a.state() == b.state()


def test_a_reading_corrected_in_both_copies_keeps_both_corrections(a: Laptop, b: Laptop) -> None:
    read(a, "", 0)
    b = a.twin(b.path.with_name("b2.db"))
    first = next(iter(a.ids("readings")))
    for laptop, value in ((a, 0.31), (b, 0.41)):
        with laptop.open() as registry:
            reading = Reading(
                kind="continuity", subject=L1, value=f"{value} ohm", number=value, unit="ohm",
                supersedes=first,
            )  # fmt: skip
            reading_log.add_reading(registry, reading)
    (notice,) = look(a, b).notices["corrected_twice"]
    assert (notice["mine"], notice["theirs"], notice["id"]) == ("0.31 ohm", "0.41 ohm", first)
    merge(a, b)
    assert a.ids("readings") == a.ids("readings") | b.ids("readings")
    with a.open() as registry, pytest.raises(sqlite3.IntegrityError, match="superseded already"):
        reading_log.add_reading(registry, reading)


def test_an_entry_that_says_something_else_in_the_other_copy_is_named(a: Laptop) -> None:
    b = a.twin(a.path.with_name("b2.db"))
    reading = Reading(
        kind="continuity", subject=L1, value="0.3", number=0.3, unit="ohm",
        id="00000000-0000-4000-8000-000000000007",
    )  # fmt: skip
    for laptop, by in ((a, "laptop-1"), (b, "laptop-2")):
        with laptop.open() as registry:
            reading_log.add_reading(registry, replace(reading, by=by))
    named = [{"log": "readings", "id": reading.id}]
    assert look(a, b).notices["told_otherwise"] == named


def test_ends_landed_apart_on_one_terminal_are_named(a: Laptop, b: Laptop) -> None:
    with a.open() as registry:
        land_end(registry, L1, End(enclosure="PH1", terminal="X1"))
    with b.open() as registry:
        land_end(registry, L2, End(enclosure="PH1", terminal="X1"))
    found = merge(a, b)
    tags = sorted(map(format_tag, (L1, L2)))
    assert found["shared_terminals"] == [{"terminal": "PH1 X1", "tags": tags}]
    assert merge(b, a)["shared_terminals"] == []


def test_the_two_ends_of_a_conductor_meet_on_one_terminal_only_if_decided(
    a: Laptop, b: Laptop
) -> None:
    box = one(a, "SELECT id FROM enclosures WHERE code = 'MDB'")
    terminal = one(a, "SELECT id FROM terminals WHERE code = 'PE'")
    other = one(a, "SELECT id FROM terminals WHERE code = 'Q4:3'")
    to = "UPDATE ends SET enclosure_id = ?, terminal_id = ?, state = 'landed' WHERE side = ? AND"
    of_l1 = "conductor_id = (SELECT id FROM conductors WHERE tag = ?)"
    write(a, f"{to} {of_l1}", box, other, "to", L1)
    b = a.twin(b.path.with_name("b2.db"))
    write(a, f"{to} {of_l1}", box, terminal, "from", L1)
    write(b, f"{to} {of_l1}", box, terminal, "to", L1)
    (found,) = look(a, b).undecided
    assert found.key == f"conductor/{format_tag(L1)}/both-ends"
    c = a.twin(b.path.with_name("c.db"))
    merge(a, b, rest="mine")
    merge(c, b, rest="theirs")
    where = f"SELECT terminal_id FROM ends WHERE side = ? AND {of_l1}"
    assert (one(a, where, "from", L1), one(a, where, "to", L1)) == (terminal, other)
    assert one(c, where, "to", L1) == terminal
    assert one(c, where, "from", L1) != terminal


def test_a_conductor_added_to_a_circuit_that_was_retired_is_decided_about(
    a: Laptop, b: Laptop
) -> None:
    retired = "UPDATE conductors SET retired_at = '2026-01-01', retired_because = 'removed'"
    write(a, retired)
    write(a, "UPDATE circuits SET retired_at = '2026-01-01'")
    write(b, f"{retired} WHERE tag = ?", PE)
    with b.open() as registry, registry.write() as db:
        like = dict(registry.rows("SELECT * FROM conductors WHERE tag = ?", [L1])[0])
        record = "00000000-0000-4000-8000-000000000001"
        writing.insert(
            db, "conductors", [{**like, "nr": None, "came": None, "id": record, "tag": NEW}]
        )
        served = dict(registry.rows("SELECT * FROM conductor_circuits")[0])
        served |= {"id": part_id(record, "circuit:1"), "conductor_id": record}
        writing.insert(db, "conductor_circuits", [served])
        for side in ("from", "to"):
            end = dict(registry.rows("SELECT * FROM ends WHERE side = ?", [side])[0])
            end |= {"id": part_id(record, f"end:{side}"), "conductor_id": record}
            writing.insert(db, "ends", [end])
    (found,) = look(a, b).undecided
    assert found.key == "circuit/PUMP/in-service"
    assert found.mine.value == f"retired; {format_tag(NEW)} too, removed"
    c = a.twin(b.path.with_name("c.db"))
    merge(a, b, rest="mine")
    because = "SELECT retired_because FROM conductors WHERE tag = ?"
    assert one(a, because, NEW) == "removed"
    merge(c, b, rest="theirs")
    assert one(c, because, NEW) is None
    assert one(c, "SELECT retired_at FROM circuits") is None
    apart = look(a, c).undecided  # decided apart: to be decided anew
    assert [x.key for x in apart] == [
        "circuit/PUMP/retired",
        f"conductor/{format_tag(NEW)}/retired",
    ]


def test_work_on_a_conductor_that_the_other_copy_retired_is_named(a: Laptop, b: Laptop) -> None:
    write(
        a,
        "UPDATE conductors SET retired_at = '2026-01-01', retired_because = 'removed'"
        " WHERE tag = ?",
        L1,
    )
    read(b, "", 0)
    assert merge(a, b)["retired_and_worked_on"] == [{"tag": format_tag(L1), "retired": "mine"}]


def test_a_ring_out_that_went_on_apart_keeps_every_answer(a: Laptop, b: Laptop) -> None:
    ring(a, "both", 2)
    b = a.twin(b.path.with_name("b2.db"))
    for number in (2, 3):
        ring(a, "mine", number)
    for number in (2, 3, 4):
        ring(b, "theirs", number)
    ring(b, "theirs", 5)  # finished
    (notice,) = look(a, b).notices["gone_on_apart"]
    assert (notice["name"], notice["mine"], notice["theirs"]) == ("P1", 2, 3)
    merge(a, b)
    assert len(a.ids("procedure_answers")) == 6
    with a.open() as registry:
        found = procedures.latest(registry, RINGOUT, pull="P1")
        assert found is not None
        assert [x.answer["answer"] for x in found.answers] == ["both", *["theirs"] * 3]
        assert found.result == {"matches": [], "walks": 4}
        procedures.add_answer(registry, found, {"step": 5}, {"answer": "after"})
        assert problems(registry) == []


def test_a_merged_registry_goes_through_a_site_file(a: Laptop, b: Laptop, tmp_path: Path) -> None:
    for laptop, code in ((a, "mine"), (b, "theirs")):
        for number in (0, 3, 4):
            ring(laptop, code, number)
            read(laptop, "", number)
    merge(a, b)
    with a.open() as registry:
        dump_site(registry, tmp_path / "dump.json")
    c = b.twin(tmp_path / "c.db")
    merge(c, tmp_path / "dump.json")
    assert c.state() == a.state()
    assert c.ids("changes") == a.ids("changes")


def test_what_was_changed_past_the_history_is_a_conflict(a: Laptop, b: Laptop) -> None:
    with b.open() as registry, registry.write(noted=False) as db:
        db.execute("UPDATE conductors SET note = 'slipped in' WHERE tag = ?", [L1])
    (found,) = look(a, b).undecided
    assert (found.mine.value, found.theirs.value, found.theirs.by) == (None, "slipped in", None)


def routed(laptop: Laptop, *codes: str) -> None:
    """Lead the pull through raceways that are made where they are new."""
    with laptop.open() as registry, registry.write("someone") as db:
        (pull,) = registry.rows("SELECT id FROM pulls")
        (like,) = registry.rows("SELECT * FROM raceways WHERE code = 'W1'")
        for position, code in enumerate(codes, 1):
            raceway = registry.row("SELECT id FROM raceways WHERE code = ?", [code])
            if raceway is None:
                raceway = {**like, "nr": None, "id": str(uuid.uuid4()), "code": code}
                writing.insert(db, "raceways", [raceway])
            leg = {"id": part_id(pull["id"], f"raceway:{position}"), "pull_id": pull["id"]}
            leg |= {"position": position, "raceway_id": raceway["id"]}
            sql = "UPDATE pull_raceways SET raceway_id = :raceway_id WHERE id = :id"
            if db.conn.execute(sql, leg).rowcount == 0:
                writing.insert(db, "pull_raceways", [leg])


def test_a_pull_led_another_way_in_both_copies_takes_one_way_whole(a: Laptop, b: Laptop) -> None:
    routed(a, "A1", "A2")
    routed(b, "B1", "B2", "B3")
    (found,) = look(a, b).undecided
    assert found.key == "pull/P1/route"
    assert (found.mine.value, found.theirs.value) == ("A1 → A2", "B1 → B2 → B3")
    c = a.twin(b.path.with_name("c.db"))
    merge(c, b, rest="mine")
    assert way(c) == ["A1", "A2"]
    merge(a, b, rest="theirs")
    assert way(a) == ["B1", "B2", "B3"]
    for merged in (a, c):
        other = b.twin(merged.path.with_suffix(".twin"))
        assert look(other, merged).conflicts == ()
        merge(other, merged)
        assert merged.state() == other.state()
        assert look(merged, other).is_empty


def test_a_pull_led_another_way_in_one_copy_is_led_so(a: Laptop, b: Laptop) -> None:
    routed(b, "B1", "B2", "B3")
    annotate(a, "one", 0)
    merge(a, b)
    assert way(a) == ["B1", "B2", "B3"]


def way(laptop: Laptop) -> list[str]:
    with laptop.open() as registry:
        return list(site_of(registry).one(Pull, "P1").route.raceways)
