# SPDX-License-Identifier: MIT
"""What goes dead and what stays live when a device is opened."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from wiretrack.errors import BadInputError
from wiretrack.topology.network import ALWAYS_JOINED, Link, Point

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from wiretrack.topology.network import Network

_NOT_SUPPLIES = ("load", *ALWAYS_JOINED)


@dataclass(frozen=True)
class Supply:
    """A point that is, or must be taken to be, under voltage, and why."""

    point: Point
    why: str
    is_recorded: bool = True


@dataclass(frozen=True)
class Isolation:
    """The conductors that a device leaves dead and live; `live` has the supply of each."""

    dead: tuple[Link, ...]
    live: tuple[tuple[Link, Supply], ...]
    unfed: tuple[Link, ...]
    supplies: tuple[Supply, ...]
    unsure: tuple[Link, ...]


def supplies_of(network: Network, arrays: Iterable[str] = ()) -> list[Supply]:
    """Return the points that must be taken to be under voltage.

    Where nothing is recorded as a source, the "from" end of a conductor that nothing in its
    enclosure feeds is one. A terminal of a device that has no conductor, beside conductors that
    begin there, may be fed by what isn't recorded: on the safe side it counts as live.

    Parameters
    ----------
    network : Network
        The line conductors and the poles; without protective conductors and neutrals.
    arrays : iterable of str
        Enclosures that hold PV modules: whatever ends there is live in daylight.
    """
    found: dict[Point, Supply] = {}
    in_array = set(arrays)
    begun = {link.one for link in network.links if link.what == "conductor"}
    ended = {link.other for link in network.links if link.what == "conductor"}
    wired = begun | ended
    for point in network.points:
        if any(link.kind == "source" for link in network.at(point)):
            found[point] = Supply(point, "recorded as a source")
        elif point.enclosure in in_array and point in wired:
            found[point] = Supply(point, "PV modules: live in daylight")
    for group in _groups(network):
        if group & found.keys() or not group & begun:
            continue
        bare = [p for p in sorted(group) if p not in wired and _may_feed(network, p)]
        if bare:
            why = "nothing is recorded on it, so it may be fed from there"
            found |= {p: Supply(p, why, is_recorded=False) for p in bare}
        elif not group & ended:
            why = 'the "from" end of the record, fed by nothing else in its enclosure'
            found |= {p: Supply(p, why) for p in sorted(group & begun)}
    return list(found.values())


def isolate(network: Network, enclosure: str, device: str, supplies: Iterable[Supply]) -> Isolation:
    """Return what opening a device leaves dead and live, of all that was joined with it before.

    A device whose state is unknown is taken to be closed: on the safe side, live.

    Raises
    ------
    BadInputError
        If the enclosure has no such device, or it is a splice or a bus, which doesn't open.
    """
    own = [
        link
        for link in network.links
        if link.what == "device" and link.name == device and link.one.enclosure == enclosure
    ]
    if not own:
        raise BadInputError(f"{enclosure} has no device {device} with poles. Record its poles.")
    if own[0].kind in _NOT_SUPPLIES:
        raise BadInputError(
            f"{enclosure} {device} is a {own[0].kind}, which doesn't open. Name a breaker, fuse, "
            "disconnect or contactor."
        )
    poles = set(map(id, own))
    by_point = {supply.point: supply for supply in supplies}
    ends = {end for link in own for end in (link.one, link.other)}
    region = network.reached(ends, lambda link: id(link) in poles or not link.is_open)
    after = network.reached(by_point, lambda link: id(link) not in poles and not link.is_open)
    before = network.reached(by_point, lambda link: id(link) in poles or not link.is_open)
    return _sorted_out(network, region, before, after, by_point)


def _sorted_out(
    network: Network,
    region: Mapping[Point, Point],
    before: Mapping[Point, Point],
    after: Mapping[Point, Point],
    supplies: Mapping[Point, Supply],
) -> Isolation:
    dead, live, unfed = list[Link](), list[tuple[Link, Supply]](), list[Link]()
    unsure = [k for k in network.links if k.is_unsure and k.one in region]
    for link in network.links:
        if link.what != "conductor" or link.one not in region:
            continue
        if link.one in after or link.other in after:
            source = after.get(link.one) or after[link.other]
            live.append((link, supplies[source]))
        elif link.one in before or link.other in before:
            dead.append(link)
        else:
            unfed.append(link)
    used = {id(supply) for _, supply in live}
    kept = [s for s in supplies.values() if s.point in region or id(s) in used]
    return Isolation(tuple(dead), tuple(live), tuple(unfed), tuple(kept), tuple(unsure))


def _groups(network: Network) -> list[set[Point]]:
    """Return the points that devices join within an enclosure, whether open or closed."""
    groups, seen = list[set[Point]](), set[Point]()
    for point in network.points:
        if point not in seen:
            group = set(network.reached([point], lambda link: link.what == "device"))
            seen |= group
            groups.append(group)
    return groups


def _may_feed(network: Network, point: Point) -> bool:
    """Return whether a bare terminal is of a device that a supply may come in through."""
    on_it = network.at(point)
    return len(on_it) == 1 and on_it[0].kind not in _NOT_SUPPLIES
