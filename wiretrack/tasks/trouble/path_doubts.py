# SPDX-License-Identifier: MIT
"""What to look at first when something doesn't work: the path, and what along it isn't sound."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.days import day
from wiretrack.late import dataclass
from wiretrack.model.entities import Conductor
from wiretrack.model.entity import Point
from wiretrack.model.tags import parse_tag
from wiretrack.model.wiring import Wiring
from wiretrack.readings.judging import Judge
from wiretrack.store.source import site_of
from wiretrack.tasks.find.tracing import traced

if TYPE_CHECKING:
    from wiretrack.model.path import Path
    from wiretrack.model.wiring import Link
    from wiretrack.store.store import Registry


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
        return _of_conductor(registry, judge, wiring.site.one(Conductor, parse_tag(step.name)))

    return DoubtfulPath(path, tuple((step, doubts(step)) for step in path.steps))


def _of_conductor(registry: Registry, judge: Judge, conductor: Conductor) -> tuple[str, ...]:
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
