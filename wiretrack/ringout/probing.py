# SPDX-License-Identifier: MIT
"""Which touch comes next in a stage: the one most likely to read closed.

Ends are placed one after the other. An end is touched against the components found so far,
likeliest first, until it reads closed or none is left; then it begins a component of its own.
Every end needs its closed reading anyway, so only open touches are wasted, and few are where
the known group sizes, the colours and what was excluded before say where an end can be.
"""

from __future__ import annotations

from functools import partial
from heapq import heappop, heapreplace
from typing import TYPE_CHECKING

from wiretrack.ringout.groupings import Likelihood, Model, Structures, worth
from wiretrack.ringout.masks import bits, lowest, mask_of, union
from wiretrack.ringout.packing import Packing, domains

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from wiretrack.ringout.matching import Matching
    from wiretrack.ringout.stage import Stage

SEARCH_TOUCHES = 4  # so often is a pair touched before a missing closed reading is believed

_NEVER = 1e-9  # a chance this small is no reason for a touch

Pair = tuple[int, int]


def _best_touch(masks: Sequence[tuple[int, int, int]], alive: int, proven: int) -> Pair | None:
    """Return the pair of ends worth most; `None` if no touch can read closed."""
    best: Pair | None = None
    most = (0.0, 0.0)
    for one, two, mask in masks:
        share = (alive & mask).bit_count() / alive.bit_count()
        if share:
            value = worth(share, (proven & mask).bit_count() / proven.bit_count())
            if (round(value, 9), share) > most:
                best, most = (one, two), (round(value, 9), share)
    return best


def model_of(known: Matching, stage: Stage) -> Model:
    """Return what is known of a stage before its own touches."""
    key = ("model", stage.at, stage.groups)
    state = (known.trust_colours, *known.heard(stage))
    return known.evidence.remember(key, state, lambda: Model(stage, known))


class Probing:
    """The order of touches in one stage, given what all other stages say."""

    def __init__(self, stage: Stage, known: Matching) -> None:
        self.stage = stage
        self.model = model_of(known, stage)
        self._fitting = self.model.fitting
        self._known = known
        if self.model.ordered[0] != stage.version:
            self.model.ordered = (stage.version, self._ordered())
            self.model.verdicts.clear()
        self.components = self.model.ordered[1]

    def _ordered(self) -> list[int]:
        if not self.model.glue:
            return self.stage.in_order(self.model.order)
        found, seat = self.stage.components(self.model.glue), self.model.seat
        return sorted(found, key=lambda members: min(seat[end] for end in bits(members)))

    @property
    def overfull(self) -> bool:
        """Whether more reads closed than the joins can explain."""
        return len(self.components) < len(self.model.groups) or self.verdict(
            "overfull", lambda: not all(map(self._fitting, self.components))
        )

    @property
    def is_searched(self) -> bool:
        """Whether nothing more can be found out here by touching."""
        return self.overfull or (not self.exhausted and self.next_pair() is None)

    @property
    def exhausted(self) -> bool:
        """Whether so much was touched here that readings must be wrong, or joins."""
        ends = self.stage.size
        return len(self.stage.touches) >= ends * ends // 2 + SEARCH_TOUCHES * ends

    def next_pair(self) -> Pair | None:
        """Return the next two ends to touch, or `None` when the stage is done."""
        is_complete = len(self.components) == len(self.model.groups)
        if is_complete or self.exhausted or (self._told_apart and self._known.need == 0):
            return None
        return self._most_telling() or self._place_next() or self._search_again()

    def _most_telling(self) -> Pair | None:
        """Return the touch that tells most, where all ways to group the ends can be listed."""
        ways = self.model.structures
        if ways is None:
            return None
        proven = self._proven_ways(ways)
        alive = proven
        masks: list[tuple[int, int, int]] = []
        seat = self.model.seat
        firsts = [lowest(members) for members in self.components]
        for i, one in enumerate(firsts):
            for two in firsts[:i]:
                mask = ways.together(seat[one], seat[two])
                if self.stage.opens(one, two):
                    alive &= ~mask
                elif proven & mask:
                    masks.append((two, one, mask))
        if not alive:
            return None
        found = ways.best_pair(alive, proven) if ways.few else None
        if found is not None:
            return self.model.order[found[0]], self.model.order[found[1]]
        return _best_touch(masks, alive, proven)

    def _proven_ways(self, ways: Structures) -> int:
        """Return the groupings, as bits, that fit the closed readings."""
        proven = ways.whole
        for members in self.components:
            first = self.model.seat[lowest(members)]
            for end in bits(members):
                if self.model.seat[end] != first:
                    proven &= ways.together(first, self.model.seat[end])
        return proven

    @property
    def _told_apart(self) -> bool:
        """Whether the closed readings leave one grouping, of conductors proven whole."""
        ways = self.model.structures
        if ways is None:
            return False
        proven = self._proven_ways(ways)
        alone = union(part for part in self.components if part.bit_count() == 1)
        if proven.bit_count() > 1 or alone & ~self.model.heard:
            return False
        order = self.model.order
        parts = [mask_of(order[seat] for seat in bits(one)) for one in ways.groups(proven)]
        return self._concluded([part for part in parts if part])

    def _concluded(self, parts: list[int]) -> bool:
        """Return whether all is concluded already that reading `parts` whole would show."""
        groups, rows = self.model.groups, self._known.found.of[self.stage.at]
        domain = domains(tuple(parts), tuple(groups), tuple(self.model.candidates))
        return domain is not None and not any(
            rows[end] & ~union(groups[g] for g in bits(possible))
            for part, possible in zip(parts, domain, strict=True)
            for end in bits(part)
        )

    def _opens(self, one: int, two: int) -> int:
        if not self.model.glue:
            return self.stage.opens(lowest(one), lowest(two))
        labels_one = {lowest(self.stage.component(end)) for end in bits(one)}
        labels_two = {lowest(self.stage.component(end)) for end in bits(two)}
        return sum(self.stage.opens(a, b) for a in labels_one for b in labels_two)

    def _place_next(self) -> Pair | None:
        anchors = self._settled_before()
        sure, done = True, union(anchors)
        growing = [anchor for anchor in anchors if self.model.growing(anchor)]
        for members in self.components:
            if members & done:
                continue
            untouched = self._untouched(members, growing)
            if untouched:
                likely = self._likelihood(anchors)
                chances = [round(likely.of(members, anchor), 12) for anchor in untouched]
                best = chances.index(max(chances))
                if chances[best] > _NEVER:
                    return lowest(untouched[best]), lowest(members)
            anchors.append(members)
            if self.model.growing(members):
                growing.append(members)
            sure = sure and not untouched
            if sure:
                firsts = [lowest(anchor) for anchor in anchors]
                self.model.settled = (len(self.stage.dropped), firsts)
        return None

    def _untouched(self, members: int, growing: Sequence[int]) -> list[int]:
        """Return what `members` may belong to of `growing`, and never read open to."""
        if not self.model.growing(members):
            return []
        ends = bits(members) if self.model.glue else (lowest(members),)
        opened = union(self.stage.opened(end) for end in ends)
        return [one for one in growing if not one & opened and self._fitting(members | one)]

    def _settled_before(self) -> list[int]:
        """Return the components that were settled at the last look, as they are now.

        What was settled stays so: components only grow, and open touches only add up.
        """
        state, ends = self.model.settled
        if state != len(self.stage.dropped):
            return []
        of = {end: members for members in self.components for end in bits(members)}
        return list(dict.fromkeys(of[end] for end in ends))

    def _likelihood(self, anchors: list[int]) -> Likelihood:
        kept = self.model.likelihood
        if kept is None or kept[0] != anchors:
            now = list(anchors)
            kept = self.model.likelihood = (now, Likelihood(self.model, now))
        return kept[1]

    def _search_again(self) -> Pair | None:
        """Return a pair to touch once more: somewhere a closed reading is missing."""
        waiting = self._waiting()
        while waiting:
            opens, size, number, two, one = waiting[0]
            now = self._opens(one, two)
            if now >= SEARCH_TOUCHES or not self.verdict(
                one | two, partial(self._may_be_one, one, two)
            ):
                heappop(waiting)
            elif now > opens:
                heapreplace(waiting, (now, size, number, two, one))
            else:
                return lowest(two), lowest(one)
        return None

    def _waiting(self) -> list[tuple[int, int, int, int, int]]:
        """Return the pairs of components that may be one, those least often touched first.

        The list is kept while the components stay as they are: touches only come to more.
        """
        if self.model.waiting[0] != self.stage.version:
            growing = [one for one in self.components if self.model.growing(one)]
            pairs = (
                (self._opens(one, two), min(one.bit_count(), two.bit_count()), two, one)
                for number, one in enumerate(growing)
                for two in growing[:number]
                if self._fitting(one | two)
            )
            found = [(opens, size, i, two, one) for i, (opens, size, two, one) in enumerate(pairs)]
            self.model.waiting = (self.stage.version, sorted(found))
        return self.model.waiting[1]

    def _may_be_one(self, one: int, two: int) -> bool:
        """Return whether all components can still be placed with these two being one."""
        merged = [members for members in self.components if members not in (one, two)]
        merged.append(one | two)
        allowed = [self._fitting(members) for members in merged]
        sizes = [members.bit_count() for members in merged]
        return all(allowed) and Packing(sizes, self.model.room, allowed).possible()

    @property
    def contradictory(self) -> bool:
        """Whether the components can't be placed into the groups at all."""
        parts = self.components, self.model.groups, self.model.candidates
        return self.verdict("contradictory", lambda: domains(*map(tuple, parts)) is None)

    def verdict(self, name: object, judge: Callable[[], bool]) -> bool:
        """Return what `judge` says of the components as they are; ask it but once."""
        if name not in self.model.verdicts:
            self.model.verdicts[name] = judge()
        return self.model.verdicts[name]
