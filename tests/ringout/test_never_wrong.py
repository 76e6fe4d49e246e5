# SPDX-License-Identifier: MIT
"""Whole ring-outs against simulated bundles whose arrangement is known."""

from __future__ import annotations

from itertools import permutations, product

import pytest

from tests.ringout.bundles import COLOURS, arranged, random_wires, with_random_fault
from tests.ringout.simulation import Wires, ring_out, wrong_matches

SOUND_RUNS = 1_000
FAULTY_RUNS = 1_000


@pytest.mark.parametrize("size", [3, 4, 5])
def test_every_arrangement_of_look_alikes_is_identified_in_two_walks(size):
    for arrangement in permutations(range(size)):
        bundle, mate = arranged(["BK"] * size, arrangement)
        result = ring_out(Wires(bundle, mate))
        assert {match.near: match.far for match in result.matches} == mate
        assert result.walks == 2
        assert not result.faults


@pytest.mark.parametrize("size", [2, 3, 4])
def test_every_arrangement_of_every_colouring_is_never_matched_wrongly(size):
    for colours in product(COLOURS[:3], repeat=size):
        for arrangement in permutations(range(size)):
            bundle, mate = arranged(colours, arrangement)
            wires = Wires(bundle, mate)
            result = ring_out(wires)
            assert not wrong_matches(wires, result)
            impossible = size == 2 and colours[0] == colours[1]
            assert bool(result.unresolved) == impossible


def test_sound_bundles_of_any_kind_are_identified_whole():
    for seed in range(SOUND_RUNS):
        wires = random_wires(seed, 3, 40)
        result = ring_out(wires)
        assert {match.near: match.far for match in result.matches} == wires.mate, seed
        assert not result.faults, seed
        assert result.walks <= 2, seed


def test_faults_and_bad_contacts_never_yield_a_wrong_match():
    for seed in range(FAULTY_RUNS):
        wires = random_wires(seed, 3, 40, bad_contact=0.02)
        kind = with_random_fault(wires) if seed % 2 else None
        result = ring_out(wires)
        assert not wrong_matches(wires, result), (seed, kind)
        assert kind or not result.faults, seed
