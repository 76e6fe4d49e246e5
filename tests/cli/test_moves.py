# SPDX-License-Identifier: MIT
"""Circuits go to another breaker or are divided, wires to another circuit, devices elsewhere."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from tests.pump import L1, L2, PE
from wiretrack.cli.group import run

if TYPE_CHECKING:
    from tests.cli.conftest import Wiretrack

BREAKER = {"kind": "breaker", "closed": True, "poles": [["2", "1"], ["4", "3"]]}


@pytest.fixture(scope="module")
def worked(pump_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The pump on breaker Q4 of two, with labels on."""
    folder = tmp_path_factory.mktemp("worked")
    db, file = shutil.copy(pump_template, folder), folder / "more.json"
    devices = [
        {"enclosure": "MDB", "code": "Q4", **BREAKER},
        {"enclosure": "MDB", "code": "Q6", **BREAKER},
        {"enclosure": "MDB", "code": "Q8", "kind": "breaker", "poles": [["2", "1"]]},
    ]
    file.write_text(json.dumps({"format": "wiretrack-site/1", "devices": devices}), "utf-8")

    def done(*words: object) -> None:
        assert run(["--db", str(db), *map(str, words)]) == 0

    done("load", file)
    for tag, terminal in ((L1, "TB:1"), (L2, "TB:2"), (PE, "PE")):
        done("land", tag, "PH1", "--terminal", terminal, "--new-terminal")
    done("label", "print", "PUMP", "--stock", "flag-90x25-300", "--out", folder / "l.pdf")
    done("label", "placed", "PUMP")
    return Path(db)


@pytest.fixture
def db(worked: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(worked, tmp_path))


def ends(wiretrack: Wiretrack, tag: str) -> list[Any]:
    return [end["terminal"] for end in wiretrack("show", tag, "--json").json["ends"]]


def due(done: dict[str, Any]) -> set[tuple[str, str]]:
    return {(row["tag"], row["end"]) for row in done["labels_due"]}


def test_a_circuit_goes_to_another_breaker_pole_by_pole(wiretrack: Wiretrack) -> None:
    done = wiretrack("set", "PUMP", "device=MDB/Q6", "--json").json
    assert done["changed"] == {"device": ["MDB/Q4", "MDB/Q6"]}
    assert [ends(wiretrack, tag)[0] for tag in (L1, L2, PE)] == ["Q6:1", "Q6:3", "PE"]
    both = {("PMP-001G", end) for end in ("from", "to")} | {
        ("PMP-002E", "from"),
        ("PMP-002E", "to"),
    }
    assert due(done) == both  # both ends' labels say where each wire goes
    assert wiretrack("set", "PUMP", "device=MDB/Q4").status == 0
    assert [ends(wiretrack, tag)[0] for tag in (L1, L2)] == ["Q4:1", "Q4:3"]
    assert wiretrack("label", "due", "--json").json == []


def test_where_it_has_no_room_is_said(wiretrack: Wiretrack) -> None:
    ran = wiretrack("set", "PUMP", "device=MDB/Q8")
    assert ran.err == "error: MDB/Q8 has no pole for what is on MDB Q4:3.\n"
    other = wiretrack("add", "conductor", "L1", "circuit=X", "--like", L1)
    assert other.status == 2
    assert wiretrack("add", "circuit", "X").status == 0
    assert (
        wiretrack("add", "conductor", "L1", "circuit=X", "--like", L1, "from=MDB/Q6:1").status == 0
    )
    ran = wiretrack("set", "PUMP", "device=MDB/Q6")
    assert "(X L1) is on MDB Q6:1 already. Land it elsewhere first." in ran.err
    assert "No device is called 'MDB/Q9'" in wiretrack("set", "PUMP", "device=MDB/Q9").err
    assert wiretrack("add", "circuit", "Y").status == 0
    assert "Y is landed on no one breaker or fuse." in wiretrack("set", "Y", "device=MDB/Q8").err


def test_a_wire_is_given_to_another_circuit(wiretrack: Wiretrack) -> None:
    assert wiretrack("add", "circuit", "WELL", "title=well pump").status == 0
    done = wiretrack("set", L1, "circuit=WELL", "--json").json
    assert done["changed"] == {"circuit": ["PUMP", "WELL"]}
    assert due(done) == {("PMP-001G", "from"), ("PMP-001G", "to")}


def test_a_circuit_is_divided_in_two_as_one_change(wiretrack: Wiretrack) -> None:
    assert wiretrack("add", "circuit", "WELL").status == 0
    done = wiretrack("set", "WELL", f"conductors={L2},{PE}", "title=well", "--json").json
    assert done["changed"] == {"title": [None, "well"]}
    assert [row["code"] for row in done["follows"]] == ["PMP-002E", "PMP-00EP"]
    rows = {row["tag"]: row["circuit"] for row in wiretrack("dump").json["conductors"]}
    assert rows == {"PMP-001G": "PUMP", "PMP-002E": "WELL", "PMP-00EP": "WELL"}
    assert len(due(done)) == 4
    assert wiretrack("undo", done["change"]).status == 0
    rows = {row["tag"]: row["circuit"] for row in wiretrack("dump").json["conductors"]}
    assert {*rows.values()} == {"PUMP"}
    assert wiretrack("set", PE, "circuit=PUMP,WELL").status == 0
    ran = wiretrack("set", "WELL", f"conductors={PE}")
    assert "PMP-00EP serves PUMP and WELL." in ran.err


def test_a_device_in_another_box_takes_wires_along_that_may_end_there(wiretrack: Wiretrack) -> None:
    assert wiretrack("add", "enclosure", "MDC").status == 0
    torn = wiretrack("set", "MDB/Q4", "enclosure=MDC")
    assert torn.status == 2
    for tag in ("PMP-001G", "PMP-002E"):
        assert f"conductor {tag} in the registry pull: The ends, in 'MDC'" in torn.err
    for tag in (L1, L2):
        assert wiretrack("set", tag, "pull=").status == 0
    done = wiretrack("set", "MDB/Q4", "enclosure=MDC", "--json").json
    assert done["changed"] == {"enclosure": ["MDB", "MDC"]}
    wires = {row["code"] for row in done["follows"] if row["what"] == "conductor"}
    assert wires == {"PMP-001G", "PMP-002E"}
    assert ends(wiretrack, L1)[0] == "Q4:1"
    assert due(done) == {(tag, end) for tag in wires for end in ("from", "to")}
    assert wiretrack("verify").status == 0
