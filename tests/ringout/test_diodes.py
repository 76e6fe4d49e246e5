# SPDX-License-Identifier: MIT
"""A diode for two look-alikes, against simulated bundles that obey Kirchhoff, not the plan.

The simulated diode conducts from anode to cathode only. It can be put on the wrong way round, be
broken either way, and a touch can be a bad contact.
"""

from __future__ import annotations

import random
from typing import TYPE_CHECKING, Any

import pytest

from tests.drawing import tenth
from tests.ringout.bundles import arranged, with_random_fault
from tests.ringout.simulation import Wires, corrected, ring_out, wrong_matches
from wiretrack.encoding import document
from wiretrack.errors import StepError
from wiretrack.ringout.engine import Ringout
from wiretrack.ringout.parsing import parse_step
from wiretrack.ringout.results import Result
from wiretrack.ringout.steps import Diode, FitDiode, Probe, Walk

if TYPE_CHECKING:
    from wiretrack.ringout.action import Action

SILICON_V = 0.62  # common practice: what a diode range shows over a silicon diode


def two(swapped: bool = False, **options: Any) -> Wires:
    """Return two conductors alike, of which nothing else is known."""
    gear = {key: options.pop(key) for key in ("crew", "start", "screen") if key in options}
    bundle, mate = arranged(["BK"] * 2, (1, 0) if swapped else (0, 1), diode=True, **gear)
    return Wires(bundle, mate, **options)


def run(wires: Wires) -> tuple[Ringout, list[Action]]:
    """Ring out to the end; return the ring-out and the steps it asked for."""
    ringing = Ringout(wires.bundle)
    steps: list[Action] = []
    while not isinstance(step := ringing.next_step(), Result):
        assert len(steps) < 200
        ringing.apply(step, wires.answer(document(step)))
        steps.append(step)
    return ringing, steps


@pytest.mark.parametrize("swapped", [False, True])
@pytest.mark.parametrize("start", ["near", "far"])
@pytest.mark.parametrize("diode", ["good", "reversed"])
def test_two_look_alikes_take_one_walk_whichever_way_round_the_diode_is(
    swapped: bool, start: str, diode: str
) -> None:
    wires = two(swapped, start=start, diode=diode)
    ringing, steps = run(wires)
    result = ringing.result()
    assert {match.near: match.far for match in result.matches} == wires.mate
    assert result.walks == 1
    assert not result.questions
    assert any("band was on" in note for note in result.notes) == (diode == "reversed")
    away = [step for step in steps if isinstance(step, Probe) and step.at != start]
    assert {step.plus for step in away} == {name for step in away for name in step.between}


def test_without_a_diode_the_same_two_stay_unknown() -> None:
    bundle, mate = arranged(["BK"] * 2, (0, 1))
    assert ring_out(Wires(bundle, mate)).unresolved == ("T1", "T2", "1", "2")


@pytest.mark.parametrize("colours", [["BK", "RD"], ["BK"] * 3, ["BK", "BK", "RD", "RD"]])
def test_no_diode_is_fitted_where_joins_take_no_more_walks(colours: list[str]) -> None:
    bundle, mate = arranged(colours, range(len(colours)), diode=True)
    _, steps = run(Wires(bundle, mate))
    assert not any(isinstance(step, FitDiode) for step in steps)


@pytest.mark.parametrize("swapped", [False, True])
def test_the_last_two_of_three_are_told_apart_when_the_third_is_broken(swapped: bool) -> None:
    bundle, mate = arranged(["BK"] * 3, (1, 0, 2) if swapped else (0, 1, 2), diode=True)
    wires = Wires(bundle, mate, broken={"T3"})
    result = run(wires)[0].result()
    assert {match.near: match.far for match in result.matches} == mate
    assert [fault.kind for fault in result.faults] == ["open"]


@pytest.mark.parametrize("seed", tenth(300))
def test_bad_contacts_and_faults_never_swap_the_two(seed: int) -> None:
    rng = random.Random(seed)
    gear = {"start": rng.choice(("near", "far")), "crew": rng.choice((1, 1, 2))}
    size = rng.choice((2, 2, 3, 4))
    gear["screen"] = rng.choice(("auto", "first") if size > 2 else ("auto", "first", "none"))
    order = rng.sample(range(size), size)
    bundle, mate = arranged(["BK"] * size, order, diode=True, **gear)
    diode = rng.choice(("good", "good", "reversed", "dead", "short"))
    if gear["crew"] == 2 and diode == "reversed":
        diode = "good"
    wires = Wires(bundle, mate, bad_contact=0.02, rng=rng, diode=diode)
    fault = with_random_fault(wires) if seed % 2 else None
    result = run(wires)[0].result()
    assert not wrong_matches(wires, result)
    if fault is None and (diode in ("good", "reversed") or size > 2):
        assert not result.unresolved


def test_a_helper_who_puts_the_diode_on_the_wrong_way_is_warned_of() -> None:
    """The meter is never at the diode's own box: the band has to be believed, and that is said."""
    result = run(two(crew=2))[0].result()
    assert any("no reading can show it put on the wrong way round" in n for n in result.notes)
    assert result.walks == 0


def reasons(wires: Wires) -> str:
    """Return all that is said of readings that prove nothing."""
    result = run(wires)[0].result()
    assert not result.matches
    assert result.unresolved
    return " ".join(question.reason for question in result.questions)


def test_a_diode_without_current_is_found_out_before_anybody_walks() -> None:
    wires = two(diode="dead")
    assert "use the diode range" in reasons(wires)
    assert wires.place == "near"


def test_a_diode_that_conducts_both_ways_is_found_out_before_anybody_walks() -> None:
    wires = two(diode="short")
    assert "the diode is broken, or it is no diode" in reasons(wires)
    assert wires.place == "near"


def test_two_that_touch_each_other_are_a_short_and_not_a_match() -> None:
    result = run(two(shorted=[("T1", "T2")]))[0].result()
    assert [fault.kind for fault in result.faults] == ["short"]
    assert not result.matches


def test_a_broken_conductor_is_joined_once_more_and_said_to_be_broken() -> None:
    assert "one of the two conductors is broken" in reasons(two(broken={"T1"}))


class Weak(Wires):
    """Two conductors so long that the meter makes the diode conduct at its own box only."""

    def through_diode(self, plus: tuple[str, str], minus: tuple[str, str]) -> bool:
        return plus[0] == self.diodes[0][0] and super().through_diode(plus, minus)


def test_a_meter_too_weak_for_diode_and_conductors_is_named_where_they_are_whole() -> None:
    strong = two()
    assert "though the conductors are whole" in reasons(Weak(strong.bundle, strong.mate))


def after(*answers: dict[str, Any]) -> Ringout:
    """Return a ring-out of two with these answers to the steps it asks for."""
    ringing = Ringout(two().bundle)
    for answer in answers:
        ringing.apply(ringing.next_step(), answer)
    return ringing


DONE, OL, SILICON = {"done": True}, {"volts": "OL"}, {"volts": SILICON_V}


def test_both_ways_round_are_read_and_one_open_touch_is_not_enough() -> None:
    ringing = after(DONE, SILICON, OL, DONE, SILICON)
    assert not ringing.result().matches
    for _ in range(2):
        step = ringing.next_step()
        assert isinstance(step, Probe)
        assert (step.at, step.plus) == ("far", "2")
        ringing.apply(step, OL)
    assert {m.near: m.far for m in ringing.result().matches} == {"T2": "1", "T1": "2"}


def test_closed_both_ways_at_the_other_box_proves_nothing_and_is_said() -> None:
    ringing = after(DONE, SILICON, OL, DONE, SILICON, SILICON)
    assert not ringing.result().matches
    assert "closed both ways" in ringing.result().questions[0].reason
    assert ringing.contradictions()
    assert ringing.next_step() == Walk("near")


def test_a_wire_is_no_diode_whatever_the_other_way_would_read() -> None:
    ringing = after(DONE, SILICON, OL, DONE, {"volts": 0.01})
    assert not ringing.result().matches
    assert ringing.next_step() == Walk("near")


def test_a_touch_that_was_read_wrongly_is_superseded_and_the_match_turns_round() -> None:
    ringing = after(DONE, SILICON, OL, DONE, OL, SILICON, OL)
    assert ringing.result().matches[0].far == "1"
    for index, answer in ((4, SILICON), (5, OL), (6, OL)):
        ringing = corrected(ringing, index, answer)
    while not isinstance(step := ringing.next_step(), Result):
        ringing.apply(step, OL)
    assert {m.near: m.far for m in step.matches} == {"T1": "2", "T2": "1"}


def test_the_readings_that_prove_it_are_told_and_recorded() -> None:
    ringing = after(DONE, SILICON, OL, DONE, SILICON, OL, OL)
    told = " ".join(ringing.why("T1"))
    assert "With a diode over T2 and T1 in the near box" in told
    assert "1 and 2 read closed in the far box with plus on 1 only" in told


@pytest.mark.parametrize("cut", range(8))
def test_an_interrupted_ring_out_goes_on_at_the_same_step(cut: int) -> None:
    ringing, steps = run(two())
    stored = [(document(step), document(answer)) for step, answer in ringing.log[:cut]]
    again = Ringout(ringing.bundle)
    for data, answer in stored:
        step = parse_step(data)
        again.apply(step, step.parse(answer))
    expected = steps[cut] if cut < len(steps) else ringing.result()
    assert again.next_step() == expected


@pytest.mark.parametrize(
    ("answer", "told"),
    [
        ({"volts": float("nan")}, "NaN"),
        ({"volts": float("inf")}, "Infinity"),
        ({"volts": 2e6}, "2e+06 V"),
        ({"volts": "low"}, "'low'"),
        ({"volts": True}, "true"),
        ({"volts": 0.6, "ohms": 1}, "'volts', 'ohms'"),
    ],
)
def test_what_no_diode_range_shows_is_refused(answer: dict[str, Any], told: str) -> None:
    probe = Probe("far", ("1", "2"), plus="1")
    with pytest.raises(StepError) as caught:
        probe.parse(answer)
    assert told.strip("'") in str(caught.value)


@pytest.mark.parametrize(
    "data",
    [
        {"step": "probe", "at": "far", "between": ["1", "2"], "plus": "3"},
        {"step": "fit", "at": "near", "diode": {"cathode": "T1"}},
        {"step": "fit", "at": "near", "diode": 3},
    ],
)
def test_a_stored_step_that_makes_no_sense_is_refused(data: dict[str, Any]) -> None:
    with pytest.raises(StepError):
        parse_step(data)


def test_a_diode_over_one_end_and_over_joined_ends_is_refused() -> None:
    with pytest.raises(StepError, match="two different ends"):
        Ringout(two().bundle).apply(FitDiode("near", Diode("T1", "T1")), DONE)
    ringing = after(DONE)
    with pytest.raises(StepError, match="connected in the near box already"):
        ringing.apply(FitDiode("near", Diode("T2", "T1")), DONE)
