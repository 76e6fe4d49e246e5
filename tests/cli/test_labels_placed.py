# SPDX-License-Identifier: MIT
"""Due, printed, placed: only a label that somebody says is on its wire makes an end labelled."""

from __future__ import annotations

import json
import sqlite3
from typing import TYPE_CHECKING, Any

import pytest

from tests.pump import L1, L2, PE
from wiretrack.model.tags import check_character, format_tag
from wiretrack.store.health import problems
from wiretrack.store.store import open_registry

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Wiretrack

FLAG = "flag-70x16-300"
ONE, TWO, THREE = map(format_tag, (L1, L2, PE))


def drawn(wiretrack: Wiretrack, folder: Path, what: str = "P1", *more: str) -> Path:
    out = folder / "labels.pdf"
    assert wiretrack("label", "print", what, "--stock", FLAG, "--out", out, *more).status == 0
    return out


def land(wiretrack: Wiretrack, tag: str, terminal: str, box: str = "PH1") -> None:
    assert wiretrack("land", tag, box, "--terminal", terminal, "--new-terminal").status == 0


def labelled(wiretrack: Wiretrack, tag: str) -> list[bool]:
    return [end["labelled"] for end in wiretrack("show", tag, "--json").json["ends"]]


def not_labelled(wiretrack: Wiretrack) -> list[str]:
    rows = wiretrack("punchlist", "--json").json
    return [row["subject"] for row in rows if row["what"] == "end not labelled"]


def test_a_file_drawn_is_no_label_on_a_wire(wiretrack: Wiretrack, tmp_path: Path) -> None:
    drawn(wiretrack, tmp_path).unlink()
    assert labelled(wiretrack, L1) == [False, False]
    assert not_labelled(wiretrack) == [ONE, ONE, TWO, TWO, THREE, THREE]
    assert "printed, not on" in wiretrack("show", L1).words
    rows = wiretrack("label", "due", L1, "--json").json
    assert [(row["why"], row["to_print"]) for row in rows] == [("printed, not yet on", False)] * 2
    done = wiretrack("label", "placed", L1, "--end", "from", "--json")
    assert (done.status, [row["end"] for row in done.json["placed"]]) == (0, ["from"])
    assert labelled(wiretrack, L1) == [True, False]
    assert not_labelled(wiretrack) == [ONE, TWO, TWO, THREE, THREE]
    assert [row["end"] for row in wiretrack("label", "due", L1, "--json").json] == ["to"]


def test_what_is_printed_waits_and_is_not_printed_again_as_due(
    wiretrack: Wiretrack, tmp_path: Path
) -> None:
    out = drawn(wiretrack, tmp_path)
    ran = wiretrack("label", "print", "--due", "--stock", FLAG, "--out", out)
    assert "No label is due to be printed" in ran.words
    assert "6 labels printed before, not yet on." in ran.words
    assert wiretrack("label", "print", L1, "--stock", FLAG, "--out", out).status == 0


@pytest.mark.parametrize(
    ("what", "placed"),
    [
        (ONE, {ONE: 2}),
        ("PUMP", {ONE: 2, TWO: 2, THREE: 2}),
        ("P1", {ONE: 2, TWO: 2, THREE: 2}),
        ("W1", {ONE: 2, TWO: 2, THREE: 2}),
        ("ph1", {ONE: 1, TWO: 1, THREE: 1}),
        (f"WT:{L2}", {TWO: 2}),
    ],
)
def test_labels_are_on_for_a_tag_a_circuit_a_pull_a_raceway_or_the_ends_in_a_box(
    wiretrack: Wiretrack, tmp_path: Path, what: str, placed: dict[str, int]
) -> None:
    drawn(wiretrack, tmp_path)
    for number, tag in enumerate((L1, L2, PE)):
        land(wiretrack, tag, f"TB1:{number}")
    rows = wiretrack("label", "placed", what, "--json").json["placed"]
    assert {tag: [row["tag"] for row in rows].count(tag) for tag in placed} == placed
    assert len(rows) == sum(placed.values())
    assert all(not row["by_hand"] for row in rows)
    if what == "ph1":
        assert {row["end"] for row in rows} == {"to"}
    again = wiretrack("label", "placed", what, "--json").json
    assert (again["placed"], again["already"]) == (
        [], [{k: v for k, v in row.items() if k != "by_hand"} for row in rows],
    )  # fmt: skip
    assert "noted before" in wiretrack("label", "placed", what).words


def test_a_label_that_says_less_stays_true_and_one_that_says_something_else_does_not(
    wiretrack: Wiretrack, tmp_path: Path
) -> None:
    drawn(wiretrack, tmp_path)
    land(wiretrack, L1, "TB1:1")  # since it was printed
    wiretrack("label", "placed", L1)
    assert labelled(wiretrack, L1) == [True, True]
    land(wiretrack, L1, "TB1:2")  # the labels name the box alone, and it is still there
    assert labelled(wiretrack, L1) == [True, True]
    drawn(wiretrack, tmp_path, L1)
    wiretrack("label", "placed", L1)
    land(wiretrack, L1, "TB1:3")  # these say TB1:2
    assert labelled(wiretrack, L1) == [False, False]
    rows = wiretrack("label", "due", L1, "--json").json
    assert [row["why"] for row in rows] == ["label no longer true"] * 2
    assert rows[1]["detail"] == "this end: it says PH1 TB1:2, the record PH1 TB1:3"
    drawn(wiretrack, tmp_path, L1)
    rows = wiretrack("label", "due", L1, "--json").json
    assert rows[1]["detail"].endswith("; a new one is printed")
    land(wiretrack, L1, "TB1:2")
    assert labelled(wiretrack, L1) == [True, True]


def test_a_box_whose_code_begins_like_another_is_another_place(
    wiretrack: Wiretrack, db: Path, tmp_path: Path
) -> None:
    tag = "ZZZ000" + check_character("ZZZ000")
    spare = {"circuit": "PUMP", "function": "N", "size": "4 mm2", "tag": tag,
             "from": {"enclosure": "MDB"}, "to": {"enclosure": "PH1"}}  # fmt: skip
    site = {
        "format": "wiretrack-site/1",
        "enclosures": [{"code": "PH1 B"}],
        "conductors": [spare],
    }
    file = tmp_path / "more.json"
    file.write_text(json.dumps(site), "utf-8")
    assert wiretrack("load", file).status == 0
    drawn(wiretrack, tmp_path, tag)
    wiretrack("label", "placed", tag)
    assert labelled(wiretrack, tag) == [True, True]
    with open_registry(db) as registry, registry.write() as writing:
        writing.execute(
            "UPDATE ends SET enclosure_id = (SELECT id FROM enclosures WHERE code = 'PH1 B')"
            " WHERE side = 'to' AND conductor_id = (SELECT id FROM conductors WHERE tag = ?)",
            [tag],
        )
    assert labelled(wiretrack, tag) == [False, False]


@pytest.mark.parametrize("how", [(), ("--by-hand",)])
def test_an_end_that_is_not_identified_has_no_label_of_its_own(
    wiretrack: Wiretrack, tmp_path: Path, how: tuple[str, ...]
) -> None:
    drawn(wiretrack, tmp_path)
    ran = wiretrack("label", "placed", L1, "--end", "to", *how)
    assert (ran.status, ran.out) == (2, "")
    assert ran.err == (
        f"error: The to end of {ONE} in PH1 isn't identified. Ring it out or land it first.\n"
    )
    ran = wiretrack("label", "placed", "P1", "--json", *how)
    assert (ran.status, ran.err.count("\n")) == (2, 1)
    assert f"3 of 6 ends can't be noted as labelled. Not identified: {ONE} to" in ran.err
    assert wiretrack("dump").json["placed_labels"] == []
    wiretrack("land", L1, "PH1", "--capped")
    assert wiretrack("label", "placed", L1, *how).status == 0


def test_a_label_never_printed_is_on_only_if_it_is_written_by_hand(
    wiretrack: Wiretrack, tmp_path: Path
) -> None:
    ran = wiretrack("label", "placed", L1, "--end", "from")
    assert ran.err == (
        f"error: The from end of {ONE} in MDB Q4:1 has no printed label. Print one first"
        ", or say that it was written by hand.\n"
    )
    assert labelled(wiretrack, L1) == [False, False]
    done = wiretrack("label", "placed", L1, "--end", "from", "--by-hand", "--json").json
    assert [row["by_hand"] for row in done["placed"]] == [True]
    assert labelled(wiretrack, L1) == [True, False]
    assert "Noted: 1 label is on." in wiretrack(
        "label", "placed", L2, "--end", "from", "--by-hand"
    ).out  # fmt: skip
    land(wiretrack, L1, "Q5:1", "MDB")  # it was taken to say what the record said
    assert labelled(wiretrack, L1) == [False, False]


def test_a_printed_label_that_is_untrue_is_not_put_on(wiretrack: Wiretrack, tmp_path: Path) -> None:
    drawn(wiretrack, tmp_path, L1)
    land(wiretrack, L1, "Q5:1", "MDB")
    ran = wiretrack("label", "placed", L1, "--end", "from")
    assert (ran.status, ran.err) == (2, (
        f"error: The from end of {ONE} in MDB Q5:1 has a printed label that is no longer true"
        " (this end: it says MDB Q4:1, the record MDB Q5:1). Print it again first.\n"
    ))  # fmt: skip
    (due, _) = wiretrack("label", "due", L1, "--json").json
    assert (due["why"], due["to_print"]) == ("no label", True)
    assert due["detail"] == (
        "the one printed isn't true now (this end: it says MDB Q4:1, the record MDB Q5:1)"
    )
    drawn(wiretrack, tmp_path, L1)
    assert wiretrack("label", "placed", L1, "--end", "from").status == 0


def test_it_is_taken_back_and_said_again(wiretrack: Wiretrack, tmp_path: Path) -> None:
    drawn(wiretrack, tmp_path)
    ran = wiretrack("label", "placed", L1, "--end", "from", "--take-back")
    assert (ran.status, "nothing to take back" in ran.err) == (2, True)
    wiretrack("label", "placed", L1, "--end", "from")
    back = wiretrack("label", "placed", L1, "--take-back", "--json").json
    assert back == {"taken_back": [{"tag": ONE, "end": "from", "place": "MDB Q4:1"}]}
    assert labelled(wiretrack, L1) == [False, False]
    wiretrack("label", "placed", L1, "--end", "from")
    assert labelled(wiretrack, L1) == [True, False]
    log: list[dict[str, Any]] = wiretrack("dump").json["placed_labels"]
    assert [sorted({"print", "takes_back"} & row.keys()) for row in log] == [
        ["print"], ["takes_back"], ["print"],
    ]  # fmt: skip
    assert wiretrack("label", "placed", L1, "--take-back", "--by-hand").status == 2


def test_what_was_said_stays_and_is_proved_and_loads_again(
    wiretrack: Wiretrack, db: Path, tmp_path: Path
) -> None:
    drawn(wiretrack, tmp_path, L1)
    wiretrack("label", "placed", L1, "--end", "from")
    wiretrack("label", "placed", L2, "--end", "from", "--by-hand")
    file, copy = tmp_path / "dump.json", tmp_path / "copy.db"
    file.write_text(wiretrack("dump").out, "utf-8")
    assert wiretrack("--db", copy, "new", "--name", "copy").status == 0
    assert wiretrack("--db", copy, "load", file).status == 0
    assert wiretrack("--db", copy, "dump").json == json.loads(file.read_text("utf-8"))
    assert wiretrack("verify", "--json").json["ok"]
    raw = sqlite3.connect(db)
    for sql in ("UPDATE placed_labels SET side = 'to'", "DELETE FROM placed_labels"):
        with pytest.raises(sqlite3.IntegrityError, match="take it back"):
            raw.execute(sql)
    raw.execute("DROP TRIGGER placed_labels_stay")
    raw.execute("UPDATE placed_labels SET side = 'to' WHERE print_id IS NOT NULL")
    raw.commit()
    raw.close()
    with open_registry(db) as registry:
        assert any("another end" in problem.what for problem in problems(registry))


@pytest.mark.parametrize(
    ("row", "told"),
    [
        ({}, "Name the print"),
        ({"print": "0a1b2c3d-4e5f-4a6b-8c7d-0123456789ab"}, "No label print of that end"),
        ({"takes_back": "0a1b2c3d-4e5f-4a6b-8c7d-0123456789ab"}, "No placed label of that end"),
    ],
)
def test_a_file_whose_placed_labels_lead_nowhere_is_refused(
    wiretrack: Wiretrack, tmp_path: Path, row: dict[str, str], told: str
) -> None:
    of_end = {"id": "1a1b2c3d-4e5f-4a6b-8c7d-0123456789ab", "tag": L1, "end": "to"}
    site = {
        "format": "wiretrack-site/1",
        "placed_labels": [of_end | {"at": "2026-05-02T10:15:00Z"} | row],
    }
    file = tmp_path / "more.json"
    file.write_text(json.dumps(site), "utf-8")
    ran = wiretrack("load", file)
    assert (ran.status, told in ran.err) == (2, True), ran.err


def test_a_code_without_an_address_is_said_once_to_mean_nothing_to_a_camera(
    wiretrack: Wiretrack, tmp_path: Path
) -> None:
    args = ("label", "print", L1, "--stock", FLAG, "--out", tmp_path / "l.pdf")
    first = wiretrack(*args)
    assert "A phone's camera opens nothing from them." in first.err
    assert "wiretrack label address HOST:PORT" in first.err
    assert "camera" not in first.out
    assert wiretrack(*args).err == ""  # once


@pytest.mark.parametrize("how", ["--json", "--text-only", "address"])
def test_where_there_is_nothing_to_say_of_a_camera_nothing_is_said(
    wiretrack: Wiretrack, tmp_path: Path, how: str
) -> None:
    more = [] if how == "address" else [how]
    if how == "address":
        wiretrack("label", "address", "wires.lan")
    args = ("label", "print", L1, "--stock", FLAG, "--out", tmp_path / "l.pdf")
    ran = wiretrack(*args, *more)
    assert (ran.status, ran.err) == (0, "")


@pytest.mark.parametrize("text", [f"WT:{L1}", f"wt:{L1.lower()}", f"HTTP://OLD:8080/{L1}"])
def test_the_text_of_a_label_opens_its_record_wherever_it_is_typed(
    wiretrack: Wiretrack, text: str
) -> None:
    assert wiretrack("show", text, "--json").json["tag"] == ONE
    (first, *_) = wiretrack("find", text, "--json").json
    assert (first["what"], first["code"]) == ("conductor", ONE)
    assert {"conductor": ONE} in [
        {k: v for k, v in step.items() if k == "conductor"}
        for step in wiretrack("trace", text, "--json").json["path"]
    ]
    assert wiretrack("test", "log", text, "--kind", "continuity", "0.3", "--json").status == 0
    assert wiretrack("land", text, "PH1", "--terminal", "TB1:1", "--new-terminal").status == 0
    assert wiretrack("show", text[:-1] + ("0" if text[-1] != "0" else "1")).status == 2


@pytest.mark.parametrize("text", ["WT:BOX/PH1", "HTTP://OLD:8080/BOX/PH1"])
def test_the_text_of_a_boxs_card_opens_the_box(wiretrack: Wiretrack, text: str) -> None:
    assert wiretrack("show", text, "--json").json["code"] == "PH1"
    (first, *_) = wiretrack("find", text, "--json").json
    assert (first["what"], first["code"]) == ("enclosure", "PH1")
    assert wiretrack("land", L1, text, "--terminal", "TB1:1", "--new-terminal").status == 0
    assert wiretrack("show", "WT:BOX/ATTIC").status == 2
