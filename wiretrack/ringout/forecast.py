# SPDX-License-Identifier: MIT
"""How many walks, joins and touches a ring-out will take, before it begins.

The joins follow from the bundle. The expected touches are the mean over imagined arrangements
of a sound bundle; above 100 conductors they are scaled from 100 with the power 1.42, measured
on bundles of up to 200. The most touches count every component that has room, for every end.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from wiretrack.ringout.bundle import Bundle, FarEnd, NearEnd, other_place
from wiretrack.ringout.engine import Ringout
from wiretrack.ringout.knowledge import OPEN_TOUCHES, Knowledge
from wiretrack.ringout.masks import bits, lowest
from wiretrack.ringout.screening import next_cut
from wiretrack.ringout.stage import Stage, Touch
from wiretrack.ringout.steps import Done, Fit, Join, Ohms, Probe, Result, Walk

if TYPE_CHECKING:
    from wiretrack.ringout.probing import Model
    from wiretrack.ringout.steps import Action, Answer

LARGEST = 100  # conductors of an imagined bundle; above, the touches are scaled
GROWTH = 1.42
_EFFORT = 240  # conductors imagined in all


@dataclass(frozen=True)
class Forecast:
    """What a ring-out takes; `worst` holds if nothing is faulty and no contact is bad."""

    walks: int
    joins: int
    expected: float
    worst: int
    screening: float
    whole: bool  # whether every conductor is identified


class Imagined:
    """A sound bundle in one arrangement, which answers every step."""

    def __init__(self, bundle: Bundle, rng: random.Random) -> None:
        self.bundle = bundle
        far = list(bundle.far)
        rng.shuffle(far)
        near = sorted(bundle.near, key=lambda end: end.colour or "")
        far.sort(key=lambda end: end.colour or "")
        self._wire = {("near", end.name): i for i, end in enumerate(near)}
        self._wire.update({("far", end.name): i for i, end in enumerate(far)})
        self._wire.update(
            {
                (p, n): bundle.size + i
                for p in ("near", "far")
                for i, n in enumerate(bundle.references)
            }
        )
        self._joins: dict[str, tuple[tuple[str, ...], ...]] = {"near": (), "far": ()}
        self._fits: list[Fit] = []
        self._net: list[int] = []
        self._connect()

    def answer(self, step: Action) -> Answer:
        """Return what would be read, or that the step is done."""
        if isinstance(step, Probe):
            one, two = (self._net[self._wire[step.at, name]] for name in step.between)
            return Ohms(0.0 if one == two else self._through_resistors(one, two))
        if isinstance(step, Fit):
            self._fits.append(step)
        elif not isinstance(step, Walk):
            self._joins[step.at] = step.groups if isinstance(step, Join) else ()
            self._fits = [fit for fit in self._fits if fit.at != step.at]
            self._connect()
        return Done()

    def _through_resistors(self, one: int, two: int) -> float | None:
        """Return the resistors between two nets, in Ω, all of which share one common return."""
        if not self._fits:
            return None
        fit = self._fits[-1]
        values = {self._net[self._wire[fit.at, r.end]]: r.ohms for r in fit.resistors}
        values[self._net[self._wire[fit.at, fit.common]]] = 0.0
        return values[one] + values[two] if one in values and two in values else None

    def _connect(self) -> None:
        net = list(range(self.bundle.size + len(self.bundle.references)))
        for place, groups in self._joins.items():
            for group in groups:
                joined = {net[self._wire[place, name]] for name in group}
                net = [min(joined) if one in joined else one for one in net]
        self._net = net


def imagine(bundle: Bundle, seed: int) -> Ringout:
    """Return a finished ring-out of a sound bundle in a random arrangement."""
    ringing = Ringout(bundle)
    world = Imagined(bundle, random.Random(seed))
    while not isinstance(step := ringing.next_step(), Result):
        ringing.apply(step, world.answer(step))
    return ringing


def forecast(bundle: Bundle) -> Forecast:
    """Return what ringing out a bundle will take."""
    scale = 1.0
    imagined = bundle
    if bundle.size > LARGEST:
        scale = (bundle.size / LARGEST) ** GROWTH
        imagined = _shrunk(bundle)
    runs = [imagine(imagined, seed) for seed in range(max(1, _EFFORT // imagined.size // 2))]
    results = [run.result() for run in runs]
    count = len(results)
    return Forecast(
        walks=max(result.walks for result in results),
        joins=round(sum(result.joins for result in results) / count),
        expected=round(scale * sum(result.probes for result in results) / count, 1),
        worst=round(scale * max(_worst_run(run) for run in runs)),
        screening=round(sum(result.screening_probes for result in results) / count, 1),
        whole=not any(result.unresolved for result in results),
    )


def _shrunk(bundle: Bundle) -> Bundle:
    """Return a bundle of `LARGEST` conductors with about the same share of each colour."""
    step = bundle.size / LARGEST
    chosen = [bundle.near[int(i * step)] for i in range(LARGEST)]
    near = tuple(NearEnd(name=str(i), colour=end.colour) for i, end in enumerate(chosen))
    far = tuple(FarEnd(name=str(i), colour=end.colour) for i, end in enumerate(chosen))
    return replace(bundle, near=near, far=far)


def _worst_run(run: Ringout) -> int:
    """Return the most touches that a run with these joins can take."""
    facts = run.facts
    known = Knowledge(facts)
    total = 0
    total += sum(len(fitted.touches) for fitted in facts.fitted.values())
    for stage in facts.stages.values():
        if stage.is_bare:
            total += len(stage.touches)
        else:
            model = known.model(stage)
            need = max(0, OPEN_TOUCHES - known.bare_depth(other_place(stage.at)))
            total += worst_placing(model) + _worst_screening(stage, model, need)
    return total


def worst_placing(model: Model) -> int:
    """Return the most touches that finding the groups of a stage can take."""
    total = 0
    met: set[int] = set()
    for kind, count in enumerate(model.totals):
        reach = {index for index, _ in model.present[kind]}
        largest = max((cap for _, cap in model.present[kind]), default=1)
        if largest > 1:
            total += sum(min(placed + len(met), len(met | reach)) for placed in range(count))
        else:
            joined = len(reach & met)
            total += (count - joined) * len(met) + sum(len(met) - i for i in range(joined))
        met |= reach
    return total


def _worst_screening(stage: Stage, model: Model, need: int) -> int:
    """Return the most touches against unnoticed contacts, when no open touch is there yet."""
    empty = Stage(stage.at, stage.size, stage.groups)
    for group in model.groups:
        for end in bits(group):
            _touch(empty, lowest(group), end, closed=True)
    width = 2 if _only_pairs(stage) else len(model.groups)
    count = 0
    while (cut := next_cut(empty, empty.components(), need, width)) is not None:
        own = tuple(sorted(side for side in cut if side.bit_count() > 1))
        empty.add(Touch(count, stage.at, (lowest(cut[0]), lowest(cut[1])), own, "open", None))
        count += 1
    return count


def _only_pairs(stage: Stage) -> bool:
    return all(group.bit_count() == 2 for group in stage.groups) and len(stage.groups) > 2


def _touch(stage: Stage, first: int, second: int, *, closed: bool) -> None:
    if first != second:
        verdict: Any = "closed" if closed else "open"
        stage.add(Touch(0, stage.at, (first, second), (), verdict, None))
