# SPDX-License-Identifier: MIT
"""How many walks, joins and touches a ring-out will take, before it begins.

Up to some dozens of conductors the numbers are the mean, and the most, over imagined arrangements
of a sound bundle. Above, they are scaled from a smaller bundle with the same shares of each colour,
and are good to some 15 %: by powers measured on one colour (joins of any size up to 200 conductors,
pairs and a resistor kit up to 40 and 100), and for a helper by what his touches are reckoned to be.
"""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import dataclass, field, replace
from itertools import permutations
from typing import TYPE_CHECKING

from wiretrack.ringout.answers import Done, Ohms
from wiretrack.ringout.bundle import (
    Bundle,
    FarEnd,
    NearEnd,
    Times,
    other_place,
)
from wiretrack.ringout.deductions import Deductions
from wiretrack.ringout.engine import Ringout
from wiretrack.ringout.fitting import MOST_ROUNDS
from wiretrack.ringout.masks import lowest
from wiretrack.ringout.ohms import usable
from wiretrack.ringout.probing import model_of
from wiretrack.ringout.results import Result
from wiretrack.ringout.rounds import fewest, rounds
from wiretrack.ringout.screening import OPEN_TOUCHES, next_cut
from wiretrack.ringout.stage import Stage, Touch
from wiretrack.ringout.steps import Fit, FitDiode, Join, Probe, Unjoin, Walk

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.ringout.answers import Answer
    from wiretrack.ringout.groupings import Model
    from wiretrack.ringout.steps import Action

_ALL = 4  # conductors; up to so many every arrangement is imagined


@dataclass(frozen=True)
class Forecast:
    """What a ring-out takes; `worst` holds if nothing is faulty and no contact is bad."""

    ALSO = ("minutes",)

    walks: int
    joins: int
    hands: int = field(metadata={"json": "ends_twisted"})
    expected: float = field(metadata={"json": "touches_expected"})
    worst: int = field(metadata={"json": "touches_worst"})
    screening: float = field(metadata={"json": "touches_for_contacts"})
    whole: bool = field(metadata={"json": "identifies_all"})
    times: Times = field(metadata={"json": None})
    about: bool = False  # whether the numbers are scaled from a smaller bundle

    @property
    def minutes(self) -> int:
        """How long it takes about, walks included."""
        return round(self.times.of(self.walks, self.hands, self.expected) / 60)


@dataclass(frozen=True)
class _Growth:
    """Up to how many conductors to imagine, how much, and how the numbers grow above."""

    limit: int
    effort: int  # conductors imagined in all
    touches: float  # powers of the number of conductors
    worst: float
    screening: float = 0.0


_JOINS = _Growth(limit=48, effort=120, touches=1.45, worst=1.6)
_PAIRS = _Growth(limit=18, effort=40, touches=1.85, worst=2.0, screening=2.0)
_KIT = _Growth(limit=40, effort=80, touches=1.0, worst=1.0)
_HELPER = _Growth(limit=16, effort=40, touches=1.0, worst=1.0)


def forecast(bundle: Bundle) -> Forecast:
    """Return what ringing out a bundle will take."""
    growth = _growth(bundle)
    if bundle.size <= growth.limit:
        return _imagined(bundle, growth.effort)
    small = _shrunk(bundle, growth.limit)
    found = _imagined(small, growth.effort)
    if growth is _HELPER:
        return _grown_with_helper(found, small, bundle)
    return _grown(found, growth, bundle.size / growth.limit)


def _growth(bundle: Bundle) -> _Growth:
    if bundle.crew == 2 and bundle.joins == "any":
        return _HELPER
    if bundle.resistors and len(usable(bundle)) ** MOST_ROUNDS >= max(class_sizes(bundle)):
        return _KIT
    return _PAIRS if bundle.joins == "pairs" else _JOINS


def class_sizes(bundle: Bundle) -> list[int]:
    """Return how many conductors look alike, colour by colour; all where colours aren't seen."""
    ends: Sequence[NearEnd | FarEnd] = (*bundle.near, *bundle.far)
    if not bundle.colours_agree or any(end.colour is None for end in ends):
        return [bundle.size]
    return list(Counter(end.colour for end in bundle.near).values())


def _imagined(bundle: Bundle, effort: int) -> Forecast:
    """Return the mean and the most over all arrangements if they are few, or imagined ones."""
    few = bundle.size <= _ALL
    seeds = range(max(2, min(24, effort // bundle.size)))
    worlds = _every_arrangement(bundle) if few else (_at_random(bundle, seed) for seed in seeds)
    runs = [_rung_out(world) for world in worlds]
    results, count = [run.result() for run in runs], len(runs)
    return Forecast(
        walks=max(result.walks for result in results),
        joins=round(sum(result.joins for result in results) / count),
        hands=round(sum(result.hands for result in results) / count),
        expected=round(sum(result.probes for result in results) / count, 1),
        worst=max(run.evidence.probes if few else _worst_run(run) for run in runs),
        screening=round(sum(result.screening_probes for result in results) / count, 1),
        whole=not any(result.unresolved for result in results),
        times=bundle.times,
    )


def _grown(small: Forecast, growth: _Growth, ratio: float) -> Forecast:
    screening = small.screening * ratio**growth.screening
    placing = (small.expected - small.screening) * ratio**growth.touches
    return replace(
        small,
        joins=small.joins,
        hands=round(small.hands * ratio),
        expected=round(placing + screening),
        worst=round(small.worst * ratio**growth.worst),
        screening=round(screening),
        about=True,
    )


def _grown_with_helper(found: Forecast, small: Bundle, large: Bundle) -> Forecast:
    """Return a forecast scaled by what a helper's joins are reckoned to take."""
    was, will = class_sizes(small), class_sizes(large)
    reckoned = [sum(fewest(count) + 1 for count in sizes) for sizes in (was, will)]
    more_rounds = rounds(max(will)) - rounds(max(was))
    screening = round(found.screening * large.size / small.size)
    return replace(
        found,
        joins=found.joins + more_rounds,
        hands=round(found.hands * large.size / small.size * rounds(max(will)) / rounds(max(was))),
        expected=round((found.expected - found.screening) * reckoned[1] / reckoned[0] + screening),
        worst=round(large.size * (rounds(max(will)) + 1.5) + screening),
        screening=screening,
        about=True,
    )


def _shrunk(bundle: Bundle, limit: int) -> Bundle:
    """Return a bundle of `limit` conductors with about the same share of each colour."""
    step = bundle.size / limit
    chosen = [bundle.near[int(i * step)] for i in range(limit)]
    shown = class_sizes(bundle) != [bundle.size] or None not in {e.colour for e in bundle.far}
    near = tuple(NearEnd(name=str(i), colour=end.colour) for i, end in enumerate(chosen))
    far = tuple(
        FarEnd(name=str(i), colour=end.colour if shown else None) for i, end in enumerate(chosen)
    )
    return replace(bundle, near=near, far=far)


def _worst_run(run: Ringout) -> int:
    evidence = run.evidence
    known = Deductions(evidence)
    total = sum(len(fitted.touches) for fitted in evidence.fitted.values())
    total += sum(len(stage.checks) for stage in known.diodes)
    for stage in evidence.stages.values():
        if stage.is_bare:
            total += len(stage.touches)
        else:
            model = model_of(known, stage)
            searched = known.bare_depth(other_place(stage.at))
            need = max(0, OPEN_TOUCHES - searched) if evidence.bundle.screen != "none" else 0
            join = model.the_join if evidence.bundle.crew == 2 else None
            total += _worst_placing(model) if join is None else _most_against(model, join)
            total += _worst_screening(stage, model, need, evidence.bundle.twist)
    return total


def _most_against(model: Model, join: int) -> int:
    """Return the most touches that finding all ends of a helper's join can take.

    Each end that may be in it is touched once against one that is. Where none is known to be,
    the first closed touch takes half as many, and few more, to find (the join holds half).
    """
    masks = [model.fitting(1 << end) for end in model.order]
    inside = masks.count(1 << join)
    open_to = sum(mask >> join & 1 for mask in masks) - inside
    return open_to + (inside - 1 if inside else open_to // 2 + 4)


def _worst_placing(model: Model) -> int:
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


def _worst_screening(stage: Stage, model: Model, need: int, twist: float) -> int:
    """Return the most touches against unnoticed contacts, when no open touch is there yet."""
    empty = Stage.holding(stage.at, stage.size, stage.groups, model.groups)
    count, held, parts = 0, 0, empty.components()
    while (cut := next_cut(empty, parts, need, held, twist=twist)) is not None:
        own = tuple(side for side in cut if side.bit_count() > 1)
        held = own[0] if own else 0
        empty.add(Touch(count, stage.at, (lowest(cut[0]), lowest(cut[1])), own, "open", None))
        count += 1
    return count


DIODE_OHM = 700.0  # any reading that isn't over-range stands for a diode that conducts


class Imagined:
    """A sound bundle in one arrangement, which answers every step.

    The conductors are those of `near` in its order; each comes out at the end of `far` in the
    same position.
    """

    def __init__(self, bundle: Bundle, near: Sequence[NearEnd], far: Sequence[FarEnd]) -> None:
        self.bundle = bundle
        self._wire: dict[tuple[str, str], int] = {}
        for place, ends in (("near", near), ("far", far)):
            names = [*(end.name for end in ends), *bundle.references]
            self._wire |= {(place, name): i for i, name in enumerate(names)}
        self._joins: dict[str, tuple[tuple[str, ...], ...]] = {"near": (), "far": ()}
        self._fits: list[Fit | FitDiode] = []
        self._net: list[int] = []
        self._connect()

    def answer(self, step: Action) -> Answer:
        """Return what would be read, or that the step is done."""
        if isinstance(step, Probe):
            one, two = (self._net[self._wire[step.at, name]] for name in step.between)
            plus = one if step.plus in (None, step.between[0]) else two
            return Ohms(0.0 if one == two else self._through(plus, two if plus == one else one))
        if isinstance(step, Fit | FitDiode):
            self._fits.append(step)
        elif not isinstance(step, Walk):
            self._joins[step.at] = _held_after(step, self._joins[step.at])
            self._fits = [fit for fit in self._fits if fit.at != step.at]
            self._connect()
        return Done()

    def _through(self, plus: int, minus: int) -> float | None:
        """Return what lies between two nets, in Ω; resistors all share one common return."""
        if not self._fits:
            return None
        fit = self._fits[-1]
        if isinstance(fit, FitDiode):
            ends = (fit.diode.anode, fit.diode.cathode)
            legs = [self._net[self._wire[fit.at, name]] for name in ends]
            return DIODE_OHM if [plus, minus] == legs else None
        values = {self._net[self._wire[fit.at, r.end]]: r.ohms for r in fit.resistors}
        values[self._net[self._wire[fit.at, fit.common]]] = 0.0
        return values[plus] + values[minus] if plus in values and minus in values else None

    def _connect(self) -> None:
        net = list(range(self.bundle.size + len(self.bundle.references)))
        for place, groups in self._joins.items():
            for group in groups:
                joined = {net[self._wire[place, name]] for name in group}
                net = [min(joined) if one in joined else one for one in net]
        self._net = net


def _held_after(step: Action, held: tuple[tuple[str, ...], ...]) -> tuple[tuple[str, ...], ...]:
    """Return the joins at a place once a join was made there or taken off."""
    if isinstance(step, Join):
        return step.groups
    if isinstance(step, Unjoin) and step.ends:
        return tuple(tuple(end for end in group if end not in step.ends) for group in held)
    return ()


def _at_random(bundle: Bundle, seed: int) -> Imagined:
    far = list(bundle.far)
    random.Random(seed).shuffle(far)
    near = sorted(bundle.near, key=lambda end: end.colour or "")
    return Imagined(bundle, near, sorted(far, key=lambda end: end.colour or ""))


def _every_arrangement(bundle: Bundle) -> list[Imagined]:
    """Return a sound bundle in every arrangement that colours allow."""
    return [
        Imagined(bundle, bundle.near, far)
        for far in permutations(bundle.far)
        if not bundle.colours_agree
        or all(
            None in (one.colour, two.colour) or one.colour == two.colour
            for one, two in zip(bundle.near, far, strict=True)
        )
    ]


def _rung_out(world: Imagined) -> Ringout:
    ringing = Ringout(world.bundle)
    while not isinstance(step := ringing.next_step(), Result):
        ringing.apply(step, world.answer(step))
    return ringing
