# SPDX-License-Identifier: MIT
"""Voltage drop against a published example and a national table of mV per ampere and metre."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pytest

from wiretrack.electrical.resistance import unit_resistance
from wiretrack.electrical.rules.voltage_drop import voltage_drop, voltage_drop_v
from wiretrack.electrical.tables import Code
from wiretrack.errors import OutOfRangeError
from wiretrack.model.entities import Circuit

if TYPE_CHECKING:
    from tests.electrical.conftest import Make

# BS 7671 appendix 4, conduit columns (copy; original not seen): mV per A and m, two-wire
# DC and three-phase, at 70 °C. By hand from IEC 60228 table 2, 1.5 mm²: 2 x 12.1 x 1.2 = 29.
MILLIVOLTS = [
    (1.5, 29, 25), (2.5, 18, 15), (4, 11, 9.5), (6, 7.3, 6.4), (10, 4.4, 3.8), (16, 2.8, 2.4),
    (25, 1.75, None), (35, 1.25, None), (50, 0.93, None), (95, 0.46, None), (150, 0.29, None),
]  # fmt: skip
FEED = Circuit(code="C", system="ac-1ph", max_voltage_v=24, max_current_a=4)


def test_4_amperes_over_100_ft_of_16_awg_lose_4_of_24_volts(make: type[Make]) -> None:
    # Chapter 9 table 8, 16 AWG stranded: 4.99 ohm per 1000 ft; 200 ft and 4 A: 4.0 V, 16.7 % of 24.
    wires = [make.wire("16 AWG", f, FEED, length_m=30.48, strands=7) for f in ("L1", "N")]
    (finding,) = voltage_drop(FEED, wires, make.nec)
    assert finding.figure == pytest.approx(16.7, abs=0.1)
    assert finding.outcome == "doubt"
    assert "3.99 V of 24 V" in finding.reason
    assert "advice, not a limit" in finding.reason


@pytest.mark.parametrize(("area", "two_wire", "three_phase"), MILLIVOLTS)
def test_the_drop_is_that_of_the_millivolt_tables(
    area: float, two_wire: float, three_phase: float | None
) -> None:
    ohm_per_m = unit_resistance(f"{area:g} mm2", 70, "Cu", 7 if area < 50 else 19).ohm_per_km / 1e3
    assert 1000 * voltage_drop_v(1, ohm_per_m, ohm_per_m) == pytest.approx(two_wire, rel=0.03)
    if three_phase is not None:
        assert 1000 * voltage_drop_v(1, ohm_per_m, 0, 3) == pytest.approx(three_phase, rel=0.03)


def chain(make: type[Make], circuit: Circuit, *spans: tuple[str, str], **facts: Any) -> list[Any]:
    return [
        make.wire("16 AWG", f, circuit, ends, length_m=30.48, strands=7, **facts)
        for ends in spans
        for f in ("L1", "N")
    ]


def percent(circuit: Circuit, wires: list[Any], code: Code) -> float:
    (finding,) = voltage_drop(circuit, wires, code)
    assert finding.figure is not None, finding.reason
    return finding.figure


def test_conductors_in_series_add_and_parallel_ones_share(make: type[Make]) -> None:
    one = percent(FEED, chain(make, FEED, ("A", "B")), make.nec)
    two = percent(FEED, chain(make, FEED, ("A", "B"), ("B", "C")), make.nec)
    assert two == pytest.approx(2 * one, abs=0.02)
    shared = percent(FEED, chain(make, FEED, ("A", "B"), ("B", "A")), make.nec)
    assert shared == pytest.approx(one / 2, abs=0.02)


def test_a_branching_circuit_is_followed_the_longest_way(make: type[Make]) -> None:
    two = percent(FEED, chain(make, FEED, ("A", "B"), ("B", "C")), make.nec)
    star = percent(FEED, chain(make, FEED, ("A", "B"), ("B", "C"), ("B", "D")), make.nec)
    assert star == two
    (ring,) = voltage_drop(FEED, chain(make, FEED, ("A", "B"), ("B", "C"), ("C", "A")), make.nec)
    assert ring.outcome == "doubt"
    (apart,) = voltage_drop(FEED, chain(make, FEED, ("A", "B"), ("C", "D")), make.nec)
    assert "which way L1 runs" in apart.reason


def test_three_phases_drop_root_three_between_lines(make: type[Make]) -> None:
    pump = Circuit(code="P", system="ac-3ph", max_voltage_v=400, max_current_a=9.5)
    wires = [make.wire("4 mm2", f, pump, length_m=67, strands=7) for f in ("L1", "L2", "L3")]
    (finding,) = voltage_drop(pump, wires, make.iec)
    # By the table above: 9.5 mV per A and m x 9.5 A x 67 m = 6.05 V of 400 V.
    assert finding.figure == pytest.approx(100 * 9.5e-3 * 9.5 * 67 / 400, rel=0.02)
    assert (finding.outcome, finding.limit) == ("pass", 5)
    assert "table G.52.1" in finding.source


def test_strings_are_taken_at_their_operating_voltage_and_current(make: type[Make]) -> None:
    known: dict[str, Any] = {
        "module_vmp_v": 41.0, "modules_in_series": 10, "module_imp_a": 10.5,
        "strings_in_parallel": 2, "module_voc_v": 50, "module_isc_a": 11,
        "max_voltage_v": 600, "max_current_a": 28,
    }  # fmt: skip

    def judged(**facts: Any) -> Any:
        string = Circuit(code="S", system="dc-pv", **{**known, **facts})
        wires = [make.wire("10 AWG", f, string, length_m=30.48, strands=7) for f in ("L+", "L-")]
        return voltage_drop(string, wires, make.nec)[0]

    # 1.24 ohm per 1000 ft: 2 x 0.124 ohm x 21 A = 5.21 V of 410 V.
    assert judged().figure == pytest.approx(100 * 21 * 2 * 0.124 / 410, abs=0.01)
    for field, word in (("module_vmp_v", "module.vmp of S"), ("module_imp_a", "module.imp of S"),
                        ("strings_in_parallel", "strings in parallel"),
                        ("modules_in_series", "modules in series")):  # fmt: skip
        unknown = judged(**{field: None})
        assert (unknown.outcome, unknown.figure) == ("doubt", None)
        assert word in unknown.reason


# By hand from chapter 9 table 8, 10 AWG stranded 1.24 ohm per 1000 ft: 20 A over 100 ft drop
# 2 x 0.124 x 20 = 4.96 V along two conductors, and root 3 x 2.48 = 4.30 V between three.
@pytest.mark.parametrize(
    ("system", "functions", "facts", "volts", "drop"),
    [
        ("ac-1ph", ("L1", "N"), {"supply": "120/240"}, 120, 4.96),
        ("ac-1ph", ("L1", "N"), {"max_voltage_v": 120}, 120, 4.96),
        ("ac-1ph", ("L1", "L2"), {"supply": "120/240"}, 240, 4.96),
        ("ac-1ph", ("L1", "L2"), {"max_voltage_v": 240}, 240, 4.96),
        ("ac-1ph", ("L2", "L3"), {"supply": "208Y/120"}, 208, 4.96),
        ("ac-3ph", ("L1", "L2"), {"supply": "208Y/120"}, 208, 4.96),
        ("ac-1ph", ("L1", "L2", "N"), {"supply": "120/240"}, 120, 4.96),
        ("ac-1ph", ("L1", "L2", "N"), {"max_voltage_v": 240}, 120, 4.96),
        ("ac-1ph", ("L1", "L2", "N"), {"max_voltage_v": 208}, 120, 4.96),
        ("ac-1ph", ("L1", "L2", "L3", "N"), {"supply": "480Y/277"}, 277, 4.96),
        ("ac-3ph", ("L1", "L2", "L3"), {"supply": "208Y/120"}, 208, 4.30),
        ("ac-3ph", ("L1", "L2", "L3", "N"), {"max_voltage_v": 480}, 480, 4.30),
    ],
)
def test_the_load_is_where_the_conductors_let_it_be(
    system: str, functions: tuple[str, ...], facts: dict[str, Any], volts: float, drop: float,
    make: type[Make],
) -> None:  # fmt: skip
    circuit = Circuit(code="C", system=system, max_current_a=20, **facts)
    wires = [make.wire("10 AWG", f, circuit, length_m=30.48, strands=7) for f in functions]
    (finding,) = voltage_drop(circuit, wires, make.nec)
    assert finding.figure == pytest.approx(100 * drop / volts, abs=0.01)
    assert f"of {volts:g} V" in finding.reason
    assert ("worst case" in finding.reason) is (len(functions) > 2)


def test_a_multiwire_circuit_of_unknown_supply_asks_for_it(make: type[Make]) -> None:
    circuit = Circuit(code="C", system="ac-1ph", max_current_a=20)
    wires = [make.wire("10 AWG", f, circuit, length_m=30.48) for f in ("L1", "L2", "N")]
    (finding,) = voltage_drop(circuit, wires, make.nec)
    assert finding.outcome == "doubt"
    assert "state supply of C" in finding.reason


def test_lines_of_one_leg_add_up_in_the_neutral_they_share(make: type[Make]) -> None:
    # 10 A in each line and 20 A in the neutral: 10 x 0.124 + 20 x 0.124 = 3.72 V of 120 V.
    circuit = Circuit(code="C", system="ac-1ph", max_current_a=10, supply="120/240")
    wires = [make.wire("10 AWG", f, circuit, length_m=30.48, strands=7) for f in ("L1", "L1", "N")]
    (finding,) = voltage_drop(circuit, wires, make.nec)
    assert finding.figure == pytest.approx(100 * 3.72 / 120, abs=0.01)
    assert "2 lines of one leg on one N" in finding.reason


def test_stated_sets_share_also_through_a_box_of_their_own(make: type[Make]) -> None:
    circuit = Circuit(code="C", system="ac-1ph", max_current_a=100, supply="120/240")

    def laid(spans: dict[int, tuple[tuple[str, str], ...]]) -> float | None:
        wires = [
            replace(make.wire("1/0 AWG", f, circuit, ends, parallel_set=number, strands=19,
                              length_m=30.48 / len(parts)), sets=len(spans))
            for number, parts in spans.items() for ends in parts for f in ("L1", "N")
        ]  # fmt: skip
        return voltage_drop(circuit, wires, make.nec)[0].figure

    # Chapter 9 table 8, 1/0 AWG stranded: 0.122 ohm per 1000 ft; two of them half of that.
    direct, round_ = (("A", "B"),), (("A", "J"), ("J", "B"))
    assert laid({1: direct}) == pytest.approx(100 * 2 * 1.22 / 120, abs=0.01)
    assert laid({1: direct, 2: direct}) == pytest.approx(100 * 1.22 / 120, abs=0.01)
    assert laid({1: direct, 2: round_}) == pytest.approx(100 * 1.22 / 120, abs=0.01)


@pytest.mark.parametrize(
    ("facts", "word"),
    [({"metal": None}, "metal"), ({"length_m": None}, "length")],
)
def test_missing_facts_are_named(facts: dict[str, Any], word: str, make: type[Make]) -> None:
    known = {"length_m": 30.48, "strands": 7, **facts}
    wires = [make.wire("16 AWG", f, FEED, **known) for f in ("L1", "N")]
    (finding,) = voltage_drop(FEED, wires, make.nec)
    assert finding.outcome == "doubt"
    assert word in finding.reason


def test_missing_current_voltage_and_conductors_are_named(make: type[Make]) -> None:
    bare = Circuit(code="C", system="ac-1ph")
    (finding,) = voltage_drop(bare, [make.wire("16 AWG", "L1", bare, length_m=1)], make.nec)
    for word in ("current", "voltage", "a return conductor"):
        assert word in finding.reason
    (none,) = voltage_drop(FEED, [make.wire("16 AWG", "PE", FEED)], make.nec)
    assert "a line conductor" in none.reason
    (lines,) = voltage_drop(
        Circuit(code="C", system="ac-3ph", max_voltage_v=400, max_current_a=1), [], make.nec
    )
    assert "a line conductor" in lines.reason
    odd = chain(make, FEED, ("A", "B"))
    odd[0] = make.wire("11 AWG", "L1", FEED, length_m=3)
    assert "no entry" in voltage_drop(FEED, odd, make.nec)[0].reason


def test_signal_and_earthing_circuits_and_unknown_codes_have_no_rule(make: type[Make]) -> None:
    signal = Circuit(code="S", system="signal")
    assert voltage_drop(signal, [make.wire("16 AWG", "signal", signal)], make.nec) == []
    assert voltage_drop(FEED, chain(make, FEED, ("A", "B")), Code(None)) == []


def test_impossible_currents_and_resistances_are_refused() -> None:
    for current, ohms in ((0, 1), (-1, 1), (float("nan"), 1), (1, 0), (1, float("inf"))):
        with pytest.raises(OutOfRangeError):
            voltage_drop_v(current, ohms, 1)


def test_a_ring_beside_a_stray_conductor_is_no_tree(make: type[Make]) -> None:
    spans = (("A", "B"), ("B", "C"), ("C", "A"), ("D", "E"))
    (finding,) = voltage_drop(FEED, chain(make, FEED, *spans), make.nec)
    assert "which way L1 runs" in finding.reason
