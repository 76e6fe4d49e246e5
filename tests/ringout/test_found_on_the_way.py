# SPDX-License-Identifier: MIT
"""What a ring-out finds besides the matches: each is put into a simulated bundle first."""

from __future__ import annotations

import random
from dataclasses import dataclass
from typing import Any

import pytest

from tests.drawing import parts, tenth
from tests.ringout.bundles import arranged, random_wires
from tests.ringout.simulation import Wires, ring_out, seconds, wrong_matches
from wiretrack.encoding import document
from wiretrack.ringout.bundle import Bundle, FarEnd
from wiretrack.ringout.engine import Ringout
from wiretrack.ringout.results import Result
from wiretrack.ringout.screening import OPEN_TOUCHES


def look_alikes(seed: int, size: int, **options: Any) -> Wires:
    rng = random.Random(seed)
    bundle, mate = arranged(["BK"] * size, rng.sample(range(size), size), **options)
    return Wires(bundle, mate, rng=rng)


@dataclass
class LooseJoin(Wires):
    """A bundle of which one end slips out of the first joins."""

    loose: str = ""
    slipped: bool = False

    def answer(self, step: dict[str, Any]) -> dict[str, Any]:
        if step["step"] == "join" and not self.slipped and len(step["groups"]) > 2:
            self.slipped = True
            kept = [[end for end in group if end != self.loose] for group in step["groups"]]
            return super().answer({**step, "groups": kept})
        return super().answer(step)


@pytest.mark.parametrize("seed", range(20))
def test_an_end_that_slips_out_of_a_join_is_told_and_its_conductor_is_identified(seed: int) -> None:
    sound = look_alikes(seed, 12)
    wires = LooseJoin(sound.bundle, sound.mate, rng=sound.rng, loose=f"T{seed % 9 + 1}")
    result = ring_out(wires)
    assert {match.near: match.far for match in result.matches} == wires.mate
    assert not result.faults
    told = [note for note in result.notes if "come off" in note or "came off" in note]
    assert any(wires.loose in note for note in told)


@pytest.mark.parametrize("seed", range(20))
def test_a_conductor_spliced_with_another_colour_is_named(seed: int) -> None:
    rng = random.Random(seed)
    colours = ["BK"] * 4 + ["RD"] * 3 + ["GN"]
    bundle, mate = arranged(colours, rng.sample(range(8), 8))
    spliced = rng.choice(bundle.far)
    far = tuple(
        FarEnd(name=end.name, colour="WH" if end is spliced else end.colour) for end in bundle.far
    )
    wires = Wires(Bundle(near=bundle.near, far=far), mate)
    result = ring_out(wires)
    assert {match.near: match.far for match in result.matches} == mate
    assert result.walks == 2
    tag = next(near for near, mark in mate.items() if mark == spliced.name)
    assert any(note.startswith(f"{tag} is") and "splice" in note for note in result.notes)


@pytest.mark.parametrize("kind", ["open", "short", "earthed"])
@pytest.mark.parametrize("seed", range(15))
def test_a_fault_is_named_with_its_conductors_and_its_evidence(kind: str, seed: int) -> None:
    wires = look_alikes(seed, 6 + seed, references=("raceway",))
    one, two = wires.rng.sample(sorted(wires.mate), 2)
    if kind == "open":
        wires.broken = {one}
    else:
        wires.shorted = [(one, two if kind == "short" else "raceway")]
    result = ring_out(wires)
    assert not wrong_matches(wires, result)
    (fault,) = result.faults
    assert fault.kind == kind
    tags = {one, two} if kind == "short" else {one}
    assert set(fault.ends) & set(wires.mate) == tags
    assert set(fault.ends) <= tags | {wires.mate[tag] for tag in tags}
    assert any(tag in fault.evidence for tag in tags) or kind != "open"
    assert fault.evidence


@pytest.mark.parametrize("size", [4, 9, 24])
def test_contacts_are_searched_first_in_less_time_than_by_hand_when_asked(size: int) -> None:
    wires = look_alikes(1, size, screen="first", references=("raceway",))
    ringing = Ringout(wires.bundle)
    while not isinstance(step := ringing.next_step(), Result):
        if document(step)["step"] in ("walk", "unjoin") and "ends" not in document(step):
            break
        ringing.apply(step, wires.answer(document(step)))
    result, ends = ringing.result(), size + 1  # and the raceway
    two_by_two = OPEN_TOUCHES * ends * (ends - 1) / 2 * 4
    one_bunch = 2 * ends * 12 + OPEN_TOUCHES * ends * 4
    assert 0 < seconds(result) <= min(two_by_two, one_bunch)


def test_two_look_alikes_and_nothing_else_are_called_impossible_at_once() -> None:
    result = ring_out(look_alikes(0, 2))
    assert result.walks == result.probes == 0
    assert result.unresolved == ("T1", "T2", "1", "2")
    assert any("reference" in note and "diode" in note for note in result.notes)
    assert not ring_out(look_alikes(0, 2, references=("raceway",))).unresolved


@pytest.mark.parametrize("seed", range(12))
def test_with_a_helper_a_short_leaves_only_its_two_conductors_open(seed: int) -> None:
    wires = look_alikes(seed, 5 + seed, crew=2, references=("raceway",))
    one, two = wires.rng.sample(sorted(wires.mate), 2)
    wires.shorted = [(one, two)]
    result = ring_out(wires)
    assert not wrong_matches(wires, result)
    assert set(result.unresolved) & set(wires.mate) <= {one, two}
    assert [fault.kind for fault in result.faults] == ["short"]


def test_matches_that_colours_alone_tell_are_named() -> None:
    """Of two spliced with each other's colour nothing read in one walk can tell."""
    bundle, mate = arranged(["BK", "RD", "BK"], (0, 1, 2), references=("raceway",))
    swapped = {"T1": "2", "T2": "1", "T3": "3"}
    result = ring_out(Wires(bundle, swapped))
    wrong = {match.near for match in result.matches if swapped[match.near] != match.far}
    assert wrong <= set(result.by_colour)
    assert any("no colour changes on the way" in note for note in result.notes)
    plain, mate = arranged(["BK"] * 3, (0, 1, 2))
    assert not ring_out(Wires(plain, mate)).by_colour


@pytest.mark.parametrize("seed", range(40))
def test_wherever_colours_are_exchanged_a_wrong_match_is_named_as_resting_on_them(
    seed: int,
) -> None:
    rng = random.Random(seed)
    size = rng.randint(3, 10)
    colours = [rng.choice(("BK", "RD", "BU")) for _ in range(size)]
    bundle, mate = arranged(colours, rng.sample(range(size), size))
    one, two = rng.sample(sorted(mate), 2)
    swapped = {**mate, one: mate[two], two: mate[one]}
    result = ring_out(Wires(bundle, swapped, rng=rng))
    wrong = {match.near for match in result.matches if swapped[match.near] != match.far}
    assert wrong <= set(result.by_colour)


@pytest.mark.parametrize("seeds", parts(50, 150, 100), ids=str)
def test_a_broken_conductor_is_never_matched_without_a_word(seeds: range) -> None:
    for seed in seeds:
        wires = random_wires(seed, 2, 8)
        broken = wires.rng.choice(sorted(wires.mate))
        wires.broken = {broken}
        result = ring_out(wires)
        if broken in {match.near for match in result.matches}:
            named = any(f.kind == "open" and broken in f.ends for f in result.faults)
            assert named or broken in result.by_exclusion
            assert named or any(
                "Never read closed" in note and broken in note for note in result.notes
            )
        else:
            assert broken in result.unresolved


def test_two_that_were_joined_and_never_read_closed_are_not_matched_by_colour_alone() -> None:
    bundle, mate = arranged(["BK", "RD"], (1, 0))
    result = ring_out(Wires(bundle, mate, broken={"T1"}))
    assert not result.matches
    (fault,) = result.faults
    assert fault.kind == "open"
    assert "at most one of them is OK" in fault.evidence


@pytest.mark.parametrize("seed", tenth(120))
def test_two_that_touch_are_found_in_any_bundle(seed: int) -> None:
    """With colours, two of one join in every round would read closed to each other anyway."""
    wires = random_wires(seed, 3, 40)
    one, two = wires.rng.sample(sorted(wires.mate), 2)
    wires.shorted = [(one, two)]
    result = ring_out(wires)
    assert not wrong_matches(wires, result)
    (fault,) = result.faults
    assert fault.kind == "short"
    marks = {wires.mate[one], wires.mate[two]}
    assert set(fault.ends) <= {one, two} | marks
    assert {one, two} <= set(fault.ends) or marks <= set(fault.ends)
