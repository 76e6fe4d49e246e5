# SPDX-License-Identifier: MIT
"""Fault location against worked examples of published books and examinations."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy
import pytest

from wiretrack.electrical.faults.line import Input, Part, Section, distance_at, total_ohms
from wiretrack.electrical.faults.locate import locate
from wiretrack.electrical.faults.methods import (
    METHODS,
    blavier_ohms,
    both_ends_ohms,
    fault_ohms,
    murray_ohms,
    one_end_ohms,
    open_fraction,
    varley_ohms,
)
from wiretrack.errors import BadInputError, FaultLocationError

if TYPE_CHECKING:
    from collections.abc import Callable


def cable(length_m: float, ohm_per_km: float, name: str = "A") -> tuple[Section, ...]:
    return (Section("X", "Y", length_m, (Part(name, "kind", ohm_per_km * length_m / 1000),)),)


def exact(**values: float) -> dict[str, Input]:
    return {name: Input(name, value, 0.0) for name, value in values.items()}


def test_murray_of_hawkins_electrical_guide() -> None:
    # Hawkins Electrical Guide vol. 3, 1914: 54.07 Ω loop, dial 332 of 1000, 16.46 Ω a mile: 1.09.
    miles = murray_ohms(1000 - 332, 332, 54.07) / 16.46
    assert miles == pytest.approx(1.09, abs=0.005)


# Murray: arms at balance, lengths in m, Ω/km of the faulty and of the good cable, published m.
MURRAY = [
    # State technical university, examination of 30-07-2021: two 600 m cores, 3:1.
    (3, 1, 600, 1.5, 1.5, 300, 0.5),
    # Course EEE 2211, solved questions: 1000 m, 3:1; 5.2 km with 100 and 41.2 Ω; 530 m, 2.7:1
    # looped with a cable of another resistance.
    (3, 1, 1000, 1.6, 1.6, 500, 0.5),
    (100, 41.2, 5200, 2.0, 2.0, 3030, 5),
    (2.7, 1, 530, 1.1, 2.29, 441.45, 0.02),
    # Mehta and Mehta, Principles of Power System, chapter 11 (worked again in a published set of
    # solutions that names pages): example 11.21, p. 296: 300 m, 45 and 15 Ω; 11.22, p. 297: 500 m,
    # 3:1; 11.23, p. 297: 500 m of 1 Ω/km looped with 2.25 Ω/km, 2.75:1.
    (45, 15, 300, 1.0, 1.0, 150, 0.5),
    (3, 1, 500, 1.6, 1.6, 250, 0.5),
    (2.75, 1, 500, 1.0, 2.25, 433, 0.5),
]


@pytest.mark.parametrize(("p", "q", "length", "bad", "good", "published", "half"), MURRAY)
def test_murray_of_published_questions(
    p: float, q: float, length: float, bad: float, good: float, published: float, half: float
) -> None:
    found = locate(
        "murray", cable(length, bad), exact(good_arm=p, bad_arm=q), cable(length, good, "B")
    )
    assert found.distance_m == pytest.approx(published, abs=half)


# Varley: set resistance, length in km, Ω/km, published distance in km; equal arms.
VARLEY = [
    # Course EEE 2211, solved questions: a 5 km line of 4 Ω/km, earth at 2.3 km: 21.6 Ω.
    (21.6, 5, 4, 2.3, 0.05),
    # Mehta and Mehta, example 11.24, p. 297: 20 km of 20 Ω/km, equal arms, 200 Ω: 300 Ω, 15 km.
    (200, 20, 20, 15, 0.5),
    # By hand: 40 km of 28 Ω/km, equal arms, fault at 7 km: 2 x 33 km x 28 Ω/km = 1848 Ω are set.
    (1848, 40, 28, 7, 0.5),
]


@pytest.mark.parametrize(("set_ohm", "km", "per_km", "published", "half"), VARLEY)
def test_varley_of_published_questions(
    set_ohm: float, km: float, per_km: float, published: float, half: float
) -> None:
    assert varley_ohms(250, 250, set_ohm, 2 * km * per_km) / per_km == pytest.approx(
        published, abs=half
    )
    line = cable(km * 1000, per_km)
    readings = exact(good_arm=250, bad_arm=250, set=set_ohm)
    found = locate("varley", line, readings, cable(km * 1000, per_km, "B"))
    assert found.distance_m == pytest.approx(published * 1000, abs=half * 1000)


def test_a_leak_of_a_telephone_line_is_found_from_one_end_and_from_both() -> None:
    # A published olympiad question (insulation fault of a telephone line, 5.0e-4 Ω/m a wire):
    # 4.0 Ω and 8.0 Ω with the far end open, 3.5 Ω with it joined. By hand: f² = 8.0 (4.0 - 3.5),
    # so the leak has 2 Ω, lies (4 - 2)/(2 * 5e-4) = 2000 m away, and the line is 8000 m long.
    assert blavier_ohms(4.0, 3.5, 8.0) == pytest.approx(2.0)
    assert both_ends_ohms(4.0, 8.0, 8.0) == pytest.approx(2.0)
    assert fault_ohms(4.0, 8.0, 8.0) == pytest.approx(2.0)
    line = cable(8000, 1.0)
    for method, readings in (
        ("blavier", exact(near=4.0, joined=3.5)),
        ("both-ends", exact(near=4.0, far=8.0)),
    ):
        found = locate(method, line, readings)
        assert found.distance_m == pytest.approx(2000)
        assert found.fault_ohm == pytest.approx(2.0)


def test_a_fault_of_50_miles_of_cable_is_where_jeans_shews_it() -> None:
    # Jeans, The Mathematical Theory of Electricity and Magnetism, chapter IX, example 11: with A at
    # 200 V the insulated end B has 40 V; with B at 300 V the insulated end A has 40 V: 19.05 miles.
    # The insulated end shows the fault's own voltage, so that, by Ohm's law, the readings at A, at
    # B and of the cable are as 200/40, 300/40 and (200 - 40 + 300 - 40)/40.
    miles = 50 * both_ends_ohms(200 / 40, 300 / 40, 420 / 40) / (420 / 40)
    assert miles == pytest.approx(19.05, abs=0.005)
    line = cable(50, 420 / 40 / 50 * 1000)
    found = locate("both-ends", line, exact(near=200 / 40, far=300 / 40))
    assert found.distance_m == pytest.approx(19.05, abs=0.005)
    assert found.fault_ohm == pytest.approx(1.0)


# NBS Circular 31, 3rd ed., table VI: Ω per 1000 ft at 20 °C, by gauge.
NBS_TABLE_VI = {19: 8.051, 22: 16.14, 24: 25.67, 26: 40.81}


@pytest.mark.parametrize(("gauge", "per_kft"), NBS_TABLE_VI.items())
def test_a_shorted_pair_is_half_as_far_as_one_wire_of_its_resistance(
    gauge: int, per_kft: float
) -> None:
    # By hand, from the table: 1000 ft over its Ω are the feet that 1 Ω of one wire has. A pair is
    # read out and back, so that 5 Ω are 2.5 Ω of each.
    feet_of_1_ohm = 1000 / per_kft
    pair = (Section("X", "Y", 1000, (Part("A", "k", per_kft), Part("B", "k", per_kft))),)
    assert distance_at(pair, one_end_ohms(5.0)) == pytest.approx(2.5 * feet_of_1_ohm)


def capacitance_read(sections: int, farad: float, ohm: float) -> float:
    """What a meter of 1 kHz reads at the end of a ladder, its other end open. [F]

    Each section has its resistance in series and half its capacitance to the return at each end;
    the node voltages are solved for 1 A into the first node.
    """
    omega, nodes = 2 * math.pi * 1000, sections + 1
    admittance = numpy.zeros((nodes, nodes), complex)
    for one in range(sections):
        for node, other in ((one, one + 1), (one + 1, one)):
            admittance[node, node] += 1 / ohm + 0.5j * omega * farad
            admittance[node, other] -= 1 / ohm
    current = numpy.zeros(nodes, complex)
    current[0] = 1
    volts = numpy.linalg.solve(admittance, current)
    return float((1 / volts[0]).imag / omega)


@pytest.mark.parametrize("before", [1, 20, 104, 150, 207])
def test_a_break_lies_where_a_ladder_network_was_cut(before: int) -> None:
    # 52 m in 208 sections of 0.25 m, each of 15 pF and 1.3 mΩ, cut after so many of them.
    near, far = (capacitance_read(n, 15e-12, 1.3e-3) for n in (before, 208 - before))
    assert near == pytest.approx(before * 15e-12, rel=1e-6)
    found = locate("capacitance", cable(52, 5.2), exact(near=near, far=far))
    assert found.distance_m == pytest.approx(before * 0.25, abs=0.001)


def test_a_break_of_a_conductor_whose_metres_differ_is_put_elsewhere() -> None:
    # Why it says that each metre has as much: with twice the capacitance from the middle on, a
    # break at three quarters has 1 x 26 m + 2 x 13 m before it and 2 x 13 m after it: two thirds.
    before, after = 26 * 60e-12 + 13 * 120e-12, 13 * 120e-12
    assert open_fraction(before, after) == pytest.approx(2 / 3)
    assert "each metre of the conductor has as much" in METHODS["capacitance"]


def test_a_break_in_a_signal_lead_is_found_by_capacitance() -> None:
    # A published answer on finding breaks with a multimeter: 10 m, 100 pF and 400 pF: 2 m.
    assert 10 * open_fraction(100e-12, 400e-12) == pytest.approx(2)


def test_distances_are_found_section_by_section() -> None:
    thick, thin = cable(100, 1.0)[0], cable(50, 4.0)[0]
    line = (thick, thin, thick)
    # By hand: 0.1 Ω to the first joint, 0.2 Ω in the thin part: 0.2 Ω is half-way through it.
    assert total_ohms(line) == pytest.approx(0.4)
    assert distance_at(line, 0.05) == pytest.approx(50)
    assert distance_at(line, 0.2) == pytest.approx(125)
    assert distance_at(line, 0.35) == pytest.approx(200)
    assert distance_at(line, 0.4) == pytest.approx(250)


def test_readings_that_are_together_too_low_are_refused_with_what_to_do() -> None:
    with pytest.raises(FaultLocationError) as caught:
        locate("both-ends", cable(1000, 4.0), exact(near=1.0, far=2.0))
    assert str(caught.value) == (
        "1 Ω from one end and 2 Ω from the other are together less than the 4 Ω that the "
        "conductors have end to end. They can't be of one fault. Read both again with the "
        "other end open and the leads subtracted, look for a second fault, or correct the "
        "recorded size or length."
    )


@pytest.mark.parametrize(
    ("method", "readings", "words"),
    [
        ("both-ends", {"near": 1.0, "far": 9.0}, "before X, where the line begins"),
        ("both-ends", {"near": 9.0, "far": 1.0}, "beyond Y, where the line ends"),
        ("one-end", {"near": 9.0}, "beyond Y, where the line ends"),
        ("murray", {"good_arm": 1, "bad_arm": 3, "loop": 8.0}, "arms aren't exchanged"),
        ("varley", {"good_arm": 1, "bad_arm": 1, "set": 9.0, "loop": 8.0}, "before X"),
    ],
)
def test_places_off_the_line_are_refused(
    method: str, readings: dict[str, float], words: str
) -> None:
    with pytest.raises(FaultLocationError, match="These readings put the fault") as caught:
        locate(method, cable(1000, 4.0), exact(**readings))
    assert words in str(caught.value)


@pytest.mark.parametrize("value", [math.nan, math.inf, -1.0])
def test_impossible_readings_are_refused(value: float) -> None:
    calls: list[Callable[[], float]] = [
        lambda: one_end_ohms(value),
        lambda: both_ends_ohms(1, value, 1),
        lambda: both_ends_ohms(1, 1, value),
        lambda: blavier_ohms(value, 1, 1),
        lambda: murray_ohms(value, 1, 1),
        lambda: murray_ohms(1, 1, value),
        lambda: varley_ohms(1, 1, value, 1),
        lambda: open_fraction(value, 1e-9),
    ]
    for call in calls:
        with pytest.raises(BadInputError):
            call()


def test_a_joined_far_end_can_only_lower_the_reading() -> None:
    with pytest.raises(BadInputError, match="with the far end joined can't be"):
        blavier_ohms(3.0, 3.5, 8.0)


def test_missing_readings_and_unknown_methods_are_named() -> None:
    with pytest.raises(BadInputError, match="The method both-ends lacks far"):
        locate("both-ends", cable(10, 1), exact(near=1.0))
    with pytest.raises(BadInputError, match="is not a method"):
        locate("radar", cable(10, 1), exact(near=1.0))
    with pytest.raises(BadInputError, match="needs its good conductor"):
        locate("murray", cable(10, 1), exact(good_arm=1, bad_arm=1))
    with pytest.raises(BadInputError, match="has no distances"):
        distance_at((), 1.0)


def test_every_method_says_where_it_comes_from() -> None:
    assert all(METHODS.values())
    assert METHODS["murray"] == "Hawkins Electrical Guide vol. 3 Murray loop"
    assert METHODS["blavier"].endswith("from Ohm's law")
    assert METHODS["capacitance"].startswith("break by capacitance, both ends")
