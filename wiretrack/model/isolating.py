# SPDX-License-Identifier: MIT
"""What goes dead and what stays live when a device is opened, and what the record can't decide."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from wiretrack.errors import BadInputError
from wiretrack.late import dataclass
from wiretrack.model.entity import Point
from wiretrack.model.wiring import ALWAYS_JOINED, Link

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator, Mapping

    from wiretrack.model.wiring import Network

_NOT_SWITCHES = ("load", "source", *ALWAYS_JOINED)
_BATTERY, _NOT_FED_BACK = "dc-battery", ("dc-pv", "signal", "earthing")
FROM_END = 'the "from" end of the record, fed by nothing else in its enclosure'
NOTHING_FEEDS = "nothing in the record feeds it, before or after"


@dataclass(frozen=True)
class Supply:
    """A point that is under voltage, and why; one that is not `is_sure` may be or may not."""

    point: Point
    why: str
    is_sure: bool = True


@dataclass(frozen=True)
class Isolation:
    """The conductors that a device leaves dead and live, and those that can't be decided.

    `live` has the supply of each, `unknown` why. `unused` are poles that count as no supply: no
    conductor is recorded on one of their terminals; those of the device itself aren't among them.
    `unsure` are devices of unknown state.
    """

    dead: tuple[Link, ...]
    live: tuple[tuple[Link, Supply], ...]
    unknown: tuple[tuple[Link, str], ...]
    supplies: tuple[Supply, ...]
    unsure: tuple[Link, ...]
    unused: tuple[Link, ...] = ()


def supplies_of(
    network: Network,
    arrays: Collection[str] = (),
    inverters: Collection[str] = (),
    systems: Mapping[str, str | None] | None = None,
    named: Iterable[Point] = (),
) -> list[Supply]:
    """Return the points that are under voltage, or may be, by the record.

    What is recorded as a source, holds PV modules or is `named` is one. Where conductors begin in
    an enclosure in which nothing feeds them, the supply comes in there: through the one terminal
    without a conductor that can be meant, else at their "from" ends. Where several can be meant,
    each may be a supply. The line side of a pole may be one too, with nothing recorded on it
    (a main switch whose supply isn't recorded); the load side of an unused pole is none.

    The network has the line conductors and the poles, without protective conductors and
    neutrals. What is in `arrays` is live in daylight; `inverters` may feed back into what isn't
    a PV circuit; `systems` are those of circuits, by their codes, and `named` is what somebody
    says.
    """
    wires = [link for link in network.links if link.what == "conductor"]
    begun = {link.one for link in wires if link.is_landed(link.one)}
    ended = {link.other for link in wires if link.is_landed(link.other)}
    ends = {end for link in wires for end in (link.one, link.other)}
    found = {point: Supply(point, "as you say") for point in named}
    for point in network.points:
        if point in found:
            continue
        if any(link.kind == "source" for link in network.at(point)):
            found[point] = Supply(point, "recorded as a source")
        elif point.enclosure in arrays and point in ends:
            found[point] = Supply(point, "PV modules: live in daylight")
    for group in _groups(network):
        if not group & found.keys():
            served = {
                (systems or {}).get(code)
                for point in group & begun
                for link in network.at(point)
                if link.what == "conductor"
                for code in link.served
            }
            sure = "a battery" if _BATTERY in served else "nothing else in the record can feed it"
            found |= {s.point: s for s in _fed_in(network, group, begun, ended, sure)}
    for link in wires:
        served = {(systems or {}).get(code) for code in link.served} or {None}
        if link.other.enclosure in inverters and not served <= {*_NOT_FED_BACK}:
            why = f"the inverter in {link.other.enclosure} may feed back into it"
            found.setdefault(link.other, Supply(link.other, why, is_sure=False))
        if not link.is_landed(link.one) and link.one.terminal.endswith(" end"):
            why = f"on which terminal it begins in {link.one.enclosure} isn't recorded"
            found.setdefault(link.one, Supply(link.one, why, is_sure=False))
    return list(found.values())


def _fed_in(
    network: Network, group: set[Point], begun: set[Point], ended: set[Point], sure: str
) -> Iterator[Supply]:
    """Yield the supplies of points that devices of one enclosure join, where none is recorded.

    `sure` says why it is one, where only one can be.
    """
    wired = begun | ended
    bare = [point for point in sorted(group) if point not in wired]
    incomers = [point for point in bare if _is_line_side(network, group, begun, point)]
    if group & ended:
        for point in incomers if group & begun else ():
            yield Supply(point, f"nothing is recorded on {point}, which may feed it", is_sure=False)
    elif group & begun:
        hubs = [point for point in bare if len(network.at(point)) > 1]
        points = incomers or hubs or [p for p in bare if _is_on_switch(network, p)]
        why = sure if points else FROM_END
        points = points or sorted(group & begun)
        if _is_one_bus(network, points):
            yield Supply(points[0], why)
        else:
            for point in points:
                yield Supply(point, f"{point} is one of several that may feed it", is_sure=False)


def isolate(
    network: Network,
    enclosure: str,
    device: str,
    supplies: Iterable[Supply],
    also: Iterable[Point] = (),
) -> Isolation:
    """Return what opening a device leaves dead and live, of all that was joined with it before.

    `also` are devices that are opened with it.

    Live is what a supply reaches through conductors and closed devices; unknown what it may
    reach through a device of unknown state or from what may be a supply, and what none feeds.

    Raises `BadInputError` if the enclosure has no such device, or it is a splice or a bus, which
    doesn't open.
    """
    own = [
        link
        for each in (Point(enclosure, device), *also)
        for link in _poles_of(network, each.enclosure, each.terminal)
    ]
    poles = set(map(id, own))
    by_point = {supply.point: supply for supply in supplies}
    ends = {end for link in own for end in (link.one, link.other)}
    region = network.reached(ends, lambda link: id(link) in poles or not link.is_open)
    sure = network.reached(
        [point for point, supply in by_point.items() if supply.is_sure],
        lambda link: id(link) not in poles and not link.is_open and not _is_unsure(link),
    )
    after = network.reached(by_point, lambda link: id(link) not in poles and not link.is_open)
    before = network.reached(by_point, lambda link: id(link) in poles or not link.is_open)
    found = _sorted_out(network, region, (before, after, sure), by_point)
    ends = {end for link in found.dead for end in (link.one, link.other)}
    joined = network.reached(
        ends, lambda k: k.what == "device" and id(k) not in poles and not k.is_open
    )
    unused = _unused(network, joined.keys() - by_point.keys())
    return replace(found, unused=tuple(link for link in unused if id(link) not in poles))


def openable(network: Network, points: Iterable[Point]) -> list[Point]:
    """Return the devices of a network that can be opened, the nearest to points first."""
    near = network.reached(points, lambda link: True)
    links = (link for point in near for link in network.at(point) if _switches(link))
    return list(dict.fromkeys(Point(link.one.enclosure, link.name) for link in links))


def _poles_of(network: Network, enclosure: str, device: str) -> list[Link]:
    own = [
        link
        for link in network.links
        if link.what == "device" and link.name == device and link.one.enclosure == enclosure
    ]
    if not own:
        raise BadInputError(f"{enclosure} has no device {device} with poles. Record its poles.")
    if own[0].kind in _NOT_SWITCHES:
        raise BadInputError(
            f"{enclosure} {device} is a {own[0].kind}, which doesn't open. Name a breaker, fuse, "
            "disconnect or contactor."
        )
    return own


Reached = dict[Point, Point]


def _sorted_out(
    network: Network,
    region: Reached,
    fed: tuple[Reached, Reached, Reached],
    supplies: Mapping[Point, Supply],
) -> Isolation:
    """Sort the conductors of a region by what `fed` them: before, after, and surely after."""
    before, after, sure = fed
    dead, live, unknown = list[Link](), list[tuple[Link, Supply]](), list[tuple[Link, str]]()
    used = set[Point]()
    for link in network.links:
        if link.what != "conductor" or link.one not in region:
            continue
        if link.one in sure:
            live.append((link, supplies[sure[link.one]]))
            used.add(sure[link.one])
        elif link.one in after:
            supply = supplies[after[link.one]]
            used.add(supply.point)
            through = "; a device of unknown state lies between"
            unknown.append((link, f"{supply.why}{through if supply.is_sure else ''}"))
        elif link.one in before:
            dead.append(link)
        else:
            unknown.append((link, NOTHING_FEEDS))
    return Isolation(
        tuple(dead),
        tuple(live),
        tuple(unknown),
        tuple(s for s in supplies.values() if s.point in region or s.point in used),
        tuple(k for k in network.links if _is_unsure(k) and k.one in region),
    )


def _unused(network: Network, points: Iterable[Point]) -> Iterator[Link]:
    """Yield the poles at the points that end at a terminal with nothing else on it."""
    met = set[int]()
    for link in (link for point in points for link in network.at(point)):
        ends = [network.at(end) for end in (link.one, link.other)]
        if _switches(link) and id(link) not in met and [link] in map(list, ends):
            met.add(id(link))
            yield link


def _groups(network: Network) -> list[set[Point]]:
    """Return the points that devices join within an enclosure, whether open or closed."""
    groups, seen = list[set[Point]](), set[Point]()
    for point in network.points:
        if point not in seen:
            group = set(network.reached([point], lambda link: link.what == "device"))
            seen |= group
            groups.append(group)
    return groups


def _is_line_side(network: Network, group: set[Point], begun: set[Point], point: Point) -> bool:
    """Return whether a bare terminal is where the supply of a pole comes in.

    A pole is written from its line side to its load side, unless more conductors of the group
    begin on the first terminals of their poles than on the second.
    """
    if not _is_on_switch(network, point):
        return False
    poles = {id(k): k for p in group & begun for k in network.at(p) if _switches(k)}.values()
    turned = sum(k.one in begun for k in poles) > sum(k.other in begun for k in poles)
    link = network.at(point)[0]
    return point == (link.other if turned else link.one)


def _is_on_switch(network: Network, point: Point) -> bool:
    """Return whether nothing is on a terminal but one pole of what a supply may come in through."""
    poles = [link for link in network.at(point) if link.what == "device"]
    return len(poles) == 1 and _switches(poles[0])


def _is_one_bus(network: Network, points: Collection[Point]) -> bool:
    """Return whether points are one and the same, or joined by what doesn't open."""
    first = network.reached([*points][:1], lambda link: link.kind in ALWAYS_JOINED)
    return set(points) <= first.keys()


def _switches(link: Link) -> bool:
    return link.what == "device" and link.kind not in _NOT_SWITCHES


def _is_unsure(link: Link) -> bool:
    return link.is_unsure and link.kind != "source"
