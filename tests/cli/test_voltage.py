# SPDX-License-Identifier: MIT
"""Voltages logged as people log them: what the record says of the supply decides."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from wiretrack.model.tags import check_character, format_tag
from wiretrack.store.store import open_registry
from wiretrack.tasks.describe.sites import load_site, new_site

if TYPE_CHECKING:
    from tests.cli.conftest import Wiretrack


def tag(body: str) -> str:
    return body + check_character(body)


# The circuits of a workshop under the NEC and a barn under the IEC: their functions, from one box.
CIRCUITS: dict[str, dict[str, Any]] = {
    "MULTI": {"system": "ac-1ph", "max_voltage": "240 V", "of": "L1 L2 N PE"},
    "LEGS": {"system": "ac-1ph", "max_voltage": "208 V", "supply": "208Y/120", "of": "L1 L2 N"},
    "WILD": {"system": "ac-3ph", "supply": "240/120 high leg", "of": "L1 L2 L3 N PE"},
    "SAW": {"system": "ac-3ph", "max_voltage": "480 V", "of": "L1 L2 L3 PE"},
    "LAMP": {"system": "ac-1ph", "max_voltage": "120 V", "of": "L1 N"},
    "BANK": {"system": "dc-battery", "max_voltage": "58 V", "of": "L+ L-"},
    "ROW1": {
        "system": "dc-pv", "max_voltage": "600 V", "of": "L+ L- PE",
        "module": {"voc": "40 V", "voc_pct_per_k": -0.3, "series": 12},
    },
    "ROW2": {"system": "dc-pv", "max_voltage": "600 V", "of": "L+ L-"},
}  # fmt: skip
TAGS = {
    (code, function): tag(f"V{number}{place}0A0")
    for number, (code, facts) in enumerate(CIRCUITS.items())
    for place, function in enumerate(facts["of"].split())
}


def site(rules: dict[str, Any]) -> dict[str, Any]:
    return {
        "format": "wiretrack-site/1",
        "site": {"code": "SHOP", **rules},
        "enclosures": [{"code": "A"}, {"code": "B"}],
        "circuits": [
            {"code": code, **{key: value for key, value in facts.items() if key != "of"}}
            for code, facts in CIRCUITS.items()
        ],
        "conductors": [
            {"tag": code, "circuit": circuit, "function": function, "size": "12 AWG",
             "from": {"enclosure": "A"}, "to": {"enclosure": "B"}}
            for (circuit, function), code in TAGS.items()
        ],
        "instruments": [{"code": "M1", "accuracy": "0.5% + 2 digits", "resolution": "0.1 V"}],
    }  # fmt: skip


@pytest.fixture
def db(workshop: Path, tmp_path: Path) -> Path:
    """The path of a registry of the workshop."""
    return Path(shutil.copy(workshop, tmp_path))


@pytest.fixture(scope="module")
def workshop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("shop")
    path, file = folder / "shop.db", folder / "shop.json"
    file.write_text(json.dumps(site({"rules": "NEC", "edition": 2023})), "utf-8")
    new_site(path, "Workshop")
    with open_registry(path) as registry:
        load_site(registry, file)
    return path


def log(wiretrack: Wiretrack, circuit: str, one: str, other: str, volts: str, *more: str) -> str:
    against = other if other in ("raceway", "PE") else TAGS[circuit, other]
    ran = wiretrack(
        "test", "log", TAGS[circuit, one], "--kind", "voltage", volts, "--against", against,
        "--instrument", "M1", *more, "--json",
    )  # fmt: skip
    outcome = str(ran.json["verdict"]["outcome"])
    assert ran.status == (1 if outcome == "fail" else 0)
    return outcome


def owed(wiretrack: Wiretrack, circuit: str) -> set[tuple[str, str]]:
    return {
        (step["subject"], step["against"])
        for step in wiretrack("test", "plan", circuit, "--json").json
        if step["kind"] == "voltage"
    }


def pair(circuit: str, one: str, other: str) -> tuple[str, str]:
    return format_tag(TAGS[circuit, one]), format_tag(TAGS[circuit, other])


# ANSI C84.1-2016, Table 1, range A; see tests/electrical/test_supplies.py.
@pytest.mark.parametrize(
    ("circuit", "one", "other", "volts", "outcome"),
    [
        ("MULTI", "L1", "N", "237 V", "fail"), ("MULTI", "L1", "N", "121 V", "pass"),
        ("MULTI", "L2", "N", "121 V", "pass"), ("MULTI", "L1", "L2", "242 V", "pass"),
        ("MULTI", "L1", "PE", "61 V", "fail"), ("MULTI", "N", "PE", "119 V", "fail"),
        ("MULTI", "PE", "N", "0.7 V", "pass"), ("MULTI", "L2", "raceway", "119 V", "pass"),
        ("LEGS", "L1", "N", "120 V", "pass"), ("LEGS", "L1", "L2", "207 V", "pass"),
        ("LEGS", "L1", "L2", "240 V", "fail"), ("WILD", "L2", "N", "209 V", "pass"),
        ("WILD", "L1", "N", "121 V", "pass"), ("WILD", "L3", "PE", "207 V", "fail"),
        ("SAW", "L1", "L2", "478 V", "pass"), ("SAW", "L1", "PE", "276 V", "doubt"),
        ("LAMP", "L1", "N", "59 V", "fail"), ("LAMP", "L1", "N", "118 V", "pass"),
        ("BANK", "L+", "L-", "53 V", "pass"), ("BANK", "L+", "L-", "-53 V", "fail"),
        ("BANK", "L-", "L+", "-53 V", "pass"), ("BANK", "L+", "PE", "53 V", "doubt"),
        # No reading of ten volts for a battery of 58: common practice.
        ("BANK", "L+", "L-", "10 V", "doubt"),
    ],
)  # fmt: skip
def test_a_voltage_is_judged_by_the_two_functions_and_the_supply(
    wiretrack: Wiretrack, circuit: str, one: str, other: str, volts: str, outcome: str
) -> None:
    assert log(wiretrack, circuit, one, other, volts) == outcome


def test_only_a_pass_clears_what_is_owed_and_the_plan_says_what_to_expect(
    wiretrack: Wiretrack,
) -> None:
    steps = wiretrack("test", "plan", "MULTI", "--json").json
    expected = [s["expected"] for s in steps if s["kind"] == "voltage"]
    assert [(e["low_v"], e["high_v"]) for e in expected] == [(108, 126), (108, 126)]
    assert all(s["expected"] is None for s in steps if s["kind"] != "voltage")
    assert "108 to 126 V" in wiretrack("test", "plan", "MULTI").out
    first, second = pair("MULTI", "L1", "N"), pair("MULTI", "L2", "N")
    assert owed(wiretrack, "MULTI") == {first, second}
    log(wiretrack, "MULTI", "L1", "N", "238 V")
    assert owed(wiretrack, "MULTI") == {first, second}
    rows = wiretrack("punchlist", "--json").json
    assert ("reading failed", first[0]) in {(row["what"], row["subject"]) for row in rows}
    log(wiretrack, "MULTI", "L1", "N", "120 V")
    assert owed(wiretrack, "MULTI") == {second}


def test_a_string_is_owed_until_its_value_is_proved(wiretrack: Wiretrack) -> None:
    # 12 · 40 V · (1 - 0.003 · (45 - 25)) = 451 V with cells at 45 °C, by hand.
    [step] = [s for s in wiretrack("test", "plan", "ROW1", "--json").json if s["kind"] == "voltage"]
    assert step["expected"]["low_v"] < 451 < step["expected"]["high_v"]
    string = pair("ROW1", "L+", "L-")
    for volts, more, outcome in (
        ("451 V", (), "doubt"), ("195 V", (), "fail"), ("14 V", (), "fail"),
        ("195 V", ("--cell-temp", "45 C"), "fail"), ("411 V", ("--cell-temp", "45 C"), "fail"),
        ("-451 V", ("--cell-temp", "45 C"), "fail"),
    ):  # fmt: skip
        assert log(wiretrack, "ROW1", "L+", "L-", volts, *more) == outcome
        assert owed(wiretrack, "ROW1") == {string}
    assert log(wiretrack, "ROW1", "L+", "PE", "225 V", "--cell-temp", "45 C") == "doubt"
    assert owed(wiretrack, "ROW1") == {string}
    # What `string` says of each is what the verdict says.
    for volts, status in (("451 V", 0), ("195 V", 1), ("411 V", 1)):
        ran = wiretrack(
            "string", "ROW1", "--reading", volts, "--cell-temp", "45 C", "--instrument", "M1"
        )
        assert ran.status == status
    assert log(wiretrack, "ROW1", "L+", "L-", "451 V", "--cell-temp", "45 C") == "pass"
    assert not owed(wiretrack, "ROW1")
    shown = wiretrack("show", TAGS["ROW1", "L+"], "--json").json["readings"][-1]
    assert shown["cell_temp_c"] == 45
    assert "cells at 45 °C" in wiretrack("show", TAGS["ROW1", "L+"]).words


def test_a_string_without_module_data_says_what_to_record(wiretrack: Wiretrack) -> None:
    assert log(wiretrack, "ROW2", "L+", "L-", "451 V", "--cell-temp", "45 C") == "doubt"
    rows = wiretrack("punchlist", "--json").json
    [row] = [row for row in rows if row["what"] == "reading in doubt"]
    assert "record the string's modules" in row["detail"]
    assert owed(wiretrack, "ROW2") == {pair("ROW2", "L+", "L-")}


def test_the_plus_of_one_string_against_the_minus_of_another_proves_nothing(
    wiretrack: Wiretrack,
) -> None:
    ran = wiretrack(
        "test", "log", TAGS["ROW1", "L+"], "--kind", "voltage", "451 V", "--cell-temp", "45 C",
        "--against", TAGS["ROW2", "L-"], "--json",
    )  # fmt: skip
    assert ran.json["verdict"]["outcome"] == "doubt"
    assert "read it against a conductor of ROW1" in ran.json["verdict"]["reason"]


def test_a_neutral_of_another_supply_proves_nothing(wiretrack: Wiretrack) -> None:
    line = TAGS["LAMP", "L1"]
    ran = wiretrack(
        "test", "log", line, "--kind", "voltage", "120 V", "--against", TAGS["WILD", "N"], "--json"
    )
    assert ran.json["verdict"]["outcome"] == "doubt"


def test_the_earthing_of_the_site_or_of_the_circuit_counts(
    wiretrack: Wiretrack, tmp_path: Path
) -> None:
    document = site({"rules": "IEC", "earthing": "IT"})
    document["circuits"] = [
        {"code": "FREE", "system": "ac-1ph", "supply": "230"},
        {"code": "BOUND", "system": "ac-1ph", "supply": "230", "earthing": "TN"},
    ]
    tags = {"FREE": tag("F0000A"), "BOUND": tag("B0000A")}
    document["conductors"] = [
        {"tag": code, "circuit": circuit, "function": "L1", "size": "2.5 mm2",
         "from": {"enclosure": "A"}, "to": {"enclosure": "B"}}
        for circuit, code in tags.items()
    ]  # fmt: skip
    file, path = tmp_path / "it.json", tmp_path / "it.db"
    file.write_text(json.dumps(document), "utf-8")
    assert wiretrack("--db", path, "new", "--name", "Free").status == 0
    assert wiretrack("--db", path, "load", file).status == 0
    for circuit, volts, outcome in (
        ("FREE", "231 V", "doubt"), ("FREE", "118 V", "doubt"),
        ("BOUND", "231 V", "pass"), ("BOUND", "118 V", "fail"),
    ):  # fmt: skip
        ran = wiretrack(
            "--db", path, "test", "log", tags[circuit], "--kind", "voltage", volts,
            "--against", "PE", "--json",
        )  # fmt: skip
        assert ran.json["verdict"]["outcome"] == outcome


def test_an_impossible_cell_temperature_is_refused_and_nothing_stored(wiretrack: Wiretrack) -> None:
    for text, message in (("400 C", "Cell temperature is 400 °C"), ("hot", "'hot' is not")):
        ran = wiretrack(
            "test", "log", TAGS["ROW1", "L+"], "--kind", "voltage", "451 V", "--cell-temp", text
        )
        assert ran.status == 2
        assert message in ran.err
    assert wiretrack("show", TAGS["ROW1", "L+"], "--json").json["readings"] == []


def test_a_failed_voltage_names_the_supply_that_it_was_judged_by(wiretrack: Wiretrack) -> None:
    # The second line of a 240 V circuit may come from a high leg, which the record doesn't say.
    ran = wiretrack(
        "test", "log", TAGS["MULTI", "L2"], "--kind", "voltage", "208 V", "--against",
        TAGS["MULTI", "N"], "--json",
    )  # fmt: skip
    assert ran.json["verdict"]["outcome"] == "fail"
    assert "(120/240); if its supply is another, record it" in ran.json["verdict"]["reason"]
