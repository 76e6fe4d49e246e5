# SPDX-License-Identifier: MIT
"""What is known of a stage before its own touches, and how likely ends belong together by it.

A component of so many ends of each kind may be any group with room for them. The chance of each is
the number of ways to draw those ends from the group, and every group is one component only: rows
(components) and columns (groups) are scaled in turn until both add up to one (Sinkhorn's scaling).
A few rounds come close enough for choosing what to touch; proofs never rest on it.

Components that hold as many ends of each kind look alike, and are as likely. So all is reckoned
look by look. Of each look only one can differ: the one that claims the only group others left it.
"""

from __future__ import annotations

from bisect import bisect
from collections import Counter
from heapq import heappop, heappush
from itertools import starmap
from math import comb
from operator import mul
from typing import TYPE_CHECKING

from wiretrack.late import cached_property
from wiretrack.ringout.groupings import structures
from wiretrack.ringout.masks import bits, mask_of, union

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from wiretrack.ringout.groupings import Structures
    from wiretrack.ringout.matching import Matching
    from wiretrack.ringout.packing import Clusters
    from wiretrack.ringout.stage import Stage
    from wiretrack.ringout.waiting import Waiting

_ROUNDS = 3
_FULL = 0.98  # stands for "all ends of this kind are placed", so that no column vanishes
_LEAST = 1e-300  # nothing smaller is divided by
Look = tuple[tuple[int, int], ...]  # kinds of ends, and how many of each
MOST_LISTED = 14  # ends of a stage whose groupings may be few enough to list


class Model:
    """What is known of a stage before its own touches: who may be in which group."""

    def __init__(self, stage: Stage, known: Matching) -> None:
        found = known.without(stage)
        self.candidates = found.of[stage.at]
        self.groups = stage.joined(found, known.contacts)
        self.glue = known.contacts.sure[stage.at]
        self.room = [group.bit_count() for group in self.groups]
        self._every_group = (1 << len(self.groups)) - 1
        counts: dict[int, int] = {}
        for mask in self.candidates:
            counts[mask] = counts.get(mask, 0) + 1
        ranked = sorted(counts, key=lambda mask: (-counts[mask], mask))
        index = {mask: rank for rank, mask in enumerate(ranked)}
        self.kind = [index[mask] for mask in self.candidates]
        home = {mate: number for number, group in enumerate(self.groups) for mate in bits(group)}
        met = (Counter(home[mate] for mate in bits(mask)) for mask in ranked)
        self.present = [sorted(caps.items()) for caps in met]  # per kind: groups, and their caps
        self.caps = [[0] * len(self.groups) for _ in ranked]
        for caps, present in zip(self.caps, self.present, strict=True):
            for number, cap in present:
                caps[number] = cap
        self.order = sorted(range(len(self.candidates)), key=lambda end: (self.kind[end], end))
        self._with_room = _at_least(enumerate(self.room))
        self._with_cap: dict[int, list[int]] = {}
        self.totals = [counts[mask] for mask in ranked]
        self.apart = known.apart(stage)
        self.heard = self._heard_before(stage, known) | stage.absent
        self.seat = {end: seat for seat, end in enumerate(self.order)}
        self.structures = self._structures()
        self._fits: dict[int, int] = {}
        self._rooms: dict[int, int] = {}
        self._joint: dict[tuple[int, int], int] = {}
        self._grows: dict[int, int] = {}
        self.looks: list[Look] = []  # per name of a look
        self._named: dict[Look, int] = {}
        self._looks: dict[int, int] = {}
        self._barred: dict[int, int] = {}
        self._ways: dict[tuple[int, int], dict[int, float]] = {}
        self.placing: tuple[Placing | None, int] = (None, 0)  # and how many pairs were dropped
        self.ordered: tuple[int, list[int]] = (-1, [])
        self.verdicts: dict[object, bool] = {}
        self.clusters: tuple[int, dict[int, int], Clusters] | None = None
        self.waiting: tuple[int, Waiting | None] = (-1, None)
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
            found = self._counts[members] = {}
            for kind in map(self.kind.__getitem__, bits(members)):
                found[kind] = found.get(kind, 0) + 1
        return found

    def fitting(self, members: int) -> int:
        """Return the groups, as bits, that have room for all of `members`."""
        fit = self._fits.get(members)
        if fit is None:
            is_barred = self.barred(members) & members
            fit = self._fits[members] = 0 if is_barred else self.room_for(self.look(members))
        return fit

    def room_for(self, look: int) -> int:
        """Return the groups, as bits, that have room for so many ends of each kind."""
        fit = self._rooms.get(look)
        if fit is None:
            ends = self.looks[look]
            fit = _reach(self._with_room, sum(n for _, n in ends))
            for kind, n in ends:
                if kind not in self._with_cap:
                    self._with_cap[kind] = _at_least(self.present[kind])
                fit &= _reach(self._with_cap[kind], n)
            self._rooms[look] = fit
        return fit

    def growing(self, members: int) -> int:
        """Return the groups, as bits, that have room for `members` and one more."""
        found = self._grows.get(members)
        if found is None:
            room = _reach(self._with_room, members.bit_count() + 1)
            found = self._grows[members] = self.fitting(members) & room
        return found

    def look(self, members: int) -> int:
        """Return a name that `members` share with all that hold as many of each kind of end."""
        found = self._looks.get(members)
        if found is None:
            look = tuple(sorted(self.counts(members).items()))
            found = self._looks[members] = self._named.setdefault(look, len(self.looks))
            if found == len(self.looks):
                self.looks.append(look)
        return found

    def barred(self, members: int) -> int:
        """Return the ends that can't be in one group with one of `members`."""
        found = self._barred.get(members)
        if found is None:
            found = self._barred[members] = union(self.apart[end] for end in bits(members))
        return found

    def fitting_both(self, one: int, two: int) -> int:
        """Return the groups, as bits, that have room for two components at once.

        Each of them fits by itself. What looks alike fits alike, but for ends that are known to be
        in different groups.
        """
        if self.barred(one) & two or not self.fitting(one) & self.fitting(two):
            return 0
        looks = self.look(one), self.look(two)
        fit = self._joint.get(looks)
        if fit is None:
            fit = self._joint[looks] = self.fitting(one | two)
        return fit

    def ways(self, look: int, groups: int) -> dict[int, float]:
        """Return in how many ways each of `groups` can have such ends."""
        found = self._ways.get((look, groups))
        if found is None:
            found = dict.fromkeys(bits(groups & self._every_group), 1.0)
            for kind, n in self.looks[look]:
                caps = self.caps[kind]
                found = {index: one * comb(caps[index], n) for index, one in found.items()}
            self._ways[look, groups] = found
        return found


def _at_least(amounts: Iterable[tuple[int, int]]) -> list[int]:
    """Return, per number from 0 on, the positions of the amounts that reach it, as bits.

    All reach 0.

    >>> _at_least([(0, 2), (3, 1)])
    [-1, 9, 1]
    """
    found = [-1]
    for position, amount in amounts:
        found += [0] * (amount + 1 - len(found))
        for number in range(1, amount + 1):
            found[number] |= 1 << position
    return found


def _reach(table: Sequence[int], amount: int) -> int:
    return table[amount] if amount < len(table) else 0


class Placing:
    """The components of a stage placed so far, one after the other, while they stay as they are.

    `number` is that of the one to be placed next. Those before belong to none that was placed, or
    too unlikely: as touches only come to more, that stays so. Those `settled` have read open to all
    that they may belong to, which stays so even as components grow.
    """

    def __init__(self, model: Model, version: int) -> None:
        self._model, self.version = model, version
        self.number = 0
        self.placed: list[int] = []
        self.settled = 0  # so many of them, the first ones
        self.ends = 0  # all that are placed
        self._alike: dict[int, list[int]] = {}  # per look, the positions of those placed
        self._of_kind = [0] * len(model.totals)  # how many ends of each kind are placed
        self._likelihood: Likelihood | None = None

    def add(self, members: int, *, sure: bool) -> None:
        """Place a component apart from those before it, for `sure` or as that is likeliest."""
        self.settled += sure and self.settled == len(self.placed)
        look = self._model.look(members)
        self._alike.setdefault(look, []).append(len(self.placed))
        for kind, n in self._model.looks[look]:
            self._of_kind[kind] += n
        self.placed.append(members)
        self.ends |= members
        self._likelihood = None

    def likeliest(self, members: int, opened: int) -> tuple[float, int] | None:
        """Return the component that `members` likeliest belong to, after the chance of that.

        `None` if there is none that they may belong to but those that read open to them.
        """
        untouched = self._untouched(members, opened)
        if not untouched:
            return None
        if self._likelihood is None:
            self._likelihood = Likelihood(self._model, self._alike, self._of_kind)
        likely, added = self._likelihood, self._model.look(members)
        chances = []
        for look, positions, fit in untouched:
            at, usable = likely.claims.get(look, (-1, 0))
            if at not in positions:
                at, usable = positions[0], likely.usable[look]
            chances.append((round(likely.of(added, look, usable, fit & usable), 12), -at))
        chance, position = max(chances)
        return chance, self.placed[-position]

    def _untouched(self, members: int, opened: int) -> list[tuple[int, list[int], int]]:
        """Return what `members` may belong to and didn't read open to, look by look.

        With each look come the positions of such components, and the groups for both together.
        """
        model, found = self._model, []
        out = opened | model.barred(members)
        for look, positions in self._alike.items() if model.growing(members) else ():
            if model.growing(self.placed[positions[0]]):
                left = [at for at in positions if not self.placed[at] & out]
                fit = model.fitting_both(members, self.placed[left[0]]) if left else 0
                if fit:
                    found.append((look, left, fit))
        return found


class Likelihood:
    """Which group each component is, as chances, for one state of a stage.

    `alike` are the positions of the components placed, look by look, and `of_kind` is how many ends
    of each kind they hold.
    """

    def __init__(
        self, model: Model, alike: Mapping[int, Sequence[int]], of_kind: Sequence[int]
    ) -> None:
        self._model, self._alike, self._of_kind = model, alike, of_kind
        self.claims, claimed = self._claimed()
        self.usable = {look: model.room_for(look) & ~claimed for look in alike}
        self._fresh = ~claimed
        self._chances: dict[tuple[int, int, int, int], float] = {}

    def _claimed(self) -> tuple[dict[int, tuple[int, int]], int]:
        """Return who claims the one group that others left: per look, its position and the group.

        Each takes its turn, over and over. With them comes all that is claimed.
        """
        left = {look: self._model.room_for(look) for look in self._alike}
        claims, claimed, turn = dict[int, tuple[int, int]](), 0, -1
        this_round: list[tuple[int, int]] = []  # who has one group left, by the position
        next_round: list[tuple[int, int]] = []
        ready = [look for look, groups in left.items() if groups and not groups & groups - 1]
        while ready or this_round or next_round:
            for look in ready:
                positions = self._alike[look]
                after = bisect(positions, turn)
                is_past = after == len(positions)
                entry = (positions[0 if is_past else after], look)
                heappush(next_round if is_past else this_round, entry)
            ready = []
            if not this_round:
                this_round, next_round = next_round, []
            turn, look = heappop(this_round)
            group = left[look]
            if group:  # else somebody claimed it meanwhile
                claims[look], claimed = (turn, group), claimed | group
                for other in [one for one, groups in left.items() if groups & group]:
                    rest = left[other] = left[other] & ~group
                    if rest and not rest & rest - 1:
                        ready.append(other)
        return claims, claimed

    def _column(self) -> list[float]:
        """Return the chance, up to a factor, that nothing of a group was met yet."""
        model = self._model
        result = [1.0] * len(model.groups)
        for kind, total in enumerate(model.totals):
            missing = 1 - min(self._of_kind[kind] / total, _FULL)
            if missing < 1:
                for index, cap in model.present[kind]:
                    result[index] *= missing**cap
        return result

    def _components(self) -> list[tuple[int, int, int, int]]:
        """Return looks and usable groups in the order of the first with both, and how many have."""
        found = []
        for look, positions in self._alike.items():
            at, left = self.claims.get(look, (-1, 0))
            rest = [position for position in positions if position != at]
            if left:
                found.append((at, look, left, 1))
            if rest:
                found.append((rest[0], look, self.usable[look], len(rest)))
        return sorted(found)

    @cached_property
    def _scaled(self) -> tuple[dict[tuple[int, int], tuple[float, dict[int, float]]], list[float]]:
        """What makes the chance of each group, per what components that look alike share.

        Per row, its factor and its cells; and the factor of each column. Rows and columns are
        scaled in turn; groups not met yet share one row. A group that can't be has no cell.
        """
        model, column, components = self._model, self._column(), self._components()
        alike = [(look, usable) for _, look, usable, _ in components]
        times = [count for *_, count in components]
        times.append(max(0, len(model.groups) - sum(times)))  # of those not met yet
        fresh = model.ways(model.look(0), self._fresh)
        cells = [
            {index: one * column[index] for index, one in ways.items()}
            for ways in (*starmap(model.ways, alike), fresh)
        ]
        columns = [(list[float](), list[int]()) for _ in column]
        for number, row in enumerate(cells):
            for index, cell in row.items():
                columns[index][0].append(cell)
                columns[index][1].append(number)
        tall = [1.0] * len(column)
        for _ in range(_ROUNDS):
            at = tall.__getitem__
            wide = [1 / max(sum(map(mul, row.values(), map(at, row))), _LEAST) for row in cells]
            of = list(map(mul, wide, times)).__getitem__
            tall = [1 / max(sum(map(mul, one, map(of, rows))), _LEAST) for one, rows in columns]
        return dict(zip(alike, zip(wide, cells, strict=True), strict=False)), tall

    def of(self, added: int, held: int, usable: int, fit: int) -> float:
        """Return about how likely it is that components of one look belong to those of another.

        Of the groups `usable` for those that are placed, both together `fit` into some.
        """
        if not fit:
            return 0.0
        key = (added, held, usable, fit)
        chance = self._chances.get(key)
        if chance is None:
            model, (rows, tall) = self._model, self._scaled
            (wide, cells), there = rows[held, usable], dict(model.looks[held])
            parts = [wide * cells[index] * tall[index] for index in bits(fit)]
            for kind, n in model.looks[added]:
                caps, less = model.caps[kind], there.get(kind, 0)
                ways = (comb(caps[index] - less, n) for index in bits(fit))
                parts = list(map(mul, parts, ways))
            chance = self._chances[key] = sum(parts)
        return chance
