# SPDX-License-Identifier: MIT
"""Points joined by conductors and poles, and what can be reached through them."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from wiretrack.errors import BadInputError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence

ALWAYS_JOINED = ("splice", "bus")
MOST_PATHS = 1000


class Point(NamedTuple):
    """A terminal in its enclosure; an end on no terminal has its tag in place of one.

    A tuple, as large networks hash and compare their points millions of times.
    """

    enclosure: str
    terminal: str

    def __str__(self) -> str:
        return f"{self.enclosure} {self.terminal}"


@dataclass(frozen=True)
class Link:
    """A conductor from its "from" end to its "to" end, or one pole of a device.

    `closed` is that of a device; `None` is unknown. A conductor, a splice and a bus always join.
    """

    name: str
    one: Point
    other: Point
    what: str = "conductor"
    kind: str | None = None
    closed: bool | None = None
    circuit: str = ""
    function: str = ""
    position: int = 0

    @property
    def is_open(self) -> bool:
        """Whether the record says that it joins nothing; an unknown state isn't open."""
        return self.what == "device" and self.closed is False and self.kind not in ALWAYS_JOINED

    @property
    def is_unsure(self) -> bool:
        """Whether the record doesn't say if it is open or closed."""
        return self.what == "device" and self.closed is None and self.kind not in ALWAYS_JOINED

    def is_landed(self, end: Point) -> bool:
        """Return whether an end of a conductor is on a terminal, not only in its enclosure."""
        return not end.terminal.startswith(f"{self.name} ")

    def beyond(self, point: Point) -> Point:
        """Return the end that isn't `point`."""
        return self.other if point == self.one else self.one


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

    def paths(self, start: Point, goal: Point) -> Iterator[tuple[Link, ...]]:
        """Yield the ways from `start` to `goal` through what isn't open, no point twice.

        Raises
        ------
        BadInputError
            If there are more than a thousand: the record has too many loops to list them.
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

    def has_way_beside(self, path: Sequence[Link], start: Point) -> bool:
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
        came: dict[Point, tuple[Point, Link] | None] = {start: None}
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


def _closed(
    came: dict[Point, tuple[Point, Link] | None], one: Point, other: Point, last: Link
) -> tuple[Link, ...]:
    """Return the loop that `last` closes: both ways back to where they part, and `last`."""
    back = _way_back(came, one)
    forth = _way_back(came, other)
    while back and forth and back[-1] is forth[-1]:
        back.pop()
        forth.pop()
    return (*reversed(back), last, *forth)


def _way_back(came: dict[Point, tuple[Point, Link] | None], point: Point) -> list[Link]:
    way, step = list[Link](), came[point]
    while step is not None:
        way.append(step[1])
        step = came[step[0]]
    return way
