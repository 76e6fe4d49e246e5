# SPDX-License-Identifier: MIT
"""A reference is used where it spares a walk, or where nothing else tells."""

from __future__ import annotations

import random
from typing import TYPE_CHECKING, Any

import pytest

from tests.ringout.bundles import arranged
from tests.ringout.simulation import Wires, switched
from wiretrack.encoding import document
from wiretrack.errors import StepError
from wiretrack.ringout.answers import Done
from wiretrack.ringout.engine import Ringout
from wiretrack.ringout.results import Result
from wiretrack.ringout.steps import Join

if TYPE_CHECKING:
    from collections.abc import Sequence


def bundle_of(colours: Sequence[str], seed: int, reference: str, **options: Any) -> Wires:
    rng = random.Random(seed)
    order = rng.sample(range(len(colours)), len(colours))
    bundle, mate = arranged(colours, order, references=(reference,), **options)
    return Wires(bundle, mate, rng=rng)


def rung_out(wires: Wires) -> tuple[Ringout, list[dict[str, Any]]]:
    """Ring out; check at each step that the log alone leads to it."""
    ringing, steps = Ringout(wires.bundle), []
    while not isinstance(step := ringing.next_step(), Result):
        again = Ringout.replayed(wires.bundle, ringing.log)
        assert document(again.next_step()) == document(step)
        steps.append(document(step))
        ringing.apply(step, wires.answer(steps[-1]))
    return ringing, steps


def named(step: dict[str, Any], reference: str) -> bool:
    ends = {*step.get("between", ()), *(end for group in step.get("groups", ()) for end in group)}
    return reference in ends


@pytest.mark.parametrize("size", [4, 7, 12])
def test_a_known_conductor_that_spares_no_walk_is_never_touched(size: int) -> None:
    ringing, steps = rung_out(bundle_of(["BK"] * size, size, "R1"))
    assert not any(named(step, "R1") for step in steps)
    assert any("Not used as a reference" in note for note in ringing.result().notes)


@pytest.mark.parametrize("size", [4, 7, 12])
def test_the_raceway_is_touched_once_to_each_twist(size: int) -> None:
    _, steps = rung_out(bundle_of(["BK"] * size, size, "raceway"))
    touches = [step for step in steps if named(step, "raceway")]
    before = steps[: steps.index(touches[0])]
    joins = [step for step in before if step["step"] == "join"][-1]
    alone = size - sum(len(group) for group in joins["groups"])
    assert {step["step"] for step in touches} == {"probe"}
    assert len(touches) == len(joins["groups"]) + alone


@pytest.mark.parametrize("reference", ["raceway", "R1"])
def test_it_is_used_where_it_spares_a_walk(reference: str) -> None:
    """Two look-alikes and nothing else; and wires of some colours, which need two walks.

    Of fifteen, those searched for contacts before are twisted in a bunch.
    """
    for colours in (["BK"] * 2, ["BK", "BK", "BK", "RD", "RD"], ["BK", "RD", "BU"] * 5):
        ringing, _ = rung_out(bundle_of(colours, 1, reference))
        assert ringing.result().walks == 1
        assert not ringing.result().unresolved


@pytest.mark.parametrize("seed", range(6))
def test_a_wire_that_touches_the_raceway_is_named_and_all_others_are_matched(seed: int) -> None:
    wires = bundle_of(["BK"] * (4 + seed), seed, "raceway")
    wires.shorted = [("T2", "raceway")]
    result = rung_out(wires)[0].result()
    (fault,) = result.faults
    assert (fault.kind, "T2" in fault.ends) == ("earthed", True)
    assert {m.near: m.far for m in result.matches}.items() <= wires.mate.items()
    assert {*wires.mate} - {m.near for m in result.matches} <= {"T2"}


def test_a_step_that_is_refused_changes_nothing() -> None:
    wires = bundle_of(["BK"] * 4, 1, "raceway")
    ringing = Ringout(wires.bundle)
    asked = ringing.next_step()
    with pytest.raises(StepError):
        ringing.apply(Join("far", (("1", "raceway"),)), Done())  # nobody is there
    assert ringing.next_step() == asked
    assert not ringing.log


def test_what_was_begun_without_one_stays_so_when_gear_that_would_use_it_is_added() -> None:
    """What was matched so far would have to be searched again."""
    wires = bundle_of(["BK"] * 6, 2, "raceway")
    ringing = Ringout(wires.bundle)
    for _ in range(30):
        step = ringing.next_step()
        assert not isinstance(step, Result)
        ringing.apply(step, wires.answer(document(step)))
    before = set(ringing.result().matches)
    assert before <= set(switched(ringing, resistors=(100.0, 470.0, 2200.0)).result().matches)
