# SPDX-License-Identifier: MIT
"""A tone generator: what is heard makes a match likely, never sure."""

from __future__ import annotations

import random
from itertools import product
from typing import Any

import pytest

from tests.drawing import each
from tests.ringout.bundles import arranged
from tests.ringout.simulation import Wires, ring_out
from wiretrack.encoding import document
from wiretrack.errors import BadInputError, StepError
from wiretrack.ringout.engine import Ringout
from wiretrack.ringout.parsing import parse_step
from wiretrack.ringout.results import Result
from wiretrack.ringout.steps import Listen, Probe, Tone, Walk
from wiretrack.ringout.tones import LIKELIHOOD, LIKELY, MOST_HEARD, ToneStage


class Toned(Wires):
    """Wires that carry a tone, each loudness as often as the table says."""

    on = ("", "")

    def answer(self, step: dict[str, Any]) -> dict[str, Any]:
        if step["step"] == "tone":
            assert step["at"] == self.place
            self.on = step["at"], step["end"]
            return {"done": True}
        if step["step"] != "listen":
            if step["step"] == "unjoin" and self.on[0] == step["at"]:
                self.on = ("", "")
                self.slips = True  # type: ignore[misc]
            return super().answer(step)
        assert step["at"] == self.place != self.on[0]
        right = self.connected(self.on, (step["at"], step["end"]))
        weights = [pair[0 if right else 1] for pair in LIKELIHOOD.values()]
        return {"heard": self.rng.choices(list(LIKELIHOOD), weights)[0]}


def twins(seed: int, size: int = 2, **options: Any) -> Toned:
    rng = random.Random(seed)
    order = rng.sample(range(size), size)
    bundle, mate = arranged(["BK"] * size, order, tone=True, **options)
    return Toned(bundle, mate, rng=rng)


def test_each_row_of_likelihoods_is_a_whole() -> None:
    assert [sum(column) for column in zip(*LIKELIHOOD.values(), strict=True)] == [1, 1]


@pytest.mark.parametrize("start", ["near", "far"])
def test_two_look_alikes_are_told_likely_and_never_sure(start: str) -> None:
    """At 0.95, some one in twenty may be wrong; without a tone nothing is known."""
    right = told = 0
    for seed in range(40):
        wires = twins(seed, start=start)
        result = ring_out(wires)
        assert not result.matches
        told += bool(result.likely)
        right += {m.near: m.far for m in result.likely} == wires.mate
        assert all(not m.sure and "closed touch" in m.why for m in result.likely)
        assert result.walks <= 2
    assert told >= 36
    assert right >= 0.9 * told


def test_where_joins_tell_all_no_tone_is_used() -> None:
    for size in (3, 6):
        wires = twins(size, size)
        result = ring_out(wires)
        assert {m.near: m.far for m in result.matches} == wires.mate
        assert wires.on == ("", "")


def test_closed_touches_confirm_a_tone_or_refute_it() -> None:
    """The raceway is found later; touches against it match all, though one tone in 20 misled."""
    misled = 0
    for seed in range(60):
        wires = twins(seed)
        ringing = Ringout(wires.bundle)
        while not isinstance(step := ringing.next_step(), Result):
            ringing.apply(step, wires.answer(document(step)))
        misled += any(wires.mate[m.near] != m.far for m in step.likely)
        wires.bundle = twins(seed, references=("raceway",)).bundle
        later = Ringout.replayed(wires.bundle, ringing.log)
        while not isinstance(step := later.next_step(), Result):
            later.apply(step, wires.answer(document(step)))
        assert {m.near: m.far for m in step.matches} == wires.mate, seed
        assert not step.likely
    assert misled


@each(product(LIKELIHOOD, repeat=3))
def test_chances_are_those_of_bayes_rule_by_enumeration(one: str, two: str, three: str) -> None:
    stage, heard = ToneStage(twins(1, 3).bundle, Tone("near", "T2")), (one, two, three)
    for end, loudness in enumerate(heard):
        stage.hear(end, loudness)
    shares = []
    for right in range(3):
        share = 1.0
        for end, loudness in enumerate(heard):
            share *= LIKELIHOOD[loudness][0 if end == right else 1]
        shares.append(share)
    chances = stage.chances(0b111)
    assert [chances[end] for end in range(3)] == pytest.approx([s / sum(shares) for s in shares])
    likely = stage.likely(0b111)
    assert (likely is not None) == (max(chances.values()) >= LIKELY)


def test_nobody_listens_without_end() -> None:
    stage, times = ToneStage(twins(1, 3).bundle, Tone("near", "T2")), 0
    while (end := stage.next_end(0b111)) is not None:
        stage.hear(end, "faint")
        times += 1
    assert times == 3 * MOST_HEARD


def test_what_is_heard_is_checked() -> None:
    listen = Listen("far", "1")
    assert parse_step(document(listen)) == listen
    assert parse_step(document(Tone("near", "T1"))) == Tone("near", "T1")
    assert (
        document(listen.typed("L"))
        == {"heard": "loud"}
        == document(listen.parse({"heard": "loud"}))
    )
    with pytest.raises(BadInputError, match=r"'x' is not an answer\. Type l"):
        listen.typed("x")
    with pytest.raises(StepError, match="Write it like"):
        listen.parse({"heard": "deafening"})
    ringing = Ringout(twins(1).bundle)
    with pytest.raises(StepError, match="No tone generator is on"):
        ringing.apply(Listen("near", "T1"), {"heard": "loud"})
    ringing.apply(Tone("near", "T1"), {"done": True})
    ringing.apply(Walk("far"), {"done": True})
    before = ringing.result()
    ringing.apply(Probe("far", ("1", "2")), {"ohms": 0.4})
    assert ringing.result().likely == before.likely == ()


def test_each_step_with_a_tone_shows_its_end_and_says_something_of_its_own() -> None:
    wires = twins(3)
    ringing, told = Ringout(wires.bundle), {}
    while not isinstance(step := ringing.next_step(), Result):
        told[step.kind] = ringing.guidance({"near": "MDB", "far": "JT1"}).why
        if isinstance(step, Tone | Listen):
            shown = [line.split()[-1] for line in step.lines(str)]
            assert shown == [step.end], step
        ringing.apply(step, wires.answer(document(step)))
    assert told["tone"].endswith("in JT1 you hear which end carries the tone.")
    assert told["walk"] == "Listen there for the tone that you put on in MDB."
    assert "Loud, faint or none?" in told["listen"]
    assert all(len(why.split()) <= 15 for why in told.values())
