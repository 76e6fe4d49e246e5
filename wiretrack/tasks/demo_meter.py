# SPDX-License-Identifier: MIT
"""The demo's meter: a bundle as it really lies in its raceway, answering the steps of a ring-out.

It knows joins, wires and the raceway as ohms in a network and nothing of the planning.
"""

from __future__ import annotations

import itertools
from collections import defaultdict
from typing import TYPE_CHECKING, Any

from wiretrack.model.tags import format_tag
from wiretrack.ringout.answers import Done, Ohms
from wiretrack.ringout.bundle import RACEWAY
from wiretrack.ringout.steps import Join, Probe, Unjoin

if TYPE_CHECKING:
    from collections.abc import Mapping

    from wiretrack.ringout.answers import Answer
    from wiretrack.ringout.steps import Action

Node = tuple[str, str]


class DemoMeter:
    """Answers join, walk and probe steps from the facts of one bundle (a part of meter.json)."""

    def __init__(self, facts: Mapping[str, Any]) -> None:
        self._leads_ohm = float(facts["leads_ohm"])
        self._bad = {format_tag(b["tag"]): float(b["extra_ohm"]) for b in facts["bad_joins"]}
        self._joins: dict[str, list[list[str]]] = {"near": [], "far": []}
        self._wires: list[tuple[Node, Node, float]] = [
            (("near", format_tag(tag)), ("far", mark), float(facts["ohms"][tag]))
            for mark, tag in facts["arrangement"].items()
        ]
        raceway = (("near", RACEWAY), ("far", RACEWAY), float(facts["raceway_ohm"]))
        self._wires.append(raceway)

    def answer(self, step: Action) -> Answer:
        """Return the answer to a step, as a careful person with a two-decimal meter gives it."""
        if isinstance(step, Join):
            self._joins[step.at] = [list(group) for group in step.groups]
        elif isinstance(step, Unjoin):
            held = self._joins[step.at] if step.ends else []
            self._joins[step.at] = [[e for e in group if e not in step.ends] for group in held]
        elif isinstance(step, Probe):
            one, other = ((step.at, end) for end in step.between)
            ohms = self._path_ohm(one, other)
            return Ohms(None if ohms is None else round(ohms + self._leads_ohm, 2))
        return Done()

    def _path_ohm(self, start: Node, goal: Node) -> float | None:
        """Return the resistance along the joined conductors, or `None` if there is no path."""
        links = self._links()
        best, waiting = {start: 0.0}, [start]
        while waiting:
            here = waiting.pop(0)
            for there, ohms in links[here]:
                if there not in best or best[here] + ohms < best[there]:
                    best[there] = best[here] + ohms
                    waiting.append(there)
        return best.get(goal)

    def _links(self) -> defaultdict[Node, list[tuple[Node, float]]]:
        links: defaultdict[Node, list[tuple[Node, float]]] = defaultdict(list)
        joins = [
            ((place, one), (place, other), self._bad.get(one, 0.0) + self._bad.get(other, 0.0))
            for place, groups in self._joins.items()
            for group in groups
            for one, other in itertools.pairwise(group)
        ]
        for one, other, ohms in [*self._wires, *joins]:
            links[one].append((other, ohms))
            links[other].append((one, ohms))
        return links
