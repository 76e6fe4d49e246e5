# SPDX-License-Identifier: MIT
"""A diode over two look-alikes: the direction in which it conducts tells them apart.

The two ends are touched with the meter's leads both ways round, at the place of the diode first
(that shows whether this meter makes this diode conduct, and which way it was put on) and at the
other place then. Closed one way and open the other is proof; anything else isn't, and is said so.

The bounds are common practice, from memory: a diode range shows some 0.2 V to 0.8 V over a diode
and next to nothing over a wire; an ohms range may be too weak for any diode, and on some meters
its plus lead is the negative one. Using one meter the same way at both places makes that harmless.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from wiretrack.ringout.bundle import other_place
from wiretrack.ringout.fitted import FittedStage
from wiretrack.ringout.stage import OPEN_OHM

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from wiretrack.ringout.bundle import Bundle
    from wiretrack.ringout.candidates import Candidates, Contacts
    from wiretrack.ringout.fitted import Pair
    from wiretrack.ringout.stage import Touch
    from wiretrack.ringout.steps import FitDiode

WIRE_VOLT = 0.1  # common practice: less than any diode drops
CLOSED_ASKED = 3  # so often is each way touched before no current either way is believed
OPEN_ASKED = 3  # so many open touches, at both places together, stand against a contact
OPEN_BRIEF = 2  # as many where nobody wants a search for contacts

Flow = Literal["one way", "both ways", "neither way"]


def conducts(touch: Touch) -> bool:
    """Return whether current flowed."""
    if touch.ohms is not None:
        return touch.ohms < OPEN_OHM
    return touch.verdict == "closed"


def through_wire(touch: Touch) -> bool:
    """Return whether the diode range showed a connection with no diode in it."""
    return touch.volts is not None and touch.volts < WIRE_VOLT


class Directed:
    """The touches between two ends, sorted by the end that the plus lead was on."""

    def __init__(self, ends: Pair, touches: Iterable[Touch]) -> None:
        self.ends = ends
        self.closed = dict.fromkeys(ends, 0)
        self.open = dict.fromkeys(ends, 0)
        for touch in touches:
            if touch.plus is None:
                continue
            counts = self.closed if conducts(touch) else self.open
            counts[touch.plus] += 1
            if through_wire(touch):
                self.closed[touch.ends[0]] += 1
                self.closed[touch.ends[1]] += 1

    @property
    def plus(self) -> int | None:
        """Return the end that takes the plus lead when current flows, if only one does."""
        ways = [end for end in self.ends if self.closed[end]]
        return ways[0] if len(ways) == 1 else None

    def blocked(self) -> int:
        """Return how many touches read open the other way round than the one that conducts."""
        return 0 if self.plus is None else self.open[_other(self.ends, self.plus)]

    def flow(self, need: int) -> Flow | None:
        """Return what the touches show; `None` while more are wanted, `need` of them open."""
        if all(self.closed.values()):
            return "both ways"
        if self.plus is not None:
            return "one way" if self.blocked() >= need else None
        silent = min(self.open.values()) >= CLOSED_ASKED
        return "neither way" if silent else None

    def next_plus(self) -> int:
        """Return the end to put the plus lead on next."""
        if self.plus is not None:
            return _other(self.ends, self.plus)
        return min(self.ends, key=lambda end: self.open[end])


def _other(ends: Pair, end: int) -> int:
    return ends[1] if end == ends[0] else ends[0]


class DiodeStage(FittedStage):
    """Touches made with a diode fitted: `checks` at its own place, `touches` at the other."""

    fit: FitDiode

    def __init__(self, bundle: Bundle, fit: FitDiode) -> None:
        super().__init__(other_place(fit.at), fit, ())
        self.cathode = bundle.index(fit.at, fit.cathode)
        self.anode = bundle.index(fit.at, fit.anode)
        self.checks: list[Touch] = []
        self._opens = OPEN_BRIEF if bundle.screen == "none" else OPEN_ASKED

    def add_check(self, touch: Touch) -> None:
        """Take in one touch of the two ends that the diode is on."""
        if set(touch.ends) == set(self.own):
            self.checks.append(touch)

    @property
    def own(self) -> Pair:
        """Return the two ends that the diode is on; plus on the first should conduct."""
        return self.anode, self.cathode

    @property
    def fitted(self) -> int:
        """Return the two ends that the diode is on, as bits."""
        return 1 << self.anode | 1 << self.cathode

    @property
    def checked(self) -> Directed:
        """Return the touches at the diode's own place."""
        return Directed(self.own, self.checks)

    def check(self) -> Flow | None:
        """Return what the touches at the diode's own place show; `None` while more are wanted."""
        return self.checked.flow(1)

    def next_check(self) -> Pair | None:
        """Return the two ends to touch at the diode's own place, plus on the first."""
        if self.check() is not None:
            return None
        plus = self.checked.next_plus()
        return plus, _other(self.own, plus)

    def told(self, pair: Pair) -> Directed:
        """Return the touches between two ends at the other place."""
        return Directed(pair, self.pairs.get(pair, ()))

    def flow(self, pair: Pair) -> Flow | None:
        """Return what the touches between two ends at the other place show."""
        return self.told(pair).flow(max(1, self._opens - self.checked.blocked()))

    @property
    def source(self) -> int | None:
        """Return the end that current enters the diode by, as its own place shows it.

        Where nothing was touched there, as with a helper, the band is taken at its word.
        """
        if not self.checks:
            return self.anode
        return self.checked.plus if self.check() == "one way" else None

    def strike(self, found: Candidates, contacts: Contacts) -> bool | None:
        """Strike what the readings exclude; `None` if one of them can't be."""
        changed = False
        for pair in self.pairs:
            if self._touching(pair, contacts):
                continue
            flow, plus = self.flow(pair), self.told(pair).plus
            if flow == "both ways":
                return None
            if flow == "one way" and plus is not None and self.source is not None:
                changed |= found.keep(self.at, plus, 1 << self.source)
                sink = _other(self.own, self.source)
                changed |= found.keep(self.at, _other(pair, plus), 1 << sink)
        return changed

    def _touching(self, pair: Pair, contacts: Contacts) -> bool:
        """Return whether a known contact may bridge the diode."""
        here = 1 << pair[0] | 1 << pair[1]
        return any(one & here for one in contacts.at(self.at)) or any(
            one & self.fitted for one in contacts.at(other_place(self.at))
        )

    def proven(self) -> int:
        """Return the ends here whose conductors a reading shows to be whole."""
        whole = 0
        for pair in self.pairs:
            if self.flow(pair) == "one way":
                whole |= 1 << pair[0] | 1 << pair[1]
        return whole

    def pair_in(self, found: Candidates) -> Pair | None:
        """Return the two ends here that the diode must be between, where that is known."""
        rows = found.of[other_place(self.at)]
        mates = rows[self.anode] | rows[self.cathode]
        if mates.bit_count() != 2:
            return None
        first = (mates & -mates).bit_length() - 1
        return first, mates.bit_length() - 1

    def next_pair(self, found: Candidates) -> Pair | None:
        """Return the next two ends to touch here, plus on the first."""
        pair = self.pair_in(found)
        if pair is None or self.flow(pair) is not None:
            return None
        plus = self.told(pair).next_plus()
        return plus, _other(pair, plus)

    def silent(self) -> int:
        """Return no end: without current it can be either conductor, or the diode."""
        return 0

    def odd(self) -> list[Touch]:
        """Return the readings that fit no diode: it conducts one way only."""
        return [t[-1] for pair, t in self.pairs.items() if self.flow(pair) == "both ways"]


def of_diodes(stages: Sequence[FittedStage]) -> list[DiodeStage]:
    """Return those of the stages that had a diode fitted."""
    return [stage for stage in stages if isinstance(stage, DiodeStage)]
