# SPDX-License-Identifier: MIT
"""The wiring as one graph: points joined by conductors and poles, and what is reached through them.

A `Network` is a part of it that is at hand; `Wiring` reads a site's from where one asks on.
Conductors that are retired join nothing.
"""

from __future__ import annotations

from collections import deque
from typing import TYPE_CHECKING

from wiretrack.errors import BadInputError
from wiretrack.late import dataclass
from wiretrack.model.entities import Conductor
from wiretrack.model.entity import Point
from wiretrack.model.parts import Device

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Hashable, Iterable, Iterator, Sequence

    from wiretrack.model.entities import Raceway
    from wiretrack.model.site import Site

ALWAYS_JOINED = ("splice", "bus")
MOST_PATHS = 1000
Came = dict[Point, "tuple[Point, Link] | None"]


@dataclass(frozen=True)
class Link:
    """A conductor from its "from" end to its "to" end, or one pole of a device.

    `closed` is that of a device; `None` is unknown. A conductor, a splice and a bus always join.
    `states` are those of a conductor's two ends.
    """

    name: str
    one: Point
    other: Point
    what: str = "conductor"
    kind: str | None = None
    closed: bool | None = None
    circuit: str = ""
    function: str = ""
    states: tuple[str | None, str | None] = (None, None)
    served: tuple[str, ...] = ()  # the codes of its circuits; `circuit` is how people write them

    @property
    def is_open(self) -> bool:
        """Whether the record says that it joins nothing; an unknown state isn't open."""
        return self.what == "device" and self.closed is False and self.kind not in ALWAYS_JOINED

    @property
    def is_unsure(self) -> bool:
        """Whether the record doesn't say if it is open or closed."""
        return self.what == "device" and self.closed is None and self.kind not in ALWAYS_JOINED

    @property
    def is_closed(self) -> bool | None:
        """Whether it joins its points; `None` where the record doesn't say."""
        return None if self.is_unsure else not self.is_open

    def is_landed(self, end: Point) -> bool:
        """Return whether an end of a conductor is on a terminal, not only in its enclosure."""
        return not end.terminal.startswith(f"{self.name} ")

    def beyond(self, point: Point) -> Point:
        """Return the end that isn't `point`."""
        return self.other if point == self.one else self.one


class Wiring:
    """The wiring of a site, read from where one asks on, without conductors of some functions."""

    def __init__(self, site: Site, without: Collection[str] = ()) -> None:
        self.site, self._without = site, frozenset(without)
        self._links: dict[Hashable, tuple[Link, ...]] = {}

    def at(self, point: Point) -> tuple[Link, ...]:
        """Return the links on a terminal: conductors in the order of the record, then poles."""
        on = self.site.at(Conductor, "terminal", point)
        found = [self.link(c) for c in filter(self._joins, on)]
        for device in self.site.at(Device, "terminal", point):
            found += [pole for pole in self.poles(device) if point in (pole.one, pole.other)]
        return tuple(found)

    def link(self, conductor: Conductor) -> Link:
        """Return the link that a conductor is: one for each tag, however often it was read."""
        key = _key(conductor)
        if key not in self._links:
            self._links[key] = (_link(conductor),)
        return self._links[key][0]

    def poles(self, device: Device) -> tuple[Link, ...]:
        """Return the links that a device's poles are."""
        key = (device.enclosure, device.code)
        if key not in self._links:
            self._links[key] = tuple(_poles(device))
        return self._links[key]

    def joined(self, points: Iterable[Point], own: Iterable[Conductor] = ()) -> Network:
        """Return what is joined with terminals, over however many others, and open devices too.

        The conductors `own` are part of it whatever they are landed on.
        """
        own = [*filter(self._joins, own)]
        starts = [*points, *(point for c in own for point in self._ends(c))]
        return self._spread(starts, own, through=True)

    def of_circuit(self, code: str) -> Network:
        """Return a circuit's conductors and the devices they lead to; others lead nowhere."""
        own = [*filter(self._joins, self.site.at(Conductor, "circuit", code))]
        starts = [point for c in own for point in self._ends(c)]
        return self._spread(starts, own, through=False)

    def whole(self) -> Network:
        """Return the wiring of the whole site."""
        links = [self.link(c) for c in self.site.every(Conductor) if self._joins(c)]
        return Network([*links, *(k for d in self.site.every(Device) for k in self.poles(d))])

    def _spread(
        self, starts: Iterable[Point], own: Iterable[Conductor], *, through: bool
    ) -> Network:
        """Return the conductors and poles that points lead to, read a layer of points at a time."""
        conductors = {_key(c): c for c in own}
        devices, seen = dict[int, Device](), set(starts)
        layer = seen
        while layer:
            onward = set[Point]()
            for conductor in self._on([*layer]) if through else ():
                conductors[_key(conductor)] = conductor
                onward.update(self._ends(conductor))
            for device in self.site.find(Device, "terminal", [*layer]):
                devices[id(device)] = device
                for pole in self.poles(device):
                    if pole.one in layer or pole.other in layer:
                        onward |= {pole.one, pole.other}
            layer = onward - seen
            seen |= layer
        links = [self.link(c) for c in self.site.in_order(conductors.values())]
        in_order = self.site.in_order(devices.values())
        poles = (pole for device in in_order for pole in self.poles(device))
        return Network([*links, *(pole for pole in poles if pole.one in seen)])

    def _on(self, points: Collection[Point]) -> Iterator[Conductor]:
        return filter(self._joins, self.site.find(Conductor, "terminal", points))

    def _joins(self, conductor: Conductor) -> bool:
        return conductor.retired_at is None and conductor.function not in self._without

    def _ends(self, conductor: Conductor) -> Iterator[Point]:
        link = self.link(conductor)
        return (point for point in (link.one, link.other) if link.is_landed(point))


def _key(conductor: Conductor) -> Hashable:
    return conductor.tag or id(conductor)


def _link(conductor: Conductor) -> Link:
    tag = str(conductor.tag)
    here, there = conductor.from_end, conductor.to_end
    return Link(
        tag,
        Point(here.enclosure, here.terminal or f"{tag} {here.state or 'end'}"),
        Point(there.enclosure, there.terminal or f"{tag} {there.state or 'end'}, far"),
        circuit=conductor.circuit,
        function=conductor.function,
        states=(here.state, there.state),
        served=conductor.circuits,
    )


def _poles(device: Device) -> Iterator[Link]:
    for ends in device.poles:
        one, other = (Point(device.enclosure, code) for code in ends)
        yield Link(device.code, one, other, "device", device.kind, device.closed)


def raceway_network(raceways: Iterable[Raceway]) -> Network:
    """Return the raceways as links between enclosures."""
    return Network(
        Link(each.code, box_point(each.from_enclosure), box_point(each.to_enclosure), "raceway")
        for each in raceways
    )


def box_point(code: str) -> Point:
    """Return the point that an enclosure is in a `raceway_network`."""
    return Point(code, "")


class Network:
    """Links, found by the points that they join."""

    def __init__(self, links: Iterable[Link]) -> None:
        self.links = tuple(links)
        self._at: dict[Point, list[Link]] = {}
        for link in self.links:
            for point in dict.fromkeys((link.one, link.other)):
                self._at.setdefault(point, []).append(link)

    @property
    def points(self) -> tuple[Point, ...]:
        """Every point, in the order in which the links name them."""
        return tuple(self._at)

    def at(self, point: Point) -> tuple[Link, ...]:
        """Return the links on a point."""
        return tuple(self._at.get(point, ()))

    def reached(
        self, starts: Iterable[Point], passes: Callable[[Link], bool] | None = None
    ) -> dict[Point, Point]:
        """Return every point that can be reached, with the start that reaches it in fewest links.

        `passes` says which links may be used; without it all but the open ones.
        """
        may = passes or (lambda link: not link.is_open)
        found = {start: start for start in starts}
        waiting = deque(found)
        while waiting:
            here = waiting.popleft()
            for link in self.at(here):
                there = link.beyond(here)
                if there not in found and may(link):
                    found[there] = found[here]
                    waiting.append(there)
        return found

    def came_from(self, start: Point) -> Came:
        """Return how each point is reached from `start` in fewest links: from which one, by what.

        Open ones aren't used. The nearest come first; `start` came from nowhere.
        """
        came: Came = {start: None}
        for _ in self._spreading(came, lambda link: not link.is_open):
            pass
        return came

    def nearest(
        self,
        start: Point,
        goals: Collection[Point],
        passes: Callable[[Link], bool] | None = None,
    ) -> tuple[Point, Sequence[Link]] | None:
        """Return that of `goals` which fewest links lead to, and the links from it to `start`.

        `None` if none is reached; `start` is no goal. `passes` is as in `reached`.
        """
        came: Came = {start: None}
        for there in self._spreading(came, passes or (lambda link: not link.is_open)):
            if there in goals:
                return there, _way_back(came, there)
        return None

    def _spreading(self, came: Came, may: Callable[[Link], bool]) -> Iterator[Point]:
        """Yield the points reached from those that `came` has, noting there how; nearest first."""
        waiting = deque(came)
        while waiting:
            here = waiting.popleft()
            for link in self.at(here):
                there = link.beyond(here)
                if there not in came and may(link):
                    came[there] = (here, link)
                    waiting.append(there)
                    yield there

    def paths(self, start: Point, goal: Point) -> Iterator[tuple[Link, ...]]:
        """Yield the ways from `start` to `goal` through what isn't open, no point twice.

        Raises `BadInputError` if there are more than a thousand: the record has too many loops to
        list them.
        """
        count = 0
        for path in self._paths_on(start, goal, {start}, ()):
            count += 1
            if count > MOST_PATHS:
                raise BadInputError(
                    f"More than {MOST_PATHS} ways lead from {start} to {goal}. "
                    "Look at a part of it: name a device or terminal nearer to one end."
                )
            yield path

    def _paths_on(
        self, here: Point, goal: Point, seen: set[Point], way: tuple[Link, ...]
    ) -> Iterator[tuple[Link, ...]]:
        if here == goal and way:
            yield way
            return
        for link in self.at(here):
            there = link.beyond(here)
            if there in seen or link.is_open:
                continue
            yield from self._paths_on(there, goal, seen | {there}, (*way, link))

    def has_second_way(self, path: Sequence[Link], start: Point) -> bool:
        """Return whether another way than `path` leads to its end through what isn't open.

        If one does, it leaves the path at one of its points and meets it at another. A path
        through what is open counts as the only one.
        """
        points, own = [start], set(map(id, path))
        for link in path:
            points.append(link.beyond(points[-1]))
        if any(link.is_open for link in path):
            return False
        found = self.reached(points, lambda link: id(link) not in own and not link.is_open)
        return any(
            not link.is_open and id(link) not in own and found[link.one] != found[link.other]
            for point in found
            for link in self.at(point)
        )

    def loop(self, start: Point) -> tuple[Link, ...]:
        """Return the links of one loop that can be reached from `start`; none if there is none."""
        came: Came = {start: None}
        waiting = deque([start])
        while waiting:
            here = waiting.popleft()
            for link in self.at(here):
                step = came[here]
                if link.is_open or (step is not None and step[1] is link):
                    continue
                there = link.beyond(here)
                if there in came:
                    return _closed(came, here, there, link)
                came[there] = (here, link)
                waiting.append(there)
        return ()


def _closed(came: Came, one: Point, other: Point, last: Link) -> tuple[Link, ...]:
    """Return the loop that `last` closes: both ways back to where they part, and `last`."""
    back = _way_back(came, one)
    forth = _way_back(came, other)
    while back and forth and back[-1] is forth[-1]:
        back.pop()
        forth.pop()
    return (*reversed(back), last, *forth)


def _way_back(came: Came, point: Point) -> list[Link]:
    way, step = list[Link](), came[point]
    while step is not None:
        way.append(step[1])
        step = came[step[0]]
    return way
