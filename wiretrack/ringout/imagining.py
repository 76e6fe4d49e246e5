# SPDX-License-Identifier: MIT
"""A sound bundle in a random arrangement, imagined to see what ringing it out takes."""

from __future__ import annotations

import random
from itertools import permutations
from typing import TYPE_CHECKING

from wiretrack.ringout.answers import Done, Ohms
from wiretrack.ringout.engine import Ringout
from wiretrack.ringout.results import Result
from wiretrack.ringout.steps import Fit, FitDiode, Join, Probe, Walk

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.ringout.action import Action
    from wiretrack.ringout.answers import Answer
    from wiretrack.ringout.bundle import Bundle, FarEnd, NearEnd

DIODE_OHM = 700.0  # any reading that isn't over-range stands for a diode that conducts


class Imagined:
    """A sound bundle in one arrangement, which answers every step.

    The conductors are those of `near` in its order; each comes out at the end of `far` in the
    same position.
    """

    def __init__(self, bundle: Bundle, near: Sequence[NearEnd], far: Sequence[FarEnd]) -> None:
        self.bundle = bundle
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
            self._joins[step.at] = step.groups if isinstance(step, Join) else ()
            self._fits = [fit for fit in self._fits if fit.at != step.at]
            self._connect()
        return Done()

    def _through(self, plus: int, minus: int) -> float | None:
        """Return what lies between two nets, in Ω; resistors all share one common return."""
        if not self._fits:
            return None
        fit = self._fits[-1]
        if isinstance(fit, FitDiode):
            legs = [self._net[self._wire[fit.at, name]] for name in (fit.anode, fit.cathode)]
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


def imagine(bundle: Bundle, seed: int) -> Ringout:
    """Return a finished ring-out of a sound bundle in a random arrangement."""
    far = list(bundle.far)
    random.Random(seed).shuffle(far)
    near = sorted(bundle.near, key=lambda end: end.colour or "")
    far.sort(key=lambda end: end.colour or "")
    return _finished(Imagined(bundle, near, far))


def imagine_all(bundle: Bundle) -> list[Ringout]:
    """Return a finished ring-out of a sound bundle in every arrangement that colours allow."""
    return [
        _finished(Imagined(bundle, bundle.near, far))
        for far in permutations(bundle.far)
        if not bundle.colours_agree
        or all(
            None in (one.colour, two.colour) or one.colour == two.colour
            for one, two in zip(bundle.near, far, strict=True)
        )
    ]


def _finished(world: Imagined) -> Ringout:
    ringing = Ringout(world.bundle)
    while not isinstance(step := ringing.next_step(), Result):
        ringing.apply(step, world.answer(step))
    return ringing
