# SPDX-License-Identifier: MIT
"""A network seen from one point: each way on to its end, loops named where they close."""

from __future__ import annotations

from collections import deque
from dataclasses import field
from typing import TYPE_CHECKING

from wiretrack.late import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterator

    from wiretrack.model.entity import Point
    from wiretrack.model.wiring import Link, Network


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


def tree_lines(top: Branch) -> list[str]:
    """Return the tree as lines of text, each way under the point that it leaves."""
    return [str(top.point), *_lines(top, "")]


def _lines(branch: Branch, margin: str) -> Iterator[str]:
    for way in branch.ways:
        last = way is branch.ways[-1]
        yield f"{margin}{'└─ ' if last else '├─ '}{_line(way)}"
        yield from _lines(way, margin + ("   " if last else "│  "))


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
