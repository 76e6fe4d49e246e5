# SPDX-License-Identifier: MIT
"""All rules over a site: who is judged, by which code, and what a part of it concerns."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from pathlib import Path
from pkgutil import iter_modules

import pytest

from wiretrack.electrical import rules
from wiretrack.electrical.assemble import runs_of, wires_of
from wiretrack.electrical.checks import check_document, markings_of
from wiretrack.electrical.findings import REGISTERED, RULES, Built, Finding, Registered, worst
from wiretrack.electrical.tables import code_of
from wiretrack.encoding import document
from wiretrack.exchange.read import read_site
from wiretrack.model.entities import Circuit, Conductor, Enclosure, Pull, Raceway
from wiretrack.model.parts import Device, End, SiteFacts
from wiretrack.model.source import SiteDocument
from wiretrack.model.tags import Tag, format_tag

DEMO = read_site(Path(__file__).parents[2] / "demo_db" / "site.json")


def way(code: str, start: str, end: str, **facts: object) -> Raceway:
    return Raceway(code=code, from_enclosure=start, to_enclosure=end, **facts)  # type: ignore[arg-type]


PATH = [way("W1", "A", "B"), way("W2", "C", "B"), way("W3", "C", "D")]


def wire(tag: str, start: str, end: str, function: str = "L1") -> Conductor:
    return Conductor(
        circuits=("C1",), function=function, size="12 AWG", tag=Tag(tag), pull="P", metal="Cu",
        insulation="THWN-2", colour="BK", from_end=End(enclosure=start), to_end=End(enclosure=end),
    )  # fmt: skip


# Check characters by hand of ISO/IEC 7064 are not needed here: rules never look at them.
SMALL = SiteDocument(
    site=SiteFacts(code="X", rules="NEC", edition=2023),
    enclosures=tuple(Enclosure(code=code) for code in "ABCD"),
    raceways=(*PATH, way("W9", "A", "D")),
    circuits=(Circuit(code="C1", system="ac-1ph", max_voltage_v=120, max_current_a=5),),
    pulls=(Pull(code="P", path=("W1", "W2", "W3")),),
    conductors=(wire("AAAAAA0", "A", "D"), wire("AAAAAA1", "B", "C")),
)


def test_a_conductor_lies_in_the_raceways_between_its_ends_alone() -> None:
    inside = {run.raceway.code: [w.conductor.tag for w in run.wires] for run in runs_of(SMALL)}
    assert inside == {
        "W1": ["AAAAAA0"], "W2": ["AAAAAA0", "AAAAAA1"], "W3": ["AAAAAA0"], "W9": [],
    }  # fmt: skip


def test_each_rule_and_subject_has_one_finding_and_rules_keep_their_order() -> None:
    findings = check_document(DEMO)
    assert max(Counter((f.rule, f.subject) for f in findings).values()) == 1
    places = [RULES.index(f.rule) for f in findings]
    assert places == sorted(places)


def test_the_gravest_of_several_findings_is_kept() -> None:
    def finding(outcome: str, figure: float) -> Finding:
        return Finding("ampacity", "X", outcome, figure, 10, "A", "s", "r")  # type: ignore[arg-type]

    assert worst([finding("pass", 9), finding("doubt", 1)])[0].outcome == "doubt"
    assert worst([finding("fail", 20), finding("doubt", 1)])[0].outcome == "fail"
    assert worst([finding("pass", 2), finding("pass", 9), finding("pass", 4)])[0].figure == 9


def test_the_demo_sites_two_known_faults_are_found_and_no_others() -> None:
    # Its records: W12 has 390 degrees of bend (NEC 344.26: 360); the boatyard feeder has a device
    # of 80 A and a 10 AWG protective conductor (NEC table 250.122: 8 AWG), in two raceways.
    failed = {(f.rule, f.subject) for f in check_document(DEMO) if f.outcome == "fail"}
    assert failed == {("bends", "W12"), ("earthing-size", "W13"), ("earthing-size", "W14")}


def test_the_demo_sites_doubts_are_what_nobody_recorded() -> None:
    doubts = {f.rule for f in check_document(DEMO) if f.outcome == "doubt"}
    assert doubts == {"marking"}


def test_every_conductor_and_raceway_of_the_demo_is_judged() -> None:
    findings = check_document(DEMO)
    judged = {f.subject for f in findings}
    assert {str(c.tag) for c in DEMO.conductors} <= judged
    assert {r.code for r in DEMO.raceways if r.type != "cable"} <= judged


def test_the_iec_applies_none_of_the_necs_own_rules() -> None:
    document = replace(DEMO, site=replace(DEMO.site, rules="IEC", edition=None))
    found = {f.rule for f in check_document(document)}
    assert found <= {
        "raceway-jam", "colour", "earthing-size", "ampacity", "voltage-drop", "insulation-type",
        "landing",
    }  # fmt: skip
    sources = {f.source for f in check_document(document) if f.rule != "raceway-jam"}
    assert not any("NEC" in source for source in sources)
    assert markings_of(document) == []


def test_a_site_without_a_rule_set_is_told_so_for_every_rule() -> None:
    document = replace(DEMO, site=replace(DEMO.site, rules=None, edition=None))
    any_code = {"raceway-jam", "landing", "length"}
    findings = [f for f in check_document(document) if f.rule not in any_code]
    assert {f.rule for f in findings} == set(RULES) - any_code
    assert all(f.outcome == "doubt" and "rule set" in f.reason for f in findings)


@pytest.mark.parametrize("what", ["FDR-BY", "W13", "P-FDR"])
def test_a_part_of_the_site_is_judged_by_what_concerns_it(what: str) -> None:
    findings = check_document(DEMO, what)
    assert ("earthing-size", "W13") in {(f.rule, f.subject) for f in findings}
    assert len(findings) < len(check_document(DEMO)) / 4


def test_a_conductor_is_judged_with_its_raceways_in_either_spelling_of_its_tag() -> None:
    tag = next(c.tag for c in DEMO.conductors if c.circuit == "FDR-BY" and c.tag)
    findings = check_document(DEMO, tag)
    assert {f.subject for f in findings} >= {format_tag(tag), "W13", "W14"}
    assert check_document(DEMO, format_tag(tag).lower()) == findings


def test_a_box_concerns_the_raceways_that_enter_it() -> None:
    subjects = {f.subject for f in check_document(DEMO, "HH1")}
    entering = {r.code for r in DEMO.raceways if "HH1" in (r.from_enclosure, r.to_enclosure)}
    assert subjects & {r.code for r in DEMO.raceways} == entering


def test_nothing_concerns_what_is_not_there() -> None:
    assert check_document(DEMO, "NOWHERE") == []


def test_the_demo_sites_markings_stand_on_its_array_raceways_alone() -> None:
    listed = markings_of(DEMO)
    pv = {c.code for c in DEMO.circuits if c.system == "dc-pv"}
    pulls = {c.pull for c in DEMO.conductors if c.circuit in pv}
    ways = {code for pull in DEMO.pulls if pull.code in pulls for code in pull.path}
    assert {m.on for m in listed if m.at_m is not None} == ways
    assert [m for m in markings_of(DEMO, "W2") if m.on == "W2"]
    assert {m.wording for m in listed} == {"PHOTOVOLTAIC POWER SOURCE"}


def test_a_raceway_behind_the_disconnect_is_known_by_walking_from_the_array() -> None:
    document = SiteDocument(
        enclosures=(
            Enclosure(code="ARR", kind="roof-array"), Enclosure(code="DS", kind="disconnect"),
            Enclosure(code="J"), Enclosure(code="INV", kind="inverter"), Enclosure(code="BX"),
        ),
        raceways=(
            way("R1", "ARR", "J"), way("R2", "DS", "J"), way("R3", "DS", "INV"),
            way("R4", "J", "BX"),
        ),
    )  # fmt: skip
    before = {run.raceway.code: run.before_disconnect for run in runs_of(document)}
    assert before == {"R1": True, "R2": True, "R3": False, "R4": True}
    switched = replace(document, devices=(Device(enclosure="J", code="S", kind="disconnect"),))
    before = {run.raceway.code: run.before_disconnect for run in runs_of(switched)}
    assert before == {"R1": True, "R2": False, "R3": False, "R4": False}
    assert {run.before_disconnect for run in runs_of(SMALL)} == {None}


def test_an_empty_site_has_nothing_to_judge() -> None:
    assert check_document(SiteDocument(site=SiteFacts(rules="NEC", edition=2020))) == []
    assert check_document(SiteDocument(site=SiteFacts(rules="IEC"))) == []


def test_the_document_of_a_finding_has_the_promised_keys() -> None:
    for finding in check_document(SMALL):
        assert set(document(finding)) == {
            "rule", "subject", "outcome", "figure", "limit", "unit", "source", "reason",
        }  # fmt: skip


WEIRD = (0.0, -1.0, float("nan"), float("inf"), 1e300)
NUMBERS = {
    "raceways": ("length_m", "bends_deg", "ambient_c"),
    "circuits": ("max_voltage_v", "max_current_a", "overcurrent_a", "module_voc_v", "module_isc_a",
                 "module_voc_pct_per_k", "modules_in_series", "strings_in_parallel"),
    "conductors": ("length_m", "outer_diameter_mm", "strands"),
}  # fmt: skip


@pytest.mark.parametrize("rules", ["NEC", "IEC"])
@pytest.mark.parametrize("value", WEIRD)
@pytest.mark.parametrize(
    ("table", "field"), [(table, field) for table, fields in NUMBERS.items() for field in fields]
)
def test_impossible_values_are_doubted_by_name_and_break_nothing(
    table: str, field: str, value: float, rules: str
) -> None:
    rows = tuple(replace(row, **{field: value}) for row in getattr(DEMO, table))
    site = replace(DEMO.site, rules=rules, edition=2023 if rules == "NEC" else None)
    document = replace(DEMO, site=site, **{table: rows})  # type: ignore[arg-type]
    for finding in check_document(document):
        assert finding.reason
        assert finding.figure is None or finding.figure == finding.figure  # no NaN gets through
    markings_of(document)


def test_an_impossible_value_is_named_in_the_doubt() -> None:
    rows = tuple(replace(row, bends_deg=float("nan")) for row in SMALL.raceways)
    rows = tuple(replace(row, type="EMT") for row in rows)
    found = check_document(replace(SMALL, raceways=rows))
    (finding,) = [f for f in found if f.rule == "bends" and f.subject == "W1"]
    assert finding.outcome == "doubt"
    assert finding.reason == "Sum of bends is nan °; it must be from 0 to 36000 °."


def test_a_wall_beyond_the_raceways_end_is_named_in_the_marking() -> None:
    wired = replace(wire("AAAAAA0", "A", "D", "L+"), circuits=("S",))
    rows = tuple(replace(row, walls_m=(99.0,), length_m=5.0) for row in SMALL.raceways)
    document = replace(
        SMALL, raceways=rows, conductors=(wired,), circuits=(Circuit(code="S", system="dc-pv"),)
    )
    (along,) = [m for m in markings_of(document) if m.on == "W1"]
    assert "Place of a wall is 99 m" in along.note
    (finding,) = [f for f in check_document(document) if (f.rule, f.subject) == ("marking", "W1")]
    assert finding.reason.startswith("Place of a wall is 99 m")


def test_a_pull_whose_raceways_do_not_join_up_counts_whole() -> None:
    document = replace(SMALL, pulls=(Pull(code="P", path=("W1", "W3")),))
    inside = {run.raceway.code: len(run.wires) for run in runs_of(document)}
    assert inside == {"W1": 2, "W2": 0, "W3": 2, "W9": 0}


def test_a_conductor_whose_circuit_is_not_listed_is_judged_with_a_bare_one() -> None:
    document = replace(SMALL, circuits=())
    assert {f.rule for f in check_document(document)} >= {"raceway-fill", "colour"}


def test_every_file_of_rules_registers_one_and_every_rule_of_the_wiring_has_one() -> None:
    # A reading of the future and a length short of its route are found elsewhere.
    assert {one.rule for one in REGISTERED} == set(RULES) - {"reading-time", "length"}
    judged = {one.judge.__module__.rpartition(".")[2] for one in REGISTERED}
    helpers = {"ampacity_iec", "conditions", "load"}
    assert judged == {file.name for file in iter_modules(rules.__path__)} - helpers


@pytest.mark.parametrize("one", REGISTERED, ids=lambda one: one.judge.__name__)
def test_a_rule_finds_only_what_it_is_registered_for(one: Registered) -> None:
    built = Built(DEMO, code_of(DEMO.site), runs_of(DEMO), wires_of(DEMO))
    found = [finding for _, facts in one.cases(built) for finding in one.judge(*facts)]
    assert found
    assert {finding.rule for finding in found} == {one.rule}
    assert all(finding.source and finding.reason for finding in found)
