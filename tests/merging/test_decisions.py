# SPDX-License-Identifier: MIT
"""What is decided stays decided, and what makes no sense together is put to a person."""

from __future__ import annotations

import json
import os
import random
import signal
import sqlite3
import subprocess
import sys
import time
from typing import TYPE_CHECKING, Any

import pytest

from tests import pump
from tests.merging.laptops import Laptop, annotate, first_laptop, land, read, ring
from tests.pump import L1, L2, PE
from wiretrack.errors import BadInputError, RegistryError
from wiretrack.records import Reading
from wiretrack.registry import keeping, ringouts
from wiretrack.registry.health import problems
from wiretrack.registry.identity import part_id
from wiretrack.registry.store import open_registry
from wiretrack.tags import format_tag
from wiretrack.tasks.landing import land as land_end
from wiretrack.tasks.merging import decisions_of, meeting, read_decisions
from wiretrack.tasks.sites import dump_site, new_site

if TYPE_CHECKING:
    from pathlib import Path

    from wiretrack.registry.merging import Coming

NEW = pump.tag("9ABCDE")


@pytest.fixture
def a(tmp_path: Path) -> Laptop:
    return first_laptop(tmp_path)


@pytest.fixture
def b(a: Laptop, tmp_path: Path) -> Laptop:
    return a.twin(tmp_path / "b.db")


def look(laptop: Laptop, other: Path | Laptop, **typed: Any) -> Coming:
    file = other.path if isinstance(other, Laptop) else other
    with laptop.open() as registry, meeting(registry, file) as met:
        return met.look(decisions_of(**typed))


def merge(laptop: Laptop, other: Path | Laptop, **typed: Any) -> dict[str, Any]:
    file = other.path if isinstance(other, Laptop) else other
    with laptop.open() as registry, meeting(registry, file) as met:
        found = met.merge(decisions_of(**typed), who="Ada")
        assert problems(registry) == []
        return found


def write(laptop: Laptop, sql: str, *values: object) -> None:
    with laptop.open() as registry, registry.write("someone") as db:
        db.execute(sql, list(values))


def one(laptop: Laptop, sql: str, *values: object) -> Any:
    with laptop.open() as registry:
        row = registry.row(sql, list(values))
        return row and next(iter(row.values()))


def test_both_values_are_shown_with_who_wrote_them_and_when(a: Laptop, b: Laptop) -> None:
    with a.open() as registry, registry.write("Ada") as db:
        db.execute("UPDATE conductors SET note = 'chafed' WHERE tag = ?", [L1])
    with b.open() as registry, registry.write("Bob") as db:
        db.execute("UPDATE conductors SET note = 'sound' WHERE tag = ?", [L1])
    (found,) = look(a, b).undecided
    assert found.key == f"conductor/{format_tag(L1)}/note"
    assert (found.mine.value, found.mine.by) == ("chafed", "Ada")
    assert (found.theirs.value, found.theirs.by) == ("sound", "Bob")
    moment = one(b, "SELECT max(at) FROM changes WHERE record IN (SELECT id FROM conductors)")
    assert found.theirs.at == moment


def test_an_undecided_merge_writes_nothing(a: Laptop, b: Laptop) -> None:
    annotate(a, "one", 0)
    annotate(b, "two", 0)
    land(b, "JB1", 1)
    before = a.state()
    with pytest.raises(BadInputError) as caught:
        merge(a, b)
    assert str(caught.value) == (
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
    assert last["by"] == "Ada"
    assert json.loads(last["old"])["note"] == "note two"
    assert json.loads(last["new"])["note"] == "note one"


def test_of_two_boxes_of_one_code_one_is_called_otherwise(a: Laptop, b: Laptop) -> None:
    for laptop, kind in ((a, "junction-box"), (b, "wireway")):
        with laptop.open() as registry, registry.write() as db:
            row = {"id": f"00000000-0000-4000-8000-{len(kind):012}", "code": "JB7", "kind": kind}
            keeping.insert(db, "enclosures", row)
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
                keeping.insert(db, "enclosures", row)
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
            keeping.insert(
                db, "conductors", {**like, "id": record, "tag": NEW, "function": function}
            )
            for side in ("from", "to"):
                end = dict(registry.rows("SELECT * FROM ends WHERE side = ?", [side])[0])
                end |= {"id": part_id(record, f"end:{side}"), "conductor_id": record}
                keeping.insert(db, "ends", end)
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
            keeping.add_reading(registry, reading)
    (notice,) = look(a, b).notices["corrected_twice"]
    assert (notice["mine"], notice["theirs"], notice["id"]) == ("0.31 ohm", "0.41 ohm", first)
    merge(a, b)
    assert a.ids("readings") == a.ids("readings") | b.ids("readings")
    with a.open() as registry, pytest.raises(sqlite3.IntegrityError, match="superseded already"):
        keeping.add_reading(registry, reading)


def test_ends_landed_apart_on_one_terminal_are_named(a: Laptop, b: Laptop) -> None:
    with a.open() as registry:
        land_end(registry, L1, "PH1", terminal="X1")
    with b.open() as registry:
        land_end(registry, L2, "PH1", terminal="X1")
    found = merge(a, b)
    tags = sorted(map(format_tag, (L1, L2)))
    assert found["shared_terminals"] == [{"terminal": "PH1/X1", "tags": tags}]
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
        keeping.insert(db, "conductors", {**like, "id": record, "tag": NEW})
        for side in ("from", "to"):
            end = dict(registry.rows("SELECT * FROM ends WHERE side = ?", [side])[0])
            end |= {"id": part_id(record, f"end:{side}"), "conductor_id": record}
            keeping.insert(db, "ends", end)
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
    assert len(a.ids("ringout_answers")) == 6
    with a.open() as registry:
        found = ringouts.latest_ringout(registry, "P1")
        assert found is not None
        assert [x.answer["answer"] for x in found.answers] == ["both", *["theirs"] * 3]
        assert found.result == {"matches": [], "walks": 4}
        ringouts.add_answer(registry, found.id, {"step": 5}, {"answer": "after"}, after=4)
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
    assert str(caught.value).startswith(f"{b.path} is damaged: conductor PMP001G has not two ends")
    assert str(caught.value).endswith(f"Prove it with: wiretrack --db {b.path} verify")


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
    assert str(caught.value) == message


def test_a_decision_on_what_is_no_conflict_is_refused(a: Laptop, b: Laptop) -> None:
    annotate(a, "one", 0)
    annotate(b, "two", 0)
    with pytest.raises(BadInputError) as caught:
        look(a, b, decided=["conductor/X/note=mine"])
    assert str(caught.value) == (
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


MERGER = """
import os, signal, sys
from pathlib import Path
from wiretrack.registry import merging
from wiretrack.registry.store import open_registry
from wiretrack.tasks.merging import decisions_of, meeting

die_at = sys.argv[3]
if die_at:
    setattr(merging, die_at, lambda *_: os.kill(os.getpid(), signal.SIGKILL))
with open_registry(sys.argv[1]) as registry, meeting(registry, Path(sys.argv[2])) as met:
    print("ready", flush=True)
    met.merge(decisions_of(rest="theirs"))
"""


def started(copy: Laptop, other: Laptop, die_at: str = "") -> subprocess.Popen[str]:
    command = [sys.executable, "-c", MERGER, str(copy.path), str(other.path), die_at]
    return subprocess.Popen(command, stdout=subprocess.PIPE, text=True)


@pytest.fixture
def much(b: Laptop) -> Laptop:
    for number in range(30):
        read(b, "", number)
        annotate(b, str(number), number)
        ring(b, "x", number)
    return b


@pytest.mark.parametrize("place", ["_apply", "refresh_search", "_prove"])
def test_a_merge_killed_between_its_writes_leaves_nothing(
    place: str, a: Laptop, much: Laptop
) -> None:
    before = a.state(), a.ids("changes")
    with started(a, much, place) as process:
        assert process.wait() == -signal.SIGKILL
    assert (a.state(), a.ids("changes")) == before
    with open_registry(a.path) as registry:
        assert problems(registry) == []


def test_a_merge_killed_at_any_moment_leaves_all_or_nothing(
    a: Laptop, much: Laptop, tmp_path: Path
) -> None:
    nothing, moments = a.state(), random.Random(8)
    whole = a.twin(tmp_path / "whole.db")
    merge(whole, much)
    for number in range(10):
        copy = a.twin(tmp_path / f"killed{number}.db")
        with started(copy, much) as process:
            assert process.stdout is not None
            assert process.stdout.readline() == "ready\n"
            time.sleep(moments.uniform(0, 0.12))
            os.kill(process.pid, signal.SIGKILL)
        assert copy.state() in (nothing, whole.state())
        with open_registry(copy.path) as registry:
            assert problems(registry) == []
