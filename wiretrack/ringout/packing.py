# SPDX-License-Identifier: MIT
"""Which groups the components of a stage can belong to, by size and by who may be whom."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

from wiretrack.ringout.masks import bits, mask_of, union

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence

_NODES = 1000  # placements tried in one search
MOST_NODES = 3_000  # placements tried in all to settle one stage; what is left then stays possible


class _Able:
    """Which groups have how many of some ends."""

    def __init__(self, groups: Sequence[int]) -> None:
        self._groups = groups
        self._home = {end: index for index, group in enumerate(groups) for end in bits(group)}
        self._known: dict[tuple[int, int], int] = {}

    def at_least(self, ends: int, count: int) -> int:
        """Return the groups, as bits, that hold at least so many of `ends`."""
        key = (ends, count)
        if key not in self._known:
            held: dict[int, int] = {}
            if ends > 0 and ends.bit_count() < len(self._groups):  # few of them, not all
                for end in bits(ends):
                    home = self._home[end]
                    held[home] = held.get(home, 0) + 1
            else:
                held = {i: (ends & group).bit_count() for i, group in enumerate(self._groups)}
            self._known[key] = mask_of([index for index, one in held.items() if one >= count])
        return self._known[key]

    def groups(self, wanted: Mapping[int, int]) -> int:
        """Return the groups that can hold ends with these sets of candidates.

        Ends with equal candidates need as many different ones in the group: a condition that is
        necessary, and sufficient where candidates are equal or disjoint.
        """
        found = -1
        for mask, count in wanted.items():
            found &= self.at_least(mask, count)
        if len(wanted) == 1 or sum(map(int.bit_count, wanted)) == union(wanted).bit_count():
            return found
        return mask_of(index for index in bits(found) if self._fits(wanted, self._groups[index]))

    def _fits(self, wanted: Mapping[int, int], group: int) -> bool:
        here: dict[int, int] = {}
        for mask, count in wanted.items():
            here[mask & group] = here.get(mask & group, 0) + count
        return all(count <= mask.bit_count() for mask, count in here.items())


class Packing:
    """Components to be put into groups so that none overflows."""

    def __init__(self, sizes: Sequence[int], rooms: Sequence[int], allowed: Sequence[int]) -> None:
        keys = [(-size, one.bit_count()) for size, one in zip(sizes, allowed, strict=True)]
        self._order = sorted(range(len(sizes)), key=keys.__getitem__)
        self._sizes, self._allowed = sizes, list(allowed)
        self._rooms = list(rooms)  # what is left of each, while components are put into them
        alike: dict[int, int] = {}
        for index, possible in enumerate(allowed):
            alike[possible] = alike.get(possible, 0) | 1 << index
        guests = [0] * len(rooms)
        for possible, components in alike.items():
            for group in bits(possible):
                guests[group] |= components
        names: dict[tuple[int, int], int] = {}
        twins = zip(rooms, guests, strict=True)
        # A name that groups share which no component tells apart.
        self._twin = [names.setdefault(look, len(names)) for look in twins]
        self._forced = -1
        self._nodes = 0
        self.left = MOST_NODES
        self._dead: set[tuple[int, tuple[int, ...]]] = set()
        self.home: dict[int, int] = {}  # the groups that components had in packings found so far

    def look(self, group: int) -> int:
        """Return a name that `group` shares with those that no component tells apart."""
        return self._twin[group]

    def possible(self, component: int | None = None, group: int = 0) -> bool:
        """Return whether a packing exists, with one component put into a given group.

        A search that takes too long is answered with True: nothing is excluded by it.
        """
        kept, self._forced = self._allowed, -1
        if component is not None:
            self._allowed = kept.copy()
            self._allowed[component] = 1 << group
            self._forced = group
        allotted = self._nodes = max(0, min(_NODES, self.left))
        self._dead = set()
        found = self._place(0)
        self.left -= allotted - max(self._nodes, 0)
        self._allowed = kept
        return found

    def _place(self, rank: int) -> bool:
        if rank == len(self._order):
            return True
        self._nodes -= 1
        if self._nodes < 0:
            return True
        rooms = self._rooms
        if self._dead and (rank, tuple(rooms)) in self._dead:
            return False
        item = self._order[rank]
        size = self._sizes[item]
        tried = set()
        for group in bits(self._allowed[item]):
            if rooms[group] < size:
                continue
            look = (self._twin[group], rooms[group], group == self._forced)
            if look not in tried:
                tried.add(look)
                rooms[group] -= size
                fits = self._place(rank + 1)
                rooms[group] += size
                if fits:
                    self.home[item] = group
                    return True
        self._dead.add((rank, tuple(rooms)))
        return False


class Clusters:
    """Components and groups that can be packed apart from others, as none of theirs fits there.

    To exchange a few components only the clusters that they touch are packed again.
    """

    def __init__(self, sizes: Sequence[int], rooms: Sequence[int], allowed: Sequence[int]) -> None:
        self._items = list(zip(sizes, allowed, strict=True))
        self._rooms = rooms
        self._clusters: list[int] = []  # of groups, as bits
        for possible in dict.fromkeys(allowed):
            met = [cluster for cluster in self._clusters if cluster & possible]
            self._clusters = [one for one in self._clusters if not one & possible]
            self._clusters.append(union(met) | possible)
        self._sound: dict[int, bool] = {}

    def possible(self, without: Collection[int], more: Sequence[tuple[int, int]]) -> bool:
        """Return whether all can be packed but those numbered, and more, by size and groups."""
        touched = union(groups for _, groups in more)
        touched |= union(self._items[number][1] for number in without)
        apart = [one for one in self._clusters if not one & touched]
        touched |= union(one for one in self._clusters if one & touched)
        return self._packs(touched, without, more) and all(map(self._is_sound, apart))

    def _is_sound(self, cluster: int) -> bool:
        if cluster not in self._sound:
            self._sound[cluster] = self._packs(cluster, (), ())
        return self._sound[cluster]

    def _packs(
        self, groups: int, without: Collection[int], more: Sequence[tuple[int, int]]
    ) -> bool:
        items = [
            item
            for number, item in enumerate(self._items)
            if item[1] & groups and number not in without
        ]
        sizes, allowed = zip(*items, *more, strict=True)
        return Packing(sizes, self._rooms, allowed).possible()


@lru_cache(
    maxsize=1 << 12
)  # the same stage is looked into with others and without, again and again
def domains(
    components: tuple[int, ...], groups: tuple[int, ...], candidates: tuple[int, ...]
) -> list[int] | None:
    """Return for each component the groups it can belong to, as bits; `None` if it can't be.

    With as many components as groups each group is one component, and sizes must be equal.
    """
    if len(components) < len(groups):
        return None
    exact = len(components) == len(groups)
    able = _Able(groups)
    result, kept = [], dict[tuple[tuple[int, int], ...], int]()
    for component in components:
        wanted: dict[int, int] = {}
        for end in bits(component):
            wanted[candidates[end]] = wanted.get(candidates[end], 0) + 1
        look = tuple(sorted(wanted.items()))
        if look not in kept:  # components that look alike fit the same groups
            size = component.bit_count()
            with_room = able.at_least(-1, size)
            kept[look] = able.groups(wanted) & with_room
            if exact:
                kept[look] &= ~able.at_least(-1, size + 1)
        if not kept[look]:
            return None
        result.append(kept[look])
    if exact:
        return _settle_exact(result)
    sizes, rooms = (tuple(map(int.bit_count, sets)) for sets in (components, groups))
    return _settle_packing(sizes, rooms, tuple(result))


@lru_cache(maxsize=1 << 10)
def mates(
    components: tuple[int, ...], groups: tuple[int, ...], candidates: tuple[int, ...]
) -> list[int] | None:
    """Return for each end all that is in the groups its component can belong to; see `domains`."""
    domain = domains(components, groups, candidates)
    if domain is None:
        return None
    held = {one: union(groups[index] for index in bits(one)) for one in dict.fromkeys(domain)}
    found = [0] * len(candidates)
    for component, possible in zip(components, domain, strict=True):
        for end in bits(component):
            found[end] = held[possible]
    return found


def _settle_exact(domain: list[int]) -> list[int] | None:
    """Strike groups that others need: as many components share a domain as it has groups."""
    changed = True
    while changed:
        changed = False
        shared: dict[int, int] = {}
        for possible in domain:
            shared[possible] = shared.get(possible, 0) + 1
        for groups, count in shared.items():
            if count > groups.bit_count():
                return None
            if count < groups.bit_count():
                continue
            for index, possible in enumerate(domain):
                if possible != groups and possible & groups:
                    domain[index] = possible & ~groups
                    changed = True
                    if not domain[index]:
                        return None
    return domain


@lru_cache(maxsize=1 << 10)  # candidates are struck without any group being lost, mostly
def _settle_packing(
    sizes: tuple[int, ...], rooms: tuple[int, ...], domain: tuple[int, ...]
) -> list[int] | None:
    packing = Packing(sizes, rooms, domain)
    if not packing.possible():
        return None
    if len(sizes) > 60:
        return list(domain)
    seen: dict[tuple[int, int, int], bool] = {}
    result = []
    for index, possible in enumerate(domain):
        left = 0
        for group in bits(possible):
            for item, home in packing.home.items():  # what one packing holds needs no other
                seen[sizes[item], domain[item], packing.look(home)] = True
            packing.home.clear()
            key = (sizes[index], possible, packing.look(group))
            if key not in seen:
                seen[key] = packing.possible(index, group)
            left |= seen[key] << group
        if not left:
            return None
        result.append(left)
    return result
