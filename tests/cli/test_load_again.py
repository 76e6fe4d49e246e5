# SPDX-License-Identifier: MIT
"""A file over records that are there: the same, others, and what goes with them."""

from __future__ import annotations

import copy
import json
import shutil
from typing import TYPE_CHECKING, Any

import pytest

from tests.pump import L1, PE, PUMP
from wiretrack.store.store import open_registry
from wiretrack.tasks.describe.sites import Load, dump_site, load_site, verify

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from tests.cli.conftest import Ran, Wiretrack

    Load_ = Callable[..., Ran]

TABLES = ("enclosures", "terminals", "devices", "raceways", "circuits", "pulls", "conductors",
          "instruments", "readings")  # fmt: skip
NONE = dict.fromkeys(TABLES, 0)
ALL_THERE = NONE | {"enclosures": 2, "raceways": 1, "circuits": 1, "pulls": 1, "conductors": 3,
                    "instruments": 2}  # fmt: skip


@pytest.fixture
def load(wiretrack: Wiretrack, tmp_path: Path) -> Load_:
    def loaded(document: dict[str, Any], *options: str) -> Ran:
        file = tmp_path / "more.json"
        file.write_text(json.dumps({"format": "wiretrack-site/1"} | document), "utf-8")
        return wiretrack("load", file, *options)

    return loaded


@pytest.fixture
def pump() -> dict[str, Any]:
    return copy.deepcopy(PUMP)


def dumped(wiretrack: Wiretrack) -> dict[str, Any]:
    """The registry as a site file, without its history."""
    found: dict[str, Any] = wiretrack("dump").json
    del found["changes"]
    return found


def test_the_same_file_again_changes_nothing(
    load: Load_, wiretrack: Wiretrack, pump: dict[str, Any]
) -> None:
    before = wiretrack("dump").out
    for options in ([], ["--update"], ["--look"]):
        ran = load(pump, "--json", *options).json
        assert (ran["added"], ran["changed"], ran["unchanged"]) == (NONE, [], ALL_THERE)
        assert ran["change"] is None
    assert wiretrack("dump").out == before
    for wire in pump["conductors"]:
        del wire["tag"]  # then it is known by what it is
    assert load(pump, "--json").json["unchanged"] == ALL_THERE
    assert wiretrack("dump").out == before
    assert "load it" not in load(pump, "--look").out


def test_a_record_that_is_there_with_other_content_is_refused_by_its_name(
    load: Load_, wiretrack: Wiretrack, pump: dict[str, Any]
) -> None:
    before = wiretrack("dump").out
    pump["conductors"][0]["length"] = "70 m"
    for named in (True, False):
        if not named:
            del pump["conductors"][0]["tag"]
        ran = load(pump)
        assert (ran.status, ran.out) == (2, "")
        assert ran.err.endswith(
            "1 fault: conductors[0].length: The registry has a conductor 'PMP-001G' already, with"
            " other content: length is '67 m' there, '70 m' here. Correct it here, or update it"
            " there.\n"
        )
    assert wiretrack("dump").out == before


def test_an_update_changes_what_the_file_says_and_leaves_the_rest(
    load: Load_, wiretrack: Wiretrack
) -> None:
    before = dumped(wiretrack)
    some = {
        "conductors": [{"tag": L1, "length": "70 m", "to": {"enclosure": "PH1", "terminal": "1"}}],
        "enclosures": [{"code": "PH1", "wet": False}],
        "site": {"edition": 2023, "rules": "NEC"},
    }
    looked = load(some, "--json", "--update", "--look").json
    assert dumped(wiretrack) == before
    ran = load(some, "--json", "--update").json
    assert ran["changed"] == looked["changed"]
    assert [(each["what"], each["code"], each["fields"]) for each in ran["changed"]] == [
        ("enclosure", "PH1", {"wet": [True, False]}),
        (
            "conductor",
            "PMP-001G",
            {
                "to.terminal": [None, "1"],
                "to.state": [None, "landed"],
                "length": ["67 m", "70 m"],
            },
        ),
        ("site", "site", {"rules": ["IEC", "NEC"], "edition": [None, 2023]}),
    ]
    assert len(ran["change"]) == 8
    after = dumped(wiretrack)
    before["site"] |= {"rules": "NEC", "edition": 2023}
    before["enclosures"][1]["wet"] = False
    before["conductors"][0] |= {"length": "70 m"}
    before["conductors"][0]["to"] |= {"terminal": "1", "state": "landed"}
    added = [terminal for terminal in after["terminals"] if terminal not in before["terminals"]]
    assert [(each["enclosure"], each["code"]) for each in added] == [("PH1", "1")]
    before["terminals"] += added
    assert after == before
    assert wiretrack("verify", "--json").json["ok"]


def test_what_is_new_in_an_update_is_added_beside_what_changes(
    load: Load_, wiretrack: Wiretrack
) -> None:
    ran = load(
        {
            "enclosures": [{"code": "PH2"}, {"code": "PH1", "name": "old box"}],
            "raceways": [{"code": "W2", "from": "PH1", "to": "PH2"}],
            "pulls": [{"code": "P1", "path": ["W1", "W2"]}],
            "conductors": [{"tag": PE, "to": {"enclosure": "PH2"}}],
        },
        "--json",
        "--update",
    ).json
    assert ran["added"] == NONE | {"enclosures": 1, "raceways": 1}
    assert {each["code"]: each["fields"] for each in ran["changed"]} == {
        "PH1": {"name": ["pump box", "old box"]},
        "P1": {"path": [["W1"], ["W1", "W2"]]},
        "PMP-00EP": {"to.enclosure": ["PH1", "PH2"]},
    }
    assert wiretrack("show", PE, "--json").json["route"] == ["W1", "W2"]
    assert wiretrack("verify", "--json").json["ok"]


def test_a_reading_is_never_changed_by_a_file(load: Load_, wiretrack: Wiretrack) -> None:
    reading = {"kind": "continuity", "subject": L1, "value": "0.31 ohm", "instrument": "M1"}
    reading |= {"id": "0a1b2c3d-4e5f-4a6b-8c7d-0123456789ab", "at": "2026-05-02T10:15:00+02:00"}
    assert load({"readings": [reading]}, "--json").json["added"]["readings"] == 1
    without_id = {key: value for key, value in reading.items() if key != "id"}
    for same in (reading, without_id):
        assert load({"readings": [same]}, "--json").json["unchanged"]["readings"] == 1
    ran = load({"readings": [reading | {"value": "0.35 ohm"}]}, "--update")
    assert ran.status == 2
    assert "readings[0].value: The registry has this reading with other content" in ran.err
    assert len(dumped(wiretrack)["readings"]) == 1


def test_what_hangs_on_a_changed_record_is_checked_with_it(
    load: Load_, wiretrack: Wiretrack
) -> None:
    before = wiretrack("dump").out
    ran = load({"enclosures": [{"code": "PH2"}], "raceways": [{"code": "W1", "to": "PH2"}]},
               "--update")  # fmt: skip
    assert ran.status == 2
    assert (
        "conductor PMP-001G in the registry pull: The ends, in 'MDB' and 'PH1', are not joined by"
        " the path of pull 'P1': MDB - PH2." in ran.err
    )
    ran = load({"circuits": [{"code": "PUMP", "retired_at": "2026-05-02"}]}, "--update")
    assert "The circuit 'PUMP' is retired, this conductor of it is not." in ran.err
    assert wiretrack("dump").out == before


def test_a_record_is_renamed_by_its_identifier_and_every_reference_stays(
    load: Load_, wiretrack: Wiretrack
) -> None:
    """Ids and all other records stay; only the name differs wherever it is written."""
    before = wiretrack("dump").out
    edited = json.loads(before)
    ids = {box["code"]: box["id"] for box in edited["enclosures"]}
    ran = load({"enclosures": [{"id": ids["MDB"], "code": "PH1"}]}, "--update")
    assert (ran.status, wiretrack("dump").out) == (2, before)
    assert "The registry has an enclosure 'PH1' already." in ran.err
    clash = load({"enclosures": [{"id": ids["MDB"], "code": "PH1"}, {"code": "PH1", "name": "x"}]},
                 "--update")  # fmt: skip
    assert clash.status == 2
    ran = load({"enclosures": [{"id": ids["MDB"], "code": "MDP"}]}, "--update", "--json").json
    assert ran["changed"][0]["fields"] == {"code": ["MDB", "MDP"]}
    del edited["changes"]
    renamed = json.loads(json.dumps(edited).replace('"MDB"', '"MDP"'))
    assert dumped(wiretrack) == renamed
    assert wiretrack("verify", "--json").json["ok"]
    # a terminal named as the renamed one was is another one
    assert wiretrack("land", L1, "MDP", "--terminal", "Q9", "--new-terminal").status == 0


def test_a_renamed_device_keeps_its_terminals_and_a_moved_one_takes_its_wires_along(
    load: Load_, wiretrack: Wiretrack
) -> None:
    device = {"enclosure": "MDB", "code": "Q4", "kind": "breaker", "poles": [["1", "2"]]}
    assert load({"devices": [device]}).status == 0
    found = next(each for each in dumped(wiretrack)["devices"] if each["code"] == "Q4")
    ran = load({"devices": [{"id": found["id"], "code": "Q5"}]}, "--update", "--json").json
    changed = {each["code"]: (each["fields"]["code"], each["follows"]) for each in ran["changed"]}
    assert changed == {
        "MDB/Q4": (["Q4", "Q5"], False),
        "MDB/Q4:1": (["Q4:1", "Q5:1"], True),
        "MDB/Q4:2": (["Q4:2", "Q5:2"], True),
        "MDB/Q4:3": (["Q4:3", "Q5:3"], True),
    }
    wire = wiretrack("show", L1, "--json").json
    assert wire["ends"][0]["terminal"] == "Q5:1"
    torn = load({"enclosures": [{"code": "MDC"}], "devices": [{"id": found["id"],
                "enclosure": "MDC"}]}, "--update")  # fmt: skip
    assert torn.status == 2
    assert "conductor PMP-001G in the registry pull: The ends, in 'MDC' and 'PH1'" in torn.err
    for line in dumped(wiretrack)["conductors"]:
        assert line["from"]["enclosure"] == "MDB"
    assert wiretrack("verify", "--json").json["ok"]


def test_an_edited_dump_of_a_worked_site_becomes_the_registry(
    demo_db: Path, tmp_path: Path
) -> None:
    """The dump after an update is the file that was loaded; twice is once; logs stay."""
    path, file, again = tmp_path / "a.db", tmp_path / "a.json", tmp_path / "b.json"
    shutil.copy(demo_db, path)
    with open_registry(path) as registry:
        dump_site(registry, file)
        edited = json.loads(file.read_text("utf-8"))
        for number, wire in enumerate(edited["conductors"]):
            wire["note"] = f"note {number}"
            wire.pop("id")
            wire.pop("colour", None)
        for number, box in enumerate(edited["enclosures"]):
            box |= {"name": f"box {number}", "wet": number % 2 == 0}
        edited["devices"][0]["rating"] = "63 A"
        edited["site"]["name"] = "Other Mill"
        file.write_text(json.dumps(edited), "utf-8")
        done = load_site(registry, file, how=Load(update=True))
        assert not any(done.added.values())
        assert done.unchanged["readings"] == len(edited["readings"]) > 10
        twice = load_site(registry, file, how=Load(update=True))
        assert (twice.changed, twice.change) == ((), None)
        dump_site(registry, again)
        assert verify(registry).ok
    found = json.loads(again.read_text("utf-8"))
    assert len(found["changes"]) > len(edited["changes"])
    for document in (found, edited):
        document.pop("changes")
        for wire in document["conductors"]:
            wire.pop("id", None)
            wire.pop("colour", None)  # left out, so it stays
    assert found == edited
