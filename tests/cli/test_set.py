# SPDX-License-Identifier: MIT
"""A record is corrected field by field; what is due because of it is told."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from tests.pump import L1, L2, PE
from tests.terminal import at_a_terminal
from wiretrack.cli.group import run
from wiretrack.store.store import open_registry

if TYPE_CHECKING:
    from tests.cli.conftest import Ran, Wiretrack


@pytest.fixture(scope="module")
def worked(pump_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The pump with a breaker, whose labels are printed and put on, and a reading."""
    folder = tmp_path_factory.mktemp("worked")
    db, file = shutil.copy(pump_template, folder), folder / "more.json"
    device = {"enclosure": "MDB", "code": "Q4", "kind": "breaker", "closed": True,
              "poles": [["1", "2"], ["3", "4"]], "rating": "16 A"}  # fmt: skip
    more = {"format": "wiretrack-site/1", "devices": [device]}
    file.write_text(json.dumps(more), "utf-8")

    def done(*words: object) -> None:
        assert run(["--db", str(db), *map(str, words)]) == 0

    done("load", file)
    for number, tag in enumerate((L1, L2, PE), 1):
        done("land", tag, "PH1", "--terminal", f"TB:{number}", "--new-terminal")
    done("label", "print", "PUMP", "--stock", "flag-90x25-300", "--out", folder / "l.pdf")
    done("label", "placed", "PUMP")
    done("test", "log", L1, "--kind", "continuity", "0.31", "--instrument", "M1",
         "--leads", "0.02", "--temp", "20C")  # fmt: skip
    return Path(db)


@pytest.fixture
def db(worked: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(worked, tmp_path))


def dumped(wiretrack: Wiretrack) -> dict[str, Any]:
    found: dict[str, Any] = wiretrack("dump").json
    del found["changes"]
    return found


def test_a_wire_is_corrected_and_what_became_due_is_told(wiretrack: Wiretrack) -> None:
    done = wiretrack("set", L1, "function=L3", "length=400 m", "--json").json
    assert list(done) == ["what", "code", "changed", "labels_due", "tests_owed", "change"]
    assert (done["what"], done["code"]) == ("conductor", "PMP-001G")
    assert done["changed"] == {"function": ["L1", "L3"], "length": ["67 m", "400 m"]}
    due = [(row["tag"], row["end"], row["why"]) for row in done["labels_due"]]
    assert due == [("PMP-001G", end, "label no longer true") for end in ("from", "to")]
    # 0.29 ohm is about 67 m of 4 mm2, not 400 m: the reading passes no longer, so it is owed
    owed = [(row["kind"], row["subject"]) for row in done["tests_owed"]]
    assert owed == [("continuity", "PMP-001G")]
    wire = wiretrack("show", L1, "--json").json
    assert (wire["function"], wire["length_m"]) == ("L3", 400)
    (seen,) = [
        row for row in wiretrack("history", L1, "--json").json if row["change"] == done["change"]
    ]
    assert seen["fields"] == done["changed"]
    again = wiretrack("set", L1, "function=L3", "--json").json
    assert (again["changed"], again["labels_due"], again["change"]) == ({}, [], None)


def test_a_day_and_a_reason_are_kept(wiretrack: Wiretrack) -> None:
    said = ("--on", "2026-05-02", "--why", "as its door says")
    done = wiretrack("set", "PH1", "name=well box", *said, "--json").json
    history = wiretrack("history", "PH1", "--json").json
    (seen,) = [row for row in history if row["change"] == done["change"]]
    assert (seen["on"], seen["why"]) == ("2026-05-02", "as its door says")


THERE_AND_BACK = [
    ("MDB", "code=MDP", "MDP", "code=MDB"),
    ("MDB", "name=x", "MDB", "name=main board"),
    ("PH1", "wet=", "PH1", "wet=yes"),
    ("MDB/Q4", "code=Q7", "MDB/Q7", "code=Q4"),
    ("MDB/Q4", "poles=", "MDB/Q4", "poles=1-2,3-4"),
    ("MDB/Q4:1", "code=T9", "MDB/T9", "code=Q4:1"),
    ("PUMP", "code=WELL", "WELL", "code=PUMP"),
    ("PUMP", "max_voltage=", "PUMP", "max_voltage=400 V"),
    ("W1", "length=10m", "W1", "length=64 m"),
    ("W1", "walls=1 m, 2 m", "W1", "walls="),
    ("P1", "path=", "P1", "path=W1"),
    ("P1", "code=P2", "P2", "code=P1"),
    ("M1", "accuracy=", "M1", "accuracy=0.5% + 2 digits"),
    (L1, "circuit=", L1, "circuit=PUMP"),
    (L1, "function=L3", L1, "function=L1"),
    (L1, "from=MDB/Q4:3", L1, "from=MDB/Q4:1"),
    (L1, "from=MDB", L1, "from=MDB/Q4:1"),
    (L1, "pull=", L1, "pull=P1"),
    ("site", "rules=NEC", "site", "rules=IEC"),
    ("site", "name=Other", "site", "name=Example"),
]


def test_there_and_back_is_as_before(wiretrack: Wiretrack) -> None:
    before = dumped(wiretrack)
    for what, there, then, back in THERE_AND_BACK:
        ran = wiretrack("set", what, there)
        assert (ran.status, ran.err) == (0, ""), (what, there)
        assert dumped(wiretrack) != before, (what, there)
        ran = wiretrack("set", then, back)
        assert (ran.status, ran.err) == (0, ""), (then, back)
        assert dumped(wiretrack) == before, (then, back)
    assert wiretrack("verify").status == 0


def test_a_renamed_box_keeps_all_that_refers_to_it(wiretrack: Wiretrack) -> None:
    before = json.dumps(dumped(wiretrack))
    assert wiretrack("set", "MDB", "code=MDP", "--json").json["changed"] == {"code": ["MDB", "MDP"]}
    renamed = json.loads(before.replace('"enclosure": "MDB"', '"enclosure": "MDP"')
                         .replace('"code": "MDB"', '"code": "MDP"')
                         .replace('"from": "MDB"', '"from": "MDP"'))  # fmt: skip
    assert dumped(wiretrack) == renamed
    assert [row["why"] for row in wiretrack("label", "due", "--json").json] == [
        "label no longer true" for _ in range(6)
    ]


WRONG = [
    (L1, "length=abc", "length", "abc"),
    (L1, "length=0 m", "length", "above 0 m"),
    (L1, "length=-3m", "length", "above 0 m"),
    (L1, "length=3", "length", "3"),
    (L1, "length=999 km", "length", "100 km"),
    (L1, "size=huge", "size", "huge"),
    (L1, "size=", "size", "needs it"),
    (L1, "size=0 mm2", "size", "0 mm2"),
    (L1, "metal=Fe", "metal", "Cu"),
    (L1, "insulation=???", "insulation", "XHHW-2"),
    (L1, "strands=0", "strands", "1 to 10000"),
    (L1, "strands=7.5", "strands", "1 to 10000"),
    (L1, "strands=many", "strands", "1 to 10000"),
    (L1, "colour=plaid", "colour", "plaid"),
    (L1, "function=L9", "function", "L1, L2, L3"),
    (L1, "function=", "function", "needs it"),
    (L1, "circuit=NONE", "circuit", "NONE"),
    (L1, "circuit=PUMP,PUMP", "circuit", "once"),
    (L1, "pull=P9", "pull", "P9"),
    (L1, "from=", "from", "BOX/TERMINAL"),
    (L1, "from=NOWHERE/1", "from.enclosure", "NOWHERE"),
    (L1, "from.enclosure=", "from.enclosure", "needs it"),
    (L1, "from.state=gone", "from.state", "landed, capped, loose"),
    (L1, f"from.mark={'M' * 41}", "from.mark", "40"),
    (L1, "to=MDB", "pull", "MDB - PH1"),
    (L1, "outer_diameter=2 m", "outer_diameter", "at most 1000 mm"),
    (L1, "set=0", "set", "1 to 100"),
    (L1, "set=101", "set", "1 to 100"),
    (L1, f"note={'x' * 2001}", "note", "2000"),
    (L1, "note=a\x07b", "note", "U+0007"),
    (L1, "retired_at=2026-05-02", "retired_because", "retired_at and retired_because"),
    (L1, "retired_because=cut", "retired_at", "retired_at and retired_because"),
    (L1, "retired_because=bored", "retired_because", "abandoned"),
    (L1, f"follows={L2}", "follows", "not retired"),
    (L1, f"follows={L1}", "follows", "follows itself"),
    (L1, "follows=XXXXXXX", "follows", "XXXXXXX"),
    (L1, "tag=PMP-002E", "tag", "never changes"),
    (L1, "id=1", "id", "never changes"),
    (L1, "nosuch=1", "nosuch", "Allowed"),
    (L1, "lenght=1 m", "lenght", "Did you mean length?"),
    (L1, "from.colour=RD", "from.colour", "not a field"),
    (L1, f"cable={'C' * 41}", "cable", "40"),
    ("MDB", "code=PH1", "code", "already"),
    ("MDB", "code=", "code", "needs it"),
    ("MDB", f"code={'X' * 41}", "code", "40"),
    ("MDB", "kind=barrel", "kind", "junction-box"),
    ("MDB", "wet=perhaps", "wet", "true or false"),
    ("MDB", f"name={'x' * 201}", "name", "200"),
    ("MDB", "length=3 m", "length", "Allowed"),
    ("W1", "from=NOWHERE", "from", "NOWHERE"),
    ("W1", "from=PH1", "to", "back to it"),
    ("W1", "to=", "to", "needs it"),
    ("W1", "type=pipe", "type", "EMT"),
    ("W1", "trade_size=wide", "trade_size", "3/4"),
    ("W1", "length=2 kg", "length", "kg"),
    ("W1", "bends_deg=-1", "bends_deg", "3600"),
    ("W1", "bends_deg=3601", "bends_deg", "3600"),
    ("W1", "bends_deg=steep", "bends_deg", "3600"),
    ("W1", "metal=rust", "metal", "true or false"),
    ("W1", "ambient=hot", "ambient", "hot"),
    ("W1", "ambient=-300 C", "ambient", "-300"),
    ("W1", "walls=3 m, x", "walls", "x"),
    ("W1", "width=2 m", "width", "1000 mm"),
    ("W1", "above_roof=high", "above_roof", "high"),
    ("PUMP", "system=water", "system", "ac-3ph"),
    ("PUMP", "system=ac", "system", "ac-1ph or ac-3ph"),
    ("PUMP", "supply=110", "supply", "120/240"),
    ("PUMP", "earthing=TX", "earthing", "TN, TT, IT"),
    ("PUMP", "max_voltage=0 V", "max_voltage", "above 0 V"),
    ("PUMP", "max_voltage=-1 V", "max_voltage", "above 0 V"),
    ("PUMP", "max_voltage=lots", "max_voltage", "lots"),
    ("PUMP", "max_current=0 A", "max_current", "above 0 A"),
    ("PUMP", "overcurrent=5 V", "overcurrent", "5 V"),
    ("PUMP", "solidly_earthed=so so", "solidly_earthed", "true or false"),
    ("PUMP", "motor=2", "motor", "true or false"),
    ("PUMP", "module.voc=x", "module.voc", "x"),
    ("PUMP", "module.voc_pct_per_k=9", "module.voc_pct_per_k", "-5 to 5"),
    ("PUMP", "module.series=0", "module.series", "1 to 1000"),
    ("PUMP", "module.series=2.5", "module.series", "1 to 1000"),
    ("PUMP", "module.parallel=10001", "module.parallel", "1 to 10000"),
    ("PUMP", "retired_at=2026-05-02", "circuit", "retired"),
    ("PUMP", "retired_at=2026-13-02", "retired_at", "2026-13-02"),
    ("P1", "path=W9", "path", "W9"),
    ("P1", "far_ends=1", "far_ends", "list of far ends"),
    ("P1", "code= ", "code", "needs it"),
    ("MDB/Q4", "kind=switchy", "kind", "breaker"),
    ("MDB/Q4", "closed=ajar", "closed", "true or false"),
    ("MDB/Q4", "rating=0 A", "rating", "above 0 A"),
    ("MDB/Q4", "rating=x", "rating", "x"),
    ("MDB/Q4", "termination_rating=warm", "termination_rating", "warm"),
    ("MDB/Q4", "poles=1-1", "poles", "itself"),
    ("MDB/Q4", "poles=1-2-3", "poles", "pair"),
    ("MDB/Q4", "enclosure=NOWHERE", "enclosure", "NOWHERE"),
    ("MDB/Q4", "enclosure=PH1", "pull", "P1"),
    ("MDB/Q4", "enclosure=", "enclosure", "needs it"),
    ("MDB/Q4:1", "code=Q4:3", "code", "already"),
    ("MDB/Q4:1", "code=", "code", "needs it"),
    ("M1", "code=M2", "code", "already"),
    ("M1", "kind=ruler", "kind", "ohmmeter"),
    ("M1", "resolution=fine", "resolution", "fine"),
    ("M1", "range=far", "range", "far"),
    ("M1", "calibrated_on=someday", "calibrated_on", "someday"),
    ("site", "units=yd", "units", "m, ft"),
    ("site", "rules=NONE", "rules", "NEC, IEC"),
    ("site", "edition=1999", "edition", "2023"),
    ("site", "edition=2023", "edition", "NEC"),
    ("site", "time_zone=Mars/Base", "time_zone", "Mars/Base"),
    ("site", "ambient_max=-500 C", "ambient_max", "-500"),
    ("site", "base_address=ftp://x", "base_address", "http://"),
    ("site", "id=1", "id", "never changes"),
    ("NOPE", "name=x", "NOPE", "find"),
    ("MDB/NOPE", "code=x", "NOPE", ""),
    ("PMP-001H", "length=1 m", "PMP-001H", "PMP-001G"),
]


def test_a_hundred_wrong_values_each_one_line_that_names_it_and_nothing_written(
    wiretrack: Wiretrack,
) -> None:
    before = wiretrack("dump").out
    wrong: list[object] = []
    for number, (what, change, *named) in enumerate(WRONG):
        ran = wiretrack("set", what, change, *["--json"] * (number % 2))
        line = ran.err.startswith("error: ") and ran.err.count("\n") == 1
        if (ran.status, ran.out) != (2, "") or not line:
            wrong.append((what, change, ran))
        elif any(name not in ran.err for name in named):
            wrong.append((what, change, named, ran.err))
    assert not wrong, "\n".join(map(str, wrong))
    assert len(WRONG) > 100
    assert wiretrack("dump").out == before


def test_what_is_no_assignment_is_bad_usage(wiretrack: Wiretrack) -> None:
    for words in (("length",), ("=3",), ("length=1 m", "length=2 m"), ()):
        ran = wiretrack("set", L1, *words)
        assert (ran.status, ran.out, ran.err.count("\n")) == (2, "", 1)


def test_people_read_what_changed_and_how_to_take_it_back(wiretrack: Wiretrack) -> None:
    ran: Ran = wiretrack("set", L1, "function=L3")
    assert "function L1 L3" in ran.words
    assert "Labels due: 2" in ran.words
    told, _, then = ran.words.partition(" Next, print the labels due: ")
    assert told.rpartition("To take it back: wiretrack undo ")[2].isalnum()
    assert then.startswith("wiretrack label print --due")
    assert "Nothing was changed" in wiretrack("set", L1, "function=L3").words


def test_what_contradicts_the_record_is_noted_and_a_doubt_in_check(wiretrack: Wiretrack) -> None:
    """The raceway is 64 m, so 63 m of wire is a doubt and 64 m is none."""
    done = wiretrack("set", L1, "length=63 m", "--json").json
    assert done["doubts"] == [
        "PMP-001G: it is 63 m (207 ft) long, the raceways of its route are 64 m (210 ft)."
    ]
    (row,) = [r for r in wiretrack("check", L1, "--json").json if r["rule"] == "length"]
    assert (row["outcome"], row["figure"], row["limit"], row["unit"]) == ("doubt", 63, 64, "m")
    assert "doubts" not in wiretrack("set", L1, "length=64 m", "--json").json
    assert not [r for r in wiretrack("check", "--json").json if r["rule"] == "length"]
    done = wiretrack(
        "set", L1, "colour=GNYE", "--json"
    ).json  # of a protective conductor, on a line
    assert any("PMP-001G: L1 is " in doubt for doubt in done["doubts"])
    done = wiretrack("set", L2, "from=MDB/Q4:1", "--json").json
    assert any("are on one terminal" in doubt for doubt in done["doubts"])


def test_what_contradicts_the_record_is_asked_about_at_a_terminal(db: Path) -> None:
    for answer, status in (("n", 2), ("y", 0)):
        with at_a_terminal("--db", db, "set", L1, "length=63 m") as terminal:
            terminal.sees("it is 63 m (207 ft) long")
            terminal.answers("(y/N)", answer)
            assert terminal.ends() == status
    with open_registry(db) as registry:
        assert registry.rows("SELECT length_m FROM conductors WHERE tag = ?", [L1]) == [
            {"length_m": 63.0}
        ]


def test_a_second_wire_on_a_breaker_is_a_doubt_and_on_a_bar_is_none(wiretrack: Wiretrack) -> None:
    assert wiretrack("add", "conductor", "L1", "--like", L1, "from=MDB/Q4:1").status == 0
    assert wiretrack("add", "conductor", "PE", "--like", PE, "from=MDB/PE").status == 0
    rows = {
        r["subject"]: r for r in wiretrack("check", "MDB", "--json").json if r["rule"] == "landing"
    }
    assert rows["MDB/Q4:1"]["outcome"] == "doubt"
    assert "2 ends are on one terminal of a breaker or fuse" in rows["MDB/Q4:1"]["reason"]
    assert rows["MDB/Q4:1"]["source"] == "common practice"
    assert rows["MDB/PE"]["outcome"] == "pass"


def test_a_list_is_shown_as_people_write_it(wiretrack: Wiretrack) -> None:
    assert wiretrack("add", "pull", "P8").status == 0
    assert "path – W1" in wiretrack("set", "P8", "path=W1").words
