# SPDX-License-Identifier: MIT
"""The demo site is sound: every name leads somewhere, every figure could have been measured.

The figures that the data is held against are written here once more, from the publications named
beside them, so that this file would notice a slip in the data and in our tables alike.
"""

from __future__ import annotations

import json
import re
from collections import Counter
from itertools import pairwise
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from stdnum.iso7064 import mod_37_36

from tests.drawing import each
from wiretrack.exchange.known import EmptyKnown
from wiretrack.exchange.read import read_site

ROOT = Path(__file__).resolve().parents[2]
SITE: dict[str, Any] = json.loads((ROOT / "demo_db" / "site.json").read_text("utf-8"))
METER: dict[str, Any] = json.loads((ROOT / "demo_db" / "meter.json").read_text("utf-8"))
CONDUCTORS: dict[str, dict[str, Any]] = {row["tag"]: row for row in SITE["conductors"]}
RACEWAYS = {row["code"]: row for row in SITE["raceways"]}
CIRCUITS = {row["code"]: row for row in SITE["circuits"]}
PULLS = {row["code"]: row for row in SITE["pulls"]}
INSTRUMENTS = {row["code"]: row for row in SITE["instruments"]}
READINGS: list[dict[str, Any]] = SITE["readings"]

# NEC 2023 chapter 9 table 8, stranded uncoated copper, ohm per 1000 ft at 75 °C, and its formula
# R2 = R1 (1 + 0.00323 (T2 - 75)); read in reprints, original not seen.
TABLE_8 = {"14 AWG": 3.14, "12 AWG": 1.98, "10 AWG": 1.24, "8 AWG": 0.778, "6 AWG": 0.491} | {
    "4 AWG": 0.308, "3 AWG": 0.245, "2/0 AWG": 0.0967}  # fmt: skip
ALPHA_75 = 0.00323
# NEC chapter 9 table 4, total area in square inches (reprints, original not seen).
TABLE_4 = {
    ("EMT", "3/4"): 0.533, ("EMT", "1"): 0.864, ("EMT", "1-1/4"): 1.496, ("EMT", "2"): 3.356,
    ("RMC", "1/2"): 0.314, ("RMC", "3/4"): 0.549, ("RMC", "1"): 0.887, ("RMC", "1-1/4"): 1.526,
    ("PVC-40", "3/4"): 0.508, ("PVC-40", "1-1/2"): 1.986, ("PVC-80", "1-1/4"): 1.237,
}  # fmt: skip
# NEC chapter 9 table 5, diameter in inches (reprints, original not seen).
TABLE_5 = {
    ("THWN-2", "14 AWG"): 0.111, ("THWN-2", "12 AWG"): 0.130, ("THWN-2", "10 AWG"): 0.164,
    ("THWN-2", "8 AWG"): 0.216, ("THWN-2", "6 AWG"): 0.254, ("THWN-2", "2/0 AWG"): 0.532,
    ("XHHW-2", "10 AWG"): 0.176, ("XHHW-2", "8 AWG"): 0.236, ("XHHW-2", "4 AWG"): 0.322,
    ("XHHW-2", "3 AWG"): 0.350,
}  # fmt: skip
# NEC table 250.122, copper: the size for an overcurrent device up to that many amperes.
TABLE_250_122 = ((15, "14 AWG"), (20, "12 AWG"), (60, "10 AWG"), (100, "8 AWG"), (200, "6 AWG"))
THICKEST_FIRST = ("2/0 AWG", "3 AWG", "4 AWG", "6 AWG", "8 AWG", "10 AWG", "12 AWG", "14 AWG")


def amount(text: str, unit: str) -> float:
    """Return the number of a quantity written in exactly this unit."""
    number, found = text.split()
    assert found == unit, text
    return float(number)


def expected_ohm(conductor: dict[str, Any], temp_c: float) -> float:
    kft = amount(conductor["length"], "ft") / 1000
    return TABLE_8[conductor["size"]] * kft * (1 + ALPHA_75 * (temp_c - 75))


def ohms(text: str) -> float:
    number, unit = text.removeprefix(">").split()
    return float(number) * {"ohm": 1, "mohm": 1e-3, "Mohm": 1e6}[unit]


def tags_in(pull: str) -> list[str]:
    return [tag for tag, row in CONDUCTORS.items() if row["pull"] == pull]


def loose_in(pull: str) -> set[str]:
    return {tag for tag in tags_in(pull) if CONDUCTORS[tag]["to"]["state"] == "loose"}


def route_ft(conductor: dict[str, Any]) -> float:
    return sum(amount(RACEWAYS[w]["length"], "ft") for w in PULLS[conductor["pull"]]["path"])


def test_the_site_file_obeys_its_schema() -> None:
    schema = json.loads((ROOT / "schemas" / "site.schema.json").read_text("utf-8"))
    faults = list(jsonschema.Draft202012Validator(schema).iter_errors(SITE))
    assert [fault.message for fault in faults] == []


def test_the_site_file_is_read_without_a_fault_and_nothing_of_it_is_lost() -> None:
    document = read_site(ROOT / "demo_db" / "site.json", EmptyKnown())
    for table in ("enclosures", "devices", "raceways", "circuits", "pulls", "readings"):
        assert len(getattr(document, table)) == len(SITE[table])
    assert [row.tag for row in document.conductors] == list(CONDUCTORS)


def test_every_tag_has_the_check_character_of_an_independent_library_and_is_used_once() -> None:
    tags = [row["tag"] for row in SITE["conductors"]]
    assert len(set(tags)) == len(tags) > 60
    for tag in tags:
        assert mod_37_36.is_valid(tag), tag
        assert re.fullmatch(r"[0-9A-HJKMNP-TV-Z]{6}[0-9A-Z]", tag), tag


@pytest.mark.parametrize("table", ["enclosures", "raceways", "circuits", "pulls", "instruments"])
def test_codes_are_unique_in_their_table(table: str) -> None:
    codes = [row["code"] for row in SITE[table]]
    assert len(set(codes)) == len(codes)


def test_every_code_that_is_named_exists() -> None:
    boxes = {row["code"] for row in SITE["enclosures"]}
    named = {row["enclosure"] for row in (*SITE["terminals"], *SITE["devices"])}
    named |= {row[end] for row in SITE["raceways"] for end in ("from", "to")}
    named |= {row[end]["enclosure"] for row in CONDUCTORS.values() for end in ("from", "to")}
    named |= {end["enclosure"] for row in PULLS.values() for end in row.get("far_ends", ())}
    assert named == boxes
    assert {row["circuit"] for row in CONDUCTORS.values()} == set(CIRCUITS)
    assert {row["pull"] for row in CONDUCTORS.values()} == set(PULLS)
    assert {code for row in PULLS.values() for code in row["path"]} == set(RACEWAYS)


def test_every_reading_names_a_conductor_and_an_instrument_of_the_site() -> None:
    for row in READINGS:
        assert row["subject"] in CONDUCTORS
        assert row["instrument"] in INSTRUMENTS
        assert row.get("against", "PE") in {"PE", "raceway", *CONDUCTORS}


@each(list(CONDUCTORS))
def test_the_path_of_its_pull_joins_the_two_boxes_of_a_conductor(tag: str) -> None:
    conductor = CONDUCTORS[tag]
    place = conductor["from"]["enclosure"]
    for code in PULLS[conductor["pull"]]["path"]:
        ends = [RACEWAYS[code]["from"], RACEWAYS[code]["to"]]
        assert place in ends, f"{code} doesn't begin at {place}"
        ends.remove(place)
        place = ends[0]
    assert place == conductor["to"]["enclosure"]


@each(list(CONDUCTORS))
def test_a_conductor_is_a_little_longer_than_its_route(tag: str) -> None:
    spare = amount(CONDUCTORS[tag]["length"], "ft") - route_ft(CONDUCTORS[tag])
    assert 2 <= spare <= 12


def test_a_landed_end_has_a_terminal_and_no_other_end_has() -> None:
    for row in CONDUCTORS.values():
        for end in (row["from"], row["to"]):
            assert (end["state"] == "landed") == ("terminal" in end)


def test_a_device_terminal_that_is_landed_on_belongs_to_a_pole_of_that_device() -> None:
    devices = {(row["enclosure"], row["code"]): row for row in SITE["devices"]}
    for row in CONDUCTORS.values():
        for end in (row["from"], row["to"]):
            device, _, pole = end.get("terminal", "").partition(":")
            if (end["enclosure"], device) in devices:
                poles = devices[end["enclosure"], device]["poles"]
                assert pole in {name for pair in poles for name in pair}, end


def test_some_terminals_are_shared_as_bars_and_splices_are() -> None:
    shared = Counter(
        (end["enclosure"], end["terminal"])
        for row in CONDUCTORS.values()
        for end in (row["from"], row["to"])
        if "terminal" in end
    )
    assert shared["JBY", "SPL-L"] == 3
    assert shared["MDP", "N"] >= 3
    assert shared["MDP", "PE"] >= 5


def joined_to(box: str, terminal: str) -> set[tuple[str, str]]:
    """Return all that is joined to a terminal by conductors and closed devices."""
    links = [
        [(row[end]["enclosure"], row[end]["terminal"]) for end in ("from", "to")]
        for row in CONDUCTORS.values()
        if "terminal" in row["from"] and "terminal" in row["to"]
    ]
    for row in SITE["devices"]:
        for pole in row["poles"] if row["closed"] else ():
            names = (name if ":" in name else f"{row['code']}:{name}" for name in pole)
            links.append([(row["enclosure"], name) for name in names])
    reached, grown = set[tuple[str, str]](), {(box, terminal)}
    while grown != reached:
        reached = grown
        grown = reached.union(*(pair for pair in links if reached & set(pair)))
    return reached


def test_closed_devices_join_each_string_to_the_inverter_and_the_board_to_the_boat_shed() -> None:
    assert {("ARR", f"S{n}+") for n in (1, 2, 3)} <= joined_to("INV1", "DC+")
    assert {("ARR", f"S{n}-") for n in (1, 2, 3)} <= joined_to("INV1", "DC-")
    for n in (1, 2, 3):
        assert ("BYP", f"BUS:L{n}") in joined_to("INV1", f"L{n}")


def test_no_two_live_poles_and_no_pole_and_earth_are_joined() -> None:
    apart = [
        joined_to("INV1", pole) for pole in ("DC+", "DC-", "B+", "B-", "L1", "L2", "L3", "N", "PE")
    ]
    assert sum(map(len, apart)) == len(set().union(*apart))


@each([row for row in READINGS + METER["tests"] if row["kind"] == "continuity"])
def test_a_continuity_reading_is_near_the_resistance_of_nec_table_8(row: dict[str, Any]) -> None:
    conductor = CONDUCTORS[row["subject"]]
    measured = ohms(row["value"]) - ohms(row["leads"])
    expected = expected_ohm(conductor, amount(row["temp"], "C"))
    # Real wire is a few percent below the table's figure; joints add some tenths of a milliohm.
    assert 0.96 * expected <= measured <= 1.06 * expected


@each(READINGS)
def test_a_reading_shows_no_more_digits_than_its_instrument(row: dict[str, Any]) -> None:
    step, unit = INSTRUMENTS[row["instrument"]]["resolution"].split()
    number, prefixed = row["value"].removeprefix(">").split()
    factor = {"mohm": 1e-3, "ohm": 1, "Mohm": 1, "V": 1}[prefixed]
    digits = len(number.partition(".")[2])
    assert prefixed[-1] == unit[-1]
    assert 10**-digits * factor >= float(step) * 0.999


def test_the_finished_part_was_visited_in_2019_2022_and_2025() -> None:
    finished = ("PV-S1", "PV-S2", "PV-S3", "PV-OUT", "BATT", "INV-AC")
    for tag, row in CONDUCTORS.items():
        if row["circuit"] in finished:
            assert row["from"]["state"] == row["to"]["state"] == "landed"
            taken = {(r["at"][:4], r["kind"]) for r in READINGS if r["subject"] == tag}
            assert {(year, "continuity") for year in ("2019", "2022", "2025")} <= taken
            if row["function"] != "PE":
                assert {(year, "insulation") for year in ("2019", "2022", "2025")} <= taken


def test_an_open_circuit_voltage_is_that_of_its_modules_at_the_temperature_noted() -> None:
    seen = 0
    for row in READINGS:
        found = re.fullmatch(r"open circuit, cells at (\d+) C", row.get("note", ""))
        if found:
            module = CIRCUITS[CONDUCTORS[row["subject"]]["circuit"]]["module"]
            rise = module["voc_pct_per_k"] / 100 * (int(found[1]) - 25)
            volts = amount(module["voc"], "V") * module["series"] * (1 + rise)
            assert amount(row["value"], "V") == pytest.approx(volts, rel=0.01)
            seen += 1
    assert seen == 9


def test_only_the_sluice_gate_fails_the_insulation_limit_and_it_got_there_over_the_years() -> None:
    # IEC 60364-6:2016 table 6.1 and IEC 62446-1:2016: 1 Mohm up to 1000 V (reprints).
    low = [r for r in READINGS if r["kind"] == "insulation" and ohms(r["value"]) < 1e6]
    assert [(r["value"], r["at"][:4]) for r in low] == [("0.21 Mohm", "2025")]
    assert CONDUCTORS[low[0]["subject"]]["circuit"] == "SLUICE"
    trend = [
        ohms(r["value"])
        for r in sorted(READINGS, key=lambda r: str(r["at"]))
        if r["kind"] == "insulation" and r["subject"] == low[0]["subject"]
    ]
    assert len(trend) == 3
    assert all(later < earlier / 10 for earlier, later in pairwise(trend))


def fill(code: str) -> float:
    """Return the filled share of a raceway, by diameters."""
    inside = [c for c in CONDUCTORS.values() if code in PULLS[c["pull"]]["path"]]
    diameters = [
        amount(c["outer_diameter"], "mm") / 25.4
        if "outer_diameter" in c
        else TABLE_5[c["insulation"], c["size"]]
        for c in inside
    ]
    area = TABLE_4[RACEWAYS[code]["type"], RACEWAYS[code]["trade_size"]]
    limit = {1: 0.53, 2: 0.31}.get(len(inside), 0.40)  # NEC chapter 9 table 1
    return sum(3.14159 / 4 * d * d for d in diameters) / area / limit


@pytest.mark.parametrize("code", [code for code in RACEWAYS if "trade_size" in RACEWAYS[code]])
def test_no_raceway_is_filled_above_nec_chapter_9_table_1(code: str) -> None:
    assert fill(code) <= 1


def test_one_raceway_alone_has_more_bends_than_360_degrees() -> None:
    # NEC 2023 344.26 and 358.26: four quarter bends between pull points.
    over = {
        code: row["bends_deg"] for code, row in RACEWAYS.items() if row.get("bends_deg", 0) > 360
    }
    assert over == {"W12": 390}


def test_one_earthing_conductor_alone_is_smaller_than_nec_table_250_122_asks() -> None:
    small = []
    for row in CONDUCTORS.values():
        overcurrent = CIRCUITS[row["circuit"]].get("overcurrent")
        if row["function"] == "PE" and overcurrent:
            amperes = amount(overcurrent, "A")
            due = next(size for top, size in TABLE_250_122 if amperes <= top)
            if THICKEST_FIRST.index(row["size"]) > THICKEST_FIRST.index(due):
                small.append((row["circuit"], row["size"], due))
    assert small == [("FDR-BY", "10 AWG", "8 AWG")]


def test_colours_follow_the_code() -> None:
    # NEC 2023 250.119 (green), 200.6 (white), 690.31(B) (DC minus neither green, white nor red).
    for row in CONDUCTORS.values():
        if row["function"] == "PE":
            assert row["colour"] in {"GN", "GNYE"}
        elif row["function"] == "N":
            assert row["colour"] == "WH"
        else:
            assert row["colour"] not in {"GN", "GNYE", "WH", "GY"}
        if row["function"] == "L-":
            assert row["colour"] != "RD"


def test_the_array_stays_under_its_rated_voltage_at_the_record_low() -> None:
    # NEC 2023 690.7(A)(1): by the module's own temperature coefficient.
    low = amount(SITE["site"]["record_low"], "C")
    for row in CIRCUITS.values():
        if row["system"] == "dc-pv":
            module = row["module"]
            cold = 1 + module["voc_pct_per_k"] / 100 * (low - 25)
            volts = amount(module["voc"], "V") * module["series"] * cold
            assert volts <= amount(row["max_voltage"], "V")
            # NEC 2023 690.8(A)(1): 1.25 times the short-circuit current of the strings.
            amperes = 1.25 * amount(module["isc"], "A") * module["parallel"]
            assert amount(row["max_current"], "A") == pytest.approx(amperes)


@pytest.mark.parametrize("name", ["ringout", "unfinished"])
def test_a_simulated_bundle_joins_each_loose_conductor_to_one_far_end_of_its_colour(
    name: str,
) -> None:
    bundle = METER[name]
    ends = PULLS[bundle["pull"]]["far_ends"]
    assert [end["colour"] for end in ends] == bundle["far_colours"]
    assert {end["mark"] for end in ends} == set(bundle["arrangement"])
    assert set(bundle["arrangement"].values()) == loose_in(bundle["pull"]) == set(bundle["ohms"])
    assert len(set(bundle["arrangement"].values())) == len(ends)
    for end in ends:
        assert CONDUCTORS[bundle["arrangement"][end["mark"]]]["colour"] == end["colour"]
        assert end["enclosure"] == bundle["far"]


@pytest.mark.parametrize("name", ["ringout", "unfinished"])
def test_a_simulated_bundle_has_the_resistances_of_nec_table_8(name: str) -> None:
    bundle = METER[name]
    for tag, value in bundle["ohms"].items():
        expected = expected_ohm(CONDUCTORS[tag], amount(bundle["temp"], "C"))
        assert 0.96 * expected <= value <= 1.06 * expected


@pytest.mark.parametrize("name", ["ringout", "unfinished"])
def test_a_simulated_bundle_lies_in_metal_all_the_way_past_a_pull_point(name: str) -> None:
    path = PULLS[METER[name]["pull"]]["path"]
    assert len(path) >= 2
    assert all(RACEWAYS[code]["metal"] for code in path)


def test_the_pull_to_ring_out_is_all_loose_and_has_two_pull_points() -> None:
    pull = METER["ringout"]["pull"]
    assert loose_in(pull) == set(tags_in(pull))
    assert len(PULLS[pull]["path"]) == 3
    colours = Counter(METER["ringout"]["far_colours"])
    assert colours == {"BK": 4, "RD": 2, "BU": 2, "WH": 1, "GN": 1}


def test_the_half_way_pull_has_look_alikes_without_any_reading() -> None:
    pull = METER["unfinished"]["pull"]
    loose = loose_in(pull)
    assert len({CONDUCTORS[tag]["colour"] for tag in loose}) == 1
    assert len(loose) >= 5
    assert len(tags_in(pull)) - len(loose) >= 2
    assert not loose & {row["subject"] for row in READINGS}


def test_the_tests_to_log_after_the_ring_out_hold_one_finding() -> None:
    tests = METER["tests"]
    assert {row["subject"] for row in tests} == set(METER["ringout"]["ohms"])
    low = [row for row in tests if row["kind"] == "insulation" and ohms(row["value"]) < 1e6]
    assert [row["value"] for row in low] == ["0.62 Mohm"]
    assert CONDUCTORS[low[0]["subject"]]["circuit"] == "PUMP"


def test_the_one_bad_join_of_the_ring_out_reads_two_to_three_ohm_too_high() -> None:
    (bad,) = METER["ringout"]["bad_joins"]
    assert bad["tag"] in METER["ringout"]["ohms"]
    assert 2 <= bad["extra_ohm"] <= 3
