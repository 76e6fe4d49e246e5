# SPDX-License-Identifier: MIT
"""Which touch comes next in a stage: the one most likely to read closed.

Ends are placed one after the other. An end is touched against the components found so far,
likeliest first, until it reads closed or none is left; then it begins a component of its own.
Every end needs its closed reading anyway, so only open touches are wasted, and few are where
the known group sizes, the colours and what was excluded before say where an end can be.
"""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from wiretrack.late import cached_property
from wiretrack.ringout.groupings import Structures, worth
from wiretrack.ringout.likelihood import Model, Placing
from wiretrack.ringout.masks import bits, lowest, mask_of, union
from wiretrack.ringout.packing import Clusters, domains
from wiretrack.ringout.waiting import Waiting

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
    return known.remember_told("model", stage, lambda: Model(stage, known))


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

    @cached_property
    def alike(self) -> list[tuple[int, list[int]]]:
        """The components, look by look, each with the groups that have room for such."""
        found: dict[int, list[int]] = {}
        for members in self.components:
            found.setdefault(self.model.look(members), []).append(members)
        return [(self.model.room_for(look), alike) for look, alike in found.items()]

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
        placing = self._placing()
        while placing.number < len(self.components):
            members = self.components[placing.number]
            if not members & placing.ends:
                ends = bits(members) if self.model.glue else (lowest(members),)
                likeliest = placing.likeliest(members, union(map(self.stage.opened, ends)))
                if likeliest is not None and likeliest[0] > _NEVER:
                    return lowest(likeliest[1]), lowest(members)
                placing.add(members, sure=likeliest is None)
            placing.number += 1
        return None

    def _placing(self) -> Placing:
        """Return the components placed so far, of others only those settled as these are now."""
        kept, state = self.model.placing
        if kept is None or kept.version != self.stage.version:
            now = Placing(self.model, self.stage.version)
            if kept is not None and state == len(self.stage.dropped):
                of = {end: members for members in self.components for end in bits(members)}
                for members in dict.fromkeys(
                    of[lowest(one)] for one in kept.placed[: kept.settled]
                ):
                    now.add(members, sure=True)
            kept = now
            self.model.placing = (kept, len(self.stage.dropped))
        return kept

    def _search_again(self) -> Pair | None:
        """Return a pair to touch once more: somewhere a closed reading is missing."""
        waiting, model = self._waiting(), self.model
        while (first := waiting.first()) is not None:
            times, one, two = first
            looks = model.look(one), model.look(two)
            now = self._opens(one, two)
            if now >= SEARCH_TOUCHES:
                waiting.drop_first()
            elif not self.verdict(looks, partial(self._may_be_one, one, two)):
                waiting.drop_alike()
            elif now > times:
                waiting.put_back_first(now)
            else:
                return lowest(two), lowest(one)
        return None

    def _waiting(self) -> Waiting:
        """Return the pairs of components that may be one, those least often touched first.

        The list is kept while the components stay as they are: touches only come to more.
        """
        version, kept = self.model.waiting
        if kept is None or version != self.stage.version:
            model = self.model
            growing = [one for one in self.components if model.growing(one)]
            kept = Waiting(growing, model.look, model.fitting_both)
            at = {end: i for i, members in enumerate(growing) for end in bits(members)}
            for i, one in enumerate(growing):
                opens: dict[int, int] = {}
                for end, times in self.stage.times_opened(one):
                    if at.get(end, i) < i:
                        opens[at[end]] = opens.get(at[end], 0) + times
                out = mask_of(at[end] for end in bits(model.barred(one)) if end in at)
                out |= mask_of(j for j, times in opens.items() if times >= SEARCH_TOUCHES)
                kept.add(i, opens, out)
            self.model.waiting = (self.stage.version, kept)
        return kept

    def _may_be_one(self, one: int, two: int) -> bool:
        """Return whether all components can still be placed with these two being one.

        That is so of all that look like them.
        """
        both = one | two
        return self.packs((one, two), [(both.bit_count(), self._fitting(both))])

    def packs(self, without: Pair, more: Sequence[Pair]) -> bool:
        """Return whether components can be placed, some left out and more, by size and groups."""
        clusters = self.model.clusters
        if clusters is None or clusters[0] != self.stage.version:
            sizes = [members.bit_count() for members in self.components]
            allowed = list(map(self._fitting, self.components))
            number = {members: i for i, members in enumerate(self.components)}
            clusters = self.stage.version, number, Clusters(sizes, self.model.room, allowed)
            self.model.clusters = clusters
        left_out = [clusters[1][part] for part in without if part in clusters[1]]
        return clusters[2].possible(left_out, more)

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
