# SPDX-License-Identifier: MIT
"""Touches that can't be made now, voltage on what is touched, single ends taken out of joins."""

from __future__ import annotations

import random
from functools import partial
from typing import TYPE_CHECKING, Any

import pytest

from tests.drawing import full, parts
from tests.ringout.simulation import Wires, corrected, wrong_matches
from wiretrack.encoding import document
from wiretrack.errors import StepError
from wiretrack.ringout.answers import Done, Live, Ohms, Volts
from wiretrack.ringout.bundle import Bundle, FarEnd, NearEnd
from wiretrack.ringout.engine import Ringout
from wiretrack.ringout.parsing import parse_step
from wiretrack.ringout.results import Result
from wiretrack.ringout.steps import Join, Probe, ProveDead, Unjoin

if TYPE_CHECKING:
    from collections.abc import Callable


def bundle(size: int, **more: Any) -> Bundle:
    near = tuple(NearEnd(name=f"T{n}") for n in range(1, size + 1))
    return Bundle(near=near, far=tuple(FarEnd(name=f"{n}") for n in range(1, size + 1)), **more)


def wires(size: int, seed: int, **more: Any) -> Wires:
    made = bundle(size, **more)
    marks = random.Random(seed).sample([end.name for end in made.far], size)
    return Wires(made, dict(zip((end.name for end in made.near), marks, strict=True)))


def rung_out(
    real: Wires, skip: Callable[[dict[str, Any], int], bool]
) -> tuple[Result, list[tuple[str, ...]]]:
    """Ring out; `skip` says of a touch, and how often it came before, if it can't be made.

    Returns the result, and the touches put off in their order.
    """
    ringing = Ringout(real.bundle)
    put_off: list[tuple[str, ...]] = []
    times: dict[object, int] = {}
    for _ in range(3000):
        step = ringing.next_step()
        if isinstance(step, Result):
            return step, put_off
        data = document(step)
        if isinstance(step, Probe):
            key = (step.at, frozenset(step.between))
            times[key] = times.get(key, 0) + 1
            if skip(data, times[key]):
                put_off.append((step.at, *step.between))
                ringing.apply(step, {"skip": True})
                continue
        ringing.apply(step, real.answer(data))
    raise AssertionError("the ring-out doesn't end")


def at_first(chance: random.Random, _: dict[str, Any], times: int) -> bool:
    """Put three touches in ten off, each the first time it is asked for only."""
    return times == 1 and chance.random() < 0.3


@pytest.mark.parametrize("size", [3, 5, 8, full(12)])
@pytest.mark.parametrize("crew", [1, 2])
@pytest.mark.parametrize("seeds", parts(2, 6, 4), ids=str)
def test_what_is_put_off_once_is_asked_later_and_all_is_found(
    size: int, crew: int, seeds: range
) -> None:
    for seed in seeds:
        chance = random.Random(seed)
        real = wires(size, seed, references=("raceway",), crew=crew)
        result, put_off = rung_out(real, partial(at_first, chance))
        assert put_off or size == 3
        assert wrong_matches(real, result) == []
        assert len(result.matches) == size


@pytest.mark.parametrize("size", [3, 5, 8, full(12)])
@pytest.mark.parametrize("screen", ["auto", "none"])
@pytest.mark.parametrize("seeds", parts(2, 8, 6), ids=str)
def test_an_end_that_is_never_reached_stays_open_and_no_other_is_matched_wrongly(
    size: int, screen: str, seeds: range
) -> None:
    for seed in seeds:
        real = wires(size, seed, references=("raceway",), screen=screen)
        result, put_off = rung_out(
            real, lambda step, _: step["at"] == "far" and "1" in step["between"]
        )
        assert put_off
        assert wrong_matches(real, result) == []


def test_a_touch_put_off_comes_after_the_others_and_not_a_third_time_with_the_same_joins() -> None:
    real = wires(6, 1, references=("raceway",), screen="none")
    seen: list[tuple[str, ...]] = []

    def never_the_first(step: dict[str, Any], _: int) -> bool:
        seen.append((step["at"], *step["between"]))
        return seen[-1] == seen[0]

    result, put_off = rung_out(real, never_the_first)
    first = [n for n, touch in enumerate(seen) if touch == seen[0]]
    assert len(first) == 2
    assert first[1] > 1
    assert put_off == [seen[0]] * 2
    assert wrong_matches(real, result) == []


def test_a_bundle_of_which_nothing_can_be_touched_ends_with_nothing_matched() -> None:
    result, _ = rung_out(wires(5, 2, references=("raceway",)), lambda *_: True)
    assert result.matches == ()
    assert result.probes == 0


def test_a_voltage_stops_until_it_is_dead_and_then_the_same_touch_comes_again() -> None:
    real = wires(4, 3, references=("raceway",))
    ringing = Ringout(real.bundle)
    while not isinstance(step := ringing.next_step(), Probe):
        ringing.apply(step, real.answer(document(step)))
    ringing.apply(step, {"volts": 12.3})
    stop = ringing.next_step()
    assert stop == ProveDead(step.at, step.between, 12.3)
    assert document(stop)["say"] == "Voltage present. Prove dead."
    assert isinstance(stop, ProveDead)
    for no in ({"ohms": 0.3}, {"dead": False}, {}, {"dead": True, "done": True}, {"volts": False}):
        with pytest.raises(StepError, match="Voltage present"):
            ringing.apply(stop, no)
    ringing.apply(stop, {"volts": 11})
    assert ringing.next_step() == ProveDead(step.at, step.between, 11.0)
    ringing.apply(stop, {"dead": True})
    assert ringing.next_step() == step
    assert ringing.result().probes == ringing.evidence.probes == 0


def test_a_touch_corrected_to_live_stops_too_and_one_corrected_from_live_does_not() -> None:
    real = wires(4, 3, references=("raceway",))
    ringing = Ringout(real.bundle)
    while ringing.evidence.probes < 3:
        step = ringing.next_step()
        ringing.apply(step, real.answer(document(step)))
    touches = [n for n, (step, _) in enumerate(ringing.log) if isinstance(step, Probe)]
    live = corrected(ringing, touches[0], {"volts": None})
    stop = live.next_step()
    assert isinstance(stop, ProveDead)
    live.apply(stop, {"dead": True})
    assert not isinstance(live.next_step(), ProveDead)
    assert live.evidence.probes == 2
    again = corrected(live, touches[0], {"closed": True})
    assert again.evidence.probes == 3
    assert not isinstance(again.next_step(), ProveDead)


@pytest.mark.parametrize(
    ("plus", "given", "parsed"),
    [
        (None, 12.3, Live(12.3)), (None, -412, Live(-412.0)), (None, None, Live(None)),
        (None, 0.01, Live(0.01)),
        ("1", 0.62, Volts(0.62)), ("1", 10, Volts(10.0)), ("1", "OL", Volts(None)),
        ("1", 10.1, Live(10.1)), ("1", 230, Live(230.0)), ("1", -0.6, Live(-0.6)),
        ("1", None, Live(None)),
    ],
)  # fmt: skip
def test_volts_are_those_of_the_diode_range_or_a_voltage(
    plus: str | None, given: object, parsed: Live | Volts
) -> None:
    probe = Probe("far", ("1", "2"), plus)
    assert probe.parse({"volts": given}) == parsed
    assert probe.parse(document(parsed)) == parsed  # as a log keeps it


@pytest.mark.parametrize("given", [0, 0.0, True, "12", float("nan"), 1e9])
def test_volts_that_are_none_are_refused(given: object) -> None:
    with pytest.raises(StepError):
        Probe("far", ("1", "2")).parse({"volts": given})


@pytest.mark.parametrize("given", [{"skip": False}, {"skip": 1}, {"skip": True, "ohms": 1}])
def test_skip_is_true_and_stands_alone(given: dict[str, Any]) -> None:
    with pytest.raises(StepError):
        Probe("far", ("1", "2")).parse(given)


def test_a_stop_and_a_single_unjoin_go_through_a_log() -> None:
    for step in (
        ProveDead("near", ("T1", "raceway"), None),
        Unjoin("near", ("T1",)),
        Unjoin("far"),
    ):
        assert parse_step(document(step)) == step
    assert document(Unjoin("near")) == {"step": "unjoin", "at": "near"}


def test_single_ends_come_out_of_their_joins_and_the_rest_holds() -> None:
    ringing = Ringout(bundle(5))
    ringing.apply(Join("near", (("T1", "T2", "T3"), ("T4", "T5"))), Done())
    ringing.apply(Unjoin("near", ("T3", "T4")), Done())
    evidence = ringing.evidence
    assert [evidence.names("near", g) for g in evidence.joins["near"]] == [("T1", "T2")]
    with pytest.raises(StepError, match="Not all of T5 are connected"):
        ringing.apply(Unjoin("near", ("T5",)), Done())
    ringing.apply(Probe("near", ("T4", "T5")), Ohms(None))
    ringing.apply(Unjoin("near"), Done())
    assert ringing.evidence.joins["near"] == ()
