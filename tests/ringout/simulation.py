# SPDX-License-Identifier: MIT
"""A bundle made of nothing but connections, which knows nothing of any plan.

Every end at either place is a node; conductors, joins and faults connect nodes. A touch reads
closed if the two nodes are connected, except that a bad contact can hide it.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from wiretrack.ringout.engine import Ringout
from wiretrack.ringout.steps import Result

if TYPE_CHECKING:
    from wiretrack.ringout.bundle import Bundle

Node = tuple[str, str]


@dataclass
class Wires:
    """Which far end belongs to which near end, what is faulty, and what is joined."""

    bundle: Bundle
    mate: dict[str, str]
    broken: set[str] = field(default_factory=set)  # near names of open conductors
    shorted: list[tuple[str, str]] = field(default_factory=list)  # near names, or "raceway"
    bad_contact: float = 0.0
    rng: random.Random = field(default_factory=lambda: random.Random(0))
    joins: dict[str, list[list[str]]] = field(default_factory=lambda: {"near": [], "far": []})
    place: str = ""
    net: dict[Node, int] | None = None

    def __post_init__(self) -> None:
        self.place = self.bundle.start

    def node(self, place: str, name: str) -> Node:
        return ("both", name) if name == "raceway" else (place, name)

    def nets(self) -> dict[Node, int]:
        """Return, for every node that is connected to another, the number of its net."""
        links: list[tuple[Node, Node]] = [
            (("near", near), ("far", far))
            for near, far in self.mate.items()
            if near not in self.broken
        ]
        links += [
            (("near", name), ("far", name)) for name in self.bundle.references if name != "raceway"
        ]
        links += [(self.node("near", a), self.node("near", b)) for a, b in self.shorted]
        for place, groups in self.joins.items():
            for group in groups:
                first = self.node(place, group[0])
                links += [(first, self.node(place, name)) for name in group[1:]]
        net: dict[Node, int] = {}
        members: dict[int, list[Node]] = {}
        for number, (one, two) in enumerate(links):
            left, right = net.get(one), net.get(two)
            if left is None and right is None:
                net[one] = net[two] = number
                members[number] = [one, two]
            elif left is None or right is None:
                known, new = (left, two) if left is not None else (right, one)
                assert known is not None
                net[new] = known
                members[known].append(new)
            elif left != right:
                for node in members[right]:
                    net[node] = left
                members[left] += members.pop(right)
        return net

    def connected(self, one: Node, two: Node) -> bool:
        if self.net is None:
            self.net = self.nets()
        first, second = self.net.get(one), self.net.get(two)
        return first is not None and first == second

    def answer(self, step: dict[str, Any]) -> dict[str, Any]:
        kind = step["step"]
        if kind != "probe":
            self.net = None
        if kind == "walk":
            assert self.place != step["to"]
            self.place = step["to"]
        elif kind == "join":
            assert self.bundle.crew == 2 or step["at"] == self.place
            assert not self.joins[step["at"]]
            self.joins[step["at"]] = step["groups"]
        elif kind == "unjoin":
            assert self.bundle.crew == 2 or step["at"] == self.place
            assert self.joins[step["at"]]
            self.joins[step["at"]] = []
        else:
            assert kind == "probe"
            assert step["at"] == self.place
            one, two = (self.node(step["at"], name) for name in step["between"])
            closed = self.connected(one, two) and self.rng.random() >= self.bad_contact
            return {"ohms": 0.4 if closed else "OL"}
        return {"done": True}


def ring_out(wires: Wires, *, most_steps: int = 20_000) -> Result:
    """Run a whole ring-out against the simulated bundle."""
    ringing = Ringout(wires.bundle)
    for _ in range(most_steps):
        step = ringing.next_step()
        if isinstance(step, Result):
            return step
        ringing.apply(step, wires.answer(step.to_json()))
    raise AssertionError("the ring-out doesn't end")


def wrong_matches(wires: Wires, result: Result) -> list[tuple[str, str]]:
    """Return the matches that aren't so."""
    return [(m.near, m.far) for m in result.matches if wires.mate[m.near] != m.far]
