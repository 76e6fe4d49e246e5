# SPDX-License-Identifier: MIT
"""Every kind of fault in a site file has its own sentence and its place."""

from __future__ import annotations

import copy
import json
from typing import TYPE_CHECKING, Any

import pytest

from wiretrack.exchange.read import read_site

if TYPE_CHECKING:
    from pathlib import Path as Path_

    from tests.exchange.conftest import Faults

Path = tuple[str | int, ...]
CODE = "A code has 1 to 40 characters, the first and the last of them visible."
UUID = "0a1b2c3d-4e5f-4a6b-8c7d-0123456789ab"
OTHER = "0a1b2c3d-4e5f-4a6b-8c7d-0123456789ac"


def put(document: Any, path: Path, value: object) -> None:
    """Set (or, at the end of a list, append) one value."""
    for step in path[:-1]:
        document = document[step] if isinstance(step, int) else document.setdefault(step, {})
    if isinstance(document, list) and path[-1] == len(document):
        document.append(value)
    else:
        document[path[-1]] = value


WIRE: Path = ("conductors", 1)
SHAPE: list[tuple[Path, object, str]] = [
    (("spare",), 1, "spare: 'spare' is not a key of a site file. Allowed: format, site,"
     " enclosures, terminals, devices, raceways, circuits, pulls, conductors, instruments,"
     " readings, ringouts, fault_searches, label_prints, placed_labels, notes,"
     " attachments, same_records, changes."),
    ((*WIRE, "sise"), "x", "conductors[1].sise: 'sise' is not a key of a conductor. Did you mean"
     " size?"),
    ((*WIRE, "from", "clip"), "x", "conductors[1].from.clip: 'clip' is not a key of an end."
     " Allowed: enclosure, terminal, state, mark, crossed_at, reidentified, id."),
    (("enclosures", 0, "kind"), "shed", "enclosures[0].kind: 'shed' is not an enclosure kind."
     " Allowed: junction-box, conduit-body, wireway, panelboard, combiner, disconnect, inverter,"
     " roof-array, array, equipment."),
    (("raceways", 0, "type"), "PIPE", "raceways[0].type: 'PIPE' is not a raceway type. Allowed:"
     " EMT, ENT, FMC, IMC, LFMC, LFNC-B, PVC-40, PVC-80, HDPE, RMC, wireway, tray, cable, trench."),
    (("circuits", 0, "system"), "ac", "circuits[0].system: 'ac' is not a system. Did you mean"
     " ac-1ph or ac-3ph? Allowed: dc-pv, dc-battery, dc, ac-1ph, ac-3ph, signal, earthing."),
    ((*WIRE, "function"), "L9", "conductors[1].function: 'L9' is not a function. Allowed: L1, L2,"
     " L3, N, L+, L-, M, PE, FE, PEN, signal."),
    ((*WIRE, "metal"), "Fe", "conductors[1].metal: 'Fe' is not a metal. Allowed: Cu, Al."),
    ((*WIRE, "to", "state"), "hung", "conductors[1].to.state: 'hung' is not a state of an end."
     " Allowed: landed, capped, loose."),
    (("readings", 0, "kind"), "smell", "readings[0].kind: 'smell' is not a kind of reading."
     " Allowed: continuity, insulation, voltage, loop."),
    (("site", "rules"), "DIN", "site.rules: 'DIN' is not a rule set. Allowed: NEC, IEC."),
    (("site", "edition"), 2001, "site.edition: the number 2001 is not an edition of the NEC."
     " Allowed: 2014, 2017, 2020, 2023."),
    (("enclosures", 0, "wet"), "yes", "enclosures[0].wet: 'yes' is not true or false. Write true"
     " or false, and leave it out where unknown."),
    (("enclosures", 0, "name"), None,
     "enclosures[0].name: It is null. Leave it out where unknown."),
    (("enclosures", 0, "name"), "", "enclosures[0].name: It is empty. A name has 1 to 200"
     " characters, at least one of them visible."),
    (("enclosures", 0, "name"), "  ", "enclosures[0].name: '  ' is not a name. A name has 1 to 200"
     " characters, at least one of them visible."),
    (("enclosures", 0, "name"), "x" * 201, "enclosures[0].name: It has 201 characters, more than"
     " 200. A name has 1 to 200 characters, at least one of them visible."),
    (("enclosures", 4), {"code": " E"}, f"enclosures[4].code: ' E' is not a code. {CODE}"),
    (("enclosures", 4), {"name": "x"}, "enclosures[4].code: It is missing. An enclosure needs it."),
    (("enclosures", 4), "E", "enclosures[4]: 'E' is not an enclosure. Any box that conductors"
     " enter. Write it in braces."),
    (("instruments",), {}, "instruments: an object is not a list of instruments. Write it in"
     " square brackets."),
    ((*WIRE, "strands"), 0, "conductors[1].strands: the number 0 is not a number of strands. How"
     " many strands the conductor has, from 1 to 10000."),
    ((*WIRE, "strands"), 1.5, "conductors[1].strands: the number 1.5 is not a number of strands."
     " How many strands the conductor has, from 1 to 10000."),
    ((*WIRE, "length"), 64, "conductors[1].length: the number 64 is not a length. A length is a"
     " number and a unit, like 64 m or 210 ft. Write it in quotes."),
    (("raceways", 0, "bends_deg"), -90, "raceways[0].bends_deg: the number -90 is not a number of"
     " degrees. The total of all bends, from 0 to 3600 degrees."),
    (("raceways", 0, "bends_deg"), "90", "raceways[0].bends_deg: '90' is not a number of degrees."
     " The total of all bends, from 0 to 3600 degrees."),
    (("devices",), [{"enclosure": "A", "code": "Q", "poles": [["1", "2", "3"]]}],
     "devices[0].poles[0]: a list of 3 is not a pole. A pole is a pair of terminals, like"
     " [\"1\", \"2\"]."),
    ((*WIRE, "id"), "7", "conductors[1].id: '7' is not an identifier. A UUID, like"
     f" {UUID}; it stays unique when two registries meet."),
    (("site", "base_address"), "ftp://x", "site.base_address: 'ftp://x' is not a base address. A"
     " base address is http:// and a host, with a port if need be, like"
     " http://192.168.1.20:8080."),
    (("readings", 0, "at"), "2026-05-02 10:15", "readings[0].at: '2026-05-02 10:15' is not a time."
     " A time is written with its offset, like 2026-05-02T10:15:00+02:00 (RFC 3339)."),
]  # fmt: skip
VALUES: list[tuple[Path, object, str]] = [
    ((*WIRE, "size"), "7 foo", "conductors[1].size: '7 foo' is not a conductor size. Write it like"
     " 10 AWG, 1/0 AWG, 250 kcmil or 6 mm2."),
    ((*WIRE, "size"), "7 mm2", "conductors[1].size: The list of mm2 sizes has no entry '7 mm2'."
     " Nearest in it: 6 mm2, 10 mm2."),
    ((*WIRE, "length"), "3 parsecs", "conductors[1].length: '3 parsecs' is not a length: 'parsecs'"
     " is no unit of it. Write it like 31.7 m, 104 ft, 250 cm or 3/4 in."),
    ((*WIRE, "length"), "0 m", "conductors[1].length: Length is 0 m; it must be above 0 m and at"
     " most 100 km."),
    ((*WIRE, "length"), "nan m", "conductors[1].length: 'nan m' is not a length. Write it like"
     " 31.7 m, 104 ft, 250 cm or 3/4 in."),
    ((*WIRE, "outer_diameter"), "2 m", "conductors[1].outer_diameter: Outer diameter is 2000 mm;"
     " it must be at most 1000 mm."),
    (("circuits", 0, "max_voltage"), "400 A", "circuits[0].max_voltage: '400 A' is not a voltage:"
     " 'A' is no unit of it. Write it like 400 V, -412 V or 1.5 kV."),
    (("circuits", 0, "max_voltage"), "-400 V", "circuits[0].max_voltage: Voltage is -400 V; it"
     " must be above 0 V."),
    (("circuits", 0, "overcurrent"), "0 A", "circuits[0].overcurrent: Current is 0 A; it must be"
     " above 0 A."),
    (("site", "ambient_max"), "40 K", "site.ambient_max: '40 K' is not a temperature: 'K' is no"
     " unit of it. Write it like 20, -5 C, 20 °C or 68 F."),
    (("readings", 0, "value"), "0.3 V", "readings[0].value: '0.3 V' is not a resistance: 'V' is no"
     " unit of it. Write it like 0.42, 420m, 1.2k, 0.42 ohm, >2000M or OL."),
    (("readings", 0, "at"), "2026-02-30T10:15:00Z", "readings[0].at: '2026-02-30T10:15:00Z' is not"
     " a time. Write it like 2026-05-02T10:15:00+02:00."),
    (("instruments", 0, "calibrated_on"), "2026-02-30", "instruments[0].calibrated_on:"
     " '2026-02-30' is not a date. Write it like 2026-05-02."),
    (("instruments", 0, "resolution"), "0 ohm", "instruments[0].resolution: Resolution is 0 ohm;"
     " it must be above 0 ohm."),
    (("pulls", 0, "far_ends"), [{"enclosure": "C", "mark": "1", "colour": "plaid"}],
     "pulls[0].far_ends[0].colour: 'plaid' is not a colour. Write it like RD, GNYE or RDBU"
     " (IEC 60757)."),
    (("raceways", 0, "walls"), ["3 m", "x"], "raceways[0].walls: 'x' is not a length. Write it"
     " like 31.7 m, 104 ft, 250 cm or 3/4 in."),
]  # fmt: skip
RELATIONS: list[tuple[Path, object, str]] = [
    (("enclosures", 4), {"code": "A"}, "enclosures[4].code: 'A' is the code of enclosures[0] too."
     " Give each enclosure its own."),
    (("terminals",), [{"enclosure": "A", "code": "T"}, {"enclosure": "A", "code": "T"}],
     "terminals[1].code: 'T' is the code of terminals[0] too. Give each terminal its own."),
    ((*WIRE, "tag"), "pvm p01p", "conductors[1].tag: PVM-P01P is the tag of conductors[0] too."
     " Leave it out where a new one is meant."),
    ((*WIRE, "tag"), "XYZ", "conductors[1].tag: 'XYZ' is not a tag: a tag is six characters and a"
     " check character, like ABC-DEFG."),
    (("readings", 0, "subject"), "PVM-P02P", "readings[0].subject: 'PVM-P02P' is not a tag: the"
     " check character is wrong. Did you mean PVM-P01P or PVM-P02N?"),
    (("readings", 0, "subject"), "AAA-AAAX", "readings[0].subject: 'AAA-AAAX' is not a tag: the"
     " check character is wrong."),
    (("readings", 0, "subject"), "PVM-P03L", "readings[0].subject: No conductor is tagged PVM-P03L"
     " in the file or the registry. Add the conductor, or correct the tag."),
    (("readings", 0, "against"), "PVM-P03L", "readings[0].against: No conductor is tagged PVM-P03L"
     " in the file or the registry. Add the conductor, or correct the tag."),
    ((*WIRE, "circuit"), "Q", "conductors[1].circuit: No circuit is called 'Q' in the file or the"
     " registry. Add a circuit of that code, or correct it."),
    ((*WIRE, "from", "enclosure"), "AA", "conductors[1].from.enclosure: No enclosure is called"
     " 'AA' in the file or the registry. Close to it: A."),
    ((*WIRE, "pull"), "PP", "conductors[1].pull: No pull is called 'PP' in the file or the"
     " registry. Close to it: P."),
    (("pulls", 0, "path", 2), "W9", "pulls[0].path[2]: No raceway is called 'W9' in the file or"
     " the registry. Close to it: W2, W1."),
    (("raceways", 0, "to"), "ZZZ", "raceways[0].to: No enclosure is called 'ZZZ' in the file or"
     " the registry. Add an enclosure of that code, or correct it."),
    (("readings", 0, "instrument"), "M9", "readings[0].instrument: No instrument is called 'M9' in"
     " the file or the registry. Close to it: M1."),
    (("raceways", 2), {"code": "W3", "from": "A", "to": "A"}, "raceways[2].to: The raceway leads"
     " from 'A' back to it. Name two enclosures."),
    ((*WIRE, "to", "enclosure"), "D", "conductors[1].pull: The ends, in 'A' and 'D', are not"
     " joined by the path of pull 'P': A - B - C. Correct an end, the pull or its path."),
    ((*WIRE, "to", "enclosure"), "A", "conductors[1].pull: The ends, in 'A' and 'A', are not"
     " joined by the path of pull 'P': A - B - C. Correct an end, the pull or its path."),
    (("pulls", 0, "far_ends"), [{"enclosure": "D", "mark": "1"}], "pulls[0].far_ends[0].enclosure:"
     " 'D' is not on the way of the pull: A - B - C. Name one of these."),
    (("pulls", 0, "far_ends"), [{"enclosure": "C", "mark": "1"}] * 2, "pulls[0].far_ends[1].mark:"
     " The mark '1' is there twice in 'C'. Each far end has its own."),
    ((*WIRE, "to", "state"), "landed", "conductors[1].to.state: The end is landed, but its"
     " terminal is missing. Name the terminal."),
    (("devices",), [{"enclosure": "A", "code": "Q", "poles": [["1", "1"]]}],
     "devices[0].poles[0]: The pole joins 'Q:1' to itself. Name two terminals."),
    (("site", "edition"), 2023, "site.edition: An edition goes with the rule set NEC. Leave it"
     " out, or name NEC."),
    (("readings", 0, "supersedes"), UUID, f"readings[0].supersedes: No reading in the file or the"
     f" registry is called {UUID}. Name the reading that this one replaces, or none."),
]  # fmt: skip


@pytest.mark.parametrize(("path", "value", "sentence"), SHAPE + VALUES + RELATIONS)
def test_a_fault_is_named_with_its_place(
    site: dict[str, Any], faults: Faults, path: Path, value: object, sentence: str
) -> None:
    put(site, path, value)
    assert faults(site) == [sentence]


def test_all_faults_of_a_file_are_reported_at_once_in_its_order(
    site: dict[str, Any], faults: Faults
) -> None:
    together = copy.deepcopy(site)
    wanted = []
    for path, value, sentence in (SHAPE[3], SHAPE[4], VALUES[0], RELATIONS[8], RELATIONS[6]):
        put(together, path, value)
        wanted.append(sentence)
    assert faults(together) == wanted


def test_a_pull_whose_raceways_dont_meet_is_named(site: dict[str, Any], faults: Faults) -> None:
    site["raceways"][1]["to"] = "D"
    site["conductors"] = site["readings"] = []
    assert faults(site) == [
        "pulls[0].path: The raceways 'W1' (A - B) and 'W2' (C - D) don't follow on each other."
        " List them in the order of the pull."
    ]


def test_identifiers_are_unique_in_their_table(site: dict[str, Any], faults: Faults) -> None:
    site["enclosures"][0]["id"] = UUID
    site["enclosures"][2]["id"] = UUID.upper()
    assert faults(site) == [
        "enclosures[2].id: enclosures[0] has the same identifier. Give each enclosure its own, or"
        " none."
    ]


def test_readings_that_supersede_each_other_are_refused(
    site: dict[str, Any], faults: Faults
) -> None:
    first = site["readings"][0]
    site["readings"] = [
        {**first, "id": UUID, "supersedes": OTHER},
        {**first, "id": OTHER, "supersedes": UUID},
    ]
    itself = "The reading supersedes itself. Name an earlier reading."
    assert faults(site) == [f"readings[{number}].supersedes: {itself}" for number in (0, 1)]


def test_a_conductor_is_not_read_against_itself(site: dict[str, Any], faults: Faults) -> None:
    reading = site["readings"][0]
    reading["against"] = reading["subject"].replace("-", "").lower()
    assert faults(site) == [
        "readings[0].against: The conductor is read against itself. Name the other conductor."
    ]


def test_cores_of_a_cable_differ_and_lie_in_one_pull(site: dict[str, Any], faults: Faults) -> None:
    first, second = site["conductors"]
    site["pulls"].append({"code": "P2", "path": ["W1"]})
    first |= {"cable": "K1", "core": "1"}
    second |= {"cable": "K1", "core": "1", "pull": "P2"}
    assert faults(site) == [
        "conductors[1].core: conductors[0] is core '1' of cable 'K1' too. Give each core its own.",
        "conductors[1].pull: conductors[0], of the same cable, lies in pull 'P'. All cores of a"
        " cable lie in one.",
    ]


@pytest.mark.parametrize(
    "other",
    [
        {"cable": "K1", "core": "2"},
        {"cable": "K2", "core": "1", "pull": "P2"},
        {"cable": "K1"},
        {"core": "1"},
        {"cable": "K1", "core": "1", "retired_at": "2026-11-25", "retired_because": "removed"},
    ],
)
def test_other_cores_other_cables_and_retired_ones_are_right(
    site: dict[str, Any], tmp_path: Path_, other: dict[str, str]
) -> None:
    site["pulls"].append({"code": "P2", "path": ["W1"]})
    site["conductors"][0] |= {"cable": "K1", "core": "1"}
    site["conductors"][1] |= other
    (tmp_path / "site.json").write_text(json.dumps(site), "utf-8")
    stated = {"cable": None, "core": None, **other}
    read = read_site(tmp_path / "site.json").conductors[1]
    assert (read.cable, read.core) == (stated["cable"], stated["core"])


def test_a_reading_is_superseded_once(site: dict[str, Any], faults: Faults) -> None:
    first = site["readings"][0]
    later = {**first, "supersedes": UUID}
    site["readings"] = [{**first, "id": UUID}, later, dict(later)]
    assert faults(site) == [
        "readings[2].supersedes: The same reading is superseded by readings[1] too. Supersede that"
        " one instead."
    ]


def test_answers_of_a_ring_out_follow_on_each_other(site: dict[str, Any], faults: Faults) -> None:
    time = "2026-05-02T10:15:00Z"
    answer = {"id": UUID, "seq": 1, "step": {}, "answer": {}, "at": time, "supersedes": OTHER}
    ringout = {"id": UUID, "pull": "P", "near": "A", "far": "C", "settings": {}, "at": time}
    site["ringouts"] = [{**ringout, "answers": [answer, {**answer, "supersedes": UUID}]}]
    assert faults(site) == [
        "ringouts[0].answers[0].supersedes: It supersedes no earlier answer that still stands."
        " Name one of those.",
        "ringouts[0].answers[1]: An earlier answer has the same identifier or number. Give each"
        " its own.",
    ]


def test_an_answer_without_its_number_hides_no_other_fault(
    site: dict[str, Any], faults: Faults
) -> None:
    time = "2026-05-02T10:15:00Z"
    answer = {"id": UUID, "step": {}, "answer": {}, "at": time}
    ringout = {"id": UUID, "pull": "P", "near": "A", "far": "X", "settings": {}, "at": time}
    site["ringouts"] = [{**ringout, "answers": [answer]}]
    assert faults(site) == [
        "ringouts[0].answers[0].seq: It is missing. An answer needs it.",
        "ringouts[0].far: No enclosure is called 'X' in the file or the registry. Add an enclosure"
        " of that code, or correct it.",
    ]


def test_a_far_end_in_no_known_box_has_one_fault(site: dict[str, Any], faults: Faults) -> None:
    site["pulls"][0]["far_ends"] = [{"enclosure": "Y", "mark": "1"}] * 2
    message = "No enclosure is called 'Y' in the file or the registry."
    hint = "Add an enclosure of that code, or correct it."
    assert faults(site) == [
        f"pulls[0].far_ends[{place}].enclosure: {message} {hint}" for place in (0, 1)
    ]


def test_an_endless_path_is_refused(site: dict[str, Any], faults: Faults) -> None:
    site["pulls"][0]["path"] = ["W1"] * 1001
    assert faults(site) == ["pulls[0].path: It has 1001 entries, more than 1000."]


def test_the_same_missing_code_is_named_at_each_of_its_places(
    site: dict[str, Any], faults: Faults
) -> None:
    for wire in site["conductors"]:
        wire["circuit"] = "KK"
    message = "No circuit is called 'KK' in the file or the registry. Close to it: K."
    assert faults(site) == [f"conductors[{number}].circuit: {message}" for number in (0, 1)]


def test_a_terminal_made_from_a_pole_has_a_bearable_name(
    site: dict[str, Any], faults: Faults
) -> None:
    site["devices"] = [{"enclosure": "A", "code": "Q" * 30, "poles": [["1" * 10, "2"]]}]
    name = "Q" * 30 + ":" + "1" * 10
    assert faults(site) == [
        f"devices[0].poles[0]: The terminal's full name '{name}' has 41 characters. At most 40 are"
        " allowed."
    ]


def test_a_table_that_cant_be_read_starts_no_flood_of_missing_codes(
    site: dict[str, Any], faults: Faults
) -> None:
    site["enclosures"] = "A B C D"
    assert faults(site) == [
        "enclosures: 'A B C D' is not a list of enclosures. Write it in square brackets."
    ]


def test_more_faults_than_anyone_reads_are_cut_off(site: dict[str, Any], faults: Faults) -> None:
    site["enclosures"] = [{"code": 1}] * 12_000
    found = faults(site)
    assert len(found) == 10_001
    assert found[-1] == "Only the first 10000 faults are listed."
