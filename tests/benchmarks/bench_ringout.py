# SPDX-License-Identifier: MIT
"""Time planning for 200 conductors and each reading, beside a plain job done in the same run.

Processor time, so that other work does not count. The plain job sorts 100,000 random numbers, so
that a slow computer is told from a slow plan. Beside that, the search for contacts and the joins
are compared with what the literature has for such work (all from memory, originals not seen):

- R. Dorfman, "The detection of defective members of large populations", Annals of Mathematical
  Statistics 14 (1943): pools of one size, the members of each bad pool tested singly;
- F. K. Hwang, "A method for detecting all defective members in a population by group testing",
  Journal of the American Statistical Association 67 (1972): generalised binary splitting;
- R. L. Graham, "On partitions of a finite set", Journal of Combinatorial Theory 1 (1966):
  look-alikes told apart by the sizes of two groups.

A test there asks of any set whether anything in it is bad; here a set has to be twisted first, so
the hands count. Run by hand: ``python -m tests.benchmarks.bench_ringout [CONDUCTORS]``.
"""

from __future__ import annotations

import random
import sys
import time
from itertools import combinations
from math import comb, log2
from statistics import mean, median
from typing import Any

from tests.ringout.bundles import arranged
from tests.ringout.simulation import Wires, ring_out
from tests.ringout.test_never_dearer import (
    TOUCH,
    TWIST,
    WALK,
    by_hand_s,
    by_sizes,
    planned,
    sizes_of,
)
from tests.ringout.test_screening import search
from wiretrack.encoding import document
from wiretrack.ringout.engine import Ringout
from wiretrack.ringout.forecast import forecast
from wiretrack.ringout.results import Result
from wiretrack.ringout.steps import Probe

FAULTS: dict[str, dict[str, Any]] = {
    "sound": {},
    "two open": {"broken": {"T4", "T9"}},
    "two touching": {"shorted": [("T3", "T7")]},
}


def plain_job_s() -> float:
    """Return the least of five times that sorting 100,000 random numbers takes. [s]"""
    times = []
    for seed in range(5):
        rng = random.Random(seed)
        numbers = [rng.random() for _ in range(100_000)]
        start = time.process_time()
        numbers.sort()
        times.append(time.process_time() - start)
    return min(times)


def reading_times_s(wires: Wires) -> list[float]:
    """Return how long each reading took, from the answer to the next step. [s]"""
    ringing = Ringout(wires.bundle)
    times = []
    while not isinstance(step := ringing.next_step(), Result):
        answer = wires.answer(document(step))
        start = time.process_time()
        ringing.apply(step, answer)
        ringing.next_step()
        if isinstance(step, Probe):
            times.append(time.process_time() - start)
    return times


def dorfman_tests(count: int, share: float) -> float:
    """Return the mean tests for `count` members of which a `share` is bad, with the best pools."""
    sizes = range(2, count + 1)
    return count * min(1 / size + 1 - (1 - share) ** size for size in sizes)


def hwang_tests(count: int, bad: int) -> int:
    """Return the most tests of generalised binary splitting for at most so many bad members."""
    if count <= 2 * bad - 2:
        return count
    left = count - bad + 1
    power = int(log2(left / bad))
    more = (left - (1 << power) * bad) // (1 << power)
    return (power + 2) * bad + more - 1


def compare_with_the_literature() -> None:
    """Print the search for one contact and the joins of look-alikes beside published methods."""
    print("one contact: tests of the literature; ours in touches, and ends twisted or taken out")
    print("   n   bound  Dorfman  Hwang | sound: touches hands | found: touches hands")
    for count in (8, 16, 30, 60):
        pairs = random.Random(count).sample(list(combinations(range(count), 2)), 20)
        found = [search(count, 1, pair)[1:] for pair in pairs]
        hands, touches = (mean(row) for row in zip(*found, strict=True))
        _, still, asked = search(count, 1)
        print(
            f"{count:4} {log2(comb(count, 2)):7.1f} {dorfman_tests(count, 2 / count):8.1f}"
            f" {hwang_tests(count, 2):6} | {asked:14} {still:5} | {touches:14.1f} {hands:5.1f}"
        )
    print("look-alikes, no search for contacts: groups by size as by hand (Graham), and ours")
    for count in (6, 10, 16, 30, 60):
        walks, twists, touches = by_sizes([count])
        order = random.Random(count).sample(range(count), count)
        bundle, mate = arranged(["BK"] * count, order, screen="none")
        result = ring_out(Wires(bundle, mate))
        ours = WALK * result.walks + TWIST * result.hands + TOUCH * result.probes
        theirs = WALK * walks + TWIST * twists + TOUCH * touches
        print(
            f"{count:4}  by size {theirs / 60:5.1f} min ({twists:.0f} hands, {touches:.0f} touches)"
            f"  ours {ours / 60:5.1f} min ({result.hands} hands, {result.probes} touches)"
        )


def compare_by_hand() -> None:
    """Print what plans take beside the cheapest method by hand, with and without a reference."""
    print("minutes: by hand, planned, planned with the raceway as a reference (one arrangement)")
    for gear in ("meter", "kit", "helper"):
        for colours in (1, 2, 3, 0):
            told = []
            for count in (4, 8, 12, 20, 30, 45, 60):
                sizes = sizes_of(count, colours)
                ours = (planned(sizes, gear, references, 1) for references in ((), ("raceway",)))
                times = (by_hand_s(sizes, gear, 0), *ours)
                told.append(f"{count}: " + " ".join(f"{one / 60:.1f}" for one in times))
            print(f"{gear:7} {colours or 'all'} colours  " + " | ".join(told))


def main(count: int = 200) -> None:
    """Print the times and their ratios to the plain job."""
    unit = plain_job_s()
    print(f"plain job: {unit * 1e3:.1f} ms")
    for colours in (("BK",), ("BK", "RD", "BU")):
        rng = random.Random(count)
        worn = [colours[i % len(colours)] for i in range(count)]
        bundle, mate = arranged(worn, rng.sample(range(count), count))
        start = time.process_time()
        Ringout(bundle).next_step()
        first = time.process_time() - start
        start = time.process_time()
        forecast(bundle)
        plan = time.process_time() - start
        rows = [("first step", first), ("whole plan", plan)]
        for what, faults in FAULTS.items():
            times = reading_times_s(Wires(bundle, mate, rng=rng, **faults))
            rows += [
                (f"a reading of {len(times)}, {what}: {name}", figure(times))
                for name, figure in (("median", median), ("mean", mean), ("longest", max))
            ]
        print(f"{count} conductors, {len(colours)} colours")
        for told, seconds in rows:
            print(f"  {told:44} {seconds * 1e3:9.2f} ms = {seconds / unit:7.3f} plain jobs")


if __name__ == "__main__":
    compare_with_the_literature()
    compare_by_hand()
    main(*map(int, sys.argv[1:]))
