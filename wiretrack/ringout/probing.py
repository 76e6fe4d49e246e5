# SPDX-License-Identifier: MIT
"""Which touch comes next in a stage: the one most likely to read closed.

Ends are placed one after the other. An end is touched against the components found so far,
likeliest first, until it reads closed or none is left; then it begins a component of its own.
Every end needs its closed reading anyway, so only open touches are wasted, and few are where
the known group sizes, the colours and what was excluded before say where an end can be.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.ringout.candidates import effective_groups
from wiretrack.ringout.masks import bits, lowest
from wiretrack.ringout.packing import Packing, domains

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.ringout.knowledge import Knowledge
    from wiretrack.ringout.stage import Stage

SEARCH_TOUCHES = 2  # so often is a pair touched before a missing closed reading is believed

Pair = tuple[int, int]


class Model:
    """What is known of a stage before its own touches: who may be in which group."""

    def __init__(self, stage: Stage, known: Knowledge) -> None:
        found = known.without(stage)
        self.candidates = found.of[stage.at]
        self.groups = effective_groups(stage, found, known.contacts)
        self.glue = known.contacts[stage.at]
        self.room = [group.bit_count() for group in self.groups]
        counts: dict[int, int] = {}
        for mask in self.candidates:
            counts[mask] = counts.get(mask, 0) + 1
        ranked = sorted(counts, key=lambda mask: (-counts[mask], mask))
        index = {mask: rank for rank, mask in enumerate(ranked)}
        self.kind = [index[mask] for mask in self.candidates]
        self.caps = [[(mask & group).bit_count() for group in self.groups] for mask in ranked]
        order = sorted(range(len(self.candidates)), key=lambda end: (self.kind[end], end))
        self.rank = {end: place for place, end in enumerate(order)}
        self._with_room = _at_least(self.room)
        self._with_cap = [_at_least(caps) for caps in self.caps]
        self._fits: dict[int, int] = {}
        self._counts: dict[int, dict[int, int]] = {}

    def counts(self, members: int) -> dict[int, int]:
        """Return how many of `members` are of each kind of end."""
        found = self._counts.get(members)
        if found is None:
            found = {}
            for end in bits(members):
                found[self.kind[end]] = found.get(self.kind[end], 0) + 1
            self._counts[members] = found
        return found

    def fitting(self, members: int) -> int:
        """Return the groups, as bits, that have room for all of `members`."""
        fit = self._fits.get(members)
        if fit is None:
            fit = _reach(self._with_room, members.bit_count())
            for kind, n in self.counts(members).items():
                fit &= _reach(self._with_cap[kind], n)
            self._fits[members] = fit
        return fit


def _at_least(amounts: Sequence[int]) -> list[int]:
    """Return, per number, the positions of the amounts that reach it, as bits."""
    top = max(amounts, default=0)
    return [sum(1 << i for i, one in enumerate(amounts) if one >= n) for n in range(top + 1)]


def _reach(table: Sequence[int], amount: int) -> int:
    return table[amount] if amount < len(table) else 0


class Probing:
    """The order of touches in one stage, given what all other stages say."""

    def __init__(self, stage: Stage, known: Knowledge) -> None:
        self.stage = stage
        self.model = known.model(stage)
        self.groups, self.candidates = self.model.groups, self.model.candidates
        self.glue = self.model.glue
        rank = self.model.rank
        found = stage.components(self.glue)
        self.components = sorted(found, key=lambda members: min(rank[end] for end in bits(members)))

    def _fitting(self, members: int) -> int:
        return self.model.fitting(members)

    @property
    def overfull(self) -> bool:
        """Return whether more reads closed than the joins can explain."""
        if len(self.components) < len(self.groups):
            return True
        return any(not self._fitting(members) for members in self.components)

    @property
    def complete(self) -> bool:
        """Return whether every group was found whole."""
        return len(self.components) == len(self.groups)

    @property
    def searched(self) -> bool:
        """Return whether nothing more can be found out here by touching."""
        return self.overfull or self.next_pair() is None

    def next_pair(self) -> Pair | None:
        """Return the next two ends to touch, or `None` when the stage is done."""
        if self.complete:
            return None
        return self._place_next() or self._search_again()

    def _opens(self, one: int, two: int) -> int:
        """Return the open touches between two components, which `glue` may have united."""
        if not self.glue:
            return self.stage.opens(lowest(one), lowest(two))
        labels_one = {lowest(self.stage.component(end)) for end in bits(one)}
        labels_two = {lowest(self.stage.component(end)) for end in bits(two)}
        return sum(self.stage.opens(a, b) for a in labels_one for b in labels_two)

    def _place_next(self) -> Pair | None:
        anchors: list[int] = []
        claimed = self._claimed()
        for members in self.components:
            best, best_weight = None, 0.0
            for anchor in anchors:
                if self._opens(members, anchor):
                    continue
                weight = self._weight(members, anchor, claimed)
                if weight > best_weight:
                    best, best_weight = anchor, weight
            if best is not None:
                return lowest(best), lowest(members)
            anchors.append(members)
        return None

    def _claimed(self) -> dict[int, int]:
        """Return, per component that can be but one group, that group."""
        claims: dict[int, int] = {}
        taken = 0
        again = True
        fits = {members: self._fitting(members) for members in self.components}
        while again:
            again = False
            for members, fit in fits.items():
                left = fit & ~taken
                if members not in claims and left.bit_count() == 1 and members.bit_count() > 1:
                    claims[members] = left
                    taken |= left
                    again = True
        return claims

    def _weight(self, members: int, anchor: int, claimed: dict[int, int]) -> float:
        """Return about how likely it is that two components are one; 0 if they can't be."""
        fit = self._fitting(members | anchor)
        if not fit:
            return 0.0
        own = claimed.get(anchor)
        barred = 0
        for claim in claimed.values():
            barred |= claim
        usable = fit & (own if own is not None else ~barred) or 0
        if not usable:
            return 0.0
        counts = self.model.counts(anchor)
        added = self.model.counts(members)
        whole = part = 0.0
        for index in bits(self._fitting(anchor) & (own if own is not None else ~barred)):
            ways = 1.0
            for kind, n in counts.items():
                for taken in range(n):
                    ways *= self.model.caps[kind][index] - taken
            whole += ways
            for kind, n in added.items():
                for taken in range(n):
                    ways *= max(0, self.model.caps[kind][index] - counts.get(kind, 0) - taken)
            part += ways if usable >> index & 1 else 0.0
        return part / whole if whole else 0.0

    def _search_again(self) -> Pair | None:
        """Return a pair to touch once more: somewhere a closed reading is missing."""
        pairs: list[tuple[int, int, int, int]] = []
        for place, one in enumerate(self.components):
            for two in self.components[:place]:
                opens = self._opens(one, two)
                if opens < SEARCH_TOUCHES and self._fitting(one | two):
                    size = min(one.bit_count(), two.bit_count())
                    pairs.append((opens, size, two, one))
        for _, _, two, one in sorted(pairs, key=lambda pair: pair[:2]):
            if self._may_be_one(one, two):
                return lowest(two), lowest(one)
        return None

    def _may_be_one(self, one: int, two: int) -> bool:
        """Return whether all components can still be placed with these two being one."""
        merged = [members for members in self.components if members not in (one, two)]
        merged.append(one | two)
        allowed = [self._fitting(members) for members in merged]
        sizes = [members.bit_count() for members in merged]
        return all(allowed) and Packing(sizes, self.model.room, allowed).possible()

    @property
    def contradictory(self) -> bool:
        """Return whether the components can't be placed into the groups at all."""
        return domains(self.components, self.groups, self.candidates) is None
