# SPDX-License-Identifier: MIT
"""AC voltages: one band for each pair of functions, by the supply; several supplies, no guess."""

from __future__ import annotations

from itertools import product

import pytest

from wiretrack.electrical.accuracy import meter_of
from wiretrack.electrical.supplies import CircuitFacts, bands
from wiretrack.electrical.voltage import expected_voltage, voltage_verdict
from wiretrack.model.words import FUNCTIONS, SUPPLIES, SYSTEMS
from wiretrack.readings import parse_reading

METER = meter_of("0.5% + 2 digits", "0.1 V")
L, LL, L3, L3N = ("L1", "N", "PE"), ("L1", "L2", "N", "PE"), ("L1", "L2", "L3", "PE"), ()
THREE_WITH_N = ("L1", "L2", "L3", "N", "PE")

# ANSI C84.1-2016, Table 1, range A, greatest and least utilization voltage: 120 V by a draft
# of the revision (reprint), the others from memory; the greatest ones are also law in COMAR
# 20.50.07.02 (reprint): 126, 126/252, 126/219, 291/504.
ANSI_C84_1 = {
    ("120", "L1", "N"): (108, 126),
    ("120/240", "L1", "N"): (108, 126), ("120/240", "L2", "N"): (108, 126),
    ("120/240", "L1", "L2"): (216, 252), ("120/240", "L2", "PE"): (108, 126),
    ("208Y/120", "L1", "N"): (108, 126), ("208Y/120", "L2", "L3"): (187, 218),
    ("480Y/277", "L3", "N"): (249, 291), ("480Y/277", "L1", "L3"): (432, 504),
    ("480Y/277", "L2", "raceway"): (249, 291),
    ("240/120 high leg", "L1", "N"): (108, 126), ("240/120 high leg", "L3", "N"): (108, 126),
    ("240/120 high leg", "L1", "L3"): (216, 252), ("240/120 high leg", "L1", "L2"): (216, 252),
    # The high leg is √3/2 of the voltage between lines, 207.8 V: within 208 V of the table.
    ("240/120 high leg", "L2", "N"): (187, 218), ("240/120 high leg", "L2", "PE"): (187, 218),
}  # fmt: skip
# IEC 60038:2009, Table A.1, greatest and least at the supply (from memory), whole volts; the 10 %
# they come from are in a reprint of the text beside Table 1.
IEC_60038 = {
    ("230", "L1", "N"): (207, 253), ("400Y/230", "L1", "N"): (207, 253),
    ("400Y/230", "L1", "L2"): (360, 440), ("208Y/120", "L1", "N"): (108, 132),
    ("208Y/120", "L1", "L2"): (187, 229), ("120/240", "L1", "L2"): (216, 264),
    ("480Y/277", "L1", "N"): (249, 305), ("480Y/277", "L1", "L2"): (432, 528),
}  # fmt: skip


@pytest.mark.parametrize(
    ("rules", "supply", "one", "other", "low", "high"),
    [("NEC", *key, *ends) for key, ends in ANSI_C84_1.items()]
    + [("IEC", *key, *ends) for key, ends in IEC_60038.items()],
)
def test_each_pair_of_functions_has_the_published_band(
    rules: str, supply: str, one: str, other: str, low: float, high: float
) -> None:
    system = "ac-1ph" if supply in ("120", "230", "120/240") else "ac-3ph"
    facts = CircuitFacts(system, supply=supply, rules=rules)
    for first, second in ((one, other), (other, one)):
        [(_, band)] = bands(facts, first, second)
        assert band is not None
        assert (round(band.low_v), round(band.high_v)) == (low, high)
        assert band.source.startswith("ANSI C84.1" if rules == "NEC" else "IEC 60038")
        # Just inside passes, and far outside fails.
        assert judged((low + high) / 2, first, second, facts) == "pass"
        assert judged(low * 0.8, first, second, facts) == "fail"
        assert judged(high * 1.1, first, second, facts) == "fail"


def judged(volts: float | str, one: str, other: str | None, facts: CircuitFacts) -> str:
    text = volts if isinstance(volts, str) else f"{volts:.1f} V"
    return voltage_verdict(parse_reading("voltage", text), facts, one, other, meter=METER).outcome


def told(text: str, one: str, other: str, facts: CircuitFacts) -> str:
    return voltage_verdict(parse_reading("voltage", text), facts, one, other, meter=METER).reason


CASES = [
    # what was read, system, highest voltage, functions of the circuit, rules, outcome
    ("238 V", "L1", "N", "ac-1ph", 240, LL, "NEC", "fail"),  # the neutral is lost, or crossed
    ("119 V", "L1", "N", "ac-1ph", 240, LL, "NEC", "pass"),
    ("119 V", "L2", "N", "ac-1ph", 240, LL, "NEC", "pass"),
    ("239 V", "L1", "L2", "ac-1ph", 240, LL, "NEC", "pass"),
    ("118 V", "L1", "PE", "ac-1ph", 230, L, "IEC", "fail"),  # PE floats
    ("231 V", "L1", "PE", "ac-1ph", 230, L, "IEC", "pass"),
    ("60 V", "L1", "N", "ac-1ph", 120, L, "NEC", "fail"),
    ("122 V", "L1", "N", "ac-1ph", 120, L, "NEC", "pass"),
    ("240 V", "L1", "PE", "ac-1ph", 240, ("L1", "L2", "PE"), "NEC", "fail"),
    ("121 V", "L1", "PE", "ac-1ph", 240, ("L1", "L2", "PE"), "NEC", "pass"),
    ("231 V", "N", "PE", "ac-1ph", 230, L, "IEC", "fail"),  # L and N are crossed
    ("0.8 V", "N", "PE", "ac-1ph", 230, L, "IEC", "pass"),
    ("120 V", "L1", "N", "ac-1ph", 208, LL, "NEC", "pass"),
    ("104 V", "L1", "N", "ac-1ph", 208, LL, "NEC", "doubt"),  # range B
    ("208 V", "L1", "N", "ac-1ph", 208, LL, "NEC", "fail"),
    ("231 V", "L1", "PE", "ac-1ph", 400, ("L1", "L2", "PE"), "IEC", "pass"),
    ("200 V", "L1", "PE", "ac-1ph", 400, ("L1", "L2", "PE"), "IEC", "doubt"),
    ("190 V", "L1", "PE", "ac-1ph", 400, ("L1", "L2", "PE"), "IEC", "fail"),
    ("120 V", "L1", "N", "ac-3ph", 240, THREE_WITH_N, "NEC", "pass"),
    ("208 V", "L2", "N", "ac-3ph", 240, THREE_WITH_N, "NEC", "pass"),
    ("208 V", "L3", "N", "ac-3ph", 240, THREE_WITH_N, "NEC", "fail"),
    ("120 V", "L2", "N", "ac-3ph", 240, THREE_WITH_N, "NEC", "fail"),
    ("277 V", "L1", "N", "ac-3ph", 480, THREE_WITH_N, "NEC", "pass"),
    ("231 V", "L1", "N", "ac-3ph", 400, THREE_WITH_N, "IEC", "pass"),
    ("400 V", "L1", "L2", "ac-3ph", 400, THREE_WITH_N, "IEC", "pass"),
    ("400 V", "L1", "N", "ac-3ph", 400, THREE_WITH_N, "IEC", "fail"),
    ("240 V", "L1", "N", "ac-1ph", 240, L, "IEC", "pass"),
    ("120 V", "L1", "N", "ac-1ph", 240, L, "IEC", "fail"),
    ("0 V", "L1", "N", "ac-1ph", 120, L, "NEC", "fail"),
    ("-231 V", "L1", "N", "ac-3ph", 400, THREE_WITH_N, "IEC", "doubt"),
    ("231 V", "L1", None, "ac-3ph", 400, THREE_WITH_N, "IEC", "doubt"),
    ("254.1 V", "L1", "N", "ac-3ph", 400, THREE_WITH_N, "IEC", "doubt"),  # within its guard band
    ("256 V", "L1", "N", "ac-3ph", 400, THREE_WITH_N, "IEC", "fail"),
    ("400 V", "L1", "L1", "ac-3ph", 400, THREE_WITH_N, "IEC", "doubt"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("text", "one", "other", "system", "volts", "functions", "rules", "expected"), CASES
)
def test_without_its_supply_what_is_certain_of_the_record_judges(
    text: str, one: str, other: str | None, system: str, volts: float,
    functions: tuple[str, ...], rules: str, expected: str,
) -> None:  # fmt: skip
    facts = CircuitFacts(system, volts, frozenset(functions), rules=rules)
    assert judged(text, one, other, facts) == expected


@pytest.mark.parametrize(
    ("text", "one", "other", "system", "volts", "functions", "rules", "named"),
    [
        # 480 V without a neutral may be a star or a delta, of which nothing need be earthed.
        ("277 V", "L1", "PE", "ac-3ph", 480, L3, "NEC", ("480Y/277", "480 three-wire")),
        # 240 V to the neutral is no system of the NEC.
        ("240 V", "L1", "N", "ac-1ph", 240, L, "NEC", ("240,", "120/240")),
        ("120 V", "L1", "N", "ac-1ph", 208, L, "NEC", ("208,", "208Y/120")),
        # 230 V may be between lines or to the neutral.
        ("230 V", "L1", "N", "ac-3ph", 230, THREE_WITH_N, "IEC", ("230Y/133", "400Y/230")),
        ("120 V", "L1", "PE", "ac-3ph", 240, L3, "NEC", ("240/120 high leg", "240 three-wire")),
    ],
)
def test_where_several_supplies_are_possible_they_are_named(
    text: str, one: str, other: str, system: str, volts: float,
    functions: tuple[str, ...], rules: str, named: tuple[str, str],
) -> None:  # fmt: skip
    facts = CircuitFacts(system, volts, frozenset(functions), rules=rules)
    assert judged(text, one, other, facts) == "doubt"
    reason = told(text, one, other, facts)
    assert all(name in reason for name in named), reason
    assert "state the circuit's supply" in reason
    # What none of them has fails all the same, where each of them fixes a voltage.
    if "three-wire" not in named[1]:
        assert judged("600 V", one, other, facts) == "fail"


def test_where_every_possible_supply_agrees_it_passes() -> None:
    facts = CircuitFacts("ac-3ph", 480, frozenset(L3), rules="NEC")
    assert judged("481 V", "L1", "L2", facts) == "pass"
    # Rules unknown: a voltage within both bands passes, one within the IEC's only doesn't.
    unknown = CircuitFacts("ac-1ph", 120, frozenset(L))
    assert judged("120 V", "L1", "N", unknown) == "pass"
    assert judged("129 V", "L1", "N", unknown) == "doubt"
    assert "state the rules of the site" in told("129 V", "L1", "N", unknown)


@pytest.mark.parametrize(
    ("functions", "text", "one", "expected"),
    [
        (("L1", "N", "PE"), "120 V", "L1", "pass"), (("L1", "N", "PE"), "208 V", "L1", "fail"),
        (("L3", "N", "PE"), "120 V", "L3", "pass"), (("L2", "N", "PE"), "208 V", "L2", "pass"),
        (("L1", "L3", "N"), "120 V", "L3", "pass"), (("L1", "L2", "N"), "120 V", "L1", "pass"),
        # L2 may be phase B, or just the second line of the circuit.
        (("L1", "L2", "N"), "120 V", "L2", "doubt"), (("L1", "L2", "N"), "208 V", "L2", "doubt"),
        (("L1", "L2", "N"), "160 V", "L2", "fail"),
    ],
)  # fmt: skip
def test_one_phase_of_a_high_leg_supply(
    functions: tuple[str, ...], text: str, one: str, expected: str
) -> None:
    facts = CircuitFacts(
        "ac-1ph", functions=frozenset(functions), supply="240/120 high leg", rules="NEC"
    )
    assert judged(text, one, "N", facts) == expected


def test_in_an_it_system_no_voltage_to_pe_has_a_limit() -> None:
    facts = CircuitFacts("ac-3ph", 400, frozenset(THREE_WITH_N), earthing="IT", rules="IEC")
    for text, one in (("118 V", "L1"), ("231 V", "L1"), ("400 V", "L2"), ("100 V", "N")):
        verdict = voltage_verdict(parse_reading("voltage", text), facts, one, "PE", meter=METER)
        assert (verdict.outcome, verdict.limit) == ("doubt", None)
    assert judged("231 V", "L1", "N", facts) == "pass"


@pytest.mark.parametrize("earthing", ["TN", "TT", None])
def test_in_a_tn_or_tt_system_a_line_has_its_voltage_to_pe(earthing: str | None) -> None:
    facts = CircuitFacts("ac-3ph", 400, frozenset(THREE_WITH_N), earthing=earthing, rules="IEC")
    assert judged("231 V", "L1", "PE", facts) == "pass"
    assert judged("118 V", "L1", "PE", facts) == "fail"
    assert judged("0.5 V", "PE", "N", facts) == "pass"


@pytest.mark.parametrize(
    ("text", "expected"), [("2 V", "pass"), ("8 V", "doubt"), ("60 V", "fail")]
)
def test_the_neutral_is_near_pe_as_common_practice(text: str, expected: str) -> None:
    # Half of a 5 % drop of 120 V is 3 V; IEC 60364-4-41, 414.1: above 50 V AC touch is dangerous.
    facts = CircuitFacts("ac-1ph", 120, frozenset(L), rules="NEC")
    verdict = voltage_verdict(parse_reading("voltage", text), facts, "N", "PE", meter=METER)
    assert verdict.outcome == expected
    assert verdict.limit == 3
    assert "common practice" in verdict.source


def test_what_is_expected_before_a_reading_is_what_will_pass() -> None:
    for system, volts, supply, rules in product(
        SYSTEMS, (None, 48, 120, 208, 230, 240, 400, 480), (None, *SUPPLIES), ("NEC", "IEC", None)
    ):
        facts = CircuitFacts(system, volts, frozenset(THREE_WITH_N), supply=supply, rules=rules)
        for one, other in product(FUNCTIONS, FUNCTIONS):
            found = expected_voltage(facts, one, other)
            if found is None or found.low_v is None or found.high_v is None or not found.low_v:
                continue
            middle = (found.low_v + found.high_v) / 2
            sign = "-" if (one, other) in (("L-", "L+"), ("L-", "M"), ("M", "L+")) else ""
            if system.startswith("ac-") or {one, other} == {"L+", "L-"}:
                assert judged(f"{sign}{middle:.1f} V", one, other, facts) == "pass"
