# SPDX-License-Identifier: MIT
"""A bundle and a two-decimal meter as they really are: ohms in a network, no idea of any plan."""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

Node = tuple[str, str]


@dataclass
class RealBundle:
    """Wires with their ohms, joins that people twist, and a meter with leads.

    `mate` gives each near name its far mark; `open_tags` are broken; `shorted` near names touch
    somewhere in between; `bad_twist` is a name whose joins have so many ohms more.
    """

    mate: dict[str, str]
    ohm_each: float
    leads_ohm: float = 0.2
    raceway_ohm: float | None = None
    open_tags: frozenset[str] = frozenset()
    shorted: tuple[tuple[str, str], ...] = ()
    bad_twist: dict[str, float] = field(default_factory=dict)
    place: str = "near"
    joins: dict[str, list[list[str]]] = field(default_factory=lambda: {"near": [], "far": []})
    walks: int = 0
    probes: int = 0

    def answer(self, step: dict[str, Any]) -> dict[str, Any]:
        """Carry a step out and return the answer to it."""
        kind = step["step"]
        if kind == "walk":
            assert step["to"] != self.place, "told to walk to where one stands"
            self.place = step["to"]
            self.walks += 1
        elif kind in ("join", "unjoin"):
            assert step["at"] == self.place, "told to join where one doesn't stand"
            held = self.joins[self.place] if "ends" in step else step.get("groups", [])
            out = set(step.get("ends", ()))
            self.joins[self.place] = [[e for e in group if e not in out] for group in held]
        else:
            assert (kind, step["at"]) == ("probe", self.place)
            self.probes += 1
            one, other = ((self.place, name) for name in step["between"])
            ohms = self._shortest_ohm(one, other)
            return {"ohms": "OL" if ohms is None else round(ohms + self.leads_ohm, 2)}
        return {"done": True}

    def _links(self) -> list[tuple[Node, Node, float]]:
        links = []
        for near, far in self.mate.items():
            half = ("inside", near)
            if near not in self.open_tags:
                links.append((("near", near), half, self.ohm_each / 2))
            links.append((half, ("far", far), self.ohm_each / 2))
        links += [(("inside", a), ("inside", b), 0.02) for a, b in self.shorted]
        if self.raceway_ohm is not None:
            links.append((("near", "raceway"), ("far", "raceway"), self.raceway_ohm))
        for place, groups in self.joins.items():
            for group in groups:
                for a, b in pairwise(group):
                    extra = self.bad_twist.get(a, 0.0) + self.bad_twist.get(b, 0.0)
                    links.append(((place, a), (place, b), 0.01 + extra))
        return links

    def _shortest_ohm(self, start: Node, goal: Node) -> float | None:
        """Return the least resistance along one path (Bellman-Ford)."""
        best = {start: 0.0}
        links = self._links()
        changed = True
        while changed:
            changed = False
            for a, b, ohms in links:
                for here, there in ((a, b), (b, a)):
                    if here in best and best[here] + ohms < best.get(there, 1e9) - 1e-12:
                        best[there] = best[here] + ohms
                        changed = True
        return best.get(goal)
