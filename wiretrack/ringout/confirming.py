# SPDX-License-Identifier: MIT
"""Closed readings that stand alone, and the touch that confirms each.

A closed reading is proof, unless a wrong key was pressed or two conductors touched just then. Where
one reading alone holds an end in its component, and the end could as well belong to another one,
one touch more tells: the same again, or, for two such ends at once, from one to the other.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from wiretrack.ringout.masks import bits, lowest
from wiretrack.ringout.packing import Packing

if TYPE_CHECKING:
    from collections.abc import Iterator

    from wiretrack.ringout.probing import Pair, Probing
    from wiretrack.ringout.stage import Stage

CONFIRM_TOUCHES = 4  # so often is one pair touched before its readings are left as they are


@dataclass(frozen=True)
class Link:
    """A closed pair without which its component falls into `side` and `rest`."""

    pair: Pair
    side: int
    rest: int


def weak_links(stage: Stage) -> Iterator[Link]:
    """Yield the closed pairs that read closed once, and that no other closed readings bridge."""
    times = {
        pair: sum(touch.verdict == "closed" for touch in touches)
        for pair, touches in stage.pairs.items()
        if pair not in stage.dropped
    }
    joined: dict[int, int] = {}
    for (one, two), count in times.items():
        if count:
            joined[one] = joined.get(one, 0) | 1 << two
            joined[two] = joined.get(two, 0) | 1 << one
    for (one, two), count in times.items():
        if count == 1:
            side = _reached(joined, one, two)
            if not side >> two & 1:
                yield Link((one, two), side, stage.component(one) & ~side)


def _reached(joined: dict[int, int], start: int, but: int) -> int:
    """Return the ends that closed pairs lead to from `start`, other than straight to `but`."""
    reached, front = 1 << start, joined[start] & ~(1 << but)
    while front:
        reached |= front
        following = 0
        for end in bits(front):
            following |= joined[end]
        front = following & ~reached
    return reached


def stands_alone(probing: Probing, link: Link) -> bool:
    """Return whether all else could be true if this one closed reading weren't."""
    whole = link.side | link.rest
    others = [members for members in probing.components if not members & whole]
    for mover, rest in ((link.side, link.rest), (link.rest, link.side)):
        opened = _read_open(probing.stage, mover)
        for home in others:
            if not opened & home:
                rearranged = [mover | home, rest, *(one for one in others if one != home)]
                if _fit(probing, rearranged):
                    return True
    return False


def _read_open(stage: Stage, members: int) -> int:
    """Return the ends that read open to an end of `members`."""
    opened = 0
    for (one, two), touches in stage.pairs.items():
        if touches[-1].verdict == "open":
            opened |= (members >> one & 1) << two | (members >> two & 1) << one
    for left, right, closed in stage.bunches:
        if not closed:
            opened |= (right if left & members else 0) | (left if right & members else 0)
    return opened


def _fit(probing: Probing, components: list[int]) -> bool:
    model = probing.model
    sizes = [members.bit_count() for members in components]
    if len(sizes) == len(model.room) and sorted(sizes) != sorted(model.room):
        return False
    allowed = [model.fitting(members) for members in components]
    if not all(allowed):
        return False
    return Packing(sizes, model.room, allowed).possible()


def unconfirmed(probing: Probing) -> list[Link]:
    """Return the closed pairs that stand alone, as far as the other stages leave that open."""
    if probing.overfull or probing.contradictory:
        return []
    return [link for link in weak_links(probing.stage) if stands_alone(probing, link)]


def next_confirming(probing: Probing) -> Pair | None:
    """Return the next two ends to touch so that no closed reading stands alone."""
    stage = probing.stage
    links = unconfirmed(probing)
    for place, link in enumerate(links):
        for other in links[place + 1 :]:
            pair = _across(link, other)
            if pair and not stage.asked(*pair):
                return pair
        if len(stage.asked(*link.pair)) < CONFIRM_TOUCHES:
            return link.pair
    return None


def _across(one: Link, two: Link) -> Pair | None:
    """Return two ends that hang on one link each, so that one touch confirms both."""
    for first in (one.side, one.rest):
        for second in (two.side, two.rest):
            if (one.side | one.rest) == (two.side | two.rest) and not first & second:
                ends = sorted((lowest(first), lowest(second)))
                return ends[0], ends[1]
    return None
