# SPDX-License-Identifier: MIT
"""Faults placed from the command line: pump conductors of 67 m and 4 mm², 4.61 Ω/km.

The figure is that of IEC 60228:2004 table 2, class 2, plain copper at 20 °C.
"""

from __future__ import annotations

import json
from copy import deepcopy
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree

import pytest

from tests.pump import L1, L2, PE, PUMP, tag
from wiretrack.cli.group import run

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Wiretrack

PER_M = 4.61e-3
AT_20 = ("--temp", "20 C", "--instrument", "M1", "--leads", "0.1")


def test_a_short_read_from_both_ends_is_placed_whatever_the_fault_has(wiretrack: Wiretrack) -> None:
    # By hand: 20 m away, a fault of 0.4 Ω, leads of 0.1 Ω.
    near, far = 2 * PER_M * 20 + 0.5, 2 * PER_M * 47 + 0.5
    found = wiretrack(
        "fault", L1, "--against", L2, "--near", near, "--far", far, *AT_20, "--json"
    ).json
    assert found["kind"] == "short"
    assert found["distance_m"] == pytest.approx(20, abs=0.01)
    assert found["fault_ohms"] == pytest.approx(0.4, abs=0.001)
    assert (found["from"], found["raceway"], found["between"]) == ("MDB", "W1", ["MDB", "PH1"])
    assert found["open_first"] == "MDB"
    assert 0 < found["uncertainty_m"] < 10
    assert "JCGM 100:2008" in found["source"]
    assert "IEC 60228" in found["source"]


def test_measured_at_the_other_box_it_is_the_same_place(wiretrack: Wiretrack) -> None:
    near, far = 2 * PER_M * 20 + 0.5, 2 * PER_M * 47 + 0.5
    found = wiretrack(
        "fault", L1, "--against", L2, "--at", "PH1", "--near", far, "--far", near, *AT_20, "--json"
    ).json
    assert found["distance_m"] == pytest.approx(47, abs=0.01)
    assert (found["from"], found["between"], found["open_first"]) == ("PH1", ["PH1", "MDB"], "MDB")


def test_an_earth_fault_is_placed_by_a_loop_with_a_good_conductor(wiretrack: Wiretrack) -> None:
    # By hand: 3:1 over 134 m of loop is 33.5 m.
    murray = wiretrack("fault", L1, "--murray", "3:1", "--good", L2, *AT_20, "--json").json
    assert (murray["kind"], murray["method"]) == ("earthed", "murray")
    assert murray["distance_m"] == pytest.approx(33.5, abs=1e-6)
    # Equal arms: set = loop - 2 z, z = 33.5 m.
    set_ohms = 134 * PER_M - 2 * 33.5 * PER_M
    varley = wiretrack(
        "fault", L1, "--varley", "100:100", "--set", set_ohms, "--good", L2, *AT_20, "--json"
    ).json
    assert varley["distance_m"] == pytest.approx(33.5, abs=1e-6)


def test_the_raceway_as_way_back_must_be_measured(wiretrack: Wiretrack) -> None:
    ran = wiretrack("fault", L1, "--against", "raceway", "--near", "0.5")
    assert ran.status == 2
    assert "Join a sound conductor to it at the far end" in ran.err
    # By hand: the raceway has 0.067 Ω, 1 mΩ/m, so 30 m are 0.1683 Ω, 0.1 Ω leads on top.
    near, far = (PER_M + 1e-3) * 30 + 0.1, (PER_M + 1e-3) * 37 + 0.1
    found = wiretrack(
        "fault", L1, "--against", "raceway", "--raceway-ohms", "0.067",
        "--near", near, "--far", far, *AT_20, "--json",
    ).json  # fmt: skip
    assert (found["kind"], found["distance_m"]) == ("earthed", pytest.approx(30, abs=0.1))


def test_one_end_alone_says_what_it_takes_for_granted(wiretrack: Wiretrack) -> None:
    near = 2 * PER_M * 30 + 0.05
    ran = wiretrack(
        "fault", L1, "--against", L2, "--near", near, "--leads", "0", "--temp", "20", "--json"
    ).json
    assert ran["distance_m"] == pytest.approx(30, abs=0.01)
    assert any("read from the other end too" in remark for remark in ran["remarks"])
    assert any("accuracy of the instrument unknown" in remark for remark in ran["remarks"])


def test_a_break_is_placed_by_capacitance(wiretrack: Wiretrack) -> None:
    found = wiretrack("fault", L1, "--near", "1 nF", "--far", "3 nF", "--json").json
    assert found["kind"] == "open"
    assert found["distance_m"] == pytest.approx(67 / 4)


def test_a_bad_joint_is_proved_by_its_excess(wiretrack: Wiretrack) -> None:
    # By hand: the conductor has 0.309 Ω; 1 Ω too much, leads of 0.1 Ω.
    found = wiretrack("fault", L1, "--along", "1.409", *AT_20, "--json").json
    assert (found["kind"], found["proved"]) == ("high-resistance", True)
    assert found["excess_ohms"] == pytest.approx(1.0, abs=0.06)
    assert found["distance_m"] is None
    assert {j["enclosure"] for j in found["joints"]} == {"MDB", "PH1"}
    good = wiretrack("fault", L1, "--along", "0.42", *AT_20, "--json").json
    assert good["proved"] is False
    beside = wiretrack(
        "fault", L1, "--along", "0.52", "--like", f"{L2}=0.41", *AT_20, "--json"
    ).json
    assert (beside["method"], beside["proved"]) == ("parallel", True)
    assert beside["excess_ohms"] == pytest.approx(0.11, abs=0.01)


def test_the_route_is_drawn_with_the_place_and_the_box(
    wiretrack: Wiretrack, tmp_path: Path
) -> None:
    file = tmp_path / "fault.svg"
    arguments = ["fault", L1, "--murray", "3:1", "--good", L2, "--temp", "20", "--svg", file]
    assert wiretrack(*arguments).status == 0
    root = ElementTree.fromstring(file.read_text("utf-8"))
    words = [e.text for e in root.iter() if e.tag.endswith("text")]
    assert "33.5 m" in words
    assert any("open first" in (word or "") for word in words)
    ran = wiretrack("fault", L1, "--along", "1.4", "--svg", file)
    assert (ran.status, "has no distance to draw" in ran.err) == (2, True)


def test_contact_with_the_protective_conductor_is_an_earth_fault(wiretrack: Wiretrack) -> None:
    near, far = 2 * PER_M * 20, 2 * PER_M * 47
    found = wiretrack(
        "fault", L1, "--against", PE, "--near", near, "--far", far, "--temp", "20", "--json"
    ).json
    assert (found["kind"], found["distance_m"]) == ("earthed", pytest.approx(20, abs=0.01))


def test_the_face_for_people_warns_and_names_the_box_to_open(wiretrack: Wiretrack) -> None:
    ran = wiretrack("fault", L1, "--murray", "3:1", "--good", L2, "--temp", "20")
    assert ran.status == 0
    assert "Before you begin" in ran.err
    assert "33.5 m (110 ft) from MDB" in ran.words
    assert "Prove it dead" in " ".join(ran.err.split())


# 2 * 67 m * 4.61 Ω/km at 15 °C, half-way between the extremes where no temperature is stated,
# with 0.004 per K from 20 °C: 0.6054 Ω.
WRONG = [
    (["--against", L2, "--near", "0.100", "--far", "0.100"], "together less than the 0.6054 Ω"),
    (["--against", L2, "--near", "3.000", "--far", "0.100"], "beyond PH1, where the line ends"),
    (["--near", "0.3"], "Say what the conductor is in contact with"),
    ([], "Nothing was measured"),
    (["--murray", "3", "--good", L2], "'3' is no pair of ratio arms"),
    (["--murray", "nan:1", "--good", L2], "Ratio arm on the good conductor"),
    (["--murray", "3:1"], "A loop test needs its good conductor"),
    (["--varley", "1:1", "--good", L2], "Give --set"),
    (["--near", "1nF"], "capacitance from both ends"),
    (["--against", L2, "--near", "OL"], "is over-range"),
    (["--against", L2, "--near", "0.1", "--leads", "0.9"], "less than the 0.9 Ω of the leads"),
    (["--along", "0.4", "--like", "0.3"], "Write TAG=OHMS"),
    (["--at", "W1", "--murray", "3:1", "--good", L2], "No enclosure is called 'W1'"),
    (["--murray", "3:1", "--good", L2, "--temp", "W9=3"], "No raceway is called 'W9'"),
]


@pytest.mark.parametrize(
    ("arguments", "words"), WRONG, ids=lambda v: " ".join(v)[:40] if isinstance(v, list) else ""
)
def test_what_can_not_be_is_refused_in_one_line(
    wiretrack: Wiretrack, arguments: list[str], words: str
) -> None:
    ran = wiretrack("fault", L1, *arguments)
    assert ran.status == 2
    assert words in ran.err
    assert ran.err.count("\n") == 1


def site(db: Path, **changes: Any) -> Any:
    """Load a pump site with two raceways W1 and W2 of 20 m and 40 m, changed as wanted."""
    content = deepcopy(PUMP)
    content["enclosures"].append({"code": "LB", "kind": "conduit-body", "where": "by the hedge"})
    content["raceways"] = [
        {"code": "W1", "from": "MDB", "to": "LB", "length": "20 m"},
        {"code": "W2", "from": "PH1", "to": "LB", "length": "40 m"},
    ]
    content["pulls"] = [{"code": "P1", "path": ["W1", "W2"]}]
    for name, value in changes.items():
        for record in content[name]:
            for key, new in value.items():
                record.pop(key, None)
                if new is not None:
                    record[key] = new
    file, path = db.parent / "two.json", db.parent / "two.db"
    file.write_text(json.dumps(content), "utf-8")
    assert run(["--db", str(path), "new", "--name", "two"]) == 0
    assert run(["--db", str(path), "load", str(file)]) == 0
    return path


def test_the_place_is_named_between_the_boxes_of_its_raceway(
    db: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = site(db)
    capsys.readouterr()
    arguments = ["fault", L1, "--murray", "3:1", "--good", L2, "--temp", "20", "--json"]
    assert run(["--db", str(path), *arguments]) == 0
    found = json.loads(capsys.readouterr().out)
    # By hand: 33.5 m of 67 m of wire is half of the 60 m route: 10 m (11.17 m of wire) into W2.
    assert (found["raceway"], found["between"]) == ("W2", ["LB", "PH1"])
    assert found["in_raceway_m"] == pytest.approx(33.5 - 67 / 3)
    assert (found["open_first"], found["open_first_where"]) == ("LB", "by the hedge")


def test_sections_of_different_temperature_shift_the_place(
    db: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = site(db, conductors={"length": None})
    capsys.readouterr()
    # By hand: 20 m at 70 °C have 1.2 times the resistance (0.004 per K from 20 °C): of a loop of
    # 2 * (24 + 40) m of cold wire a quarter is 32 m: 24 m are W1, the other 8 m lie in W2.
    arguments = ["--temp", "W1=70", "--temp", "W2=20", "--json"]
    assert run(["--db", str(path), "fault", L1, "--murray", "3:1", "--good", L2, *arguments]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["distance_m"] == pytest.approx(28)
    assert f"{L1[:3]}-{L1[3:]}: length assumed from its raceways" in found["remarks"]


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        (
            {"conductors": {"length": None}, "raceways": {"length": None}},
            "and of its raceways W1, W2 is unknown. Pace it off and record it, or read a",
        ),
        ({"conductors": {"length": None, "pull": None}}, "The length of PMP-"),
        ({"conductors": {"metal": None}}, "is unknown. Record it: Cu or Al."),
    ],
)
def test_what_the_record_lacks_is_said_with_what_to_measure(
    db: Path, capsys: pytest.CaptureFixture[str], changes: dict[str, Any], words: str
) -> None:
    path = site(db, **changes)
    capsys.readouterr()
    assert run(["--db", str(path), "fault", L1, "--murray", "3:1", "--good", PE]) == 2
    assert words in capsys.readouterr().err


def test_without_raceway_lengths_there_is_a_distance_but_no_raceway(
    db: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = site(db, raceways={"length": None})
    capsys.readouterr()
    assert run(["--db", str(path), "fault", L1, "--near", "1nF", "--far", "1nF", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert (found["distance_m"], found["raceway"]) == (pytest.approx(33.5), None)
    assert any("no length is recorded for W1, W2" in remark for remark in found["remarks"])


def with_others(db: Path) -> Any:
    """Load the two-raceway site with conductors that run elsewhere, backwards, or unrecorded."""
    content = deepcopy(PUMP)
    content["enclosures"] += [{"code": "LB"}, {"code": "SHED"}]
    content["raceways"] = [
        {"code": "W1", "from": "MDB", "to": "LB", "length": "20 m"},
        {"code": "W2", "from": "PH1", "to": "LB", "length": "40 m"},
        {"code": "W3", "from": "MDB", "to": "PH1", "length": "64 m"},
        {"code": "W4", "from": "LB", "to": "SHED", "length": "44 m"},
    ]
    content["pulls"] = [
        {"code": "P1", "path": ["W1", "W2"]},
        {"code": "P3", "path": ["W3"]},
        {"code": "P4", "path": ["W1", "W4"]},
    ]
    plain = {**content["conductors"][1], "from": {"enclosure": "MDB"}}
    content["conductors"] += [
        {**plain, "tag": ELSEWHERE, "pull": "P4", "to": {"enclosure": "SHED"}},
        {**plain, "tag": OTHER_RACEWAY, "pull": "P3"},
        {**plain, "tag": BACKWARDS, "from": {"enclosure": "PH1"}, "to": {"enclosure": "MDB"}},
        {k: v for k, v in {**plain, "tag": NO_ROUTE}.items() if k != "pull"},
    ]
    file, path = db.parent / "others.json", db.parent / "others.db"
    file.write_text(json.dumps(content), "utf-8")
    assert run(["--db", str(path), "new", "--name", "others"]) == 0
    assert run(["--db", str(path), "load", str(file)]) == 0
    return path


ELSEWHERE, OTHER_RACEWAY, BACKWARDS, NO_ROUTE = map(tag, ("PMP011", "PMP012", "PMP013", "PMP014"))
LOOPS = (["--murray", "3:1"], ["--varley", "100:100", "--set", "0.3 ohm"])


@pytest.mark.parametrize("loop", LOOPS)
@pytest.mark.parametrize(
    ("good", "words"),
    [
        (ELSEWHERE, "runs from MDB to SHED, PMP-001G from MDB to PH1"),
        (OTHER_RACEWAY, "runs through W3, PMP-001G through W1, W2"),
        (L1, "is the faulty conductor itself"),
    ],
)
def test_the_good_conductor_of_a_loop_must_run_beside_the_faulty_one(
    db: Path, capsys: pytest.CaptureFixture[str], loop: list[str], good: str, words: str
) -> None:
    path = with_others(db)
    capsys.readouterr()
    assert run(["--db", str(path), "fault", L1, *loop, "--good", good, "--temp", "20"]) == 2
    told = capsys.readouterr()
    assert (told.out, told.err.count("\n")) == ("", 1)
    assert words in told.err


@pytest.mark.parametrize("good", [L2, BACKWARDS])
def test_a_good_conductor_may_be_recorded_from_either_end(
    db: Path, capsys: pytest.CaptureFixture[str], good: str
) -> None:
    path = with_others(db)
    capsys.readouterr()
    asked = ["fault", L1, "--murray", "3:1", "--good", good, "--temp", "20", "--json"]
    assert run(["--db", str(path), *asked]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["distance_m"] == pytest.approx(33.5, abs=1e-6)
    assert not any("side by side" in remark for remark in found["remarks"])


def test_where_the_record_lacks_the_route_the_answer_says_what_to_see_to(
    db: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = with_others(db)
    capsys.readouterr()
    asked = ["fault", L1, "--murray", "3:1", "--good", NO_ROUTE, "--temp", "20", "--json"]
    assert run(["--db", str(path), *asked]) == 0
    remarks = json.loads(capsys.readouterr().out)["remarks"]
    assert any("lacks the raceways of PMP-014" in remark for remark in remarks)


# What rounds to the typed digits, by hand over 67 m: (asked, nearest and farthest place in m).
ROUNDED = [
    # 0.5 to 1.5 nF at the near end, 2.5 to 3.5 nF at the far one: L C1 / (C1 + C2).
    (["--near", "1 nF", "--far", "3 nF"], 67 * 0.5 / 4.0, 67 * 1.5 / 4.0),
    (["--near", "1.00 nF", "--far", "3.00 nF"], 67 * 0.995 / 4.0, 67 * 1.005 / 4.0),
    # Arms 2.5 to 3.5 and 0.5 to 1.5 over a loop of 134 m.
    (["--murray", "3:1", "--good", L2], 134 * 0.5 / 4.0, 134 * 1.5 / 4.0),
    (["--murray", "668:332", "--good", L2], 134 * 0.3315, 134 * 0.3325),
    # Equal arms: z = (loop - set) / 2, set 0.25 to 0.35 ohm.
    (["--varley", "100:100", "--set", "0.3", "--good", L2],
     67 - 0.35 / 2 / PER_M, 67 - 0.25 / 2 / PER_M),
    # Half the difference of both ends: 0.25 to 0.35 and 0.35 to 0.45 ohm.
    (["--against", L2, "--near", "0.3", "--far", "0.4"],
     (67 - 0.2 / 2 / PER_M) / 2, (67 - 0.0 / 2 / PER_M) / 2),
    # A raceway of 0.05 to 0.15 ohm as way back, z = (total + near - far) / 2, all shared by length.
    (["--against", "raceway", "--raceway-ohms", "0.1", "--near", "0.2000", "--far", "0.3000"],
     (67 * PER_M + 0.05 - 0.1) / 2 * 67 / (67 * PER_M + 0.05),
     (67 * PER_M + 0.15 - 0.1) / 2 * 67 / (67 * PER_M + 0.15)),
]  # fmt: skip


@pytest.mark.parametrize(("asked", "nearest", "farthest"), ROUNDED)
def test_no_interval_is_narrower_than_the_typed_digits_allow(
    wiretrack: Wiretrack, asked: list[str], nearest: float, farthest: float
) -> None:
    found = wiretrack("fault", L1, *asked, "--temp", "20", "--json").json
    assert found["low_m"] <= nearest + 1e-6
    assert found["high_m"] >= farthest - 1e-6


def test_leads_of_one_digit_are_no_better_than_that_digit(wiretrack: Wiretrack) -> None:
    # 0.1 ohm is 0.05 to 0.15 ohm.
    found = wiretrack("fault", L1, "--along", "1.4000", "--leads", "0.1", "--temp", "20", "--json")
    assert found.json["excess_uncertainty_ohms"] > 0.05
    finer = wiretrack(
        "fault", L1, "--along", "1.4000", "--leads", "0.1000", "--temp", "20", "--json"
    ).json
    budget = found.json["excess_uncertainty_ohms"] ** 2 - finer["excess_uncertainty_ohms"] ** 2
    assert budget**0.5 > 0.05


def test_more_digits_give_a_narrower_interval(wiretrack: Wiretrack) -> None:
    widths = [
        wiretrack("fault", L1, "--near", near, "--far", far, "--json").json["uncertainty_m"]
        for near, far in (("1 nF", "3 nF"), ("1.0 nF", "3.0 nF"), ("1.00 nF", "3.00 nF"))
    ]
    assert widths == sorted(widths, reverse=True)
    assert widths[0] > 67 / 8 - 1e-9  # a quarter of 67 m, give or take an eighth
    assert widths[2] < 2


def test_each_joint_of_conductors_in_series_may_add_a_little(wiretrack: Wiretrack) -> None:
    # Common practice: 0.1 ohm for contacts, 0.02 ohm for the joint; half of it is taken off.
    one = wiretrack("fault", L1, "--along", "1.400", *AT_20, "--json").json
    two = wiretrack("fault", L1, L2, "--along", "1.400", *AT_20, "--json").json
    assert one["excess_ohms"] == pytest.approx(1.3 - 67 * PER_M - 0.05)
    assert two["excess_ohms"] == pytest.approx(1.3 - 134 * PER_M - 0.06)
