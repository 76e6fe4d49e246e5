# SPDX-License-Identifier: MIT
"""Following a path from what a word names, end to end, and the tree of all joined with it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.days import day
from wiretrack.late import dataclass
from wiretrack.model.entities import Conductor
from wiretrack.model.entity import Point
from wiretrack.model.path import path_of, path_through, tree_from, tree_lines
from wiretrack.model.tags import parse_tag
from wiretrack.model.wiring import Link, Wiring
from wiretrack.readings.judging import Judge
from wiretrack.render.tree import tree_svg
from wiretrack.store.searching import resolve
from wiretrack.store.source import site_of
from wiretrack.tasks.change.retired import refuse_retired

if TYPE_CHECKING:
    from wiretrack.model.path import Branch, Path
    from wiretrack.store.store import Registry


def trace(registry: Registry, what: str) -> Path:
    """Return the path through a conductor in use (a tag), or through a terminal.

    It runs from the end that the record calls "from" (the source, where the record was written
    that way) to the load.
    """
    return traced(registry, Wiring(site_of(registry)), what)


def traced(registry: Registry, wiring: Wiring, what: str) -> Path:
    """Return `trace`, read by a wiring that is at hand."""
    named = resolve(registry, what, ("conductor", "terminal"))
    if named.point:
        return path_through(wiring, named.point)
    conductor = wiring.site.one(Conductor, named.code)
    refuse_retired(registry, conductor)
    return path_of(wiring, wiring.link(conductor))


@dataclass(frozen=True)
class Joined:
    """All that is connected with a conductor or terminal, as a tree from its path's source's side.

    `loop` names the links of a loop that it contains, if it does.
    """

    what: str
    path: Path
    tree: Branch
    loop: tuple[str, ...]

    @property
    def lines(self) -> list[str]:
        """The tree as lines of text."""
        return tree_lines(self.tree)

    def lines_within(self, most: int) -> list[str]:
        """Return so many of its lines, what is farthest from the root left out."""
        return tree_lines(self.tree, most)[:most]

    def svg(self) -> str:
        """Return the tree as an SVG document, the path drawn broad."""
        links = [step for step in self.path.steps if isinstance(step, Link)]
        lit = [link.name for link in links if link.what == "conductor"]
        return tree_svg(self.tree, f"What is connected with {self.what}", lit)

    def as_json(self) -> dict[str, object]:
        """Return it as scripts read it."""
        root = {"enclosure": self.path.start.enclosure, "terminal": self.path.start.terminal}
        tree = {"root": root, "tree": self.tree, "lines": self.lines, "loop": self.loop}
        return {**self.path.as_json(), **tree}


def joined_with(registry: Registry, what: str) -> Joined:
    """Return all that is joined with a conductor or terminal."""
    wiring = Wiring(site_of(registry))
    path = traced(registry, wiring, what)
    first = path.steps[0]
    if isinstance(first, Point):
        network = wiring.joined([first])
    else:
        network = wiring.joined([], [wiring.site.one(Conductor, parse_tag(first.name))])
    loop = dict.fromkeys(link.name for link in network.loop(path.start))
    return Joined(what, path, tree_from(network, path.start), tuple(loop))


@dataclass(frozen=True)
class DoubtfulPath:
    """A path, and what speaks against each of its steps."""

    path: Path
    steps: tuple[tuple[Point | Link, tuple[str, ...]], ...]

    @property
    def is_sound(self) -> bool:
        """Whether nothing speaks against any step."""
        return not any(doubts for _, doubts in self.steps)


def path_doubts(registry: Registry, what: str) -> DoubtfulPath:
    """Return the path through `what`, with the doubts about each step.

    A conductor is doubtful by its last readings that fail or are in doubt, by an end that isn't
    landed, and by having no reading at all; a device by standing open or unknown.
    """
    wiring = Wiring(site_of(registry))
    judge = Judge(wiring.site)
    path = traced(registry, wiring, what)

    def doubts(step: Point | Link) -> tuple[str, ...]:
        if isinstance(step, Point):
            return ()
        if step.what == "device":
            return ("the record doesn't say whether it is closed",) if step.is_unsure else ()
        return _of_conductor(judge, wiring.site.one(Conductor, parse_tag(step.name)))

    return DoubtfulPath(path, tuple((step, doubts(step)) for step in path.steps))


def _of_conductor(judge: Judge, conductor: Conductor) -> tuple[str, ...]:
    doubts = [
        f"{end.enclosure} end is {end.state or 'not known to be landed'}"
        for end in conductor.ends
        if end.state != "landed"
    ]
    counted = (reading for reading in conductor.readings if reading.superseded_by is None)
    last = {reading.key: reading for reading in counted}
    for reading in last.values():
        verdict = judge.verdict(reading)
        if verdict.outcome != "pass":
            read = f"{reading.kind} {day(reading.at)}"
            doubts.append(f"{read}, {verdict.outcome}: {verdict.reason}")
    return (*doubts, *([] if last else ["never tested"]))
