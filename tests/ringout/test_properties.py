# SPDX-License-Identifier: MIT
"""What holds for every ring-out: any bundle, fault, bad contact, interruption and legal step."""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import dataclass
from itertools import combinations, product
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import strategies as st

from tests.drawing import HOURS, drawn, full, tenth
from tests.ringout.bundles import COLOURS, arranged, random_wires, with_random_fault
from tests.ringout.simulation import Wires, all_told, wrong_matches
from wiretrack.encoding import document
from wiretrack.ringout.bundle import Bundle, other_place
from wiretrack.ringout.engine import Ringout
from wiretrack.ringout.parsing import parse_step
from wiretrack.ringout.results import Result
from wiretrack.ringout.steps import Join, Probe, Unjoin, Walk

if TYPE_CHECKING:
    from wiretrack.ringout.action import Action

SEEDS = st.integers(0, 2**32)
STEPS = st.lists(st.integers(0, 40), max_size=12)
CHANCES = st.sampled_from((0.0, 0.02, 0.1))


def bundle_of(seed: int, chance: float, fault: bool) -> Wires:
    """Return a bundle of 2 to 12 conductors, perhaps with bad contacts and a fault."""
    wires = random_wires(seed, 2, 12, bad_contact=chance)
    if fault:
        with_random_fault(wires)
    return wires


@pytest.mark.parametrize("seed", tenth(150))
def test_no_wrong_match_is_shown_after_any_step_with_a_short(seed: int) -> None:
    wires = random_wires(seed, 2, 12, bad_contact=(0.0, 0.02, 0.05)[seed % 3])
    one, two = wires.rng.sample(sorted(wires.mate), 2)
    wires.shorted = [(one, two)]
    ringing = Ringout(wires.bundle)
    while not isinstance(step := ringing.next_step(), Result):
        ringing.apply(step, wires.answer(document(step)))
        result = ringing.result()
        assert not wrong_matches(wires, result)
        assert not set(result.likely) & set(result.matches)
    assert not wrong_matches(wires, step)


@dataclass
class OneBadContact(Wires):
    """Wires of which the touch with a given number reads open, whatever it is on."""

    bad_touch: int = -1
    touches: int = 0

    def answer(self, step: dict[str, Any]) -> dict[str, Any]:
        answer = super().answer(step)
        if step["step"] != "probe":
            return answer
        self.touches += 1
        return {"ohms": "OL"} if self.touches - 1 == self.bad_touch else answer


@pytest.mark.parametrize(
    ("shown", "size"),
    [
        (3, 3),
        *(full(*one) for one in [(0, 3), (2, 3), *product((0, 2, 3), (4, 5) if HOURS else (4,))]),
    ],
)
def test_any_fault_and_any_one_bad_contact_together_never_make_a_wrong_match(
    shown: int, size: int
) -> None:
    """Every place for a fault, and every touch for the bad contact; small ones at every step.

    Without hours to spend, every third touch of the larger ones, another third for the next fault.
    """
    rng = random.Random(size * 10 + shown)
    colours = [rng.choice(COLOURS[:shown]) if shown else None for _ in range(size)]
    order = rng.sample(range(size), size)
    bundle, mate = arranged(colours, order, references=("raceway",) if size == 4 else ())
    faults = [*combinations(mate, 2), *((tag, "raceway") for tag in mate), *((t,) for t in mate)]
    stride = 1 if HOURS or size == 3 else 3
    for number, fault in enumerate(faults):
        bad_touch = number % stride
        while True:
            wires = OneBadContact(bundle, mate, bad_touch=bad_touch)
            wires.broken = set(fault) if len(fault) == 1 else set()
            wires.shorted = [(fault[0], fault[1])] if len(fault) == 2 else []
            ringing = Ringout(bundle)
            while not isinstance(step := ringing.next_step(), Result):
                ringing.apply(step, wires.answer(document(step)))
                # What is before that touch, the runs with an earlier one have shown already.
                if size <= 4 and wires.touches > bad_touch - stride:
                    assert not wrong_matches(wires, ringing.result())
            assert not wrong_matches(wires, step)
            if wires.touches <= bad_touch:
                break
            bad_touch += stride


def names_of(bundle: Bundle) -> Counter[str]:
    """Return the names of all ends at both places."""
    return Counter([end.name for end in bundle.near] + [end.name for end in bundle.far])


def check(wires: Wires, result: Result) -> None:
    """Check that no match is wrong, and that every end is matched or named as unresolved."""
    assert all(wires.mate[match.near] == match.far for match in result.matches)
    told = Counter(result.unresolved)
    for match in result.matches:
        told.update((match.near, match.far))
    assert told == names_of(wires.bundle)


def legal_step(ringing: Ringout, rng: random.Random) -> Action:
    """Return a step nobody planned, which a person could take now."""
    facts, bundle = ringing.evidence, ringing.bundle
    here = facts.place
    names = bundle.names(here)
    choices: list[Action] = [Walk(other_place(here))]
    if facts.joins[here] or facts.fits[here]:
        choices.append(Unjoin(here))
    elif len(names) > 3:
        picked = rng.sample(names, rng.randint(2, len(names)))
        cut = rng.randint(2, len(picked))
        groups = [tuple(part) for part in (picked[:cut], picked[cut:]) if len(part) > 1]
        choices.append(Join(here, tuple(groups)))
    if len(names) > 1:
        one, two = rng.sample(names, 2)
        choices += [Probe(here, (one, two))] * 3
    return rng.choice(choices)


@drawn(6, 60, SEEDS, CHANCES, st.booleans(), derandomize=True)
def test_matches_are_true_and_all_ends_are_told_at_every_step(
    seed: int, chance: float, fault: bool
) -> None:
    wires = bundle_of(seed, chance, fault)
    ringing = Ringout(wires.bundle)
    before: set[tuple[str, str]] = set()
    while not isinstance(step := ringing.next_step(), Result):
        ringing.apply(step, wires.answer(document(step)))
        result = ringing.result()
        check(wires, result)
        now = {(match.near, match.far) for match in result.matches}
        # Readings only add up; a match is withdrawn only where some of them contradict.
        known = ringing.evidence.stages.values()
        assert before <= now or wires.shorted or wires.broken or any(s.dropped for s in known)
        before = now
    check(wires, step)


@drawn(6, 60, SEEDS, CHANCES, st.booleans(), st.integers(0, 60), derandomize=True)
def test_a_stored_log_leads_to_the_same_step_again(
    seed: int, chance: float, fault: bool, cut: int
) -> None:
    wires = bundle_of(seed, chance, fault)
    ringing = Ringout(wires.bundle)
    stored: list[tuple[dict[str, Any], dict[str, Any]]] = []
    while len(stored) < cut and not isinstance(step := ringing.next_step(), Result):
        answer = wires.answer(document(step))
        ringing.apply(step, answer)
        stored.append((document(step), answer))
    again = Ringout(wires.bundle)
    for data, answer in stored:
        step = parse_step(data)
        again.apply(step, step.parse(answer))
    assert again.next_step() == ringing.next_step()
    assert all_told(again) == all_told(ringing)


@drawn(
    6,
    60,
    SEEDS,
    CHANCES,
    st.booleans(),
    st.lists(st.integers(0, 40), max_size=12),
    derandomize=True,
)
def test_any_legal_step_is_taken_and_never_leads_to_a_wrong_match(
    seed: int, chance: float, fault: bool, when: list[int]
) -> None:
    wires = bundle_of(seed, chance, fault)
    rng = random.Random(seed)
    ringing = Ringout(wires.bundle)
    for count in range(2_000):
        planned = ringing.next_step()
        if count < 40 and count in when:
            step: Action = legal_step(ringing, rng)
        elif isinstance(planned, Result):
            break
        else:
            step = planned
        ringing.apply(step, wires.answer(document(step)))
    result = ringing.next_step()
    assert isinstance(result, Result)
    check(wires, result)


@drawn(6, 60, SEEDS, st.integers(0, 1_000), derandomize=True)
def test_a_misread_touch_is_made_good_by_superseding_it(seed: int, which: int) -> None:
    """One reading is turned round, found out later, and replaced: all must be as if never wrong."""
    wires = bundle_of(seed, 0.0, fault=False)
    ringing = Ringout(wires.bundle)
    log = []
    while not isinstance(step := ringing.next_step(), Result):
        answer = wires.answer(document(step))
        ringing.apply(step, answer)
        log.append((step, answer))
    touches = [i for i, (one, _) in enumerate(log) if isinstance(one, Probe)]
    if not touches:
        return
    at = touches[which % len(touches)]
    known = Ringout(wires.bundle)
    for i, (one, answer) in enumerate(log):
        known.apply(
            one, {"ohms": "OL" if answer.get("ohms") != "OL" else 0.4} if i == at else answer
        )
    assert all_told(known)  # however the readings contradict
    mended = Ringout(wires.bundle)
    for i, (one, _) in enumerate(known.log):
        mended.apply(one, log[i][1])
    assert all_told(mended) == all_told(ringing)
    check(wires, mended.result())
