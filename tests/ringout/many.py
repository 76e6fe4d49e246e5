# SPDX-License-Identifier: MIT
"""Thousands of simulated ring-outs, counted; spread over the processors where that helps.

A part is drawn always, and all with ``-m full``. Where that is a part of many that would take
hours, ``WIRETRACK_HOURS=1`` draws those.
"""

from __future__ import annotations

import multiprocessing
import os
from dataclasses import dataclass
from typing import TYPE_CHECKING

from tests.ringout.bundles import random_wires, with_random_fault
from tests.ringout.simulation import ring_out, wrong_matches

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from tests.ringout.simulation import Wires

BAD_CONTACT = 0.02
HOURS = os.environ.get("WIRETRACK_HOURS") == "1"


@dataclass(frozen=True)
class Outcome:
    """What one simulated ring-out came to."""

    seed: int
    fault: str | None  # the physical fault put in
    wrong: int  # matches that aren't so
    whole: bool  # every conductor identified
    found: int  # faults that the ring-out names
    walks: int


def sound_run(seed: int) -> Outcome:
    """Ring out a bundle of 2 to 40 conductors with good contacts and no fault."""
    wires = random_wires(seed, 2, 40)
    return _outcome(seed, wires, None)


def rough_run(seed: int) -> Outcome:
    """Ring out 3 to 40 conductors: one touch in 50 is a bad contact, odd seeds have a fault."""
    wires = random_wires(seed, 3, 40, bad_contact=BAD_CONTACT)
    return _outcome(seed, wires, with_random_fault(wires) if seed % 2 else None)


def _outcome(seed: int, wires: Wires, fault: str | None) -> Outcome:
    result = ring_out(wires)
    wrong = len(wrong_matches(wires, result))
    return Outcome(seed, fault, wrong, not result.unresolved, len(result.faults), result.walks)


def outcomes(run: Callable[[int], Outcome], seeds: Iterable[int]) -> list[Outcome]:
    """Run all seeds: over every processor, unless the test runner spreads the tests itself."""
    workers = os.cpu_count() or 1
    if workers == 1 or "PYTEST_XDIST_WORKER" in os.environ:
        return [run(seed) for seed in seeds]
    with multiprocessing.get_context("spawn").Pool(workers) as pool:
        return pool.map(run, seeds, chunksize=50)
