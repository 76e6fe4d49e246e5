# SPDX-License-Identifier: MIT
"""Plans: the order of IEC 60364-6, 6.4.3, and what is read against what."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tests.readings.planning import planned, wire
from wiretrack.encoding import document
from wiretrack.model.words import SYSTEMS
from wiretrack.readings import BY_NAME

if TYPE_CHECKING:
    from wiretrack.model.entities import Conductor
    from wiretrack.model.entity import PlannedTest

# IEC 60364-6:2016, 6.4.3.1 (reprint): continuity of conductors, insulation, ... polarity.
ORDER = {"continuity": 0, "insulation": 1, "voltage": 2}
PUMP = [wire(tag, tag) for tag in ("L1", "L2", "L3", "PE")]
STRING = [wire("PLUS", "L+"), wire("MINUS", "L-")]


def brief(steps: tuple[PlannedTest, ...]) -> list[tuple[str, str, str | None, float | None]]:
    return [(s.kind, s.subject, s.against, s.test_voltage_v) for s in steps]


def test_a_three_phase_pump_owes_these_readings_in_this_order() -> None:
    assert brief(planned("ac-3ph", PUMP, max_voltage_v=400)) == [
        ("continuity", "PE", None, None),
        ("continuity", "L1", None, None), ("continuity", "L2", None, None),
        ("continuity", "L3", None, None),
        ("insulation", "L1", "PE", 500), ("insulation", "L2", "PE", 500),
        ("insulation", "L3", "PE", 500),
        ("insulation", "L1", "L2", 500), ("insulation", "L1", "L3", 500),
        ("insulation", "L2", "L3", 500),
        ("voltage", "L1", "L2", None), ("voltage", "L1", "L3", None), ("voltage", "L2", "L3", None),
    ]  # fmt: skip


def test_an_array_is_read_negative_then_positive_to_earth_and_never_pole_to_pole() -> None:
    # IEC 62446-1:2016, 6.7, method 1 (two notes that quote it): negative, then positive.
    steps = planned("dc-pv", STRING, voc_stc_v=500, metal_raceway=True)
    assert [s for s in brief(steps) if s[0] == "insulation"] == [
        ("insulation", "MINUS", "raceway", 1000),
        ("insulation", "PLUS", "raceway", 1000),
    ]
    assert brief(steps)[-1] == ("voltage", "PLUS", "MINUS", None)


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("conductors", [PUMP, STRING, [], PUMP[:1]])
def test_every_plan_keeps_the_order_and_names_its_source(
    system: str, conductors: list[Conductor]
) -> None:
    steps = planned(system, conductors, max_voltage_v=100)
    assert [ORDER[s.kind] for s in steps] == sorted(ORDER[s.kind] for s in steps)
    for step in steps:
        assert step.kind in BY_NAME
        assert step.source.startswith(("IEC 60364-6", "IEC 62446-1"))
        assert {"kind", "subject", "against", "test_voltage", "source"} <= set(document(step))


def test_every_conductor_is_tested_for_continuity_once() -> None:
    steps = planned("ac-3ph", PUMP, max_voltage_v=400)
    assert sorted(s.subject for s in steps if s.kind == "continuity") == ["L1", "L2", "L3", "PE"]


def test_earthing_circuits_owe_continuity_alone() -> None:
    steps = planned("earthing", [wire("E", "PE")])
    assert brief(steps) == [("continuity", "E", None, None)]


def test_an_unknown_voltage_leaves_the_test_voltage_open_and_says_so() -> None:
    steps = planned("ac-1ph", [wire("L", "L1"), wire("P", "PE")])
    (insulation,) = [s for s in steps if s.kind == "insulation"]
    assert insulation.test_voltage_v is None
    assert "test voltage unknown" in insulation.why


def test_without_earth_conductors_are_read_against_each_other() -> None:
    steps = planned("dc", STRING, max_voltage_v=48, metal_raceway=False)
    assert ("insulation", "PLUS", "MINUS", 250) in brief(steps)


def test_many_cores_are_read_against_earth_and_not_in_every_pair() -> None:
    cores = [wire(f"C{i}", "signal") for i in range(24)]
    steps = planned("signal", [*cores, wire("P", "PE")], max_voltage_v=24)
    assert len([s for s in steps if s.kind == "insulation"]) == 24


def test_a_neutral_is_what_polarity_is_read_against() -> None:
    steps = planned("ac-1ph", [wire("L", "L1"), wire("N", "N")], max_voltage_v=230)
    assert brief(steps)[-1] == ("voltage", "L", "N", None)


def test_pieces_of_a_cut_circuit_are_read_against_their_own_section() -> None:
    """IEC 60364-6:2016, 6.4.3.3: between conductors, that is between those beside each other."""
    near, far = frozenset("AB"), frozenset("BC")
    pieces = [
        wire(f"{name}{part}", function, between)
        for name, function in (("L", "L1"), ("N", "N"))
        for part, between in (("1", near), ("2", far))
    ]
    steps = planned("ac-1ph", pieces, max_voltage_v=230.0)
    pairs = {(s.kind, s.subject, s.against) for s in steps if s.against}
    assert pairs == {
        ("insulation", "L1", "N1"), ("insulation", "L2", "N2"),
        ("voltage", "L1", "N1"), ("voltage", "L2", "N2"),
    }  # fmt: skip


def test_a_line_that_leaves_its_neutral_behind_is_still_read_against_it() -> None:
    found = [
        wire("L1A", "L1", frozenset("AB")),
        wire("L1B", "L1", frozenset("BC")),
        wire("NA", "N", frozenset("AB")),
    ]
    steps = planned("ac-1ph", found, max_voltage_v=230.0)
    voltages = {(s.subject, s.against) for s in steps if s.kind == "voltage"}
    assert voltages == {("L1A", "NA"), ("L1B", "NA")}
