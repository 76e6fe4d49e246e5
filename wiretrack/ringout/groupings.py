# SPDX-License-Identifier: MIT
"""Every way the ends of a small stage can be grouped, and the touch that tells most about them.

A touch is worth what it is expected to prove, plus a share of what it is expected to tell: an
open reading only tells, a closed one does both. Where the ways are few enough to be listed,
this needs fewer touches than placing one end after the other.

Where the ways are too many to list, the chance that an end belongs to a component is reckoned. A
component of so many ends of each kind may be any group with room for them. The chance of each is
the number of ways to draw those ends from the group, and every group is one component only: rows
(components) and columns (groups) are scaled in turn until both add up to one (Sinkhorn's scaling).
A few rounds come close enough for choosing what to touch; proofs never rest on it.
"""

from __future__ import annotations

from collections import Counter
from functools import lru_cache
from itertools import combinations, starmap
from math import comb, inf, log2
from operator import mul
from typing import TYPE_CHECKING

from wiretrack.late import cached_property
from wiretrack.ringout.masks import bits, mask_of, union

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.ringout.matching import Matching
    from wiretrack.ringout.stage import Stage

MOST_WAYS = 720
MOST_TRIED = 40_000  # ends put into groups before the ways are given up as too many to list
TELLING_SHARE = 2.0  # weight of a bit told against a bit proven; tried on stages solved exactly

FEW_WAYS = {6: 12, 10: 6}  # up to so many ends: so few groupings are searched to the end
Pair = tuple[int, int]
Look = tuple[tuple[int, int], ...]  # kinds of ends, and how many of each
Caps = tuple[tuple[int, ...], ...]  # per kind of end, how many of it each group takes


class Structures:
    """All groupings of the ends of a stage, ends being numbered kind after kind."""

    def __init__(self, ways: list[tuple[int, ...]]) -> None:
        self.count = len(ways)
        self.whole = (1 << self.count) - 1
        ends = len(ways[0])
        groups = max(max(way) for way in ways) + 1
        self._in = [[0] * groups for _ in range(ends)]
        for number, way in enumerate(ways):
            for end, group in enumerate(way):
                self._in[end][group] |= 1 << number
        self._together: dict[tuple[int, int], int] = {}
        self._costs: dict[tuple[int, int], tuple[float, Pair | None]] = {}
        self._pairs = list(combinations(range(ends), 2))

    def together(self, one: int, two: int) -> int:
        """Return the groupings, as bits, in which two ends are in one group."""
        key = (one, two) if one < two else (two, one)
        found = self._together.get(key)
        if found is None:
            found = 0
            for first, second in zip(self._in[one], self._in[two], strict=True):
                found |= first & second
            self._together[key] = found
        return found

    def groups(self, way: int) -> list[int]:
        """Return the groups of one grouping, given as its bit, as sets of ends."""
        count = len(self._in[0])
        return [
            sum(1 << end for end, homes in enumerate(self._in) if homes[group] & way)
            for group in range(count)
        ]

    @property
    def few(self) -> bool:
        """Return whether the groupings can be searched through to the end in good time."""
        most = next((ways for size, ways in FEW_WAYS.items() if len(self._in) <= size), 0)
        return self.count <= most

    def best_pair(self, alive: int, proven: int) -> Pair | None:
        """Return the touch with which the fewest are expected to be needed in all.

        `alive` are the groupings that fit all readings, `proven` those that fit the closed ones;
        it is over when only one is left of the latter.
        """
        return self._cost(alive, proven)[1]

    def _cost(self, alive: int, proven: int) -> tuple[float, Pair | None]:
        """Return the expected touches from here, and the first of them."""
        if proven.bit_count() == 1:
            return 0.0, None
        kept = self._costs.get((alive, proven))
        if kept is None:
            kept = self._costs[alive, proven] = min(
                (self._cost_of(pair, alive, proven), pair) for pair in self._pairs
            )
        return kept

    def _cost_of(self, pair: Pair, alive: int, proven: int) -> float:
        mask = self.together(*pair)
        yes, no = alive & mask, alive & ~mask
        if not yes or (not no and proven & mask == proven):
            return inf
        share = yes.bit_count() / alive.bit_count()
        closed = self._cost(yes, proven & mask)[0]
        opened = self._cost(no, proven)[0] if no else 0.0
        return 1 + share * closed + (1 - share) * opened


@lru_cache(maxsize=128)
def structures(totals: tuple[int, ...], caps: Caps, apart: tuple[int, ...]) -> Structures | None:
    """Return all groupings of so many ends of each kind, or `None` if there are too many.

    `apart` are, per end, the ends as bits that it can't be in one group with.
    """
    groups = len(caps[0])
    kinds = [kind for kind, total in enumerate(totals) for _ in range(total)]
    looks = [tuple(row[group] for row in caps) for group in range(groups)]
    found: set[tuple[int, ...]] = set()
    inside = [0] * groups
    left = [list(row) for row in caps]
    names: list[int] = []
    tries = 0

    def place(end: int, used: dict[int, int]) -> bool:
        """Put the ends from `end` on into groups; return False once there are too many ways."""
        nonlocal tries
        tries += 1
        if tries > MOST_TRIED:
            return False
        if end == len(kinds):
            found.add(tuple(names))
            return len(found) <= MOST_WAYS
        tried = set()
        for group in range(groups):
            fresh = group not in used
            if not left[kinds[end]][group] or (fresh and looks[group] in tried):
                continue
            if inside[group] & apart[end]:
                continue
            if fresh:
                tried.add(looks[group])
                used[group] = len(used)
            left[kinds[end]][group] -= 1
            inside[group] |= 1 << end
            names.append(used[group])
            go_on = place(end + 1, used)
            names.pop()
            left[kinds[end]][group] += 1
            inside[group] &= ~(1 << end)
            if fresh:
                del used[group]
            if not go_on:
                return False
        return True

    return Structures(sorted(found)) if place(0, {}) and found else None


def worth(share: float, proving: float) -> float:
    """Return what a touch is worth, in bits.

    `share` is the part of the groupings that fit all readings in which it reads closed;
    `proving` the part of those that fit the closed readings which a closed one would leave.
    """
    if not 0 < share < 1:
        told = 0.0
    else:
        told = -share * log2(share) - (1 - share) * log2(1 - share)
    return share * -log2(proving) + TELLING_SHARE * told


MOST_LISTED = 14  # ends of a stage whose groupings may be few enough to list


class Model:
    """What is known of a stage before its own touches: who may be in which group."""

    def __init__(self, stage: Stage, known: Matching) -> None:
        found = known.without(stage)
        self.candidates = found.of[stage.at]
        self.groups = stage.joined(found, known.contacts)
        self.glue = known.contacts.sure[stage.at]
        self.room = [group.bit_count() for group in self.groups]
        counts: dict[int, int] = {}
        for mask in self.candidates:
            counts[mask] = counts.get(mask, 0) + 1
        ranked = sorted(counts, key=lambda mask: (-counts[mask], mask))
        index = {mask: rank for rank, mask in enumerate(ranked)}
        self.kind = [index[mask] for mask in self.candidates]
        self.caps = [[(mask & group).bit_count() for group in self.groups] for mask in ranked]
        self.order = sorted(range(len(self.candidates)), key=lambda end: (self.kind[end], end))
        self._with_room = _at_least(self.room)
        self._with_cap = [_at_least(caps) for caps in self.caps]
        self.totals = [counts[mask] for mask in ranked]
        self.present = [[(i, cap) for i, cap in enumerate(caps) if cap] for caps in self.caps]
        self.apart = known.apart(stage)
        self.heard = self._heard_before(stage, known) | stage.absent
        self.seat = {end: seat for seat, end in enumerate(self.order)}
        self.structures = self._structures()
        self._fits: dict[int, int] = {}
        self._grows: dict[int, int] = {}
        self._looks: dict[int, Look] = {}
        self._ways: dict[tuple[Look, int], list[float]] = {}
        self.likelihood: tuple[object, Likelihood] | None = None
        self.settled: tuple[object, list[int]] = (None, [])
        self.ordered: tuple[int, list[int]] = (-1, [])
        self.verdicts: dict[object, bool] = {}
        self.waiting: tuple[int, list[tuple[int, int, int, int, int]]] = (-1, [])
        self._counts: dict[int, dict[int, int]] = {}

    def _heard_before(self, stage: Stage, known: Matching) -> int:
        """Return the ends that read closed here in other stages.

        Without a search for contacts, those count too whose conductors read closed elsewhere.
        """
        here = there = 0
        for other in known.stages:
            heard = union(part for part in other.components() if part.bit_count() > 1)
            if other is not stage and other.at == stage.at:
                here |= heard
            elif other is not stage:
                there |= heard
        if known.bundle.screen != "none":
            return here
        return here | mask_of(e for e, mates in enumerate(self.candidates) if not mates & ~there)

    def _structures(self) -> Structures | None:
        masks = set(self.candidates)
        if sum(mask.bit_count() for mask in masks) != len(self.candidates) or self.glue:
            return None
        if len(self.candidates) > MOST_LISTED:
            return None
        apart = tuple(
            mask_of(self.seat[other] for other in bits(self.apart[end])) for end in self.order
        )
        caps = tuple(tuple(row) for row in self.caps)
        return structures(tuple(self.totals), caps, apart)

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
            if any(self.apart[end] & members for end in bits(members)):
                fit = 0
            for kind, n in self.counts(members).items():
                fit &= _reach(self._with_cap[kind], n)
            self._fits[members] = fit
        return fit

    def growing(self, members: int) -> int:
        """Return the groups, as bits, that have room for `members` and one more."""
        found = self._grows.get(members)
        if found is None:
            room = _reach(self._with_room, members.bit_count() + 1)
            found = self._grows[members] = self.fitting(members) & room
        return found

    def look(self, members: int) -> Look:
        """Return what `members` share with all that hold as many of each kind of end."""
        found = self._looks.get(members)
        if found is None:
            found = self._looks[members] = tuple(sorted(self.counts(members).items()))
        return found

    def ways(self, look: Look, groups: int) -> list[float]:
        """Return in how many ways each of `groups` can have such ends; 0 for the others."""
        found = self._ways.get((look, groups))
        if found is None:
            found = [float(groups >> index & 1) for index in range(len(self.groups))]
            for kind, n in look:
                found = [
                    one * comb(cap, n) for one, cap in zip(found, self.caps[kind], strict=True)
                ]
            self._ways[look, groups] = found
        return found


def _at_least(amounts: Sequence[int]) -> list[int]:
    """Return, per number, the positions of the amounts that reach it, as bits."""
    top = max(amounts, default=0)
    return [sum(1 << i for i, one in enumerate(amounts) if one >= n) for n in range(top + 1)]


def _reach(table: Sequence[int], amount: int) -> int:
    return table[amount] if amount < len(table) else 0


_ROUNDS = 3
_FULL = 0.98  # stands for "all ends of this kind are placed", so that no column vanishes
_LEAST = 1e-300  # nothing smaller is divided by


class Likelihood:
    """Which group each component is, as chances, for one state of a stage."""

    def __init__(self, model: Model, anchors: Sequence[int]) -> None:
        self._model, self._anchors = model, anchors
        fits = [(members, model.fitting(members)) for members in anchors]
        claims: dict[int, int] = {}  # the components that can only be one group, which others left
        claimed, again = 0, True
        while again:
            again = False
            for members, fit in fits:
                left = fit & ~claimed
                if left and not left & left - 1 and members not in claims:
                    claims[members] = left
                    claimed, again = claimed | left, True
        self._usable = {members: claims.get(members, fit & ~claimed) for members, fit in fits}
        self._fresh = ~claimed
        self._chances: dict[tuple[Look, Look, int, int], float] = {}

    def _column(self) -> list[float]:
        """Return the chance, up to a factor, that nothing of a group was met yet."""
        model = self._model
        placed = model.counts(union(self._anchors))
        result = [1.0] * len(model.groups)
        for kind, total in enumerate(model.totals):
            missing = 1 - min(placed.get(kind, 0) / total, _FULL)
            if missing < 1:
                for index, cap in model.present[kind]:
                    result[index] *= missing**cap
        return result

    @cached_property
    def _rows(self) -> dict[tuple[Look, int], list[float]]:
        """The chance of each group, per what components that look alike share.

        Rows and columns are scaled in turn; groups not met yet share one row.
        """
        model, column = self._model, self._column()
        alike = Counter((model.look(one), usable) for one, usable in self._usable.items())
        unmet = max(0, len(model.groups) - len(self._anchors))
        times, fresh = [*alike.values(), unmet], model.ways((), self._fresh)
        cells = [list(map(mul, ways, column)) for ways in (*starmap(model.ways, alike), fresh)]
        columns, tall = list(zip(*cells, strict=True)), [1.0] * len(column)
        for _ in range(_ROUNDS):
            wide = [1 / max(sum(map(mul, row, tall)), _LEAST) for row in cells]
            weights = list(map(mul, wide, times))
            tall = [1 / max(sum(map(mul, one, weights)), _LEAST) for one in columns]
        scaled = zip(alike, cells, wide, strict=False)
        return {
            one: [w * cell * t for cell, t in zip(row, tall, strict=True)] for one, row, w in scaled
        }

    def of(self, members: int, anchor: int) -> float:
        """Return about how likely it is that `members` belong to `anchor`; 0 if they can't."""
        model, usable = self._model, self._usable[anchor]
        fit = model.fitting(members | anchor) & usable
        if not fit:
            return 0.0
        added, held = model.look(members), model.look(anchor)
        key = (added, held, usable, fit)
        chance = self._chances.get(key)
        if chance is None:
            row, there = self._rows[held, usable], dict(held)
            parts = [row[index] for index in bits(fit)]
            for kind, n in added:
                caps, less = model.caps[kind], there.get(kind, 0)
                ways = (comb(caps[index] - less, n) for index in bits(fit))
                parts = list(map(mul, parts, ways))
            chance = self._chances[key] = sum(parts)
        return chance
