# SPDX-License-Identifier: MIT
"""A stage with something fitted: what each reading through a resistor, or a diode, says."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections import Counter, defaultdict
from typing import TYPE_CHECKING

from wiretrack.ringout.bundle import other_place
from wiretrack.ringout.masks import union
from wiretrack.ringout.resistors import Range, reading_range

if TYPE_CHECKING:
    from wiretrack.ringout.bundle import Bundle, Place
    from wiretrack.ringout.candidates import Candidates, Contacts
    from wiretrack.ringout.stage import Touch
    from wiretrack.ringout.steps import Fit, FitDiode

ASKED = 3  # so often is an end touched that reads open or odd

Pair = tuple[int, int]


class FittedStage(ABC):
    """Touches made at one place while something was fitted over ends at the other."""

    def __init__(self, at: Place, fit: Fit | FitDiode, groups: tuple[int, ...]) -> None:
        self.at, self.fit, self.groups = at, fit, groups
        self.touches: list[Touch] = []
        self.pairs: dict[Pair, list[Touch]] = defaultdict(list)

    def add(self, touch: Touch) -> None:
        """Take in one touch."""
        self.touches.append(touch)
        self.pairs[touch.pair].append(touch)

    @property
    @abstractmethod
    def fitted(self) -> int:
        """Return all ends at the other place that something is fitted to."""

    @abstractmethod
    def strike(self, found: Candidates, contacts: Contacts) -> bool | None:
        """Strike what the readings exclude; `None` if one of them can't be."""

    @abstractmethod
    def proven(self) -> int:
        """Return the ends here whose conductors a reading shows to be whole."""

    @abstractmethod
    def next_pair(self, found: Candidates) -> Pair | None:
        """Return the next two ends to touch; where polarity counts, plus goes on the first."""

    @abstractmethod
    def silent(self) -> int:
        """Return the ends here that were touched often enough and only ever read open."""

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
        there = other_place(at)
        self.common = self._group(bundle.index(there, fit.common))
        self.labels: list[tuple[int, tuple[float, ...]]] = [(self.common, ())]
        self.labels += [
            (self._group(bundle.index(there, one.end)), (one.ohms,)) for one in fit.resistors
        ]
        self._ranges: dict[Pair, Range] = {}
        self._read: dict[float, list[Pair]] = {}
        for i, (_, first) in enumerate(self.labels):
            for j, (_, second) in enumerate(self.labels[:i]):
                self._ranges[j, i] = reading_range(bundle, (*second, *first))

    def _group(self, end: int) -> int:
        return next((group for group in self.groups if group >> end & 1), 1 << end)

    @property
    def fitted(self) -> int:
        """Return all ends at the other place that a resistor or the common return is on."""
        return union(mask for mask, _ in self.labels)

    def possible(self, touch: Touch) -> list[Pair]:
        """Return the pairs of labels, as positions, that a reading fits."""
        if touch.ohms is None:
            return []
        ohms = touch.ohms
        if ohms not in self._read:
            self._read[ohms] = [pair for pair, span in self._ranges.items() if ohms in span]
        return self._read[ohms]

    def strike(self, found: Candidates, contacts: Contacts) -> bool | None:
        """Strike what the readings exclude; `None` if one of them can't be.

        Two conductors that touch read through both their resistors: what they read says nothing,
        and any reading may be theirs.
        """
        changed = False
        touching = union(contacts.at(self.at))
        loose = union(contacts.at(other_place(self.at)))
        telling = [
            fitting[-1]
            for touches in self.pairs.values()
            if (fitting := [touch for touch in touches if self.possible(touch)])
        ]
        crowded = self._crowded(telling)
        for touch in telling:
            spoilt = touching & (1 << touch.ends[0] | 1 << touch.ends[1])
            if not spoilt and tuple(self.possible(touch)) not in crowded:
                one = self._strike_by(touch, found, loose)
                if one is None:
                    return None
                changed |= one
        return changed

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

    def _strike_by(self, touch: Touch, found: Candidates, loose: int) -> bool | None:
        first, second = touch.ends
        ones = twos = loose
        for i, j in self.possible(touch):
            for a, b in ((i, j), (j, i)):
                one, two = self.labels[a][0], self.labels[b][0]
                if found.of[self.at][first] & one and found.of[self.at][second] & two:
                    ones |= one
                    twos |= two
        if not ones:
            return None
        changed = found.keep(self.at, first, ones)
        return found.keep(self.at, second, twos) or changed

    def proven(self) -> int:
        """Return the ends here whose conductors a reading shows to be whole."""
        return union(
            1 << end
            for touches in self.pairs.values()
            for touch in touches
            if self.possible(touch)
            for end in touch.ends
        )

    def next_pair(self, found: Candidates) -> Pair | None:
        """Return the next two ends to touch: each that may be fitted, and the common return.

        Ends that are settled already are read too: a reading that doesn't agree is the sign of
        conductors that touch each other.
        """
        here = found.of[self.at]
        hub = self._hub(found)
        if hub is None:
            return None
        for end, mates in enumerate(here):
            if end != hub and mates & self.fitted and self._wanting(hub, end):
                return hub, end
        return None

    def _hub(self, found: Candidates) -> int | None:
        """Return the end here to touch all others against: the common return, if it is known."""
        for end, mates in enumerate(found.of[self.at]):
            if mates & self.common and not mates & ~self.common:
                return end
        if self.common.bit_count() > 1:
            return None
        for touches in self.pairs.values():
            for touch in touches:
                if self.possible(touch):
                    return touch.ends[0]
        return next((e for e, mates in enumerate(found.of[self.at]) if mates & self.common), None)

    def _wanting(self, hub: int, end: int) -> bool:
        touches = self.pairs.get((min(hub, end), max(hub, end)), [])
        return len(touches) < ASKED and not any(self.possible(touch) for touch in touches)

    def silent(self) -> int:
        """Return the ends here that were touched often enough and only ever read open."""
        heard = self.proven()
        worn = union(
            1 << end
            for pair, touches in self.pairs.items()
            if len(touches) >= ASKED and all(touch.verdict == "open" for touch in touches)
            for end in pair
        )
        return worn & ~heard if heard else 0

    def odd(self) -> list[Touch]:
        """Return the readings that fit no resistor, one per pair that never read otherwise."""
        return [
            touches[-1]
            for touches in self.pairs.values()
            if touches[-1].ohms is not None and not any(self.possible(t) for t in touches)
        ]
