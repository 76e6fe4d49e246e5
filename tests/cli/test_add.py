# SPDX-License-Identifier: MIT
"""Records are entered one by one, or as a bundle, with nothing but `add`."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import pytest

from tests.pump import L1, PUMP
from tests.terminal import at_a_terminal
from wiretrack.store.store import open_registry
from wiretrack.tasks.describe.sites import load_site, new_site

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Wiretrack

MORE: dict[str, Any] = {
    "devices": [
        {
            "enclosure": "MDB", "code": "Q4", "kind": "breaker", "closed": True, "rating": "16 A",
            "poles": [["1", "2"], ["3", "4"], ["BUS:1", "5"]],
        }
    ],
    "terminals": [{"enclosure": "PH1", "code": "TB1:1"}],
}  # fmt: skip


def texts(row: dict[str, Any], outer: str = "") -> dict[str, str]:
    """A row of a site file as FIELD=VALUE, by the words of the contract."""
    found: dict[str, str] = {}
    for key, value in row.items():
        if isinstance(value, dict) and "enclosure" in value:
            found[key] = "/".join(filter(None, (value["enclosure"], value.get("terminal"))))
        elif isinstance(value, dict):
            found |= texts(value, f"{key}.")
        elif isinstance(value, list) and value and isinstance(value[0], list):
            found[outer + key] = ",".join("-".join(pair) for pair in value)
        elif isinstance(value, list):
            found[outer + key] = ",".join(value)
        else:
            found[outer + key] = str(value).lower() if isinstance(value, bool) else str(value)
    return found


def without_names(dump: dict[str, Any]) -> str:
    """A dump without identifiers, tags and history, its terminals in the order of their names."""
    del dump["changes"]
    for rows in dump.values():
        for row in rows if isinstance(rows, list) else [rows]:
            if isinstance(row, dict):
                row.pop("id", None)
                row.pop("tag", None)
                for side in ("from", "to"):
                    if isinstance(row.get(side), dict):
                        row[side].pop("id", None)
    dump["terminals"].sort(key=lambda row: (row["enclosure"], row["code"]))
    return json.dumps(dump, indent=1)


@pytest.fixture
def empty(db: Path, wiretrack: Wiretrack) -> Wiretrack:
    """The command line on a registry with nothing in it."""
    db.unlink()
    new_site(db, "Example")
    return wiretrack


def test_a_whole_small_site_is_entered_by_add_alone(empty: Wiretrack, tmp_path: Path) -> None:
    """The same site as the file's, but for identifiers and tags."""
    site = PUMP | MORE
    kinds = ("enclosures", "raceways", "circuits", "pulls", "devices", "terminals", "conductors",
             "instruments")  # fmt: skip
    for table in kinds:
        for row in site[table]:
            fields = texts({key: value for key, value in row.items() if key != "tag"})
            code = fields.pop("code", fields.pop("function", ""))
            if table in ("devices", "terminals"):
                code = f"{fields.pop('enclosure')}/{code}"
            words = [f"{key}={value}" for key, value in fields.items()]
            ran = empty("add", table.removesuffix("s"), code, *words, "--json")
            assert (ran.status, ran.err) == (0, "")
            assert list(ran.json) == ["kind", "code", "tag", "change"]
            assert (ran.json["kind"], ran.json["code"]) == (table.removesuffix("s"), code)
            assert (ran.json["tag"] is None) == (table != "conductors")
    empty("set", "site", *(f"{key}={value}" for key, value in PUMP["site"].items()))
    file, other = tmp_path / "site.json", tmp_path / "other.db"
    file.write_text(json.dumps(site), "utf-8")
    new_site(other, "Example")
    with open_registry(other) as registry:
        load_site(registry, file)
    entered = without_names(empty("dump").json)
    loaded = without_names(empty("--db", other, "dump").json)
    assert entered == loaded
    assert empty("verify").status == 0


def test_a_bundle_of_look_alikes_is_one_line(wiretrack: Wiretrack) -> None:
    ran = wiretrack("add", "conductor", "--count", 8, "--pull", "P1", "--size", "10 AWG", "--json")
    assert list(ran.json) == ["kind", "tags", "change"]
    tags = ran.json["tags"]
    assert len({*tags}) == 8
    for tag in tags:
        wire = wiretrack("show", tag, "--json").json
        assert (wire["circuit"], wire["size"], wire["route"]) == (None, "10 AWG", ["W1"])
        assert [end["enclosure"] for end in wire["ends"]] == ["MDB", "PH1"]
    changes = [row["change"] for row in wiretrack("history", "--json").json]
    assert changes[:8] == [ran.json["change"]] * 8
    words = wiretrack("add", "conductor", "L3", "--count", 2, "--like", L1).words
    assert "2 conductors in P1: tag circuit function size" in words
    assert words.count("PUMP L3 4 mm2 BN MDB PH1") == 2
    assert words.endswith("wiretrack label print P1 --out labels.pdf")


def test_one_like_another_takes_all_but_what_is_its_own(wiretrack: Wiretrack) -> None:
    tag = wiretrack("add", "conductor", "L3", "--like", L1, "colour=GY", "--json").json["tag"]
    rows = wiretrack("dump").json["conductors"]
    model = next(row for row in rows if row["tag"] == "PMP-001G")
    (made,) = [row for row in rows if row["tag"] == tag]
    own = {"id", "tag", "function", "length", "colour", "from", "to"}
    assert {k: v for k, v in made.items() if k not in own} == {
        k: v for k, v in model.items() if k not in own
    }
    assert (made["function"], made["colour"], "length" in made) == ("L3", "GY", False)
    assert (made["from"]["enclosure"], "terminal" in made["from"]) == ("MDB", False)


def test_a_circuit_like_another_has_its_pattern_of_wires(wiretrack: Wiretrack) -> None:
    ran = wiretrack("add", "circuit", "PUMP2", "--like", "PUMP", "title=second pump", "--json")
    assert (ran.json["code"], ran.json["tag"], len(ran.json["tags"])) == ("PUMP2", None, 3)
    circuit = wiretrack("show", "PUMP2", "--json").json
    rows = wiretrack("dump").json["conductors"]
    functions = [row["function"] for row in rows if row["circuit"] == "PUMP2"]
    assert functions == ["L1", "L2", "PE"]
    assert circuit["title"] == "second pump"
    told = [row for row in wiretrack("dump").json["circuits"] if row["code"] == "PUMP2"]
    assert told[0]["max_voltage"] == "400 V"
    # one that serves both is not doubled
    assert wiretrack("set", "PMP-00EP", "circuit=PUMP,PUMP2").status == 0
    third = wiretrack("add", "circuit", "PUMP3", "--like", "PUMP")
    assert "PMP-00EP serves other circuits too: it was not copied." in third.words


WRONG = [
    (["enclosure"], "code: It is missing. An enclosure needs it."),
    (["enclosure", "MDB"], "The registry has an enclosure 'MDB' already."),
    (["enclosure", "A", "B"], "'B' is no FIELD=VALUE."),
    (["enclosure", "A", "kind=barrel"], "kind: 'barrel' is not an enclosure kind."),
    (["enclosure", "A", "--kind"], "requires an argument"),
    (["enclosure", "A", "shape=round"], "'shape' is not a field of an enclosure."),
    (["enclosure", "A", "--count", "2"], "Only conductors can be several alike."),
    (["enclosure", "A", "--like", "NOPE"], "No enclosure is called 'NOPE'."),
    (["enclosure", "A", "--on", "soon"], "'soon' is not a date."),
    (["raceway"], "error: code, from, to: They are missing. A raceway needs them.\n"),
    (["raceway", "W9"], "error: from, to: They are missing. A raceway needs them.\n"),
    (["raceway", "W9", "from=MDB"], "error: to: It is missing. A raceway needs it.\n"),
    (["raceway", "W9", "from=MDB", "to=MDB"], "to: The raceway leads from 'MDB' back to it."),
    (["raceway", "W9", "from=MDB", "to=NO"], "to: No enclosure is called 'NO' in the record."),
    (["circuit", "PUMP"], "The registry has a circuit 'PUMP' already."),
    (["pull", "P9", "path=W1,W8"], "path: No raceway is called 'W8' in the record."),
    (["device", "Q9"], "'Q9' names no box. Write BOX/CODE."),
    (["device", "NO/Q9"], "enclosure: No enclosure is called 'NO' in the record."),
    (["device", "MDB/Q9", "poles=1-2-3"], "poles: "),
    (["terminal", "MDB/Q4:1"], "The registry has a terminal 'Q4:1' already."),
    (["conductor", "L1"], "size, from, to: They are missing. A conductor needs them."),
    (["conductor", "L9", "size=4 mm2", "pull=P1"], "function: 'L9' is not a function."),
    (["conductor", "size=4 mm2", "pull=P9"], "pull: No pull is called 'P9' in the record."),
    (["conductor", "size=4 mm2", "pull=P1", "--count", "0"], "it must be 1 to 1000"),
    (["conductor", "size=4 mm2", "pull=P1", "--count", "x"], "'x'"),
    (["conductor", "size=4 mm2", "pull=P1", "to=MDB"], "not joined by the path"),
    (["instrument", "M1"], "The registry has an instrument 'M1' already."),
    (["spoon", "X"], "'spoon' is no kind of record. Allowed: conductor, circuit"),
    (["enclosur", "X"], "Did you mean enclosure?"),
    ([], "Missing argument"),
]


def test_each_wrong_addition_is_one_line_and_nothing_is_written(wiretrack: Wiretrack) -> None:
    before, wrong = wiretrack("dump").out, list[object]()
    for words, told in WRONG:
        for as_json in ([], ["--json"]):
            ran = wiretrack("add", *words, *as_json)
            if (ran.status, ran.out, ran.err.count("\n")) != (2, "", 1) or told not in ran.err:
                wrong.append((words, told, ran))
    assert not wrong, "\n".join(map(str, wrong))
    assert wiretrack("dump").out == before


def test_the_last_line_says_what_comes_next(empty: Wiretrack) -> None:
    last = empty("add", "enclosure", "MDB", "kind=panel").out.splitlines()[-1]
    assert last == "Next, what leads to it: wiretrack add raceway CODE from=MDB to=BOX"
    last = empty("add", "device", "MDB/Q1", "poles=1-2").out.splitlines()[-1]
    assert last == "Next, land its wires: wiretrack land TAG MDB --terminal Q1:1"


@pytest.mark.parametrize("columns", [80, 40])
def test_what_is_missing_is_asked_for_at_a_terminal(db: Path, columns: int) -> None:
    asked = ("--db", db, "add", "conductor", "L3", "circuit=PUMP", "pull=P1")
    with at_a_terminal(*asked, columns=columns) as terminal:
        terminal.answers("Size, like 4 mm2", "huge")
        terminal.sees("huge")
        terminal.answers("Size, like 4 mm2", "4 mm2")
        terminal.answers("(Y/n)", "y")
        terminal.sees("1 conductor in P1")
        assert terminal.ends() == 0
    with at_a_terminal("--db", db, "add", "raceway", "W9", columns=columns) as terminal:
        terminal.answers("From", "NOWHERE")
        terminal.sees("No enclosure is called 'NOWHERE'")
        terminal.answers("From", "MD\t")
        terminal.answers("To", "PH1")
        terminal.answers("(Y/n)", "n")
        terminal.sees("Nothing was written")
        assert terminal.ends() == 2
    with open_registry(db) as registry:
        assert not registry.rows("SELECT 1 FROM raceways WHERE code = 'W9'")


def test_who_names_a_record_that_is_not_there_is_told_before_anything_is_asked(db: Path) -> None:
    with at_a_terminal(
        "--db", db, "add", "conductor", "L3", "circuit=PUMP", "pull=P11"
    ) as terminal:
        terminal.sees("No pull is called 'P11'")
        assert terminal.ends() == 2


def test_a_kind_is_asked_for_until_it_is_one_and_boxes_are_listed_and_not_offered_twice(
    db: Path,
) -> None:
    with at_a_terminal("--db", str(db), "add") as terminal:
        terminal.sees("Kinds: conductor, circuit, enclosure,")
        terminal.answers("Kind: ", "thing")
        terminal.sees("'thing' is no kind of record.")
        terminal.answers("Kind: ", "raceway")
        terminal.answers("Code: ", "W9")
        terminal.answers("From: ", "NOWHERE")
        terminal.sees("There are: MDB, PH1.")
        terminal.answers("From: ", "MDB")
        terminal.answers("To: ", "PH1")
        terminal.answers("(Y/n): ", "y")
        assert terminal.ends() == 0
