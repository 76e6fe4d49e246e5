# SPDX-License-Identifier: MIT
"""Time planning for 200 conductors and each reading, beside a plain job done in the same run.

Processor time, so that other work does not count. The plain job sorts 100,000 random numbers, so
that a slow computer is told from a slow plan. Run by hand:
``python -m tests.benchmarks.bench_ringout [CONDUCTORS]``.
"""

from __future__ import annotations

import random
import sys
import time
from statistics import mean, median

from tests.ringout.bundles import arranged
from tests.ringout.simulation import Wires
from wiretrack.encoding import document
from wiretrack.ringout.engine import Ringout
from wiretrack.ringout.forecast import forecast
from wiretrack.ringout.results import Result
from wiretrack.ringout.steps import Probe


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
        times = reading_times_s(Wires(bundle, mate, rng=rng))
        print(f"{count} conductors, {len(colours)} colours, {len(times)} readings")
        rows = (
            ("first step", first),
            ("whole plan", plan),
            ("reading, median", median(times)),
            ("reading, mean", mean(times)),
            ("reading, longest", max(times)),
        )
        for what, seconds in rows:
            print(f"  {what:17} {seconds * 1e3:9.2f} ms = {seconds / unit:7.3f} plain jobs")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
