# SPDX-License-Identifier: MIT
"""Twists that aren't as asked: the simulation makes one wrong, and the ring-out must name it."""

from __future__ import annotations

import random
import re
from dataclasses import dataclass
from typing import Any

import pytest

from tests.drawing import HOURS, parts
from tests.ringout.bundles import arranged, random_wires
from tests.ringout.hard import HardWires, rung_out
from wiretrack.encoding import document
from wiretrack.ringout.certainty import CONTRADICTED
from wiretrack.ringout.engine import Ringout
from wiretrack.ringout.results import Result

BOXES = {"near": "MDB", "far": "JT1"}


@dataclass
class Slipped(HardWires):
    """A bundle in whose first or second joins a hand slips in one `way`; `astray` are the ends."""

    way: str = ""
    when: int = 0
    box: str = ""
    astray: tuple[str, ...] = ()

    def _slipped(self, step: dict[str, Any]) -> dict[str, Any]:
        groups = [list(group) for group in step["groups"]]
        if len(groups) < 2:  # a bunch, to search for contacts
            return step
        number, self.joined = self.joined, self.joined + 1
        if number != self.when:
            return step
        source, other = self.rng.sample(groups, 2)
        end, there = self.rng.choice(source), self.rng.choice(other)
        self.box, self.astray = BOXES[step["at"]], (end,)
        if self.way == "off":
            self.astray = tuple(source)
            groups.remove(source)
            return {**step, "groups": groups}
        source.remove(end)
        if self.way == "moved":
            other.append(end)
        elif self.way == "exchanged":
            self.astray = (end, there)
            other[other.index(there)] = end
            source.append(there)
        return {**step, "groups": [group for group in groups if group]}


def slipped(seed: int, way: str, when: int = 0, most: int = 12) -> Slipped:
    rng = random.Random(seed)
    size = rng.randint(6, most)
    bundle, mate = arranged(
        ["BK"] * size, rng.sample(range(size), size), boxes=tuple(BOXES.values())
    )
    return Slipped(bundle, mate, rng=rng, way=way, when=when)


def run(wires: HardWires) -> tuple[Result, list[str]]:
    """Return the result, and what was to be looked at while the job was going on."""
    ringing, hints = Ringout(wires.bundle), []
    while not isinstance(step := ringing.next_step(), Result):
        look = ringing.guidance(BOXES).look
        assert not (look and step.is_touch)
        hints += [look] if look else []
        ringing.apply(step, wires.answer(document(step)))
    return step, hints


def names(line: str, end: str) -> bool:
    return re.search(rf"(?<![\w-]){end}(?![\w-])", line) is not None


@pytest.mark.parametrize("when", [0, 1])
@pytest.mark.parametrize("way", ["left out", "off"])
@pytest.mark.parametrize("seeds", parts(6, 120, 40), ids=str)
def test_a_twist_that_came_off_is_named_with_its_end_then_and_at_the_end(
    way: str, when: int, seeds: range
) -> None:
    given = named = 0
    for seed in seeds:
        wires = slipped(seed, way, when)
        result, hints = run(wires)
        assert wires.astray
        told = [note for note in result.notes if "has come off or was not made" in note]
        assert any(all(names(n, end) for end in wires.astray) for n in told), (seed, result.notes)
        assert all(f" in {wires.box}: " in note for note in told)
        given += bool(hints)
        assert all("a wire is broken" in hint and wires.box in hint for hint in hints)
        ends = {*wires.astray, *(b for a, b in wires.mate.items() if a in wires.astray)}
        ends |= {a for a, b in wires.mate.items() if b in wires.astray}
        named += any(any(names(hint, end) for end in ends) for hint in hints)
    assert given >= (1 if when else len(seeds) // 2)
    assert named == given


def test_two_ends_off_a_twist_of_two_and_one_off_a_larger_one_are_told_in_words() -> None:
    bundle, mate = arranged(["BK"] * 9, range(9), boxes=("MDB", "JT1"))
    told = []
    for astray in ("T8", "T3"):

        @dataclass
        class Off(HardWires):
            left_out: str = astray

            def _slipped(self, step: dict[str, Any]) -> dict[str, Any]:
                if step["at"] == "near" and not self.joined:
                    groups = [[e for e in g if e != self.left_out] for g in step["groups"]]
                    step = {**step, "groups": [group for group in groups if group]}
                self.joined += 1
                return step

        result, _ = run(Off(bundle, mate))
        told += [note for note in result.notes if "come off" in note]
    assert told[0].startswith(
        "8 (T8), 9 (T9) read open against each other, though twisted together in MDB: T8 + T9."
        " The twist has come off or was not made."
    )
    assert told[1] == (
        "3 (T3) reads open against all that was twisted with it in MDB: T1 + T2 + T3 + T4."
        " The twist has come off or was not made. Clean 3 (T3) too: a contact may be bad."
    )


@pytest.mark.parametrize("way", ["moved", "exchanged"])
@pytest.mark.parametrize("seeds", parts(8, 40 if HOURS else 72, 20), ids=str)
def test_a_wrong_end_twisted_is_named_where_the_readings_contradict(way: str, seeds: range) -> None:
    contradicted = named = 0
    for seed in seeds:
        wires = slipped(seed, way, when=1, most=8)
        result, _ = run(wires)
        told = [note for note in result.notes if note.startswith("All readings fit if ")]
        contradicted += any("contradict" in match.why for match in result.matches)
        if told:
            (line,) = told
            named += any(names(line, end) for end in wires.astray) and wires.box in line
            assert " was twisted " in line or " changed places " in line
    assert contradicted >= len(seeds) // 4
    assert named >= 0.75 * contradicted, (named, contradicted)


@pytest.mark.parametrize(("way", "when"), [("moved", 0), ("exchanged", 0), ("exchanged", 1)])
@pytest.mark.parametrize("seeds", parts(8, 40 if HOURS else 72, 20), ids=str)
def test_where_one_wrong_twist_contradicts_all_others_they_match_the_wires(
    way: str, when: int, seeds: range
) -> None:
    """Of two twists that contradict, none is believed; of three, the two that agree are."""
    matched = of = 0
    for seed in seeds:
        wires = slipped(seed, way, when, most=10)
        result, _ = run(wires)
        whys = {match.why for match in result.matches}
        if whys <= {CONTRADICTED}:
            assert all(wires.mate[match.near] == match.far for match in result.matches), seed
            assert not any(match.sure for match in result.matches)
            matched, of = matched + len(result.matches), of + len(wires.mate)
    assert matched >= 0.75 * of > 0, (matched, of)


@pytest.mark.parametrize("seeds", parts(20, 300, 100), ids=str)
def test_a_sound_bundle_has_no_slip_and_no_hint(seeds: range) -> None:
    for seed in seeds:
        sound = random_wires(seed, 2, 14)
        result, hints = run(HardWires(sound.bundle, sound.mate, rng=sound.rng))
        assert not hints, seed
        assert not [n for n in result.notes if "come off" in n or "All readings fit" in n], seed


@pytest.mark.parametrize("seed", [6, 17, *range(24, 28), 57])
def test_the_log_alone_tells_what_was_found_on_the_way(seed: int) -> None:
    """What was remembered of earlier readings had once told a note more."""
    wires = slipped(seed, "exchanged")
    result, ringing = rung_out(wires)
    again = Ringout(wires.bundle)
    for step, answer in ringing.log:
        again.apply(step, answer)
    assert document(again.next_step()) == document(result)
