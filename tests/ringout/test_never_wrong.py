# SPDX-License-Identifier: MIT
"""Whole ring-outs against simulated bundles whose arrangement is known.

Sound bundles of 2 to 40 conductors, and of 3 to 40 with bad contacts and faults: 50 and 40 of them
always, some 290 more of each with ``-m full``, and 10,000 and 100,000 in some hours of one
processor with ``WIRETRACK_HOURS=1``. Where none of n is wrong, at most 3/n are at 95 % confidence
(the rule of three, of 1 - 0.05^(1/n)): one in 13 always, one in 110 with ``-m full``, one in 3,300
sound ones and one in 33,000 rough ones with hours to spend.

The random fault of every second bundle is one of three, drawn evenly: one conductor open, two
conductors touching each other, or one touching the raceway (which can be seen only where the
raceway is a reference). Colours are as they are worn: conductors spliced with another colour are
not among the faults, because two of one join that change colours with each other can't be told
by any reading of one walk. `test_found_on_the_way.py` shows that such matches are named as
resting on colours.
"""

from __future__ import annotations

import random
from itertools import combinations, permutations, product
from typing import Any

import pytest

from tests.drawing import full, parts
from tests.ringout.bundles import COLOURS, arranged, random_wires
from tests.ringout.many import HOURS, outcomes, rough_run, sound_run
from tests.ringout.simulation import Wires, ring_out, wrong_matches

SOUND_RUNS = 10_000 if HOURS else 1_200  # of what is beyond the first, a quarter is drawn
ROUGH_RUNS = 100_000 if HOURS else 1_200


@pytest.mark.parametrize("size", [3, 4, 5])
def test_every_arrangement_of_look_alikes_is_identified_in_two_walks(size: int) -> None:
    for arrangement in permutations(range(size)):
        bundle, mate = arranged(["BK"] * size, arrangement)
        result = ring_out(Wires(bundle, mate))
        assert {match.near: match.far for match in result.matches} == mate
        assert result.walks == 2
        assert not result.faults


@pytest.mark.parametrize("size", [2, 3, full(4)])
def test_every_arrangement_of_every_colouring_is_never_matched_wrongly(size: int) -> None:
    for colours in product(COLOURS[:3], repeat=size):
        for arrangement in permutations(range(size)):
            bundle, mate = arranged(colours, arrangement)
            wires = Wires(bundle, mate)
            result = ring_out(wires)
            assert not wrong_matches(wires, result)
            impossible = size == 2 and colours[0] == colours[1]
            assert bool(result.unresolved) == impossible


@pytest.mark.parametrize("seeds", parts(50, SOUND_RUNS, 80), ids=str)
def test_sound_bundles_of_any_kind_are_identified_whole(seeds: range) -> None:
    for one in outcomes(sound_run, seeds):
        assert not one.wrong, one
        assert not one.found, one
        assert one.walks <= 2, one
        assert one.whole or two_look_alikes(one.seed), one


def two_look_alikes(seed: int) -> bool:
    """Return whether a sound run is one that continuity alone can't decide."""
    bundle = random_wires(seed, 2, 40).bundle
    return bundle.size == 2 and not bundle.references and len({e.colour for e in bundle.near}) == 1


@pytest.mark.parametrize("seeds", parts(40, ROUGH_RUNS, 80), ids=str)
def test_faults_and_bad_contacts_never_yield_a_wrong_match(seeds: range) -> None:
    done = outcomes(rough_run, seeds)
    for one in done:
        assert not one.wrong, one
        assert one.fault or not one.found, one
    without = [one for one in done if one.fault is None]
    assert len(without) == sum(seed % 2 == 0 for seed in seeds)
    assert sum(one.whole for one in without) >= 0.99 * len(without)


class HiddenContact(Wires):
    """A bundle with one contact, whose first touches (so many of them) all read open.

    Only touches that nothing but the contact closes are hidden: the worst that bad contacts can do
    to a search that asks for one open touch more.
    """

    hides = 3

    def answer(self, step: dict[str, Any]) -> dict[str, Any]:
        """Return the answer, an open one while there is something left to hide."""
        answer = super().answer(step)
        if step["step"] != "probe" or answer == {"ohms": "OL"} or not self.hides:
            return answer
        one, two = (self.node(step["at"], name) for name in step["between"])
        shorted, self.shorted, self.net = self.shorted, [], None
        sound = self.connected(one, two)
        self.shorted, self.net = shorted, None
        if sound:
            return answer
        self.hides -= 1
        return {"ohms": "OL"}


@pytest.mark.parametrize("references", [(), ("raceway",)])
@pytest.mark.parametrize("colours", [1, 2, 4])
@pytest.mark.parametrize("size", [3, 5, 8, 12, 20, 24])
@pytest.mark.parametrize("which", [range(2), full(range(2, 12 if HOURS else 4))], ids=str)
def test_a_contact_that_three_bad_contacts_hide_never_yields_a_wrong_match(
    size: int, colours: int, references: tuple[str, ...], which: range
) -> None:
    rng = random.Random(size * colours)
    pairs = list(combinations(range(size), 2))
    for number, (one, two) in enumerate(rng.sample(pairs, min(len(pairs), 12))):
        order = rng.sample(range(size), size)
        worn = [rng.choice(COLOURS[:colours]) for _ in range(size)]
        if number not in which:
            continue
        bundle, mate = arranged(worn, order, references=references)
        wires = HiddenContact(bundle, mate, shorted=[(f"T{one + 1}", f"T{two + 1}")])
        assert not wrong_matches(wires, ring_out(wires))
