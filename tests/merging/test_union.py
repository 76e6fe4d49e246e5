# SPDX-License-Identifier: MIT
"""What is undecided after copies met: fields, routes, names; how it is decided, what is refused."""

from __future__ import annotations

import json
import uuid
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pytest

from tests.merging.laptops import (
    Laptop,
    annotate,
    land,
    one,
    place_label,
    print_label,
    read,
    retire,
    ring,
    write,
)
from tests.pump import L1, L2
from wiretrack.errors import BadInputError
from wiretrack.model.entities import Conductor, Pull, Reading
from wiretrack.model.tags import format_tag
from wiretrack.procedure import RINGOUT
from wiretrack.store import procedures, reading_log, writers, writing
from wiretrack.store.rows import part_id
from wiretrack.store.source import site_of
from wiretrack.store.undecided import decide

if TYPE_CHECKING:
    from pathlib import Path

NOTE = "SELECT note FROM conductors WHERE tag = ?"
KEY = f"conductor/{format_tag(L1)}/note"


def values(laptop: Laptop) -> dict[str, list[str]]:
    return {each.key: [said.value for said in each.values] for each in laptop.undecided()}


def decided(laptop: Laptop, key: str, answer: str) -> None:
    with laptop.open() as registry:
        decide(registry, key, answer, who="office")


def both_agree(a: Laptop, b: Laptop) -> None:
    a.merge(b)
    b.merge(a)
    assert a.state() == b.state()
    assert a.problems() == b.problems() == []


def test_a_field_that_both_changed_is_undecided_with_who_said_what(a: Laptop, b: Laptop) -> None:
    write(a, "UPDATE conductors SET note = 'chafed' WHERE tag = ?", L1)
    write(b, "UPDATE conductors SET note = 'sound' WHERE tag = ?", L1)
    both_agree(a, b)
    (found,) = a.undecided()
    assert found.key == KEY
    assert [(said.value, said.by) for said in found.values] == [
        ("chafed", a.path.stem), ("sound", b.path.stem),
    ]  # fmt: skip
    assert one(a, NOTE, L1) == one(b, NOTE, L1) == "chafed"


@pytest.mark.parametrize(
    ("statement", "named"),
    [
        (
            "UPDATE operations SET said = replace(said, 'chafed', 'chased')",
            "what entries say of it",
        ),
        ("DELETE FROM operations WHERE nr = (SELECT min(nr) FROM operations)", "what entries say"),
        (
            "UPDATE undecided SET said = replace(said, 'chafed', 'chased')",
            "what is undecided of it",
        ),
        ("DELETE FROM undecided", "what is undecided of it isn't what the log says"),
        ("DROP TRIGGER log_stays; UPDATE log SET have = 1 WHERE have > 1", "which entry says what"),
    ],
)
def test_what_is_kept_beside_the_log_is_proved_by_it(
    statement: str, named: str, a: Laptop, b: Laptop
) -> None:
    import sqlite3
    from contextlib import closing

    write(a, "UPDATE conductors SET note = 'chafed' WHERE tag = ?", L1)
    write(b, "UPDATE conductors SET note = 'sound' WHERE tag = ?", L1)
    both_agree(a, b)
    annotate(a, "one", 1)
    assert a.problems() == []
    with closing(sqlite3.connect(a.path)) as db:
        db.executescript(statement)
    assert any(named in problem for problem in a.problems())


def test_two_who_say_the_same_are_agreed(a: Laptop, b: Laptop) -> None:
    for laptop in (a, b):
        write(laptop, "UPDATE conductors SET note = 'sound' WHERE tag = ?", L1)
    both_agree(a, b)
    assert a.undecided() == []


def test_different_fields_of_one_record_are_both_taken(a: Laptop, b: Laptop) -> None:
    write(a, "UPDATE conductors SET note = 'sound' WHERE tag = ?", L1)
    write(b, "UPDATE conductors SET colour = 'BK' WHERE tag = ?", L1)
    both_agree(a, b)
    assert a.undecided() == []
    assert one(a, "SELECT note || colour FROM conductors WHERE tag = ?", L1) == "soundBK"


@pytest.mark.parametrize("number", [1, 2])
def test_a_decision_holds_in_every_copy_for_the_shown_value_too(
    number: int, a: Laptop, b: Laptop, tmp_path: Path
) -> None:
    write(a, "UPDATE conductors SET note = 'chafed' WHERE tag = ?", L1)
    write(b, "UPDATE conductors SET note = 'sound' WHERE tag = ?", L1)
    c = b.twin(tmp_path / "c.db")
    a.merge(b)
    decided(a, KEY, str(number))
    wanted = ["chafed", "sound"][number - 1]
    for laptop in (a, b, c):
        laptop.merge(a) if laptop is not a else None
        assert (laptop.undecided(), one(laptop, NOTE, L1)) == ([], wanted)
    both_agree(a, c)


def test_an_ordinary_change_that_knows_both_decides(a: Laptop, b: Laptop) -> None:
    annotate(a, "one", 0)
    annotate(b, "two", 0)
    a.merge(b)
    write(a, "UPDATE conductors SET note = 'three' WHERE tag = ?", L1)
    both_agree(a, b)
    assert (a.undecided(), one(b, NOTE, L1)) == ([], "three")


def test_a_change_that_knows_only_one_of_them_decides_nothing(
    a: Laptop, b: Laptop, tmp_path: Path
) -> None:
    annotate(a, "one", 0)
    annotate(b, "two", 0)
    c = b.twin(tmp_path / "c.db")
    a.merge(b)
    write(c, "UPDATE conductors SET note = 'three' WHERE tag = ?", L1)  # knows b's, not a's
    both_agree(a, c)
    assert values(a) == {KEY: ["note one", "three"]}


def test_two_decisions_made_apart_are_undecided_again(a: Laptop, b: Laptop, tmp_path: Path) -> None:
    annotate(a, "one", 0)
    annotate(b, "two", 0)
    c = a.twin(tmp_path / "c.db")
    a.merge(b)
    c.merge(b)
    decided(a, KEY, "1")
    decided(c, KEY, "2")
    both_agree(a, c)
    assert values(a) == {KEY: ["note one", "note two"]}


def test_a_clock_decides_nothing(a: Laptop, b: Laptop, monkeypatch: pytest.MonkeyPatch) -> None:
    annotate(a, "one", 0)
    monkeypatch.setattr("wiretrack.days.utc_now", lambda: "2099-01-01T00:00:00.000Z")
    annotate(b, "two", 0)
    both_agree(a, b)
    assert values(a) == {KEY: ["note one", "note two"]}


def test_a_landing_is_one(a: Laptop, b: Laptop) -> None:
    land(a, "1", 3)
    land(b, "", 0)
    both_agree(a, b)
    key = f"end/{format_tag(L1)}/to/landing"
    assert values(a) == {key: ["PH1 X1 landed", "PH1 capped"]}
    decided(a, key, "2")
    both_agree(a, b)
    sql = "SELECT state, terminal_id FROM ends WHERE side = 'to' ORDER BY rowid LIMIT 1"
    with b.open() as registry:
        assert registry.row(sql) == {"state": "capped", "terminal_id": None}


def test_ends_landed_apart_on_one_terminal_share_it(a: Laptop, b: Laptop) -> None:
    land(a, "1", 3)
    land(b, "1", 1)
    both_agree(a, b)
    assert a.undecided() == []
    sql = "SELECT count(*) FROM ends AS e JOIN terminals AS t ON t.id = e.terminal_id"
    assert one(b, f"{sql} WHERE t.code = 'X1'") == 2


def box(laptop: Laptop, code: str, number: int, **more: Any) -> str:
    record = f"00000000-0000-4000-8000-{number:012}"
    with laptop.open() as registry, registry.write("someone") as db:
        writing.insert(db, "enclosures", [{"id": record, "code": code, **more}])
    return record


def codes(laptop: Laptop) -> dict[str, str]:
    sql = "SELECT id, code FROM enclosures WHERE code LIKE 'JB%' ORDER BY id"
    with laptop.open() as registry:
        return {row["id"][-1]: row["code"] for row in registry.rows(sql)}


def test_two_boxes_of_one_code_both_stay_until_one_is_renamed(a: Laptop, b: Laptop) -> None:
    box(a, "JB7", 2, name="mine")
    box(b, "JB7", 1, name="theirs")
    both_agree(a, b)
    assert codes(a) == {"1": "JB7", "2": "JB7 (2)"}
    assert values(a) == {"enclosure/JB7 (2)/same": ["JB7"]}
    write(b, "UPDATE enclosures SET name = 'shed' WHERE code = 'JB7 (2)'")
    both_agree(a, b)
    assert codes(b) == {"1": "JB7", "2": "JB7 (2)"}
    decided(b, "enclosure/JB7 (2)/same", "JB8")
    both_agree(a, b)
    assert (codes(a), a.undecided()) == ({"1": "JB7", "2": "JB8"}, [])


def test_where_the_first_is_renamed_the_second_gets_its_own_name(a: Laptop, b: Laptop) -> None:
    box(a, "JB7", 1)
    box(b, "JB7", 2)
    both_agree(a, b)
    write(a, "UPDATE enclosures SET code = 'JB9' WHERE code = 'JB7'")
    assert codes(a) == {"1": "JB9", "2": "JB7"}
    both_agree(a, b)
    assert (codes(b), b.undecided()) == ({"1": "JB9", "2": "JB7"}, [])


def test_a_number_that_is_somebodys_name_is_left_to_it(
    a: Laptop, b: Laptop, tmp_path: Path
) -> None:
    c = a.twin(tmp_path / "c.db")
    box(a, "JB7", 1)
    box(b, "JB7", 2)
    box(c, "JB7 (2)", 3)
    a.merge(b)
    assert codes(a) == {"1": "JB7", "2": "JB7 (2)"}
    c.merge(b)
    both_agree(a, c)
    assert codes(a) == {"1": "JB7", "2": "JB7 (3)", "3": "JB7 (2)"}
    write(a, "UPDATE enclosures SET code = 'JB1' WHERE code = 'JB7 (2)'")
    both_agree(a, c)
    assert codes(c) == {"1": "JB7", "2": "JB7 (2)", "3": "JB1"}


def test_codes_swapped_in_one_copy_come_over(a: Laptop, b: Laptop) -> None:
    for code, new in (("MDB", "T"), ("PH1", "MDB"), ("T", "PH1")):
        write(b, "UPDATE enclosures SET code = ? WHERE code = ?", new, code)
    both_agree(a, b)
    assert a.undecided() == []


def test_two_conductors_of_one_tag_both_stay(a: Laptop, b: Laptop) -> None:
    new = "9ABCDE"
    from tests.pump import tag

    for number, laptop in enumerate((a, b), 1):
        record = f"00000000-0000-4000-8000-00000000000{number}"
        with laptop.open() as registry, registry.write() as db:
            like = registry.rows("SELECT * FROM conductors LIMIT 1")[0]
            like |= {"nr": None, "came": None, "id": record, "tag": tag(new)}
            writing.insert(db, "conductors", [like])
            for side in ("from", "to"):
                end = registry.rows("SELECT * FROM ends WHERE side = ?", [side])[0]
                end |= {"id": part_id(record, f"end:{side}"), "conductor_id": record}
                writing.insert(db, "ends", [end])
    both_agree(a, b)
    (found,) = a.undecided()
    assert found.values[0].value == format_tag(tag(new))
    other = tag("9XYZ99")
    decided(a, found.key, other)
    both_agree(a, b)
    assert one(b, "SELECT count(*) FROM conductors WHERE tag = ?", other) == 1


def routed(laptop: Laptop, *route: str) -> None:
    """Lead the pull through raceways that are made where they are new."""
    with laptop.open() as registry, registry.write("someone") as db:
        (pull,) = registry.rows("SELECT id FROM pulls")
        (like,) = registry.rows("SELECT * FROM raceways WHERE code = 'W1'")
        for position, code in enumerate(route, 1):
            raceway = registry.row("SELECT id FROM raceways WHERE code = ?", [code])
            if raceway is None:
                raceway = {**like, "nr": None, "id": str(uuid.uuid4()), "code": code}
                writing.insert(db, "raceways", [raceway])
            leg = {"id": part_id(pull["id"], f"raceway:{position}"), "pull_id": pull["id"]}
            leg |= {"position": position, "raceway_id": raceway["id"]}
            sql = "UPDATE pull_raceways SET raceway_id = :raceway_id WHERE id = :id"
            if db.conn.execute(sql, leg).rowcount == 0:
                writing.insert(db, "pull_raceways", [leg])
        db.execute("DELETE FROM pull_raceways WHERE position > ?", [len(route)])


def way(laptop: Laptop) -> list[str]:
    with laptop.open() as registry:
        return list(site_of(registry).one(Pull, "P1").route.raceways)


def test_a_route_is_one(a: Laptop, b: Laptop) -> None:
    routed(a, "A1", "A2")
    routed(b, "B1", "B2", "B3")
    both_agree(a, b)
    (found,) = a.undecided()
    assert found.key == "pull/P1/route"
    ways = [said.value.split(", ") for said in found.values]
    assert sorted(ways) == [["A1", "A2"], ["B1", "B2", "B3"]]
    assert way(a) == ways[0]
    for number in (2, 1):
        decided(a, found.key, str(number)) if number == 2 else routed(a, *ways[0])
        both_agree(a, b)
        assert (way(b), b.undecided()) == (ways[number - 1], [])


def test_a_route_that_one_copy_changed_twice_is_the_last(a: Laptop, b: Laptop) -> None:
    routed(b, "B1", "B2", "B3")
    routed(b, "B1")
    annotate(a, "one", 0)
    both_agree(a, b)
    assert (way(a), a.undecided()) == (["B1"], [])


def test_the_history_has_the_lines_of_both_as_each_saw_them(a: Laptop, b: Laptop) -> None:
    write(a, "UPDATE conductors SET note = 'one' WHERE tag = ?", L1)
    write(b, "UPDATE conductors SET colour = 'BK' WHERE tag = ?", L1)
    a.merge(b)
    with a.open() as registry:
        line = registry.rows("SELECT by, old, new FROM changes ORDER BY seq DESC LIMIT 1")[0]
    old, new = json.loads(line["old"]), json.loads(line["new"])
    assert (line["by"], old["colour"], new["colour"]) == (b.path.stem, "BN", "BK")
    assert new["note"] is None  # b didn't know a's


def test_a_reading_of_one_id_that_says_something_else_is_refused_and_named(
    a: Laptop, b: Laptop
) -> None:
    reading = Reading(
        kind="continuity", subject=L1, value="0.3", number=0.3, unit="ohm",
        id="00000000-0000-4000-8000-000000000007",
    )  # fmt: skip
    annotate(b, "before", 0)
    for laptop, by in ((a, "roof"), (b, "cellar")):
        with laptop.open() as registry:
            reading_log.add_reading(registry, replace(reading, by=by))
    found = a.merge(b)
    assert [each.why for each in found.taken.refused] == [
        f"readings {reading.id} is there, and says something else"
    ]
    assert one(a, "SELECT by FROM readings") == "roof"
    assert one(a, NOTE, L1) == "note before"  # what came before it was taken
    assert a.problems() == []


def cloned(laptop: Laptop, path: Path) -> Laptop:
    """Clone a disk: the registry, and who writes in it."""
    twin = Laptop(path, laptop.model.twin())
    path.write_bytes(laptop.path.read_bytes())
    own = writers.kept(laptop.path)
    assert own is not None
    writers.keep(path, own)
    return twin


def test_a_cloned_disk_is_named_and_all_else_is_merged(
    a: Laptop, b: Laptop, tmp_path: Path
) -> None:
    annotate(a, "first", 0)
    with a.open() as registry:
        registry.connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    clone = cloned(a, tmp_path / "clone.db")
    annotate(a, "mine", 1)
    annotate(clone, "theirs", 2)
    annotate(b, "other", 1)
    clone.merge(b)
    found = a.merge(clone)
    (refused,) = found.taken.refused
    assert "two copies wrote under its name" in refused.why
    assert a.merge(clone).nothing_new
    assert f"conductor/{format_tag(L2)}/note" in values(a)  # b's came by the clone
    annotate(a, "after", 1)
    with a.open() as registry:  # under a new name from now on
        rows = registry.rows("SELECT writer FROM log ORDER BY nr DESC LIMIT 1")
    assert rows[0]["writer"].hex() != refused.writer
    assert a.problems() == clone.problems() == []
    assert b.merge(a).taken.refused == []


def test_what_was_broken_off_goes_on_where_it_was(
    a: Laptop, b: Laptop, monkeypatch: pytest.MonkeyPatch
) -> None:
    from wiretrack.store import tails

    for number in range(12):
        annotate(b, str(number), number)
    monkeypatch.setattr(tails, "MOST_ENTRIES", 4)
    after = tails.StoredTail.after

    def breaking(*args: Any) -> Any:
        for number, entry in enumerate(after(*args)):
            if number == 9:
                raise OSError("the stick was pulled out")
            yield entry

    monkeypatch.setattr(tails.StoredTail, "after", breaking)
    with pytest.raises(OSError, match="stick"):
        a.merge(b)
    assert a.problems() == []
    monkeypatch.setattr(tails.StoredTail, "after", after)
    left = a.merge(b).taken.entries
    assert 0 < left < 14
    both_agree(a, b)


def test_what_was_looked_at_is_not_written(a: Laptop, b: Laptop) -> None:
    from wiretrack.tasks.change.merging import merge

    annotate(b, "one", 0)
    before = a.state()
    with a.open() as registry:
        found = merge(registry, b.path, look=True)
    assert (found.taken.changes, found.written) == (1, False)
    assert a.state() == before


def test_a_ring_out_that_went_on_apart_keeps_every_answer(a: Laptop, b: Laptop) -> None:
    ring(a, "both", 2)
    b = a.twin(b.path.with_name("b2.db"))
    for number in (2, 3):
        ring(a, "mine", number)
    for number in (2, 3, 4):
        ring(b, "theirs", number)
    both_agree(a, b)
    assert len(a.ids("procedure_answers")) == 6
    with a.open() as registry:
        found = procedures.latest(registry, RINGOUT, pull="P1")
        assert found is not None
        assert [x.answer["answer"] for x in found.answers] == ["both", *["theirs"] * 3]


def test_readings_and_what_corrects_them_are_all_kept(a: Laptop, b: Laptop) -> None:
    read(a, "", 0)
    b = a.twin(b.path.with_name("b2.db"))
    for laptop in (a, b):
        read(laptop, "", 1)
    both_agree(a, b)
    assert one(a, "SELECT count(*) FROM readings WHERE supersedes IS NOT NULL") == 2


@pytest.mark.parametrize(
    ("key", "answer", "words"),
    [("conductor/X/note", "1", "is not undecided. That is: conductor/PMP-001G"),
     (KEY, "3", "'3' is none of the values of"), (KEY, "x", "'x' is none of the values of")],
)  # fmt: skip
def test_a_wrong_decision_is_refused(
    key: str, answer: str, words: str, a: Laptop, b: Laptop
) -> None:
    annotate(a, "one", 0)
    annotate(b, "two", 0)
    a.merge(b)
    with pytest.raises(BadInputError, match=words):
        decided(a, key, answer)
    assert len(a.undecided()) == 1


def test_what_is_undecided_is_on_the_punch_list_and_makes_verdicts_doubts(
    a: Laptop, b: Laptop
) -> None:
    from wiretrack.tasks.find.showing import conductor_page
    from wiretrack.tasks.report.punchlist import punch_list

    sql = "UPDATE conductors SET length_m = 20 WHERE tag = ?"
    write(a, sql, L1)
    read(a, "", 0)
    with a.open() as registry:
        before = site_of(registry).one(Conductor, L1).readings[-1].verdict
    write(b, sql.replace("20", "30"), L1)
    both_agree(a, b)
    for laptop in (a, b):
        with laptop.open() as registry:
            rows = [row for row in punch_list(registry) if row.what == "undecided"]
            assert [(row.subject, row.detail) for row in rows] == [
                (format_tag(L1), "length m: 20 m or 30 m")
            ]
            shown = [row for row in conductor_page(registry, L1).points if row.what == "undecided"]
            assert shown == rows
            verdict = site_of(registry).one(Conductor, L1).readings[-1].verdict
            assert verdict.outcome == "doubt"
            assert "undecided is the length m: 20 m or 30 m; " in verdict.reason
    decided(a, f"conductor/{format_tag(L1)}/length_m", "1")
    with a.open() as registry:
        assert site_of(registry).one(Conductor, L1).readings[-1].verdict == before
        assert [row for row in punch_list(registry) if row.what == "undecided"] == []


def added(laptop: Laptop, code: str, *more: str) -> None:
    from wiretrack.cli.group import run

    assert run(["--db", str(laptop.path), "add", *more[:1], code, *more[1:]]) == 0


def undone(laptop: Laptop) -> None:
    from wiretrack.cli.group import run

    assert run(["--db", str(laptop.path), "undo"]) == 0


def a_wire_removed_in_a_and_read_in_b(a: Laptop, b: Laptop) -> str:
    """Add a wire on a new terminal, hand it on, undo it in one copy and read it in the other."""
    added(a, "N", "conductor", "circuit=PUMP", "size=4 mm2", "from=MDB/Q9:1", "to=PH1")
    b.merge(a)
    tag = one(a, "SELECT tag FROM conductors ORDER BY nr DESC LIMIT 1")
    undone(a)
    assert one(a, "SELECT 1 FROM conductors WHERE tag = ?", tag) is None
    with b.open() as registry:
        reading = Reading(kind="continuity", subject=tag, value="0.3", number=0.3, unit="ohm")
        reading_log.add_reading(registry, replace(reading, by="roof"))
    return str(tag)


def test_a_removal_is_void_as_a_whole_while_others_worked_on_what_it_removes(
    a: Laptop, b: Laptop, tmp_path: Path
) -> None:
    from wiretrack.tasks.report.punchlist import punch_list

    tag = a_wire_removed_in_a_and_read_in_b(a, b)
    c = a.twin(tmp_path / "c.db")
    both_agree(a, b)
    c.merge(b)
    assert c.state() == a.state()
    key = f"conductor/{format_tag(tag)}/removed"
    assert values(a) == {key: ["worked on", "removed"]}
    sql = "SELECT t.code FROM ends AS e JOIN terminals AS t ON t.id = e.terminal_id JOIN"
    assert one(a, f"{sql} conductors AS c ON c.id = e.conductor_id WHERE c.tag = ?", tag) == "Q9:1"
    with a.open() as registry:
        (row,) = [row for row in punch_list(registry) if row.what == "undecided"]
        verdict = site_of(registry).one(Conductor, tag).readings[-1].verdict
    assert row.subject == format_tag(tag)
    assert row.detail.startswith("worked on by ")
    assert " and removed by " in row.detail
    assert verdict.outcome == "doubt"
    with pytest.raises(BadInputError, match=r"conductor .* stays: it has readings"):
        decided(a, key, "2")
    assert values(a) == {key: ["worked on", "removed"]}
    decided(b, key, "1")
    both_agree(a, b)
    c.merge(a)
    assert c.state() == a.state()
    assert a.undecided() == []
    assert one(c, "SELECT count(*) FROM ends AS e JOIN conductors AS c ON c.id = e.conductor_id"
               " WHERE c.tag = ?", tag) == 2  # fmt: skip


def test_a_removal_that_nobody_worked_against_holds_in_every_copy(a: Laptop, b: Laptop) -> None:
    added(a, "N", "conductor", "circuit=PUMP", "size=4 mm2", "from=MDB/Q9:1", "to=PH1")
    b.merge(a)
    undone(a)
    annotate(b, "one", 0)
    both_agree(a, b)
    assert a.undecided() == []
    assert one(b, "SELECT count(*) FROM terminals WHERE code = 'Q9:1'") == 0


def test_a_removal_decided_for_takes_away_all_that_it_removed(a: Laptop, b: Laptop) -> None:
    added(a, "JB7", "enclosure")
    b.merge(a)
    undone(a)
    write(b, "UPDATE enclosures SET name = 'shed' WHERE code = 'JB7'")
    both_agree(a, b)
    assert values(b) == {"enclosure/JB7/removed": ["worked on", "removed"]}
    decided(b, "enclosure/JB7/removed", "2")
    both_agree(a, b)
    assert (a.undecided(), codes(a)) == ([], {})


def test_what_was_removed_comes_back_with_what_is_put_into_it(a: Laptop, b: Laptop) -> None:
    added(a, "JB7", "enclosure")
    b.merge(a)
    undone(a)
    added(b, "W9", "raceway", "from=JB7", "to=MDB")
    both_agree(a, b)
    assert [*values(a)] == ["enclosure/JB7/removed"]
    write(b, "DELETE FROM raceways WHERE code = 'W9'")  # it was work on the box all the same
    both_agree(a, b)
    assert [*values(a)] == ["enclosure/JB7/removed"]


@pytest.mark.parametrize("work", [read, print_label, place_label, land])
def test_a_wire_retired_in_one_copy_and_worked_on_in_another_is_undecided(
    work: Any, a: Laptop, b: Laptop, tmp_path: Path
) -> None:
    retire(a, "", 0)
    work(b, "1", 3)
    c = a.twin(tmp_path / "c.db")
    both_agree(a, b)
    c.merge(b)
    assert c.state() == a.state()
    key = f"conductor/{format_tag(L1)}/retired"
    assert values(a) == {key: ["in use", "2026-01-01 removed"]}
    sql = "SELECT retired_at FROM conductors WHERE tag = ?"
    assert one(a, sql, L1) is None
    decided(a, key, "2")
    both_agree(a, b)
    assert (one(b, sql, L1), b.undecided()) == ("2026-01-01", [])


def test_work_that_knew_of_the_retirement_or_that_it_knew_of_leaves_it(
    a: Laptop, b: Laptop
) -> None:
    read(a, "", 0)
    retire(a, "", 0)
    b.merge(a)
    read(b, "", 0)
    both_agree(a, b)
    assert a.undecided() == []
    annotate(a, "one", 1)
    retire(b, "", 1)
    both_agree(a, b)
    assert a.undecided() == []  # a note is no work on a wire


def test_a_circuit_retired_in_one_copy_and_worked_on_in_another_is_undecided(
    a: Laptop, b: Laptop
) -> None:
    write(a, "UPDATE circuits SET retired_at = '2026-01-01' WHERE code = 'PUMP'")
    added(b, "N", "conductor", "circuit=PUMP", "size=4 mm2", "from=MDB", "to=PH1")
    both_agree(a, b)
    assert values(a) == {"circuit/PUMP/retired": ["in use", "2026-01-01"]}


def test_a_note_that_is_undecided_leaves_verdicts_as_they_are(a: Laptop, b: Laptop) -> None:
    write(a, "UPDATE conductors SET length_m = 20 WHERE tag = ?", L1)
    b = a.twin(b.path.with_name("b2.db"))
    read(a, "", 0)
    with a.open() as registry:
        before = site_of(registry).one(Conductor, L1).readings[-1].verdict
    annotate(a, "one", 0)
    annotate(b, "two", 0)
    both_agree(a, b)
    with a.open() as registry:
        assert site_of(registry).one(Conductor, L1).readings[-1].verdict == before
