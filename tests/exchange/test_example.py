# SPDX-License-Identifier: MIT
"""A whole site file, as the manual shows it, becomes records with quantities in SI units."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import pytest
from jsonschema import Draft202012Validator
from stdnum.iso7064 import mod_37_36

from wiretrack.exchange.read import read_site
from wiretrack.exchange.schema import site_schema
from wiretrack.model.entities import Reading
from wiretrack.model.parts import Device, End, FarEnd

if TYPE_CHECKING:
    from pathlib import Path

# python-stdnum makes the check character here, not our own code.
TAG = "PVMP01" + mod_37_36.calc_check_digit("PVMP01")
EXAMPLE = """{
  "format": "wiretrack-site/1",
  "site": {"code": "X", "name": "Example", "units": "m", "rules": "IEC"},
  "enclosures": [{"code": "MDB", "kind": "panelboard", "name": "main board",
                  "where": "barn, east wall"},
                 {"code": "PH1", "kind": "junction-box", "name": "pump box", "where": "well head",
                  "wet": true}],
  "raceways": [{"code": "W1", "from": "MDB", "to": "PH1", "type": "RMC", "trade_size": "1",
                "length": "64 m", "bends_deg": 180, "metal": true}],
  "circuits": [{"code": "PUMP", "title": "bore pump", "system": "ac-3ph", "max_voltage": "400 V",
                "max_current": "9.5 A"}],
  "pulls": [{"code": "P1", "path": ["W1"]}],
  "conductors": [{"tag": "TAG", "circuit": "PUMP", "function": "L1", "size": "4 mm2", "metal": "Cu",
                  "insulation": "XHHW-2", "strands": 7, "colour": "BN", "pull": "P1",
                  "from": {"enclosure": "MDB", "terminal": "Q4:1"}, "to": {"enclosure": "PH1"},
                  "length": "67 m"}],
  "instruments": [{"code": "M1", "kind": "ohmmeter", "accuracy": "0.5% + 2 digits",
                   "resolution": "0.01 ohm"}],
  "readings": [{"kind": "continuity", "subject": "TAG", "value": "0.31 ohm",
                "at": "2026-05-02T10:15:00+02:00", "instrument": "M1"}]
}""".replace("TAG", TAG)


@pytest.fixture
def example() -> dict[str, Any]:
    document: dict[str, Any] = json.loads(EXAMPLE)
    return document


def load(tmp_path: Path, document: dict[str, Any]) -> Any:
    file = tmp_path / "site.json"
    file.write_text(json.dumps(document), encoding="utf-8")
    return read_site(file)


def test_the_example_is_valid_by_the_schema_alone(example: dict[str, Any]) -> None:
    Draft202012Validator(site_schema()).validate(example)


def test_the_example_becomes_records(tmp_path: Path, example: dict[str, Any]) -> None:
    found = load(tmp_path, example)
    (wire,) = found.conductors
    assert (wire.tag, wire.size, wire.length_m, wire.strands) == (TAG, "4 mm2", 67.0, 7)
    assert wire.from_end == End(enclosure="MDB", terminal="Q4:1")
    assert wire.to_end == End(enclosure="PH1")
    (raceway,) = found.raceways
    assert (raceway.length_m, raceway.bends_deg, raceway.metal) == (64.0, 180.0, True)
    assert (found.circuits[0].max_voltage_v, found.circuits[0].max_current_a) == (400.0, 9.5)
    assert found.readings == (
        Reading(
            kind="continuity",
            subject=TAG,
            value="0.31 ohm",
            number=0.31,
            unit="ohm",
            at="2026-05-02T10:15:00+02:00",
            instrument="M1",
        ),
    )
    assert found.rest == {}


def test_what_is_unknown_stays_unknown(tmp_path: Path, example: dict[str, Any]) -> None:
    example["conductors"] = [
        {
            "circuit": "PUMP",
            "function": "PE",
            "size": "4mm²",
            "from": {"enclosure": "MDB"},
            "to": {"enclosure": "PH1"},
        }
    ]
    del example["readings"], example["site"]
    found = load(tmp_path, example)
    (wire,) = found.conductors
    assert wire.size == "4 mm2"
    assert [wire.tag, wire.length_m, wire.metal, wire.colour, wire.pull, wire.strands] == [
        "",
        *[None] * 5,
    ]
    assert (found.site.name, found.site.rules, found.enclosures[0].wet) == (None, None, None)


def test_a_site_file_may_hold_nothing_but_its_format(tmp_path: Path) -> None:
    found = load(tmp_path, {"format": "wiretrack-site/1"})
    assert (found.conductors, found.enclosures, found.site.name) == ((), (), None)


@pytest.mark.parametrize(
    ("table", "key", "text", "attribute", "value"),
    [
        # The international foot is 0.3048 m and the inch 25.4 mm, exactly (NIST SP 811, B.8).
        ("raceways", "length", "210 ft", "length_m", 64.008),
        ("conductors", "outer_diameter", "0.25 in", "outer_diameter_mm", 6.35),
        ("raceways", "ambient", "104 F", "ambient_c", 40.0),
        ("circuits", "max_voltage", "1.5 kV", "max_voltage_v", 1500.0),
        ("circuits", "max_current", "20 mA", "max_current_a", 0.02),
        ("conductors", "colour", "gnye", "colour", "GNYE"),
        ("conductors", "size", "#12", "size", "12 AWG"),
    ],
)
def test_quantities_come_out_in_the_unit_of_the_record(
    tmp_path: Path,
    example: dict[str, Any],
    table: str,
    key: str,
    text: str,
    attribute: str,
    value: object,
) -> None:
    example[table][0][key] = text
    assert getattr(getattr(load(tmp_path, example), table)[0], attribute) == value


def test_walls_and_modules_come_out_in_the_unit_of_the_record(
    tmp_path: Path, example: dict[str, Any]
) -> None:
    example["raceways"][0]["walls"] = ["3 m", "150 cm"]
    example["circuits"][0]["module"] = {"voc": "49.5 V", "voc_pct_per_k": -0.27, "series": 18}
    found = load(tmp_path, example)
    assert found.raceways[0].walls_m == (3.0, 1.5)
    (circuit,) = found.circuits
    assert (circuit.module_voc_v, circuit.module_voc_pct_per_k) == (49.5, -0.27)
    assert (circuit.modules_in_series, circuit.strings_in_parallel) == (18, None)


def test_a_pole_names_the_terminals_of_its_device(tmp_path: Path, example: dict[str, Any]) -> None:
    example["devices"] = [
        {"enclosure": "MDB", "code": "Q4", "rating": "16 A", "poles": [["1", "2"], ["N", "TB1:4"]]}
    ]
    poles = (("Q4:1", "Q4:2"), ("Q4:N", "TB1:4"))
    found = load(tmp_path, example)
    assert found.devices == (Device(enclosure="MDB", code="Q4", rating_a=16.0, poles=poles),)


def test_far_ends_keep_their_mark_and_colour(tmp_path: Path, example: dict[str, Any]) -> None:
    example["pulls"][0]["far_ends"] = [{"enclosure": "PH1", "mark": "1", "colour": "black"}]
    (end,) = load(tmp_path, example).pulls[0].far_ends
    assert end == FarEnd(enclosure="PH1", mark="1", colour="BK")


@pytest.mark.parametrize(
    ("value", "number", "over_range"),
    [(">2000 Mohm", 2e9, True), ("OL", None, True), ("550 Mohm", 5.5e8, False)],
)
def test_an_over_range_reading_is_a_bound(
    tmp_path: Path, example: dict[str, Any], value: str, number: float | None, over_range: bool
) -> None:
    example["readings"][0] |= {"kind": "insulation", "value": value, "against": "pe"}
    (reading,) = load(tmp_path, example).readings
    assert (reading.number, reading.over_range) == (number, over_range)
    assert (reading.value, reading.against) == (value, "PE")


@pytest.mark.parametrize("written", ["pvm-p01p", "PVM P01 P", "PVMPO1P", "PVMPOIP", "pvmp0lp"])
def test_a_tag_is_read_in_any_written_form(
    tmp_path: Path, example: dict[str, Any], written: str
) -> None:
    example["readings"][0]["subject"] = written
    assert load(tmp_path, example).readings[0].subject == TAG


def test_two_ends_may_share_a_terminal(tmp_path: Path, example: dict[str, Any]) -> None:
    second = {**example["conductors"][0], "function": "L2"}
    del second["tag"]
    example["conductors"].append(second)
    assert len(load(tmp_path, example).conductors) == 2


def test_a_conductor_may_leave_its_pull_half_way(tmp_path: Path, example: dict[str, Any]) -> None:
    example["enclosures"].append({"code": "PH2"})
    example["raceways"].append({"code": "W2", "from": "PH2", "to": "PH1"})
    example["pulls"][0]["path"] = ["W2", "W1"]
    assert load(tmp_path, example).pulls[0].path == ("W2", "W1")
