# SPDX-License-Identifier: MIT
"""A stage with something fitted: what each reading through a resistor, or a diode, says.

A diode over two look-alikes: the direction in which it conducts tells them apart. The two ends
are touched with the meter's leads both ways round, at the place of the diode first (that shows
whether this meter makes this diode conduct, and which way it was put on) and at the other place
then. Closed one way and open the other is proof; anything else isn't, and is said so.

The bounds are common practice, from memory: a diode range shows some 0.2 V to 0.8 V over a diode
and next to nothing over a wire; an ohms range may be too weak for any diode, and on some meters
its plus lead is the negative one. Using one meter the same way at both places makes that harmless.
"""

from __future__ import annotations

from abc import abstractmethod
from collections import Counter, defaultdict
from typing import TYPE_CHECKING, Literal

from wiretrack.ringout.bundle import other_place
from wiretrack.ringout.candidates import AnyStage
from wiretrack.ringout.masks import bits, mask_of, union
from wiretrack.ringout.ohms import OPEN_OHM, Range, reading_range

if TYPE_CHECKING:
    from collections.abc import Iterable

    from wiretrack.ringout.bundle import Bundle, Place
    from wiretrack.ringout.candidates import Candidates, Contacts
    from wiretrack.ringout.stage import Touch
    from wiretrack.ringout.steps import Fit, FitDiode

ASKED = 3  # so often is an end touched that reads open or odd
WIRE_VOLT = 0.1  # common practice: less than any diode drops
CLOSED_ASKED = 3  # so often is each way touched before no current either way is believed
OPEN_ASKED = 3  # so many open touches, at both places together, stand against a contact
OPEN_BRIEF = 2  # as many where nobody wants a search for contacts

Pair = tuple[int, int]
Flow = Literal["one way", "both ways", "neither way"]


class FittedStage(AnyStage):
    """Touches made at one place while something was fitted over ends at the other.

    `fitted` are all ends at the other place that something is fitted to, as bits.
    """

    fitted: int

    def __init__(self, at: Place, fit: Fit | FitDiode, groups: tuple[int, ...]) -> None:
        self.at, self.fit, self.groups = at, fit, groups
        self.absent = 0  # ends here that nobody can touch
        self.touches: list[Touch] = []
        self.pairs: dict[Pair, list[Touch]] = defaultdict(list)

    def add(self, touch: Touch) -> None:
        """Take in one touch."""
        self.touches.append(touch)
        self.pairs[touch.pair].append(touch)

    @abstractmethod
    def proven(self) -> int:
        """Return the ends here whose conductors a reading shows to be whole."""

    @abstractmethod
    def next_pair(self, found: Candidates) -> Pair | None:
        """Return the next two ends to touch; where polarity counts, plus goes on the first."""

    def silent(self) -> int:
        """Return the ends here that were touched often enough and only ever read open."""
        return 0

    @abstractmethod
    def odd(self) -> list[Touch]:
        """Return the readings that fit nothing, one per pair that never read otherwise."""


class ResistorStage(FittedStage):
    """Touches made at one place while resistors were fitted at the other.

    Each resistor belongs to an end, or to all ends joined to it; the common return is one more
    end, or a joined group, without a resistor.
    """

    fit: Fit

    def __init__(self, bundle: Bundle, at: Place, fit: Fit, groups: tuple[int, ...]) -> None:
        super().__init__(at, fit, groups)
        self.absent = bundle.absent[at]

        def group_of(name: str) -> int:
            end = bundle.index(other_place(at), name)
            return next((group for group in groups if group >> end & 1), 1 << end)

        self.common = group_of(fit.common)
        self.labels: list[tuple[int, tuple[float, ...]]] = [(self.common, ())]
        self.labels += [(group_of(one.end), (one.ohms,)) for one in fit.resistors]
        self.fitted = union(mask for mask, _ in self.labels)
        self._ranges: dict[Pair, Range] = {}
        self._read: dict[float, list[Pair]] = {}
        self._told: dict[float | None, list[Pair]] = {}
        for i, (_, first) in enumerate(self.labels):
            for j, (_, second) in enumerate(self.labels[:i]):
                self._ranges[j, i] = reading_range(bundle, (*second, *first))

    def possible(self, touch: Touch) -> list[Pair]:
        """Return the pairs of labels, as positions, that a reading fits."""
        ohms = touch.ohms
        if ohms is None:
            return []
        if ohms not in self._read:
            self._read[ohms] = [pair for pair, span in self._ranges.items() if ohms in span]
        return self._read[ohms]

    def _sides(self, touch: Touch) -> list[Pair]:
        """Return the ends, as bits, that either end of a touch may belong to by its reading."""
        if touch.ohms not in self._told:
            pairs = [(self.labels[i][0], self.labels[j][0]) for i, j in self.possible(touch)]
            self._told[touch.ohms] = [*pairs, *((two, one) for one, two in pairs)]
        return self._told[touch.ohms]

    def strike(self, found: Candidates, contacts: Contacts) -> bool | None:
        """Strike what the readings exclude; `None` if one of them can't be.

        Two conductors that touch read through both their resistors: what they read says nothing,
        and any reading may be theirs.
        """
        before = found.of[self.at].copy()
        touching = union(contacts.at(self.at))
        loose = union(contacts.at(other_place(self.at)))
        telling = [
            fitting[-1]
            for touches in self.pairs.values()
            if (fitting := [touch for touch in touches if self.possible(touch)])
        ]
        crowded = self._crowded(telling)
        for touch in telling:
            spoilt = touching & mask_of(touch.ends)
            if not spoilt and tuple(self.possible(touch)) not in crowded:
                if not self._strike_by(touch, found.of[self.at], loose):
                    return None
        if found.of[self.at] == before:
            return False
        found.agree(self.at)
        return True

    def _crowded(self, telling: list[Touch]) -> set[tuple[Pair, ...]]:
        """Return what more readings say than there are ends for: conductors must touch there."""
        said = Counter(tuple(self.possible(touch)) for touch in telling)
        return {
            pairs
            for pairs, times in said.items()
            if len(pairs) == 1
            and 0 in pairs[0]
            and times > self.labels[max(pairs[0])][0].bit_count()
        }

    def _strike_by(self, touch: Touch, rows: list[int], loose: int) -> bool:
        """Strike what one reading excludes; return False if it can't be."""
        first, second = touch.ends
        ones = twos = loose
        for one, two in self._sides(touch):
            if rows[first] & one and rows[second] & two:
                ones |= one
                twos |= two
        rows[first] &= ones
        rows[second] &= twos
        return bool(ones)

    def proven(self) -> int:
        """Return the ends here whose conductors a reading shows to be whole."""
        return union(mask_of(touch.ends) for touch in self.touches if self.possible(touch))

    def next_pair(self, found: Candidates) -> Pair | None:
        """Return the next two ends to touch: each that may be fitted, and the common return.

        Ends that are settled already are read too: a reading that doesn't agree is the sign of
        conductors that touch each other.
        """
        hub = self._hub(found)
        if hub is None:
            return None
        for end, mates in enumerate(found.of[self.at]):
            if end != hub and mates & self.fitted and self._wanting(hub, end):
                return hub, end
        return None

    def _hub(self, found: Candidates) -> int | None:
        """Return the end here to touch all others against: the common return, if it is known."""
        there = [(e, m) for e, m in enumerate(found.of[self.at]) if not self.absent >> e & 1]
        for end, mates in there:
            if mates & self.common and not mates & ~self.common:
                return end
        if self.common.bit_count() > 1:
            return None
        for touches in self.pairs.values():
            for touch in touches:
                if self.possible(touch):
                    return touch.ends[0]
        return next((end for end, mates in there if mates & self.common), None)

    def _wanting(self, hub: int, end: int) -> bool:
        touches = self.pairs.get((min(hub, end), max(hub, end)), [])
        return (
            not self.absent >> end & 1
            and len(touches) < ASKED
            and not any(map(self.possible, touches))
        )

    def silent(self) -> int:
        """Return the ends here that were touched often enough and only ever read open."""
        heard = self.proven()
        worn = union(
            mask_of(pair)
            for pair, touches in self.pairs.items()
            if len(touches) >= ASKED and all(touch.verdict == "open" for touch in touches)
        )
        return worn & ~heard if heard else 0

    def odd(self) -> list[Touch]:
        """Return the readings that fit no resistor, one per pair that never read otherwise."""
        return [
            touches[-1]
            for touches in self.pairs.values()
            if touches[-1].ohms is not None and not any(map(self.possible, touches))
        ]


def _conducts(touch: Touch) -> bool:
    return touch.verdict == "closed" if touch.ohms is None else touch.ohms < OPEN_OHM


class Directed:
    """The touches between two ends, sorted by the end that the plus lead was on."""

    def __init__(self, ends: Pair, touches: Iterable[Touch]) -> None:
        self.ends = ends
        self.closed = dict.fromkeys(ends, 0)
        self.open = dict.fromkeys(ends, 0)
        for touch in touches:
            if touch.plus is None:
                continue
            counts = self.closed if _conducts(touch) else self.open
            counts[touch.plus] += 1
            if touch.volts is not None and touch.volts < WIRE_VOLT:  # no diode in between
                self.closed[touch.ends[0]] += 1
                self.closed[touch.ends[1]] += 1

    @property
    def plus(self) -> int | None:
        """The end that takes the plus lead when current flows, if only one does."""
        ways = [end for end in self.ends if self.closed[end]]
        return ways[0] if len(ways) == 1 else None

    def blocked(self) -> int:
        """Return how many touches read open the other way round than the one that conducts."""
        return 0 if self.plus is None else self.open[opposite(self.ends, self.plus)]

    def flow(self, need: int) -> Flow | None:
        """Return what the touches show; `None` while more are wanted, `need` of them open."""
        if all(self.closed.values()):
            return "both ways"
        if self.plus is not None:
            return "one way" if self.blocked() >= need else None
        return "neither way" if min(self.open.values()) >= CLOSED_ASKED else None

    def next_pair(self) -> Pair:
        """Return the two ends to touch next, plus on the first."""
        if self.plus is not None:
            return opposite(self.ends, self.plus), self.plus
        plus = min(self.ends, key=lambda end: self.open[end])
        return plus, opposite(self.ends, plus)


def opposite(ends: Pair, end: int) -> int:
    """Return that of two ends which `end` isn't."""
    return ends[1] if end == ends[0] else ends[0]


class DiodeStage(FittedStage):
    """Touches made with a diode fitted: `checks` at its own place, `touches` at the other.

    `own` are the two ends that it is on, the anode first: plus on that should conduct.
    """

    fit: FitDiode

    def __init__(self, bundle: Bundle, fit: FitDiode) -> None:
        super().__init__(other_place(fit.at), fit, ())
        self.cathode = bundle.index(fit.at, fit.diode.cathode)
        self.anode = bundle.index(fit.at, fit.diode.anode)
        self.own: Pair = (self.anode, self.cathode)
        self.fitted = mask_of(self.own)
        self.checks: list[Touch] = []
        self._opens = OPEN_BRIEF if bundle.screen == "none" else OPEN_ASKED

    def add_check(self, touch: Touch) -> None:
        """Take in one touch of the two ends that the diode is on."""
        if set(touch.ends) == set(self.own):
            self.checks.append(touch)

    @property
    def checked(self) -> Directed:
        """The touches at the diode's own place."""
        return Directed(self.own, self.checks)

    def check(self) -> Flow | None:
        """Return what the touches at the diode's own place show; `None` while more are wanted."""
        return self.checked.flow(1)

    def next_check(self) -> Pair | None:
        """Return the two ends to touch at the diode's own place, plus on the first."""
        return self.checked.next_pair() if self.check() is None else None

    def told(self, pair: Pair) -> Directed:
        """Return the touches between two ends at the other place."""
        return Directed(pair, self.pairs.get(pair, ()))

    def flow(self, pair: Pair) -> Flow | None:
        """Return what the touches between two ends at the other place show."""
        return self.told(pair).flow(max(1, self._opens - self.checked.blocked()))

    @property
    def source(self) -> int | None:
        """The end that current enters the diode by, as its own place shows it.

        Where nothing was touched there, as with a helper, the band is taken at its word.
        """
        if not self.checks:
            return self.anode
        return self.checked.plus if self.check() == "one way" else None

    def strike(self, found: Candidates, contacts: Contacts) -> bool | None:
        """Strike what the readings exclude; `None` if one of them can't be."""
        changed = False
        bridged = any(one & self.fitted for one in contacts.at(other_place(self.at)))
        for pair in self.pairs:
            if bridged or any(one & mask_of(pair) for one in contacts.at(self.at)):
                continue  # a known contact may bridge the diode
            flow, plus = self.flow(pair), self.told(pair).plus
            if flow == "both ways":
                return None
            if flow == "one way" and plus is not None and self.source is not None:
                changed |= found.keep(self.at, plus, 1 << self.source)
                sink = opposite(self.own, self.source)
                changed |= found.keep(self.at, opposite(pair, plus), 1 << sink)
        return changed

    def proven(self) -> int:
        """Return the ends here whose conductors a reading shows to be whole."""
        return union(mask_of(pair) for pair in self.pairs if self.flow(pair) == "one way")

    def next_pair(self, found: Candidates) -> Pair | None:
        """Return the next two ends to touch here, plus on the first.

        They are the two that the diode must be between, where that is known.
        """
        rows = found.of[other_place(self.at)]
        mates = rows[self.anode] | rows[self.cathode]
        if mates.bit_count() != 2:
            return None
        one, two = bits(mates)
        return self.told((one, two)).next_pair() if self.flow((one, two)) is None else None

    def odd(self) -> list[Touch]:
        """Return the readings that fit no diode: it conducts one way only."""
        return [t[-1] for pair, t in self.pairs.items() if self.flow(pair) == "both ways"]
