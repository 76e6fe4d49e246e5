# SPDX-License-Identifier: MIT
"""Two real bundles, rung out with readings as a meter shows them."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import pytest

from tests.drawing import tenth
from tests.ringout.bundles import arranged
from tests.ringout.simulation import Wires, ring_out, wrong_matches
from wiretrack.encoding import document
from wiretrack.ringout.bundle import Bundle, NearEnd
from wiretrack.ringout.engine import Ringout
from wiretrack.ringout.results import Result

# NEC 2023, chapter 9, table 8: 12 AWG, stranded, uncoated copper, ohm per kFT at 75 °C is 1.98;
# brought to 20 °C with the table's own note 2: R2 = R1 [1 + 0.00323 (T2 - 75)].
OHM_PER_M = 1.98 * (1 + 0.00323 * (20 - 75)) / 304.8
LEADS_OHM = 0.2


@dataclass
class Metered(Wires):
    """A bundle whose closed paths read in ohms, to two decimals."""

    twist_ohm: dict[str, float] = field(default_factory=dict)  # near tags of poor twists
    conductor_ohm: float = OHM_PER_M * 46

    def answer(self, step: dict[str, Any]) -> dict[str, Any]:
        answer = super().answer(step)
        if isinstance(answer.get("ohms"), float):
            tags = {far: near for near, far in self.mate.items()}
            ends = [tags.get(name, name) for name in step["between"] if name != "raceway"]
            twisted = {name for group in self.joins["near"] for name in group}
            poor = sum(self.twist_ohm.get(tag, 0.0) for tag in ends if tag in twisted)
            answer["ohms"] = round(len(ends) * self.conductor_ohm + poor + LEADS_OHM, 2)
        return answer


def seven_in_conduit(twist_ohm: dict[str, float], **options: Any) -> Metered:
    colours = ("BK", "BK", "BK", "RD", "RD", "RD", "GN")
    bundle, mate = arranged(colours, (2, 5, 0, 6, 1, 3, 4), leads_ohm=LEADS_OHM, **options)
    near = tuple(
        NearEnd(name=end.name, colour=end.colour, expected_ohm=OHM_PER_M * 46)
        for end in bundle.near
    )
    known = Bundle(near=near, far=bundle.far, leads_ohm=LEADS_OHM, **options)
    return Metered(known, mate, twist_ohm=twist_ohm)


@pytest.mark.parametrize("references", [(), ("raceway",)])
def test_three_black_three_red_and_a_green_take_one_walk(references: tuple[str, ...]) -> None:
    wires = seven_in_conduit({}, references=references)
    result = ring_out(wires)
    assert {match.near: match.far for match in result.matches} == wires.mate
    assert result.walks == 1
    assert not result.questions
    assert not result.faults


def test_a_bad_twist_is_asked_again_and_then_told_with_its_numbers() -> None:
    sound = ring_out(seven_in_conduit({}))
    bad = {tag: ring_out(seven_in_conduit({tag: 0.9})) for tag in ("T1", "T4", "T7")}
    for tag, result in bad.items():
        assert not wrong_matches(seven_in_conduit({}), result)
        assert len(result.matches) == 7
        assert not result.faults
        asked = [question for question in result.questions if question.ohms is not None]
        # A twist that no touch of this plan runs through can't be seen.
        if result.probes > sound.probes:
            assert asked, tag
    seen = [question for result in bad.values() for question in result.questions]
    assert seen
    for question in seen:
        assert question.expected_ohm == pytest.approx(2 * OHM_PER_M * 46 + LEADS_OHM, abs=5e-4)
        assert question.expected_ohm is not None
        assert question.ohms == pytest.approx(question.expected_ohm + 0.9, abs=0.01)
        assert "poor twist or contact" in question.reason


@pytest.mark.parametrize(("poor_ohm", "said"), [(29.7, True), (3.0, False)])
def test_a_poor_contact_is_told_where_no_length_is_known(poor_ohm: float, said: bool) -> None:
    """Where most paths have 0.7 ohm, 30 is a poor contact; 3 may be a thinner conductor."""
    bundle, mate = arranged(["BK"] * 7, (2, 5, 0, 6, 1, 3, 4), references=("raceway",))
    wires = Metered(bundle, mate, twist_ohm={"T4": poor_ohm})
    ringing = Ringout(bundle)
    told = []
    while not isinstance(step := ringing.next_step(), Result):
        before = len(ringing.result().questions)
        answer = wires.answer(document(step))
        ringing.apply(step, answer)
        if len(ringing.result().questions) > before:
            told.append(answer["ohms"])
    assert {match.near: match.far for match in step.matches} == mate
    assert bool(step.questions) == bool(told) == said
    for question in step.questions:
        assert question.ohms == pytest.approx(poor_ohm + 0.69, abs=0.01)
        assert "29.70 Ω more than most paths have: a poor twist or contact" in question.reason


def control_cable(seed: int, bad_contact: float = 0.0) -> Wires:
    """Return 24 black cores, one of them open and two others touching each other."""
    import random

    rng = random.Random(seed)
    bundle, mate = arranged(["BK"] * 24, rng.sample(range(24), 24))
    wires = Wires(bundle, mate, rng=rng, bad_contact=bad_contact)
    broken, one, two = rng.sample(sorted(mate), 3)
    wires.broken, wires.shorted = {broken}, [(one, two)]
    return wires


@pytest.mark.parametrize("seed", tenth(40))
def test_a_control_cable_with_an_open_and_a_shorted_pair_is_rung_out(seed: int) -> None:
    wires = control_cable(seed, bad_contact=0.02 if seed % 2 else 0.0)
    result = ring_out(wires)
    assert not wrong_matches(wires, result)
    shorts = [fault for fault in result.faults if fault.kind == "short"]
    opens = [fault for fault in result.faults if fault.kind == "open"]
    assert [set(fault.ends) & set(wires.mate) for fault in shorts] == [set(wires.shorted[0])]
    assert [set(fault.ends) & set(wires.mate) for fault in opens] == [wires.broken]
    assert len(result.matches) >= 21
    assert set(result.unresolved) & set(wires.mate) <= {*wires.shorted[0], *wires.broken}
