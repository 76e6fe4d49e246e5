# SPDX-License-Identifier: MIT
"""Wrong readings: shown as the fewest that can't all be true, superseded, undone, explained."""

from __future__ import annotations

import random
from itertools import combinations
from typing import TYPE_CHECKING

import pytest

from tests.ringout.bundles import arranged, random_wires
from tests.ringout.simulation import Wires, corrected, ring_out, switched
from wiretrack.encoding import document
from wiretrack.errors import BundleError
from wiretrack.ringout.answers import Ohms
from wiretrack.ringout.engine import Ringout
from wiretrack.ringout.results import Result
from wiretrack.ringout.steps import Join, Probe, Walk

if TYPE_CHECKING:
    from wiretrack.ringout.action import Action
    from wiretrack.ringout.answers import Answer


def look_alikes(seed: int, size: int, start: str = "near") -> Wires:
    rng = random.Random(seed)
    bundle, mate = arranged(["BK"] * size, rng.sample(range(size), size), start=start)
    return Wires(bundle, mate, rng=rng)


def run_until(wires: Wires, wanted: type[Result] | type[Walk]) -> Ringout:
    """Return a ring-out that was carried on until a kind of step comes up."""
    ringing = Ringout(wires.bundle)
    while not isinstance(step := ringing.next_step(), wanted | Result):
        ringing.apply(step, wires.answer(document(step)))
    return ringing


def agreeing(size: int, groups: tuple[tuple[int, ...], ...], closed: list[tuple[int, int]]) -> bool:
    """Return whether some dealing of far ends to near groups makes all these touches closed."""
    sizes = [len(group) for group in groups] + [1] * (size - sum(map(len, groups)))

    def deal(end: int, room: list[int], home: list[int]) -> bool:
        if end == size:
            return all(home[a] == home[b] for a, b in closed)
        for group, left in enumerate(room):
            if left:
                room[group] -= 1
                if deal(end + 1, room, [*home, group]):
                    room[group] += 1
                    return True
                room[group] += 1
        return False

    return deal(0, sizes, [])


def test_the_readings_shown_cannot_all_be_true_and_any_fewer_could() -> None:
    # Three and two ends are joined; a chain of closed readings says that four belong together.
    wires = look_alikes(3, 6)
    ringing = Ringout(wires.bundle)
    ringing.apply(Join("near", (("T1", "T2", "T3"), ("T4", "T5"))), {"done": True})
    ringing.apply(Walk("far"), {"done": True})
    touches = [("5", "6"), ("1", "2"), ("2", "3"), ("3", "4")]
    for between in touches:
        ringing.apply(Probe("far", between), {"ohms": 0.4})
    (found,) = ringing.contradictions()
    shown = [
        (int(doubted.between[0]) - 1, int(doubted.between[1]) - 1) for doubted in found.readings
    ]
    groups = ((0, 1, 2), (3, 4))
    assert not agreeing(6, groups, shown)
    for fewer in combinations(shown, len(shown) - 1):
        assert agreeing(6, groups, list(fewer))
    assert found.repeat_first in found.readings
    assert ringing.log[found.repeat_first.index][0] == Probe("far", found.repeat_first.between)
    assert "closed" in found.reason


@pytest.mark.parametrize("seed", range(12))
def test_superseding_the_wrong_reading_makes_all_good(seed: int) -> None:
    wires = look_alikes(seed, 9)
    ringing = run_until(wires, Result)
    probes = [
        index
        for index, (step, answer) in enumerate(ringing.log)
        if isinstance(step, Probe) and answer == Ohms(None)
    ]
    wrong = random.Random(seed).choice(probes)
    misread = corrected(ringing, wrong, {"ohms": 0.4})
    assert misread.log[wrong][1] == Ohms(0.4)
    again = corrected(misread, wrong, {"ohms": "OL"})
    assert again.log == ringing.log
    assert again.next_step() == ringing.next_step()


def test_undoing_takes_back_the_last_step_only() -> None:
    wires = look_alikes(1, 7)
    ringing = run_until(wires, Result)
    undone = Ringout.replayed(wires.bundle, ringing.log[:-1])
    assert undone.log == ringing.log[:-1]
    assert undone.next_step() == ringing.log[-1][0]


def test_the_method_can_change_in_the_middle_and_nothing_is_forgotten() -> None:
    wires = look_alikes(5, 8)
    ringing = run_until(wires, Result)
    first_walk = next(i for i, (step, _) in enumerate(ringing.log) if isinstance(step, Walk))
    half: list[tuple[Action, Answer]] = list(ringing.log[:first_walk])
    begun = Ringout(wires.bundle)
    for step, answer in half:
        begun.apply(step, answer)
    for options in ({"crew": 2}, {"joins": "pairs"}, {"screen": "none"}):
        changed = switched(begun, **options)
        assert changed.log == tuple(half)
        assert changed.candidates() == begun.candidates()
        fresh = Wires(changed.bundle, wires.mate)
        for step, _ in half:
            fresh.answer(document(step))
        while not isinstance(following := changed.next_step(), Result):
            changed.apply(following, fresh.answer(document(following)))
        assert {match.near: match.far for match in following.matches} == wires.mate


@pytest.mark.parametrize("seed", range(10))
def test_why_names_joins_and_ends_that_belong_together(seed: int) -> None:
    wires = random_wires(seed, 3, 15)
    ringing = run_until(wires, Result)
    result = ringing.result()
    for match in result.matches:
        lines = ringing.why(match.near)
        assert lines[-1].startswith(
            (f"So {match.near} is end {match.far}.", "It never read closed")
        )
        for line in lines:
            if " twisted together in the near box, " in line:
                joined, _, closed = line.removeprefix("With ").partition(
                    " twisted together in the near box, "
                )
                tags = [name for name in joined.split(", ") if name in wires.mate]
                ends = closed.partition(" read closed")[0].split(", ")
                assert {wires.mate[tag] for tag in tags} <= {*ends} or len(ends) <= len(tags)


def test_why_of_an_unknown_tag_is_refused_in_words() -> None:
    ringing = Ringout(look_alikes(0, 3).bundle)
    with pytest.raises(BundleError, match=r"There is no end 'T9' in the near box\. Known: T1"):
        ringing.why("T9")


@pytest.mark.parametrize("crew", [1, 2])
@pytest.mark.parametrize("joins", ["any", "pairs"])
@pytest.mark.parametrize("seed", range(8))
def test_every_crew_and_way_of_joining_identifies_all(crew: int, joins: str, seed: int) -> None:
    wires = random_wires(seed, 3, 18, crew=crew, joins=joins)
    result = ring_out(wires)
    assert {match.near: match.far for match in result.matches} == wires.mate
    assert result.walks <= (0 if crew == 2 else 2)
