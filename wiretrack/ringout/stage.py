# SPDX-License-Identifier: MIT
"""A stage: all touches made at one place while the same joins held at the other.

A path through two conductors of an installation reads a few ohms; a path that isn't there reads
over-range. What lies between (moisture, a coil, a lamp) proves nothing. The bounds are
common practice, from memory: continuity sounders respond below some 50 Ω, and insulation
worth the name is above 1 MΩ.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from wiretrack.ringout.masks import bits, merged

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from wiretrack.ringout.bundle import Bundle, Place

REFUTING_TOUCHES = 4  # so many open touches of a pair stand against one closed one of two bunches
UNCLEAR_ASKED = 2  # an unclear reading is asked again; the second one counts as "not closed"


@dataclass(frozen=True)
class Touch:
    """One reading: between two ends of one place, while `own` held at that place."""

    index: int
    at: Place
    ends: tuple[int, int]
    own: tuple[int, ...]
    verdict: Verdict
    ohms: float | None
    plus: int | None = None  # the end that the plus lead was on, where that counted
    volts: float | None = None  # what the meter's diode range showed

    @property
    def pair(self) -> tuple[int, int]:
        """Return the two ends, the lower first."""
        first, second = self.ends
        return (first, second) if first < second else (second, first)


class Stage:
    """What was touched at one place, and which ends there have read closed to each other.

    `groups` are the joins at the other place, as bits over its ends. Ends that read closed
    form a component. Touches between whole bunches (with joins at this place too) are kept
    apart: they only ever count as evidence that nothing connects the two bunches.
    """

    def __init__(self, at: Place, size: int, groups: tuple[int, ...]) -> None:
        self.at, self.size, self.groups = at, size, groups
        self.touches: list[Touch] = []
        self.bunches: list[tuple[int, int, bool]] = []
        self.pairs: dict[tuple[int, int], list[Touch]] = defaultdict(list)
        self.dropped: set[tuple[int, int]] = set()
        self.late_touches = 0
        self.version = 0  # rises whenever the components change
        self._label: list[int] = []
        self._members: dict[int, int] = {}
        self._opens: dict[int, dict[int, int]] = {}
        self._reset()

    @property
    def is_bare(self) -> bool:
        """Return whether nothing was joined at the other place: closed then means touching."""
        return not self.groups

    @property
    def heard(self) -> tuple[int, int, bool]:
        """Return what changes whenever the closed readings do."""
        return self.version, sum(closed for _, _, closed in self.bunches), bool(self.touches)

    def add(self, touch: Touch) -> None:
        """Take in one touch."""
        whole = self.size - sum(group.bit_count() - 1 for group in self.groups)
        if not touch.own and len(self._members) == whole:
            self.late_touches += 1
        self.touches.append(touch)
        if touch.own:
            self.bunches.append((*self._bunch_sides(touch), touch.verdict == "closed"))
            return
        self.pairs[touch.pair].append(touch)
        self._take(touch)
        if self._contradicts_itself(touch.pair):
            self.dropped.add(touch.pair)
            self._reset()
            for earlier in self.touches:
                if not earlier.own:
                    self._take(earlier)

    @classmethod
    def holding(cls, at: Place, size: int, groups: Iterable[int], sets: Iterable[int]) -> Stage:
        """Return a stage in which just the ends of each set have read closed to each other."""
        stage = cls(at, size, tuple(group for group in groups if group))
        for members in sets:
            first, *others = bits(members)
            for end in others:
                stage._unite(stage._label[first], stage._label[end])
        return stage

    def component(self, end: int) -> int:
        """Return all ends that have read closed to `end`, itself included."""
        return self._members[self._label[end]]

    def components(self, glue: Iterable[int] = ()) -> list[int]:
        """Return the components, lowest end first; `glue` names ends known to touch."""
        return merged(self._members.values(), glue)

    def in_order(self, order: Iterable[int]) -> list[int]:
        """Return the components in the order in which `order` names an end of each first."""
        return list(dict.fromkeys(self._members[self._label[end]] for end in order))

    def closed(self, first: int, second: int) -> bool:
        """Return whether closed readings connect the two ends."""
        return self._label[first] == self._label[second]

    def opens(self, first: int, second: int) -> int:
        """Return how many direct touches between the two ends' components were open."""
        return self._opens[self._label[first]].get(self._label[second], 0)

    def evidence(self, first: int, second: int) -> int:
        """Return how many touches say that the components of the two ends don't connect."""
        one, two = self.component(first), self.component(second)
        count = self.opens(first, second)
        for left, right, closed in self.bunches:
            crossing = (left & one and right & two) or (left & two and right & one)
            if crossing and not closed:
                count += 1
        return count

    def once_closed(self) -> list[tuple[int, int]]:
        """Return the bunches that read closed without a closed pair of theirs being found."""
        return [
            (left, right)
            for left, right, closed in self.bunches
            if closed and not any(self.closed(a, b) for a in bits(left) for b in bits(right))
        ]

    def unexplained(self) -> list[tuple[int, int]]:
        """Return the bunches once closed of which two ends may still be connected.

        Where each pair of theirs read open often enough since, the bunches themselves touched, or
        a contact comes and goes.
        """
        return [
            (left, right)
            for left, right in self.once_closed()
            if not all(
                self.evidence(a, b) >= REFUTING_TOUCHES for a in bits(left) for b in bits(right)
            )
        ]

    def asked(self, first: int, second: int) -> list[Touch]:
        """Return the direct touches between exactly these two ends."""
        return self.pairs.get((min(first, second), max(first, second)), [])

    def open_pairs(self) -> Iterator[tuple[int, int, int]]:
        """Yield an end of one component, one of another, and the open touches between them."""
        for one, others in self._opens.items():
            for two, count in others.items():
                if one < two:
                    yield one, two, count

    def _reset(self) -> None:
        self.version += 1
        self._label = list(range(self.size))
        self._members = {end: 1 << end for end in range(self.size)}
        self._opens = {end: {} for end in range(self.size)}

    def _bunch_sides(self, touch: Touch) -> tuple[int, int]:
        sides = [1 << end for end in touch.ends]
        for group in touch.own:
            sides = [side | group if side & group else side for side in sides]
        return sides[0], sides[1]

    def _take(self, touch: Touch) -> None:
        first, second = touch.pair
        one, two = self._label[first], self._label[second]
        if touch.verdict == "closed":
            if touch.pair not in self.dropped and one != two:
                self._unite(one, two)
            return
        if touch.verdict == "unclear" and self._unclear_before(touch) + 1 < UNCLEAR_ASKED:
            return
        if one != two:
            self._opens[one][two] = self._opens[one].get(two, 0) + 1
            self._opens[two][one] = self._opens[two].get(one, 0) + 1

    def _contradicts_itself(self, pair: tuple[int, int]) -> bool:
        """Return whether a pair read closed once and then, asked again, open twice."""
        verdicts = [touch.verdict for touch in self.pairs[pair]]
        once = verdicts.count("closed") == 1 and pair not in self.dropped
        return once and verdicts[-2:] == ["open", "open"]

    def _unclear_before(self, touch: Touch) -> int:
        earlier = self.pairs[touch.pair]
        return sum(t.verdict == "unclear" and t.index < touch.index for t in earlier)

    def _unite(self, one: int, two: int) -> None:
        if self._members[one].bit_count() < self._members[two].bit_count():
            one, two = two, one
        self.version += 1
        moved = self._members.pop(two)
        self._members[one] |= moved
        for end in bits(moved):
            self._label[end] = one
        for third, count in self._opens.pop(two).items():
            del self._opens[third][two]
            if third != one:
                self._opens[one][third] = self._opens[one].get(third, 0) + count
                self._opens[third][one] = self._opens[one][third]


Verdict = Literal["closed", "open", "unclear"]

CLOSED_OHM = 50.0  # common practice
OPEN_OHM = 1e6  # common practice
LONG_PATH_FACTOR = 3.0  # common practice: room for poor twists on a path that is long anyway


def closed_limit(bundle: Bundle) -> float:
    """Return the highest reading that counts as closed, in Ω.

    50 Ω, or three times the longest loop that is expected (plus the leads) if that is more;
    both common practice. A bundle's own `closed_below_ohm` goes first.
    """
    if bundle.closed_below_ohm is not None:
        return bundle.closed_below_ohm
    known = sorted(end.expected_ohm for end in bundle.near if end.expected_ohm is not None)
    loop = sum(known[-2:]) * LONG_PATH_FACTOR + (bundle.leads_ohm or 0.0)
    return max(CLOSED_OHM, loop)


def judge(ohms: float | None, limit_ohm: float) -> Verdict:
    """Return what a reading says about its path; `None` is over-range.

    >>> judge(0.43, 50.0), judge(None, 50.0), judge(4700.0, 50.0)
    ('closed', 'open', 'unclear')
    """
    if ohms is None or ohms >= max(OPEN_OHM, limit_ohm):
        return "open"
    return "closed" if ohms <= limit_ohm else "unclear"
