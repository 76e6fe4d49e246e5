# SPDX-License-Identifier: MIT
"""Simulated faults on random routes: the true wire differs from its record, and so do readings."""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, sqrt
from typing import TYPE_CHECKING

from wiretrack.electrical.faults.line import Input, Section, joined, part_of
from wiretrack.electrical.faults.locate import locate
from wiretrack.errors import BadInputError

if TYPE_CHECKING:
    from random import Random

    from wiretrack.electrical.faults.line import Line

SIZES = [("14 AWG", 7), ("12 AWG", 1), ("10 AWG", 19), ("6 mm2", 7), ("2.5 mm2", 1)]
LENGTH, TEMP_K, KIND, PAIR = 0.05, 3.0, 0.05, 0.01  # half-widths of what the record may be off
ACCURACY, STEP_OHM, ARM = 0.005, 0.001, 0.001  # of the meter, its last digit, and bridge arms


@dataclass
class World:
    """A recorded pair of conductors, and what they are in truth, section by section."""

    bad: Line
    good: Line
    true_m: list[float]
    true_bad: list[float]
    true_good: list[float]

    def split(self, ohms: list[float], distance_m: float) -> float:
        """The true resistance from the near end to a true distance."""
        total, left = 0.0, distance_m
        for length_m, resistance in zip(self.true_m, ohms, strict=True):
            share = min(max(left / length_m, 0.0), 1.0)
            total += share * resistance
            left -= length_m
        return total


def world(random: Random) -> World:
    """A random route of 1 to 6 raceways with two conductors of one kind, or of two."""
    count = random.randint(1, 6)
    kinds = [random.choice(SIZES) for _ in range(2)]
    if random.random() < 0.7:
        kinds[1] = kinds[0]
    factor = {kind: 1 + random.uniform(-KIND, KIND) for kind in kinds}
    own = [1 + random.uniform(-PAIR, PAIR) for _ in kinds]
    lines: list[list[Section]] = [[], []]
    true_m: list[float] = []
    true: list[list[float]] = [[], []]
    for n in range(count):
        length_m, temp_c = random.uniform(3, 80), random.uniform(-5, 45)
        longer, warmer = 1 + random.uniform(-LENGTH, LENGTH), random.uniform(-TEMP_K, TEMP_K)
        true_m.append(length_m * longer)
        for i, (size, strands) in enumerate(kinds):
            part, _ = part_of(f"T{i}", size, "Cu", strands, length_m, temp_c)
            lines[i].append(
                Section(f"B{n}", f"B{n + 1}", length_m, (part,), f"W{n}", LENGTH, TEMP_K)
            )
            ohms = part.ohms + part.ohms_per_k * warmer
            true[i].append(ohms * longer * factor[kinds[i]] * own[i])
    return World(tuple(lines[0]), tuple(lines[1]), true_m, true[0], true[1])


def read(random: Random, name: str, true: float) -> Input:
    """What a meter of 0.5 % + 2 digits shows, with its standard uncertainty."""
    width = true * ACCURACY + 2 * STEP_OHM
    shown = round((true + random.uniform(-width, width)) / STEP_OHM) * STEP_OHM
    width = shown * ACCURACY + 2 * STEP_OHM
    return Input(name, max(shown, 0.0), hypot(width / sqrt(3), STEP_OHM / sqrt(12)))


def arm(random: Random, name: str, nominal: float) -> Input:
    """What a decade box gives where it says `nominal`."""
    return Input(name, nominal * (1 + random.uniform(-ARM, ARM)), nominal * ARM / sqrt(3))


def is_within(random: Random, method: str) -> bool | None:
    """Simulate one fault; whether its true place lies within the stated uncertainty (k = 2)."""
    w = world(random)
    distance_m = random.uniform(0, sum(w.true_m))
    total_bad, total_good = sum(w.true_bad), sum(w.true_good)
    z_bad, z_good = w.split(w.true_bad, distance_m), w.split(w.true_good, distance_m)
    z, total = z_bad + z_good, total_bad + total_good
    fault = random.uniform(0, 0.1) if method == "one-end" else random.choice([0.0, 0.3, 5.0])
    if method == "blavier":
        fault = random.uniform(0.05, 3)
    line, good = joined(w.bad, w.good), w.good
    if method in ("murray", "varley", "capacitance"):
        line = w.bad
    if method == "one-end":
        readings = [read(random, "near", z + fault)]
    elif method == "both-ends":
        readings = [read(random, "near", z + fault), read(random, "far", total - z + fault)]
    elif method == "blavier":
        beyond = total - z
        parallel = fault * beyond / (fault + beyond) if beyond else 0.0
        readings = [read(random, "near", z + fault), read(random, "joined", z + parallel)]
    elif method == "capacitance":
        share = distance_m / sum(w.true_m)
        readings = [arm(random, "near", share * 1e-9), arm(random, "far", (1 - share) * 1e-9)]
    elif method == "murray":
        readings = [arm(random, "good_arm", total - z_bad), arm(random, "bad_arm", z_bad)]
    else:
        balance = read(random, "set", total - 2 * z_bad)
        if total - 2 * z_bad < 0:
            return None
        readings = [arm(random, "good_arm", 100.0), arm(random, "bad_arm", 100.0), balance]
    try:
        found = locate(method, line, {r.name: r for r in readings}, good)
    except BadInputError:
        return False
    return abs(found.distance.value - distance_m) <= found.distance.expanded
