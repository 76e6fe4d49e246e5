# SPDX-License-Identifier: MIT
"""The way of a pull through its raceways, and the part of it that a conductor runs through.

What holds, decided here once:

- A path begins at the box that its first raceway doesn't share with the second. Where it shares
  both (out and back over two parallel raceways, or one raceway alone), it begins at the box where
  the conductor begins, else at the one that the first raceway is recorded "from".
- A conductor runs through as much of the path as its ends allow: where the path visits a box
  twice, from the first visit to the last. So one that goes out and back lies in both raceways.
- Where the raceways don't follow on each other (a broken path), or an end lies off the path, no
  part can be told: the conductor is taken to run through all of it.
"""

from __future__ import annotations

from itertools import zip_longest
from typing import TYPE_CHECKING

from wiretrack.late import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

Ends = tuple[str, str]


@dataclass(frozen=True)
class Leg:
    """One raceway in walking order: from one box to the other; its length in m, if known."""

    raceway: str
    from_box: str
    to_box: str
    length_m: float | None = None

    def turned(self) -> Leg:
        """Return the leg as it is walked the other way."""
        return Leg(self.raceway, self.to_box, self.from_box, self.length_m)


@dataclass(frozen=True)
class Route:
    """Raceways in walking order."""

    legs: tuple[Leg, ...] = ()

    @property
    def raceways(self) -> tuple[str, ...]:
        """The codes of the raceways."""
        return tuple(leg.raceway for leg in self.legs)

    @property
    def boxes(self) -> tuple[str, ...]:
        """The enclosures visited, in order; both ends of a gap where the path is broken."""
        found = list[str]()
        for leg in self.legs:
            found += [leg.to_box] if found and found[-1] == leg.from_box else leg_ends(leg)
        return tuple(found)

    @property
    def length_m(self) -> float | None:
        """The length in m of all raceways together; `None` where one isn't known."""
        known = [leg.length_m for leg in self.legs if leg.length_m is not None]
        return sum(known) if known and len(known) == len(self.legs) else None

    def turned(self) -> Route:
        """Return the route as it is walked the other way."""
        return Route(tuple(leg.turned() for leg in reversed(self.legs)))


def leg_ends(leg: Leg) -> list[str]:
    """Return both boxes of a leg, in walking order."""
    return [leg.from_box, leg.to_box]


def chains(raceways: Sequence[Ends]) -> list[list[str]]:
    """Return the enclosures along raceways laid end to end; two ways if parallel, none if broken.

    >>> chains([("MDB", "PH1"), ("PH2", "PH1")])
    [['MDB', 'PH1', 'PH2']]
    """
    if not raceways:
        return []
    first, last = raceways[0]
    found = [[first, last], [last, first]]
    for one, other in raceways[1:]:
        found = [
            [*chain, far]
            for chain in found
            for near, far in {(one, other), (other, one)}
            if chain[-1] == near
        ]
    return found[:1] if len(raceways) == 1 else found


def joins(chain: Sequence[str], one: str, other: str) -> bool:
    """Return whether two ends in these enclosures lie at two places of the chain."""
    return chain.count(one) > 1 if one == other else one in chain and other in chain


def route_of(path: Sequence[Leg], one: str | None = None, other: str | None = None) -> Route:
    """Return the part of a path that leads from box `one` to box `other`; without them all of it.

    `path` are the raceways of a pull, in the order and the direction of the record.
    """
    ends = [(leg.from_box, leg.to_box) for leg in path]
    found = sorted(chains(ends), key=lambda chain: chain[0] != one)  # stable
    for chain in found:
        if one is not None and other is not None and joins(chain, one, other):
            first, last = min(_spans(chain, one, other), key=lambda span: span[0] - span[1])
            legs = Route(tuple(_along(path, chain))[first:last])
            return legs if chain[first] == one else legs.turned()
    whole = Route(tuple(_along(path, found[0]) if found else _pieces(path)))
    boxes = whole.boxes
    backwards = boxes and (boxes[0] == other or boxes[-1] == one) and boxes[0] != one
    return whole.turned() if backwards else whole


def _spans(chain: list[str], one: str, other: str) -> Iterator[tuple[int, int]]:
    """Yield where the longest part between two boxes begins and ends, either way round."""
    for here, there in ((one, other), (other, one)):
        first, last = chain.index(here), len(chain) - 1 - chain[::-1].index(there)
        if first < last:
            yield first, last


def _along(path: Sequence[Leg], boxes: Sequence[str]) -> Iterator[Leg]:
    return (
        leg if leg.from_box == box else leg.turned() for leg, box in zip(path, boxes, strict=False)
    )


def _pieces(path: Sequence[Leg]) -> Iterator[Leg]:
    """Yield the legs of a broken path: each goes on from the one before it where it can."""
    here: str | None = None
    for leg, following in zip_longest(path, path[1:]):
        onward = leg_ends(following) if following else []
        leads_on = leg.from_box in onward and leg.to_box not in onward
        turns = leg.from_box != here if here in leg_ends(leg) else leads_on
        yield leg.turned() if turns else leg
        here = leg.from_box if turns else leg.to_box
