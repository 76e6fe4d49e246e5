# SPDX-License-Identifier: MIT
"""A hand that says what it twisted, then or later: nothing is lost by the slip.

Checked against the simulation, which knows what was twisted and what belongs to what.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import pytest

from tests.drawing import parts
from tests.ringout.hard import rung_out
from tests.ringout.test_slips import Slipped, slipped
from wiretrack.encoding import document
from wiretrack.errors import BadInputError, StepError
from wiretrack.ringout.answers import Done, Twisted, twists_told
from wiretrack.ringout.engine import Ringout
from wiretrack.ringout.steps import Join

if TYPE_CHECKING:
    from wiretrack.ringout.action import Action
    from wiretrack.ringout.answers import Answer
    from wiretrack.ringout.slips import Slip

JOIN = Join("far", (("1", "2"), ("3", "4")))


@dataclass
class Honest(Slipped):
    """A person who slips, sees it and says it at once."""

    def answer(self, step: dict[str, Any]) -> dict[str, Any]:
        answer = super().answer(step)
        held = self.joins[step["at"]] if step["step"] == "join" else []
        asked = [list(group) for group in step.get("groups", ())]
        return {"twisted": [g for g in held if len(g) > 1]} if held != asked else answer


def honest(seed: int, way: str, when: int) -> Honest:
    wires = slipped(seed, way, when, most=10)
    return Honest(wires.bundle, wires.mate, rng=wires.rng, way=way, when=when)


@pytest.mark.parametrize("when", [0, 1])
@pytest.mark.parametrize("way", ["moved", "exchanged", "left out"])
@pytest.mark.parametrize("seeds", parts(5, 60, 20), ids=str)
def test_a_slip_that_is_said_misleads_nobody(way: str, when: int, seeds: range) -> None:
    for seed in seeds:
        wires = honest(seed, way, when)
        result, _ = rung_out(wires)
        assert wires.astray
        assert {m.near: m.far for m in result.matches} == wires.mate, seed
        assert not [note for note in result.notes if "fit if" in note or "come off" in note]
        assert "contradict" not in " ".join(match.why for match in result.matches)


@pytest.mark.parametrize("when", [0, 1])
@pytest.mark.parametrize("seeds", parts(8, 60, 20), ids=str)
def test_a_slip_that_is_offered_and_confirmed_is_mended(when: int, seeds: range) -> None:
    """Once what was twisted is said, nothing contradicts, and all that is matched is so."""
    offered = mended = 0
    for seed in seeds:
        wires = slipped(seed, "exchanged", when, most=10)
        found, ringing = rung_out(wires)
        slips = ringing.slips()
        assert bool(slips) == any("All readings fit if" in note for note in found.notes)
        true = [s for s in slips if all(f"{end} " in s.told for end in wires.astray)]
        offered += bool(slips)
        for slip in true:
            log = [(step, _said(step, answer, slip)) for step, answer in ringing.log]
            after = Ringout.replayed(wires.bundle, log)
            assert not after.slips()
            result = after.result()
            assert {m.near: m.far for m in result.matches} == wires.mate, seed
            assert "contradict" not in " ".join(match.why for match in result.matches)
            mended += 1
    assert mended >= 0.6 * offered > 0, (mended, offered)


def _said(step: Action, answer: Answer, slip: Slip) -> Answer:
    if isinstance(step, Join) and {*map(frozenset, step.groups)} == {*map(frozenset, slip.asked)}:
        return Twisted(slip.twisted)
    return answer


@pytest.mark.parametrize(
    ("typed", "twisted"),
    [
        ("1 + 3, 2 + 4", (("1", "3"), ("2", "4"))),
        ("1+3;2 4", (("1", "3"), ("2", "4"))),
        ("abc-defg + n1 2", (("ABC-DEFG", "N1", "2"),)),
    ],
)
def test_what_was_twisted_is_typed_and_told(
    typed: str, twisted: tuple[tuple[str, ...], ...]
) -> None:
    answer = JOIN.typed(typed)
    assert answer == Twisted(twisted) == JOIN.parse(document(answer))
    assert JOIN.typed(twists_told(twisted)) == answer
    assert JOIN.as_done(answer) == Join("far", twisted)
    assert JOIN.as_done(Done()) == JOIN == JOIN.as_done(JOIN.typed("d"))


@pytest.mark.parametrize("typed", ["1", "1,2", "1 + 2, 3", "1 + 2, 2 + 3", "1 + 1", "+", "1 + 2,"])
def test_what_is_no_twist_is_refused(typed: str) -> None:
    with pytest.raises(BadInputError, match=r"is not an answer|two ends or more|named once"):
        JOIN.typed(typed)


@pytest.mark.parametrize(
    "twisted", [[], [["1"]], [["1", "2"], []], "12", [["1", 2]], [["1", "1"]], None, [[["1"], "2"]]]
)
def test_a_program_that_names_no_twist_is_refused(twisted: object) -> None:
    with pytest.raises(StepError):
        JOIN.parse({"done": True, "twisted": twisted})
    with pytest.raises(StepError):
        JOIN.parse({"done": False, "twisted": [["1", "2"]]})
