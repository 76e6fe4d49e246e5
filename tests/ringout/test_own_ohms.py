# SPDX-License-Identifier: MIT
"""Look-alikes of different sizes: their own resistance tells them apart, in one walk.

Resistances are IEC 60228:2004, Table 2 (class 2, plain copper, ohm per km at 20 °C).
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from itertools import permutations
from math import exp, pi, sqrt
from typing import Any

import pytest

from tests.drawing import parts
from tests.ringout.simulation import Wires, ring_out
from wiretrack.ringout.bundle import Bundle, FarEnd, NearEnd
from wiretrack.ringout.certainty import BY_OHMS
from wiretrack.ringout.own_ohms import OWN_SHARE, TWIST_OHM, weigh

OHM_PER_KM = {1.5: 12.1, 2.5: 7.41, 4: 4.61, 6: 3.08, 10: 1.83, 16: 1.15}
LEADS_OHM = 0.2


@dataclass
class Sized(Wires):
    """A bundle whose wires have their own ohms: longer or warmer than recorded, and uneven."""

    true_ohm: dict[str, float] = field(default_factory=dict)  # by near tag
    buzzer: bool = False

    def answer(self, step: dict[str, Any]) -> dict[str, Any]:
        answer = super().answer(step)
        if isinstance(answer.get("ohms"), float):
            if self.buzzer:
                return {"closed": True}
            tags = {far: near for near, far in self.mate.items()}
            ohms = sum(self.true_ohm[tags.get(name, name)] for name in step["between"])
            ohms += LEADS_OHM + self.rng.uniform(0, 0.04)
            answer["ohms"] = round(ohms * self.rng.uniform(0.995, 1.005), 2)
        return answer


def sized(seed: int, sizes: tuple[float, ...], length_m: float, **more: Any) -> Sized:
    rng = random.Random(seed)
    factor, marks = rng.uniform(0.9, 1.1), rng.sample(range(1, len(sizes) + 1), len(sizes))
    expected = [OHM_PER_KM[size] * length_m / 1000 for size in sizes]
    near = tuple(
        NearEnd(name=f"T{i}", colour="BK", expected_ohm=ohms) for i, ohms in enumerate(expected, 1)
    )
    far = tuple(FarEnd(name=str(i + 1), colour="BK") for i in range(len(sizes)))
    true = {
        end.name: ohms * factor * rng.gauss(1, 0.01)
        for end, ohms in zip(near, expected, strict=True)
    }
    mate = {end.name: str(mark) for end, mark in zip(near, marks, strict=True)}
    bundle = Bundle(near=near, far=far, leads_ohm=LEADS_OHM, ohms=True)
    return Sized(bundle, mate, rng=rng, true_ohm=true, **more)


@pytest.mark.parametrize("seeds", parts(20, 400, 100), ids=str)
def test_three_sizes_are_told_apart_in_one_walk_and_none_is_called_sure(seeds: range) -> None:
    one_walk = 0
    for seed in seeds:
        wires = sized(seed, (1.5, 4, 16), 120)
        result = ring_out(wires)
        assert {m.near: m.far for m in result.matches} == wires.mate, seed
        if result.walks == 1:
            one_walk += 1
            assert {m.why for m in result.matches} <= {BY_OHMS}, seed
            assert not any(m.sure for m in result.matches)
    assert one_walk >= 0.9 * len(seeds)


@pytest.mark.parametrize(
    "more",
    [{"sizes": (4, 4, 4), "length_m": 120}, {"sizes": (4, 6, 10), "length_m": 5},
     {"sizes": (1.5, 4, 16), "length_m": 120, "buzzer": True}],
)  # fmt: skip
def test_where_ohms_are_alike_too_small_or_not_read_they_decide_nothing(
    more: dict[str, Any],
) -> None:
    for seed in range(6):
        wires = sized(seed, **more)
        result = ring_out(wires)
        assert {m.near: m.far for m in result.matches} == wires.mate
        assert result.walks == 2 + wires.buzzer  # all were twisted together in vain
        assert BY_OHMS not in {m.why for m in result.matches}


def test_no_wrong_match_is_sure_where_the_record_has_two_sizes_the_wrong_way_round() -> None:
    for seed in range(20):
        wires = sized(seed, (1.5, 4, 16), 120)
        one, two = wires.rng.sample(sorted(wires.true_ohm), 2)
        ohms = wires.true_ohm
        ohms[one], ohms[two] = ohms[two], ohms[one]
        result = ring_out(wires)
        assert not [m for m in result.matches if m.sure and wires.mate[m.near] != m.far], seed


def test_the_weights_are_those_of_bayes_rule_by_enumeration() -> None:
    """One world, leads known: the product of normal densities, worked out again here."""
    ohms, readings = (0.5, 1.2, 2.0), [(0, 1, 1.9), (1, 2, 2.8)]
    ways = list(permutations(range(3)))
    found = weigh(ohms, ways, readings, 0.2)
    shares = []
    for way in ways:
        share = 0.0
        for step in range(-4, 5):
            factor, density = 1 + 0.2 * step / 4, 1.0
            for one, other, read in readings:
                a, b = factor * ohms[way[one]], factor * ohms[way[other]]
                mean = a + b + 0.2
                spread = sqrt((0.02 * mean) ** 2 + (OWN_SHARE * a) ** 2 + (OWN_SHARE * b) ** 2
                              + TWIST_OHM**2)  # fmt: skip
                density *= exp(-(((read - mean) / spread) ** 2) / 2) / (spread * sqrt(2 * pi))
            share += density
        shares.append(share)
    assert [one / sum(found) for one in found] == pytest.approx(
        [one / sum(shares) for one in shares], abs=1e-12
    )
