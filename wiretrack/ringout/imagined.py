# SPDX-License-Identifier: MIT
"""A sound bundle imagined, which answers every step: to see what a plan takes."""

from __future__ import annotations

import random
from collections import Counter
from itertools import permutations
from typing import TYPE_CHECKING

from wiretrack.ringout.answers import Done, Ohms
from wiretrack.ringout.fitting import MOST_ROUNDS
from wiretrack.ringout.ohms import usable
from wiretrack.ringout.steps import Fit, FitDiode, Join, Probe, Unjoin, Walk

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
        self._wire: dict[tuple[str, str], int] = {}
        for place, ends in (("near", near), ("far", far)):
            names = [*(end.name for end in ends), *bundle.references]
            self._wire |= {(place, name): i for i, name in enumerate(names)}
        self._joins: dict[str, tuple[tuple[str, ...], ...]] = {"near": (), "far": ()}
        self._fits: list[Fit | FitDiode] = []
        self._net: list[int] = []
        self._ohms = [end.expected_ohm or 0.0 for end in near]
        self._connect()

    def answer(self, step: Action) -> Answer:
        """Return what would be read, or that the step is done."""
        if isinstance(step, Probe):
            one, two = (self._net[self._wire[step.at, name]] for name in step.between)
            plus = one if step.plus in (None, step.between[0]) else two
            closed = sum(self._own_ohm(step.at, name) for name in step.between)
            return Ohms(closed if one == two else self._through(plus, two if plus == one else one))
        if isinstance(step, Fit | FitDiode):
            self._fits.append(step)
        elif not isinstance(step, Walk):
            self._joins[step.at] = _held_after(step, self._joins[step.at])
            self._fits = [fit for fit in self._fits if fit.at != step.at]
            self._connect()
        return Done()

    def _own_ohm(self, place: str, name: str) -> float:
        wire = self._wire[place, name]
        return self._ohms[wire] if wire < len(self._ohms) else 0.0

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


def at_random(bundle: Bundle, seed: int) -> Imagined:
    """Return a sound bundle in an arrangement that colours allow, the same one for each seed."""
    far = list(bundle.far)
    random.Random(seed).shuffle(far)
    near = sorted(bundle.near, key=lambda end: end.colour or "")
    return Imagined(bundle, near, sorted(far, key=lambda end: end.colour or ""))


def every_arrangement(bundle: Bundle) -> list[Imagined]:
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


def class_sizes(bundle: Bundle) -> list[int]:
    """Return how many conductors look alike, colour by colour; all where colours aren't seen."""
    ends: Sequence[NearEnd | FarEnd] = (*bundle.near, *bundle.far)
    if not bundle.colours_agree or any(end.colour is None for end in ends):
        return [bundle.size]
    return list(Counter(end.colour for end in bundle.near).values())


def enough_resistors(bundle: Bundle) -> bool:
    """Return whether there are resistors enough to tell all look-alikes apart in two rounds."""
    return bool(len(usable(bundle)) ** MOST_ROUNDS >= max(class_sizes(bundle)))
