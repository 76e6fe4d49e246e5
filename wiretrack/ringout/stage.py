# SPDX-License-Identifier: MIT
"""A stage: all touches made at one place while the same joins held at the other."""

from __future__ import annotations

from collections import Counter, defaultdict
from typing import TYPE_CHECKING

from wiretrack.late import dataclass
from wiretrack.ringout.bundle import other_place
from wiretrack.ringout.candidates import AnyStage
from wiretrack.ringout.masks import bits, lowest, merged, union
from wiretrack.ringout.packing import domains, mates

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from wiretrack.ringout.bundle import Place
    from wiretrack.ringout.candidates import Candidates, Contacts
    from wiretrack.ringout.ohms import Verdict

Homes = tuple[list[int], list[int], list[int]]
NEVER_CLOSED = 99  # an end that isn't there is as if it had read open to all others so often
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


class Stage(AnyStage):
    """What was touched at one place, and which ends there have read closed to each other.

    Ends that read closed form a component. Touches between whole bunches (with joins at this
    place too) are kept apart: they only ever count against a connection of the two bunches.
    """

    def __init__(self, at: Place, size: int, groups: tuple[int, ...], absent: int = 0) -> None:
        self.at, self.size, self.groups, self.absent = at, size, groups, absent
        self.touches: list[Touch] = []
        self.bunches: list[tuple[int, int, bool]] = []
        self.closed_bunches: list[tuple[int, int]] = []
        self.bunches_asked: Counter[frozenset[int]] = Counter()
        self.pairs: dict[tuple[int, int], list[Touch]] = defaultdict(list)
        self.dropped: set[tuple[int, int]] = set()
        self.closed_pairs: Counter[tuple[int, int]] = Counter()  # how often each read closed
        # Per end, those that read open to it: when they were last touched; in bunches.
        self._open_last, self._open_bunched = [0] * size, [0] * size
        self._times_closed = [0] * size
        # After how many touches, of which ends: all that read open to one of them, and to two.
        self._open_shared = (-1, 0, 0, 0)
        # What read open since the components are as they are; how much of it is counted, and what
        # it told, per list of components.
        self.news: list[tuple[int, int]] = []
        self._refuted: set[tuple[int, int]] = set()
        self._unexplained: tuple[int, list[tuple[int, int]]] = (0, [])  # after how many touches
        self.counted: dict[tuple[int, ...], tuple[int, list[list[int]]]] = {}
        self.late_touches = 0
        self.version = 0  # rises whenever the components change
        # What is joined at the other place, and what that makes with the ends alone there.
        self._apart: tuple[tuple[int, ...] | None, list[int]] = (None, [])
        self._parts: tuple[tuple[int, ...], list[int]] = ((), [])
        self._label: list[int] = []
        self._members: dict[int, int] = {}
        self._opens: dict[int, dict[int, int]] = {}
        self._opened: list[int] = []
        self._reset()

    @property
    def is_bare(self) -> bool:
        """Return whether nothing was joined at the other place: closed then means touching."""
        return not self.groups

    @property
    def heard(self) -> tuple[object, ...]:
        """Return what changes whenever the closed readings do, or what is left of them."""
        return self.version, bool(self.touches), *self.unexplained()

    def add(self, touch: Touch) -> None:
        """Take in one touch."""
        whole = self.size - sum(group.bit_count() - 1 for group in self.groups)
        if not touch.own and len(self._members) == whole:
            self.late_touches += 1
        self.touches.append(touch)
        if touch.own:
            left, right = self._bunch_sides(touch)
            self.bunches.append((left, right, touch.verdict == "closed"))
            self.bunches_asked[frozenset((left, right))] += 1
            if touch.verdict == "closed":
                self.closed_bunches.append((left, right))
            else:
                self.news.append((left, right))
                for side, other in ((left, right), (right, left)):
                    for end in bits(side):
                        self._open_bunched[end] |= other
            return
        self.pairs[touch.pair].append(touch)
        if touch.verdict == "closed":
            self.closed_pairs[touch.pair] += 1
        for one, two in (touch.pair, touch.pair[::-1]):
            others = self._open_last[one] & ~(1 << two)
            self._open_last[one] = others | (touch.verdict == "open") << two
            self._times_closed[one] += touch.verdict == "closed"
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
            stage._members[first] = members
            for end in others:
                stage._label[end] = first
                del stage._members[end]
        return stage

    def component(self, end: int) -> int:
        """Return all ends that have read closed to `end`, itself included."""
        return self._members[self._label[end]]

    def times_closed(self, end: int) -> int:
        """Return how many touches of an end have read closed."""
        return self._times_closed[end]

    def weakest(self, members: int, turn: int) -> int:
        """Return that one of `members` whose turn it is: those come first that read closed least.

        What hangs on one closed reading is in the wrong component, if any is.
        """
        ends = sorted(bits(members), key=lambda end: (self._times_closed[end], end))
        return ends[turn % len(ends)]

    def components(self, glue: Iterable[int] = ()) -> list[int]:
        """Return the components, lowest end first; `glue` names ends known to touch."""
        key = (self.version, *glue)
        if key != self._parts[0]:
            self._parts = key, merged(self._members.values(), glue)
        return self._parts[1].copy()

    def in_order(self, order: Iterable[int]) -> list[int]:
        """Return the components in the order in which `order` names an end of each first."""
        return list(dict.fromkeys(self._members[self._label[end]] for end in order))

    def closed(self, first: int, second: int) -> bool:
        """Return whether closed readings connect the two ends."""
        return self._label[first] == self._label[second]

    def opens(self, first: int, second: int) -> int:
        """Return how many direct touches between the two ends' components were open."""
        return self._opens[self._label[first]].get(self._label[second], 0)

    def opened(self, end: int) -> int:
        """Return the components that read open to that of `end`, as bits: one end of each."""
        return self._opened[self._label[end]]

    def times_opened(self, members: int) -> Iterator[tuple[int, int]]:
        """Yield an end of each component that read open to those of `members`, and how often."""
        for label in {self._label[end] for end in bits(members)}:
            yield from self._opens[label].items()

    def once_closed(self) -> list[tuple[int, int]]:
        """Return the bunches that read closed without a closed pair of theirs being found."""
        return [
            (left, right)
            for left, right in self.closed_bunches
            if not any(self.component(end) & right for end in bits(left))
        ]

    def unexplained(self) -> list[tuple[int, int]]:
        """Return the bunches once closed of which two ends may still be connected.

        Where each pair of theirs read open often enough since, the bunches themselves touched, or
        a contact comes and goes.
        """
        if self._unexplained[0] != len(self.touches):
            left = [cut for cut in self.once_closed() if not self._is_refuted(*cut)]
            self._unexplained = len(self.touches), left
        return self._unexplained[1]

    def _is_refuted(self, left: int, right: int) -> bool:
        """Return whether touches, of bunches too, say that no ends of two bunches connect."""
        if (left, right) in self._refuted:
            return True
        opened = [(one, two) for one, two, closed in self.bunches if not closed]
        ones, twos = ({self.component(end) for end in bits(side)} for side in (left, right))
        refuted = all(
            self.opens(lowest(a), lowest(b))
            + sum(bool((one & a and two & b) or (one & b and two & a)) for one, two in opened)
            >= REFUTING_TOUCHES
            for a in ones
            for b in twos
        )
        if refuted:  # it stays so while components do: open touches only add up
            self._refuted.add((left, right))
        return refuted

    def came_and_went(self) -> Iterator[Touch]:
        """Yield the last touch of each pair that read closed once and then open."""
        for pair in sorted(self.dropped):
            yield self.pairs[pair][-1]

    def closed_but_once(self) -> Iterator[tuple[int, int]]:
        """Yield the pairs that read closed once, and neither again nor twice open since."""
        for pair in self.pairs if self.closed_pairs else ():
            if pair not in self.dropped and self.closed_pairs[pair] == 1:
                yield pair

    def open_within(self) -> Iterator[Touch]:
        """Yield the last touch of each pair that reads open although other readings connect it."""
        label = self._label
        found = [
            pair
            for pair, touches in self.pairs.items()
            if label[pair[0]] == label[pair[1]] and touches[-1].verdict == "open"
        ]
        for pair in sorted(found):
            yield self.pairs[pair][-1]

    def read_open(self, members: int) -> int:
        """Return the ends that read open to an end of `members`."""
        return union(self._open_last[end] | self._open_bunched[end] for end in bits(members))

    def read_open_in_parts(self, one: int, two: int) -> tuple[int, int]:
        """Return the same for each of two parts of a component."""
        whole = one | two
        if self._open_shared[:2] != (len(self.touches), whole):
            once = twice = 0
            for end in bits(whole):
                opened = self._open_last[end] | self._open_bunched[end]
                twice |= once & opened
                once |= opened
            self._open_shared = len(self.touches), whole, once, twice
        *_, once, twice = self._open_shared
        found = []
        for part, other in ((one, two), (two, one)):
            is_lone = other.bit_count() == 1
            found.append(twice | once & ~self.read_open(other) if is_lone else self.read_open(part))
        return found[0], found[1]

    def asked(self, first: int, second: int) -> list[Touch]:
        """Return the direct touches between exactly these two ends."""
        return self.pairs.get((min(first, second), max(first, second)), [])

    def joined(self, found: Candidates, contacts: Contacts) -> list[int]:
        """Return what is connected at the other place: joins, and ends known to touch.

        Where a contact is known at the stage's own place only, all groups that it may bridge
        count as one.
        """
        there = other_place(self.at)
        if self._apart[0] is not self.groups:
            single = ((1 << len(found.of[there])) - 1) & ~union(self.groups)
            groups = [*self.groups, *(1 << end for end in bits(single))]
            self._apart = self.groups, merged(groups, ())
        glue = contacts.at(there)
        for contact in contacts.at(self.at):
            glue.append(union(found.of[self.at][end] for end in bits(contact)))
        return merged(self._apart[1], glue)

    def homes(self, found: Candidates, contacts: Contacts) -> Homes | None:
        """Return the components, the groups, and which of those each component may be, as bits.

        `None` if the components can't be placed at all.
        """
        groups = self.joined(found, contacts)
        components = self.components(contacts.sure[self.at])
        domain = domains(tuple(components), tuple(groups), tuple(found.of[self.at]))
        return None if domain is None else (components, groups, domain)

    def strike(self, found: Candidates, contacts: Contacts) -> bool | None:
        """Strike what the closed readings exclude; `None` if they can't be."""
        groups, components = self.joined(found, contacts), self.components(contacts.sure[self.at])
        rows = found.of[self.at]
        allowed = mates(tuple(components), tuple(groups), tuple(rows))
        if allowed is None:
            return None
        struck: dict[int, int] = {}
        for end, row in enumerate(rows):
            if row & ~allowed[end]:
                struck[allowed[end]] = struck.get(allowed[end], 0) | 1 << end
        for left, ends in struck.items():
            found.keep_all(self.at, ends, left)
        return bool(struck)

    def _reset(self) -> None:
        self.version += 1
        self.counted.clear()
        self.news.clear()
        self._refuted.clear()
        self._label = list(range(self.size))
        self._members = {end: 1 << end for end in range(self.size)}
        self._opens = {end: {} for end in range(self.size)}
        self._opened = [0] * self.size
        for gone in bits(self.absent):
            self._opens[gone] = {o: NEVER_CLOSED for o in range(self.size) if o != gone}
            for other in range(self.size):
                if other != gone:
                    self._opens[other][gone] = NEVER_CLOSED
                    self._opened[other] |= 1 << gone
                    self._opened[gone] |= 1 << other

    def _bunch_sides(self, touch: Touch) -> tuple[int, int]:
        one, two = (1 << end for end in touch.ends)
        for group in touch.own:
            one |= group if one & group else 0
            two |= group if two & group else 0
        return one, two

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
            self._opened[one] |= 1 << two
            self._opened[two] |= 1 << one
            self.news.append((1 << one, 1 << two))

    def _contradicts_itself(self, pair: tuple[int, int]) -> bool:
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
        self.counted.clear()
        self.news.clear()
        self._refuted.clear()
        moved = self._members.pop(two)
        self._members[one] |= moved
        for end in bits(moved):
            self._label[end] = one
        for third, count in self._opens.pop(two).items():
            del self._opens[third][two]
            self._opened[third] &= ~(1 << two)
            if third != one:
                self._opened[third] |= 1 << one
                self._opened[one] |= 1 << third
                self._opens[one][third] = self._opens[one].get(third, 0) + count
                self._opens[third][one] = self._opens[one][third]
