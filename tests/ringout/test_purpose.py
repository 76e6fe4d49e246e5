# SPDX-License-Identifier: MIT
"""Each step says what it is for, and how far along it is; a touch made again says why."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, Any

from tests.ringout.bundles import arranged
from tests.ringout.simulation import Wires
from wiretrack.encoding import document
from wiretrack.ringout.engine import Ringout
from wiretrack.ringout.results import Result
from wiretrack.ringout.steps import Join, Probe, ProveDead, Walk

if TYPE_CHECKING:
    from wiretrack.ringout.action import Action

BOXES = {"near": "MDB", "far": "JT1"}
CLEAN = "Clean both ends and touch again."
Told = list[tuple["Action", dict[str, Any]]]


def rung_out(size: int, **answers: dict[str, Any]) -> Told:
    """Ring out; return each step with its guidance. `answers` holds those of touches, by number."""
    bundle, mate = arranged([None] * size, [*range(1, size), 0])
    ringing, real = Ringout(bundle), Wires(bundle, mate)
    told: Told = []
    while not isinstance(step := ringing.next_step(), Result):
        assert len(told) < 500, "the ring-out doesn't end"
        guidance = document(ringing.guidance(BOXES))
        assert guidance["of"] == size
        told.append((step, guidance))
        dead = isinstance(step, ProveDead)
        given = {"dead": True} if dead else real.answer(document(step))
        touches = sum(isinstance(earlier, Probe) for earlier, _ in told)
        ringing.apply(step, answers.get(f"n{touches}", given) if step.is_touch else given)
    assert document(ringing.guidance(BOXES)) | {"known": 0} == {
        "phase": "", "why": "", "known": 0, "of": size,
    }  # fmt: skip
    return told


def test_before_the_first_walk_contacts_are_looked_for_and_then_ends_are_matched() -> None:
    told = rung_out(4)
    step, first = told[0]
    assert isinstance(step, Probe)
    assert (first["phase"], first["known"]) == ("contacts", 0)
    assert first["why"] == "Looking for ends that touch each other."
    walk = next(n for n, (step, _) in enumerate(told) if isinstance(step, Walk))
    join = next(g for step, g in told[:walk] if isinstance(step, Join) and g["phase"] == "match")
    assert join["why"] == "Now matching: touches in JT1 show what you connect here."
    assert told[walk][1]["why"] == "Now matching: touches there show what you connected in MDB."
    assert told[walk + 1][1]["phase"] == "match"
    assert "connected in MDB" in told[walk + 1][1]["why"]
    assert [g["known"] for _, g in told] == sorted(g["known"] for _, g in told)


def test_every_step_says_something_that_fits_a_phone() -> None:
    for size in (1, 2, 3, 5, 8):
        for _, guidance in rung_out(size):
            assert 2 <= len(guidance["why"].split()) <= 15
            assert "{" not in guidance["why"]


def touched_again(told: Told) -> dict[str, Any]:
    """Return the guidance of the second of two like touches in a row."""
    pairs = pairwise(told)
    return next(g for (one, _), (two, g) in pairs if isinstance(one, Probe) and one == two)


def test_a_touch_again_says_why() -> None:
    walked = sum(isinstance(step, Probe) for step, _ in before_walk(rung_out(4)))
    unclear = touched_again(rung_out(4, **{f"n{walked + 1}": {"ohms": 2e5}}))
    assert unclear["why"] == f"The last one was neither open nor closed. {CLEAN}"
    assert unclear["phase"] == "again"


def before_walk(told: Told) -> Told:
    return told[: next(n for n, (step, _) in enumerate(told) if isinstance(step, Walk))]


def test_a_put_off_touch_and_a_voltage_are_named_as_such() -> None:
    told = rung_out(4, n1={"skip": True})
    assert [g["why"] for _, g in told].count("You put this one off. Can you reach it now?") == 1
    told = rung_out(4, n1={"volts": 230.0})
    step, stop = told[1]
    assert isinstance(step, ProveDead)
    assert (stop["phase"], stop["why"]) == ("stop", "You found a voltage here.")
    assert told[2][1]["phase"] == "contacts"
