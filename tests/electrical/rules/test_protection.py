# SPDX-License-Identifier: MIT
"""The overcurrent device against the load and the conductors, on both sides of each line."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from wiretrack.electrical.checks import check_document
from wiretrack.electrical.rules.ampacity import ampacity
from wiretrack.electrical.rules.protection import for_load, motor_device
from wiretrack.electrical.tables import load_table
from wiretrack.errors import OutOfRangeError
from wiretrack.model.entities import Circuit, Conductor, Enclosure, Pull, Raceway
from wiretrack.model.parts import Device, End, SiteFacts
from wiretrack.model.source import SiteDocument
from wiretrack.model.tags import Tag

if TYPE_CHECKING:
    from tests.electrical.conftest import Make
    from wiretrack.electrical.findings import Finding
    from wiretrack.electrical.tables import Code

DRY: dict[str, Any] = {"wet": False, "ambient_c": 30.0, "length_m": 20.0}


def circuit(system: str = "ac-1ph", **facts: Any) -> Circuit:
    return Circuit(code="C", system=system, **facts)


def conductor_row(make: type[Make], size: str, of: Circuit, code: Code | None = None) -> Finding:
    """Return the finding on the line conductor of a pair in dry 30 °C pipe."""
    mm2 = "mm2" in size
    wires = [
        make.wire(size, function, of, insulation="H07V-K" if mm2 else "THHN")
        for function in ("L1", "N")
    ]
    (finding,) = ampacity(wires[0], make.run(*wires, **DRY), code or make.nec)
    return finding


def circuit_row(make: type[Make], of: Circuit, code: Code | None = None) -> Finding:
    function = "L+" if of.system == "dc-pv" else "L1"
    (finding,) = for_load(of, [make.wire("6 AWG", function, of)], code or make.nec)
    return finding


# NEC 240.4(D)(3) to (7) (copy of the code of 2017): 14 AWG 15 A, 12 AWG 20 A, 10 AWG 30 A
# copper; 12 AWG 15 A, 10 AWG 25 A aluminium. No load is needed to say so.
@pytest.mark.parametrize("load", [5.0, None])
@pytest.mark.parametrize(("size", "most"), [("14 AWG", 15), ("12 AWG", 20), ("10 AWG", 30)])
def test_small_conductors_fail_on_a_larger_device_whether_the_load_is_known_or_not(
    size: str, most: float, load: float | None, make: type[Make]
) -> None:
    right = conductor_row(make, size, circuit(max_current_a=load, overcurrent_a=most))
    assert right.outcome == ("pass" if load else "doubt")
    for rating in (most + 5, 100):
        wrong = conductor_row(make, size, circuit(max_current_a=load, overcurrent_a=rating))
        assert (wrong.outcome, wrong.figure, wrong.limit) == ("fail", rating, most)
        assert wrong.source == "NEC 2023 240.4(D)"
        assert "state motor=true of C" in wrong.reason


# Table 310.16 and 240.6(A): 8 AWG copper has 40 A at 60 °C and 50 A at 75 °C; 6 AWG 55 and 65 A,
# so 60 and 70 A are the next standard ratings (240.4(B)); 3/0 AWG has 200 A at 75 °C.
@pytest.mark.parametrize(
    ("size", "rating", "outcome"),
    [
        ("8 AWG", 40, "pass"), ("8 AWG", 45, "doubt"), ("8 AWG", 50, "doubt"),
        ("8 AWG", 60, "fail"), ("6 AWG", 60, "pass"), ("6 AWG", 70, "doubt"),
        ("6 AWG", 80, "fail"), ("3/0 AWG", 200, "pass"), ("3/0 AWG", 225, "fail"),
    ],
)  # fmt: skip
def test_larger_conductors_may_have_the_next_standard_rating(
    size: str, rating: float, outcome: str, make: type[Make]
) -> None:
    finding = conductor_row(make, size, circuit(max_current_a=20, overcurrent_a=rating))
    assert finding.outcome == outcome, finding.reason
    if outcome == "doubt":
        assert "state termination_rating" in finding.reason
    if outcome == "fail":
        assert "240.4(B)" in finding.source


# NEC 430.52 with Exception 1 by hand: a motor of 34 A has 250 % = 85 A, so a breaker of 90 A, and
# 175 % = 59.5 A, so a time-delay fuse of 60 A; 400 % = 136 A ends exception 2.
def test_motors_may_have_the_devices_of_table_430_52() -> None:
    assert motor_device(34, "breaker", direct=False) == (90, 136)
    assert motor_device(34, "fuse", direct=False) == (60, 136)
    assert motor_device(120, "breaker", direct=False) == (300, 360)  # 300 % above 100 A
    assert motor_device(20, "breaker", direct=True) == (30, 80)
    with pytest.raises(OutOfRangeError):
        motor_device(0, "breaker", direct=False)
    # As the table of 2017 is printed: 300, 175 and 250 % for alternating current, 150 % for direct.
    rows = {(r["device"], r["motor"]): r["pct"] for r in load_table("nec_430_52").rows}
    assert rows["fuse not time-delay", "ac"] == "300"
    assert (rows["fuse", "ac"], rows["breaker", "ac"]) == ("175", "250")
    assert {pct for (_, motor), pct in rows.items() if motor == "dc"} == {"150"}


@pytest.mark.parametrize(
    ("rating", "motor", "outcome"),
    # 10 AWG for a motor of 16 A (20 A by 430.22): 240.4(D) 30 A; 250 % is 40 A, 400 % is 64 A.
    [(30, None, "pass"), (40, None, "fail"), (40, False, "fail"), (40, True, "doubt"),
     (30, True, "pass"), (60, True, "doubt"), (70, True, "fail")],
)  # fmt: skip
def test_a_motor_circuit_may_have_a_larger_device_and_only_a_stated_one(
    rating: float, motor: bool | None, outcome: str, make: type[Make]
) -> None:
    of = circuit("ac-3ph", max_current_a=16, overcurrent_a=rating, motor=motor)
    finding = conductor_row(make, "10 AWG", of)
    assert finding.outcome == outcome, finding.reason
    assert ("state motor=true" in finding.reason) == (outcome == "fail" and motor is None)


def test_a_breaker_of_250_percent_is_right_for_a_motor_once_it_is_known_to_be_one(
    make: type[Make],
) -> None:
    of = circuit("ac-3ph", max_current_a=16, motor=True)
    breaker = site_with(of, Device(enclosure="A", code="Q1", kind="breaker", rating_a=40,
                                   poles=(("Q1:1", "Q1:2"),)))  # fmt: skip
    assert row(breaker, "ampacity", "AAA-AAA0").outcome == "pass"


# NEC 430.22 by hand: 125 % of 30 A is 37.5 A, above the 35 A of 10 AWG at 75 °C; of 24 A 30 A.
@pytest.mark.parametrize(("amperes", "outcome"), [(24, "pass"), (30, "fail")])
def test_a_motors_conductors_carry_125_percent_of_it(
    amperes: float, outcome: str, make: type[Make]
) -> None:
    finding = conductor_row(make, "10 AWG", circuit("ac-3ph", max_current_a=amperes, motor=True))
    assert finding.outcome == outcome
    assert "430.22" in finding.source


# NEC 210.20(A) and 215.3: a device of 100 % of a load that isn't continuous, 125 % of one that is.
@pytest.mark.parametrize(
    ("amperes", "continuous", "rating", "outcome", "figure"),
    [
        (32, None, 30, "fail", 32), (30, None, 30, "doubt", 37.5), (30, False, 30, "pass", 30),
        (24, None, 30, "pass", 30), (24, True, 30, "pass", 30), (24.1, True, 30, "fail", 30.125),
        (24.1, False, 30, "pass", 24.1),
    ],
)  # fmt: skip
def test_a_device_is_no_smaller_than_its_load(
    amperes: float, continuous: bool | None, rating: float, outcome: str, figure: float,
    make: type[Make],
) -> None:  # fmt: skip
    of = circuit(max_current_a=amperes, overcurrent_a=rating, continuous=continuous)
    finding = circuit_row(make, of)
    assert (finding.outcome, finding.figure, finding.limit) == (outcome, figure, rating)
    assert (finding.rule, finding.subject) == ("ampacity", "C")
    assert finding.source == "NEC 2023 210.20(A) and 215.3"
    assert ("state continuous of C" in finding.reason) == (outcome == "doubt")
    assert ("listed for 100 %" in finding.reason) == (amperes == 24.1 and continuous is True)


# NEC 690.9(B)(1): 125 % of the current by 690.8(A). 25.6 A stated takes 32 A; 11.2 A Isc takes
# 1.25 x 1.25 x 11.2 = 17.5 A, so 20 A is right and 15 A isn't.
@pytest.mark.parametrize(
    ("facts", "rating", "outcome", "figure"),
    [
        ({"max_current_a": 25.6}, 15, "fail", 32), ({"max_current_a": 25.6}, 30, "fail", 32),
        ({"max_current_a": 25.6}, 35, "pass", 32),
        ({"module_isc_a": 11.2, "strings_in_parallel": 1}, 15, "fail", 17.5),
        ({"module_isc_a": 11.2, "strings_in_parallel": 1}, 20, "pass", 17.5),
    ],
)  # fmt: skip
def test_a_pv_device_is_125_percent_of_the_largest_current(
    facts: dict[str, Any], rating: float, outcome: str, figure: float, make: type[Make]
) -> None:
    finding = circuit_row(make, circuit("dc-pv", overcurrent_a=rating, **facts))
    assert (finding.outcome, finding.figure, finding.limit) == (outcome, figure, rating)
    assert finding.source == "NEC 2023 690.9(B)"


def test_a_circuit_without_a_known_device_is_a_doubt_that_says_what_to_state(
    make: type[Make],
) -> None:
    finding = circuit_row(make, circuit(max_current_a=10))
    assert finding.outcome == "doubt"
    assert "state overcurrent of C" in finding.reason
    pv = circuit("dc-pv", max_current_a=10)
    assert for_load(pv, [make.wire("10 AWG", "L+", pv)], make.nec) == []  # 690.9(A) needs none
    assert for_load(circuit(), [make.wire("10 AWG", "L1", circuit())], make.nec) == []


# IEC 60364-4-43 433.1, Ib <= In <= Iz: table B.52.2 has 24 A for two loaded 2.5 mm2 of PVC in B1.
@pytest.mark.parametrize(
    ("rating", "outcome"), [(16, "pass"), (24, "pass"), (25, "fail"), (63, "fail")]
)
def test_the_iec_holds_the_device_against_the_conductor(
    rating: float, outcome: str, make: type[Make]
) -> None:
    of = circuit(max_current_a=16, overcurrent_a=rating)
    finding = conductor_row(make, "2.5 mm2", of, make.iec)
    assert finding.outcome == outcome, finding.reason
    if outcome == "fail":
        assert (finding.figure, finding.limit) == (rating, 24)
        assert "IEC 60364-4-43 433.1" in finding.source
        assert "B.52.2" in finding.source
    unknown = conductor_row(make, "2.5 mm2", circuit(overcurrent_a=rating), make.iec)
    assert unknown.outcome == ("fail" if outcome == "fail" else "doubt")


@pytest.mark.parametrize(("amperes", "outcome"), [(16, "pass"), (16.1, "fail"), (20, "fail")])
def test_the_iec_holds_the_load_against_the_device(
    amperes: float, outcome: str, make: type[Make]
) -> None:
    finding = circuit_row(make, circuit(max_current_a=amperes, overcurrent_a=16), make.iec)
    assert (finding.outcome, finding.figure, finding.limit) == (outcome, amperes, 16)
    assert finding.source == "IEC 60364-4-43 433.1"


def test_what_the_iec_cannot_tell_is_a_doubt_only_where_it_matters(make: type[Make]) -> None:
    # B.52.2 and B.52.3: 2.5 mm2 has 24 A with PVC and 31 A with XLPE; at 10 °C 24 x 1.22 = 29.3 A.
    wires = [
        make.wire("2.5 mm2", f, circuit(overcurrent_a=25), insulation=None) for f in ("L1", "N")
    ]
    (finding,) = ampacity(wires[0], make.run(*wires, **DRY), make.iec)
    assert finding.outcome == "doubt"
    wires = [
        make.wire("2.5 mm2", f, circuit(overcurrent_a=63), insulation=None) for f in ("L1", "N")
    ]
    (finding,) = ampacity(wires[0], make.run(*wires), make.iec)
    assert finding.outcome == "fail"
    motor = circuit(max_current_a=12, overcurrent_a=40, motor=True)
    assert conductor_row(make, "2.5 mm2", motor, make.iec).outcome == "doubt"


def site_with(of: Circuit, *devices: Device, rules: str = "NEC", size: str = "10 AWG",
              **more: Any) -> SiteDocument:  # fmt: skip
    """Return a site with one line conductor from a device in A to nothing yet in B."""
    conductor = Conductor(
        circuits=("C",), function="L1", size=size, tag=Tag("AAAAAA0"), pull="P", metal="Cu",
        colour="BK", insulation="THHN" if rules == "NEC" else "H07V-K",
        from_end=End(enclosure="A", terminal=more.pop("terminal", "Q1:2")),
        to_end=End(enclosure="B", terminal=more.pop("to", None)),
    )  # fmt: skip
    return SiteDocument(
        site=SiteFacts(rules=rules, edition=2023 if rules == "NEC" else None),
        enclosures=(Enclosure(code="A"), Enclosure(code="B")),
        raceways=(Raceway(code="W", from_enclosure="A", to_enclosure="B", type="EMT",
                          trade_size="1", wet=False, ambient_c=30, length_m=9),),
        circuits=(of,), pulls=(Pull(code="P", path=("W",)),), conductors=(conductor,),
        devices=devices,
    )  # fmt: skip


def row(document: SiteDocument, rule: str, subject: str) -> Finding:
    return next(
        finding for finding in check_document(document)
        if (finding.rule, finding.subject) == (rule, subject)
    )  # fmt: skip


def breaker(rating: float | None, code: str = "Q1", **facts: Any) -> Device:
    known: dict[str, Any] = {"enclosure": "A", "kind": "breaker", "rating_a": rating, **facts}
    return Device(code=code, poles=((f"{code}:1", f"{code}:2"),), **known)


def test_the_breaker_that_a_circuit_is_landed_on_counts_where_none_is_stated() -> None:
    document = site_with(circuit(max_current_a=32), breaker(30))
    found = row(document, "ampacity", "C")
    assert (found.outcome, found.figure, found.limit) == ("fail", 32, 30)
    assert "breaker A/Q1 of 30 A" in found.reason
    large = row(
        site_with(circuit(), breaker(100), rules="IEC", size="2.5 mm2"), "ampacity", "AAA-AAA0"
    )
    assert (large.outcome, large.figure) == ("fail", 100)
    assert "breaker A/Q1" in large.reason


def test_a_breaker_is_found_behind_a_contactor_and_not_across_a_bar() -> None:
    contactor = Device(enclosure="A", code="K1", kind="contactor", poles=(("Q1:2", "K1:2"),))
    document = site_with(circuit(max_current_a=32), breaker(30), contactor, terminal="K1:2")
    assert row(document, "ampacity", "C").outcome == "fail"
    bar = Device(enclosure="A", code="BUS", kind="bus", poles=(("L1", "Q1:1"), ("L1", "Q2:1")))
    document = site_with(circuit(max_current_a=28), breaker(30), bar, breaker(100, "Q2"))
    assert row(document, "ampacity", "C").limit == 30
    joined = Device(enclosure="A", code="F1", kind="fuse", rating_a=20,
                    poles=(("F1:1", "OUT"), ("F1:2", "OUT")))  # fmt: skip
    document = site_with(circuit(max_current_a=28), joined, terminal="OUT")
    assert "state overcurrent" in row(document, "ampacity", "C").reason


def test_two_possible_breakers_are_a_doubt_only_where_they_differ_in_effect() -> None:
    other = breaker(60, "Q9", enclosure="B")
    document = site_with(circuit(max_current_a=40), breaker(30), other, to="Q9:1", size="4 AWG")
    found = row(document, "ampacity", "C")
    assert found.outcome == "doubt"
    assert "A/Q1" in found.reason
    assert "B/Q9" in found.reason
    document = site_with(circuit(max_current_a=70), breaker(30), other, to="Q9:1", size="4 AWG")
    assert row(document, "ampacity", "C").outcome == "fail"


def test_a_stated_rating_that_the_breaker_contradicts_is_a_doubt() -> None:
    document = site_with(circuit(max_current_a=10, overcurrent_a=20), breaker(100))
    found = row(document, "ampacity", "C")
    assert found.outcome == "doubt"
    assert "breaker A/Q1 is rated 100 A" in found.reason
    same = site_with(circuit(max_current_a=10, overcurrent_a=20), breaker(20))
    assert row(same, "ampacity", "C").outcome == "pass"


def test_terminals_marked_75_degrees_at_every_end_give_its_column() -> None:
    # Table 310.16: 12 AWG copper has 20 A at 60 °C and 25 A at 75 °C.
    of_light = circuit(max_current_a=17, continuous=True, overcurrent_a=20)  # 21.25 A
    unmarked = site_with(of_light, breaker(20), size="12 AWG")
    found = row(unmarked, "ampacity", "AAA-AAA0")
    assert found.outcome == "doubt"
    assert "state termination_rating of A/Q1:2" in found.reason
    marked = site_with(of_light, breaker(20, termination_rating_c=75), size="12 AWG")
    assert row(marked, "ampacity", "AAA-AAA0").outcome == "pass"
    sixty = site_with(of_light, breaker(20, termination_rating_c=60), size="12 AWG")
    assert row(sixty, "ampacity", "AAA-AAA0").outcome == "fail"
    other_end = site_with(of_light, breaker(20, termination_rating_c=75), size="12 AWG", to="TB1:1")
    found = row(other_end, "ampacity", "AAA-AAA0")
    assert found.outcome == "doubt"
    assert "B/TB1:1" in found.reason
    odd = site_with(of_light, breaker(20, termination_rating_c=20), size="12 AWG")
    assert "Termination rating at A/Q1:2" in row(odd, "ampacity", "AAA-AAA0").reason


def test_a_continuous_load_needs_125_percent_before_corrections(make: type[Make]) -> None:
    # 12 AWG, 60 °C terminals 20 A and 75 °C 25 A: 16 A continuous is 20 A, 21 A is 26.25 A.
    for amperes, continuous, outcome in (
        (16, True, "pass"), (16, None, "pass"), (21, True, "fail"), (19, None, "doubt"),
        (19, False, "pass"),
    ):  # fmt: skip
        of = circuit(max_current_a=amperes, continuous=continuous)
        finding = conductor_row(make, "12 AWG", of)
        assert finding.outcome == outcome, (amperes, continuous, finding.reason)
        assert ("state continuous of C" in finding.reason) == (outcome == "doubt")


def test_parallel_sets_share_one_device(make: type[Make]) -> None:
    # Two 3/0 AWG of 200 A each may have 400 A; without their sets that is a doubt, alone a fail.
    of = circuit(max_current_a=150, overcurrent_a=400)

    def pulled(*sets: int | None) -> SiteDocument:
        base = site_with(of, size="3/0 AWG")
        first = base.conductors[0]
        made = [
            Conductor(**{**vars(first), "parallel_set": one, "tag": f"AAAAAA{i}"})
            for i, one in enumerate(sets)
        ]
        return SiteDocument(**{**vars(base), "conductors": tuple(made)})

    assert row(pulled(1, 2), "ampacity", "AAA-AAA0").outcome == "pass"
    unknown = row(pulled(None, None), "ampacity", "AAA-AAA0")
    assert unknown.outcome == "doubt"
    assert "state set" in unknown.reason
    assert row(pulled(1), "ampacity", "AAA-AAA0").outcome == "fail"


def test_a_conductor_in_no_raceway_is_held_against_its_device_all_the_same() -> None:
    base = site_with(circuit(overcurrent_a=100), size="14 AWG")
    alone = SiteDocument(**{**vars(base), "pulls": (), "raceways": ()})
    assert row(alone, "ampacity", "AAA-AAA0").outcome == "fail"
    # Table B.52.2: 24 A of 2.5 mm2 is 29.3 A at 10 °C; how it is laid isn't known, so a doubt.
    for rating, outcome in ((63, "doubt"), (25, None)):
        base = site_with(circuit(overcurrent_a=rating), size="2.5 mm2", rules="IEC")
        alone = SiteDocument(**{**vars(base), "pulls": (), "raceways": ()})
        found = [f.outcome for f in check_document(alone) if (f.rule, f.subject)
                 == ("ampacity", "AAA-AAA0")]  # fmt: skip
        assert found == ([outcome] if outcome else [])
    base = site_with(circuit(overcurrent_a=15), size="14 AWG")
    alone = SiteDocument(**{**vars(base), "pulls": (), "raceways": ()})
    assert all(f.subject != "AAA-AAA0" for f in check_document(alone) if f.rule == "ampacity")


# IEC 60269-1 (from memory): a gG fuse may melt at 1.6 In only; 433.1 asks I2 of at most 1.45 Iz. Of
# 24 A (2.5 mm2, B.52.2) that is 34.8 A: 1.6 x 20 A is 32 A, 1.6 x 24 A is 38.4 A.
@pytest.mark.parametrize(
    ("kind", "rating", "outcome"),
    [("fuse", 20, None), ("fuse", 24, "doubt"), ("breaker", 24, None), ("fuse", 25, "fail")],
)
def test_a_fuse_is_also_held_against_its_melting_current(
    kind: str, rating: float, outcome: str | None
) -> None:
    two = breaker(rating, kind=kind)
    document = site_with(circuit(max_current_a=16), two, rules="IEC", size="2.5 mm2")
    found = row(document, "ampacity", "AAA-AAA0")
    assert found.outcome == (outcome or "pass"), found.reason
    assert ("1.45 Iz" in found.reason) == (outcome == "doubt")
