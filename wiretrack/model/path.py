# SPDX-License-Identifier: MIT
"""Following a path: conductors through shared terminals and closed devices, end to end."""

from __future__ import annotations

from collections import Counter, deque
from dataclasses import field
from itertools import accumulate
from typing import TYPE_CHECKING

from wiretrack.late import dataclass
from wiretrack.model.entity import Point

if TYPE_CHECKING:
    from collections.abc import Iterator

    from wiretrack.model.wiring import Link, Network, Wiring


@dataclass(frozen=True)
class Branching:
    """Ways at a terminal that a path doesn't take, and why."""

    point: Point
    ways: tuple[Link, ...]
    reason: str

    @property
    def conductors(self) -> list[str]:
        """The tags of the conductors among them."""
        return [way.name for way in self.ways if way.what == "conductor"]

    @property
    def devices(self) -> list[str]:
        """The devices whose poles are among them."""
        return [*dict.fromkeys(way.name for way in self.ways if way.what == "device")]

    def as_json(self) -> dict[str, object]:
        """Return it as scripts read it."""
        names = {"conductors": self.conductors, "devices": self.devices}
        return {**_step(self.point), "reason": self.reason, **names}


@dataclass(frozen=True)
class Path:
    """The terminals and links of a path in order, from its source's side on.

    `stops` says in words why it ends at each side.
    """

    steps: tuple[Point | Link, ...]
    branches: tuple[Branching, ...]
    stops: tuple[str, ...]

    @property
    def start(self) -> Point:
        """The point where it begins, on its source's side."""
        first = self.steps[0]
        return first if isinstance(first, Point) else first.one

    def as_json(self) -> dict[str, object]:
        """Return the path as scripts read it."""
        return {
            "path": [_step(step) for step in self.steps],
            "branches": self.branches,
            "stops": self.stops,
        }


def _step(step: Point | Link) -> dict[str, object]:
    if isinstance(step, Point):
        return {"terminal": step.terminal, "enclosure": step.enclosure}
    if step.what == "device":
        known = {"kind": step.kind, "closed": step.is_closed}
        return {"device": step.name, "enclosure": step.one.enclosure, **known}
    served = {"circuit": step.circuit, "function": step.function}
    return {"conductor": step.name, "enclosure": None, **served}


def path_of(wiring: Wiring | Network, first: Link) -> Path:
    """Return the path through a conductor: from what leads to its "from" end to the load.

    At a terminal where several ways lead on, the one of the same circuit and function is followed;
    the others are branches.
    """
    walk = _Walk(wiring)
    walk.seen_links.add(id(first))
    serves = (first.circuit, first.function)
    back = walk.follow(first.one, first, serves)
    onward = walk.follow(first.other, first, serves)
    return Path(
        (*reversed(back.steps), first, *onward.steps),
        tuple(walk.branches),
        (back.stop, onward.stop),
    )


def path_through(wiring: Wiring | Network, point: Point) -> Path:
    """Return the path through a terminal: both ways where two lead away, else one."""
    walk = _Walk(wiring)
    walk.seen_points.add(point)
    ways = walk.ways(point)
    if len(ways) > 2:
        walk.branch(point, ways, "several ways lead on")
        return Path((point,), tuple(walk.branches), (f"{len(ways)} ways lead on",))
    legs = [walk.through(point, way) for way in ways]
    back = legs[0].steps if len(legs) == 2 else []
    onward = legs[-1].steps if legs else []
    stops = tuple(leg.stop for leg in legs) or ("nothing is on this terminal",)
    return Path((*reversed(back), point, *onward), tuple(walk.branches), stops)


MOST_IN_SERIES = 200  # conductors looked at; a path that a person measures is short


def in_series(wiring: Wiring, one: Link, other: Link) -> tuple[Link, ...]:
    """Return the conductors from `one` to `other`, each joined with the next; none if they aren't.

    Conductors are joined by a terminal that they share, a splice, or a device known to be closed.
    """
    came: dict[int, tuple[Link, Link | None]] = {id(one): (one, None)}
    waiting = deque([one])
    while waiting and id(other) not in came and len(came) < MOST_IN_SERIES:
        here = waiting.popleft()
        for point in (here.one, here.other):
            for link in _conductors_on(wiring, point) if here.is_landed(point) else ():
                if id(link) not in came:
                    came[id(link)] = link, here
                    waiting.append(link)
    found: list[Link] = []
    step: Link | None = other if id(other) in came else None
    while step is not None:
        found.append(step)
        step = came[id(step)][1]
    return tuple(reversed(found))


def _conductors_on(wiring: Wiring, start: Point) -> Iterator[Link]:
    """Yield the conductors on a terminal, and on those that closed devices join with it."""
    seen, waiting = {start}, [start]
    while waiting:
        point = waiting.pop()
        for link in wiring.at(point):
            if link.what == "conductor":
                yield link
            elif not link.is_open and not link.is_unsure and link.beyond(point) not in seen:
                seen.add(link.beyond(point))
                waiting.append(link.beyond(point))


@dataclass
class _Leg:
    """One direction of a path: its steps in walking order, and why it ends."""

    steps: list[Point | Link] = field(default_factory=list)
    stop: str = ""


class _Walk:
    """A walk through the wiring that never enters a conductor or a pole twice."""

    def __init__(self, wiring: Wiring | Network) -> None:
        self.wiring = wiring
        self.seen_links: set[int] = set()
        self.seen_points: set[Point] = set()
        self.branches: list[Branching] = []

    def follow(self, point: Point, came: Link, serves: tuple[str, str]) -> _Leg:
        """Return the leg that leads on from `point`, reached through the link `came`."""
        leg = _Leg()
        while True:
            if came.what == "conductor" and not came.is_landed(point):
                state = came.states[point != came.one] or "not known to be landed"
                leg.stop = f"the end in {point.enclosure} is {state}"
                return leg
            if point in self.seen_points:
                leg.stop = f"the path comes back to {point}: a loop"
                return leg
            self.seen_points.add(point)
            leg.steps.append(point)
            way = self._choose(point, serves, came, leg)
            if way is None:
                return leg
            self.seen_links.add(id(way))
            leg.steps.append(way)
            came, point = way, way.beyond(point)

    def through(self, point: Point, way: Link) -> _Leg:
        """Return the leg that leads away from a terminal by one way."""
        if way.is_open:
            return _Leg(stop=f"{way.name} is open")
        self.seen_links.add(id(way))
        leg = self.follow(way.beyond(point), way, (way.circuit, way.function))
        leg.steps.insert(0, way)
        return leg

    def ways(self, point: Point) -> list[Link]:
        """Return the conductors and poles at a terminal that the walk has not used."""
        return [link for link in self.wiring.at(point) if id(link) not in self.seen_links]

    def _choose(self, point: Point, serves: tuple[str, str], came: Link, leg: _Leg) -> Link | None:
        """Return the way to follow at `point`, or `None` with the reason in `leg`.

        Of several ways, the other poles of the device just passed lead back to what is beside the
        path, so they are left aside; then the way of the same circuit and function is taken.
        """
        ways = self.ways(point)
        dead_ends = [way for way in ways if way.is_open]
        ways = [way for way in ways if not way.is_open]
        for pole in dead_ends:
            self.branch(point, [pole], f"{pole.name} is open")
        if not ways:
            leg.stop = _nothing_on(point, dead_ends)
            return None
        onward = [way for way in ways if not _is_pole_of(way, came)]
        alike = [way for way in onward if way.what == "device" or _serves(way) == serves]
        main = next((some for some in (ways, onward, alike) if len(some) == 1), None)
        if main is None:
            self.branch(point, ways, "several ways lead on")
            leg.stop = f"{len(ways)} ways lead on from {point}"
            return None
        others = [way for way in ways if way is not main[0]]
        if others:
            self.branch(point, others, "shares the terminal")
        return main[0]

    def branch(self, point: Point, ways: list[Link], reason: str) -> None:
        """Note ways that the path does not take, and why."""
        self.branches.append(Branching(point, tuple(ways), reason))


def _is_pole_of(way: Link, device: Link) -> bool:
    return way.what == device.what == "device" and way.name == device.name


def _serves(way: Link) -> tuple[str, str]:
    return (way.circuit, way.function)


def _nothing_on(point: Point, dead_ends: list[Link]) -> str:
    if dead_ends:
        return f"{dead_ends[0].name} in {point.enclosure} is open"
    return f"nothing else is on {point}"


@dataclass
class Branch:
    """A point, the link that led to it, and the ways on from it.

    `stop` says why there is no way on: ``open``, ``loop`` (it closes at `point`), or nothing.
    """

    point: Point
    link: Link | None = None
    stop: str = ""
    ways: list[Branch] = field(default_factory=list)

    def as_json(self) -> dict[str, object]:
        """Return it, and what hangs on it, as scripts read it."""
        return {
            "enclosure": self.point.enclosure,
            "terminal": self.point.terminal,
            "by": self.link and {self.link.what: self.link.name},
            "stop": self.stop or None,
            "ways": self.ways,
        }

    def walk(self, depth: int = 0) -> Iterator[tuple[int, Branch]]:
        """Yield every branch with its depth, a branch before its ways."""
        yield depth, self
        for way in self.ways:
            yield from way.walk(depth + 1)


def tree_from(network: Network, root: Point) -> Branch:
    """Return the tree of all that can be reached from `root`, nearest first.

    Each link is used once. A link back to a point that the tree has already closes a loop: it is
    shown as a branch that stops there. An open device is shown, and nothing behind it.
    """
    top = Branch(root)
    known, used = {root}, set[int]()
    waiting = deque([top])
    while waiting:
        branch = waiting.popleft()
        for link in network.at(branch.point):
            if id(link) in used:
                continue
            used.add(id(link))
            way = _way(branch.point, link, known)
            branch.ways.append(way)
            if not way.stop:
                known.add(way.point)
                waiting.append(way)
    return top


def _way(here: Point, link: Link, known: set[Point]) -> Branch:
    there = link.beyond(here)
    if link.is_open:
        return Branch(there, link, "open")
    return Branch(there, link, "loop" if there in known else "")


def tree_lines(top: Branch, most: int | None = None) -> list[str]:
    """Return the tree as lines of text, each way under the point that it leaves.

    With `most`, what lies farthest from the root is left out until so many lines are left, but
    none of the root's own ways; a line says how many are left out behind it.
    """
    if most is None:
        return [str(top.point), *_lines(top, "")]
    far = Counter(depth for depth, _ in top.walk())
    reached = accumulate(far[depth] for depth in range(len(far)))
    deepest = sum(lines <= most for lines in reached) - 1
    return [str(top.point), *_lines(top, "", max(1, deepest))]


def _lines(branch: Branch, margin: str, deepest: int | None = None) -> Iterator[str]:
    for way in branch.ways:
        last = way is branch.ways[-1]
        behind = sum(1 for _ in way.walk()) - 1 if deepest == 1 else 0
        left_out = f"  … {behind} more" if behind else ""
        yield f"{margin}{'└─ ' if last else '├─ '}{_line(way)}{left_out}"
        if deepest != 1:
            yield from _lines(way, margin + ("   " if last else "│  "), deepest and deepest - 1)


def _line(way: Branch) -> str:
    link = way.link
    if link is None:
        return str(way.point)
    return f"{link_words(link)} → {way.point}{'  ↺ a loop' if way.stop == 'loop' else ''}"


def link_words(link: Link) -> str:
    """Return what a link is, in words: its tag and circuit, or its device and state."""
    if link.what == "conductor":
        return f"{link.name}  {link.circuit} {link.function}".rstrip()
    if link.is_unsure:
        state = "state unknown"
    else:
        state = "OPEN" if link.is_open else "closed"
    return f"{link.name}  {link.kind or 'device'}, {state}"
