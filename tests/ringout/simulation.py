# SPDX-License-Identifier: MIT
"""A bundle made of nothing but connections, which knows nothing of any plan.

Every end at either place is a node; conductors, joins and faults connect nodes. A touch reads
closed if the two nodes are connected, except that a bad contact can hide it.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, ClassVar

from wiretrack.encoding import document
from wiretrack.ringout.engine import Ringout
from wiretrack.ringout.results import Result

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
    fits: list[tuple[str, str, str, float]] = field(default_factory=list)
    diodes: list[tuple[str, str, str]] = field(default_factory=list)  # place, cathode, anode
    diode: str = "good"  # or "reversed", as put on by mistake; "dead" or "short"
    net: dict[Node, int] | None = None
    slips: ClassVar[bool] = False  # whether a join may not be as it was asked for

    def __post_init__(self) -> None:
        self.place = self.bundle.start

    def node(self, place: str, name: str) -> Node:
        return ("both", name) if name == "raceway" else (place, name)

    def connections(self) -> list[tuple[Node, Node]]:
        """Return all that connects two nodes: conductors, references, contacts, joins."""
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
        return links

    def nets(self) -> dict[Node, int]:
        """Return, for every node that is connected to another, the number of its net."""
        net: dict[Node, int] = {}
        members: dict[int, list[Node]] = {}
        for number, (one, two) in enumerate(self.connections()):
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

    def through_resistors(self, one: Node, two: Node) -> float | None:
        """Return the resistance between two nodes through fitted resistors, by Kirchhoff's laws."""
        net = self.net if self.net is not None else self.nets()
        nodes: dict[object, int] = {}

        def number(node: Node) -> int:
            return nodes.setdefault(net.get(node, node), len(nodes))

        links = [
            (number(self.node(at, end)), number(self.node(at, common)), 1 / ohms)
            for at, end, common, ohms in self.fits
        ]
        first, second = number(one), number(two)
        return resistance_between(links, first, second)

    def through_diode(self, plus: Node, minus: Node) -> bool:
        """Return whether current flows from one node over the diode to the other."""
        for at, cathode, anode in self.diodes:
            entry, exit_ = self.node(at, anode), self.node(at, cathode)
            onward = self._same(plus, entry) and self._same(exit_, minus)
            back = self._same(plus, exit_) and self._same(entry, minus)
            if self.diode == "short" and (onward or back):
                return True
            if self.diode != "dead" and onward:
                return True
        return False

    def _same(self, one: Node, two: Node) -> bool:
        return one == two or self.connected(one, two)

    def answer(self, step: dict[str, Any]) -> dict[str, Any]:
        kind = step["step"]
        if kind == "fit" and "diode" in step:
            assert self.bundle.crew == 2 or step["at"] == self.place
            assert not self.joins[step["at"]]
            assert not self.diodes
            ends = (step["diode"]["cathode"], step["diode"]["anode"])
            self.diodes = [(step["at"], *(ends[::-1] if self.diode == "reversed" else ends))]
            return {"done": True}
        if kind == "fit":
            assert self.bundle.crew == 2 or step["at"] == self.place
            assert all(fit[0] != step["at"] for fit in self.fits)
            self.fits += [
                (step["at"], one["end"], step["common"], one["ohms"]) for one in step["resistors"]
            ]
            return {"done": True}
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
            assert self.slips or self.joins[step["at"]] or self.fits or self.diodes
            if "ends" in step:
                held = self.joins[step["at"]]
                assert self.slips or {e for group in held for e in group} >= set(step["ends"])
                left = [[end for end in group if end not in step["ends"]] for group in held]
                self.joins[step["at"]] = [group for group in left if len(group) > 1]
                return {"done": True}
            self.joins[step["at"]] = []
            self.diodes = [one for one in self.diodes if one[0] != step["at"]]
            self.fits = [fit for fit in self.fits if fit[0] != step["at"]]
        else:
            assert kind == "probe"
            assert step["at"] == self.place
            one, two = (self.node(step["at"], name) for name in step["between"])
            if self.rng.random() < self.bad_contact:
                return {"ohms": "OL"}
            if self.connected(one, two):
                return {"ohms": 0.4}
            if self.diodes:
                plus, minus = (two, one) if step.get("plus") == step["between"][1] else (one, two)
                return {"ohms": 680.0 if self.through_diode(plus, minus) else "OL"}
            ohms = self.through_resistors(one, two)
            return {"ohms": "OL" if ohms is None else round(ohms * 1.005 + 0.4, 1)}
        return {"done": True}


def resistance_between(
    links: list[tuple[int, int, float]], first: int, second: int
) -> float | None:
    """Return the resistance between two nodes of a network of conductances; `None` if apart."""
    reached, front = [first], [first]
    while front:
        here = front.pop()
        for a, b, _ in links:
            for one, other in ((a, b), (b, a)):
                if one == here and other not in reached:
                    reached.append(other)
                    front.append(other)
    if second not in reached:
        return None
    index = {node: i for i, node in enumerate(node for node in reached if node != second)}
    size = len(index)
    rows = [[0.0] * size + [0.0] for _ in range(size)]
    rows[index[first]][size] = 1.0  # one ampere in at `first`, out at `second`, which is at 0 V
    for a, b, siemens in links:
        for one, other in ((a, b), (b, a)):
            if a != b and one in index:
                rows[index[one]][index[one]] += siemens
                if other in index:
                    rows[index[one]][index[other]] -= siemens
    for column in range(size):
        pivot = max(range(column, size), key=lambda row: abs(rows[row][column]))
        rows[column], rows[pivot] = rows[pivot], rows[column]
        for row in range(size):
            if row != column:
                factor = rows[row][column] / rows[column][column]
                rows[row] = [x - factor * y for x, y in zip(rows[row], rows[column], strict=True)]
    return rows[index[first]][size] / rows[index[first]][index[first]]


def ring_out(wires: Wires, *, most_steps: int = 20_000) -> Result:
    """Run a whole ring-out against the simulated bundle."""
    ringing = Ringout(wires.bundle)
    for _ in range(most_steps):
        step = ringing.next_step()
        if isinstance(step, Result):
            return step
        ringing.apply(step, wires.answer(document(step)))
    raise AssertionError("the ring-out doesn't end")


def seconds(result: Result) -> float:
    """Return how long a ring-out takes: a walk 180 s, an end twisted or taken out 12 s, a touch 4.

    Common practice, as the project's plans assume it.
    """
    return 180 * result.walks + 12 * result.hands + 4 * result.probes


def by_hand_s(count: int, open_touches: int) -> float:
    """Return the least time that ringing out so many look-alikes by a chain takes by hand. [s]

    Pairs are twisted here; there each pair is found, and the pairs are chained by one end each;
    back here the pairs are taken off and the chain is followed. Of so many ends left, the one
    that belongs to another is found after half as many touches on the mean. Before, conductors
    that touch each other are searched for, as thoroughly as asked: two by two, or with all ends
    in one bunch, out of which each is taken and touched against the rest.
    """
    pairs = (count - 1) // 2
    found = 2 * sum((count - 2 * i) / 2 for i in range(pairs))
    bunch = 2 * count * 12 + open_touches * count * 4
    search = min(open_touches * count * (count - 1) / 2 * 4, bunch)
    return 2 * 180 + 6 * pairs * 12 + found * 4 + search


def corrected(ringing: Ringout, index: int, answer: dict[str, Any]) -> Ringout:
    """Return the ring-out as it is when the log's step `index` has another answer."""
    log = list(ringing.log)
    log[index] = (log[index][0], log[index][0].parse(answer))
    return Ringout.replayed(ringing.bundle, log)


def switched(ringing: Ringout, **gear: Any) -> Ringout:
    """Return the ring-out with other gear or crew from here on, and all that is known kept."""
    return Ringout.replayed(replace(ringing.bundle, **gear), ringing.log)


def all_told(ringing: Ringout) -> Any:
    """Return all that a ring-out says of itself as it is now, why matches are sure included."""
    found = ringing.result(), ringing.candidates(), ringing.contradictions()
    return document([*found, len(ringing.log)])


def wrong_matches(wires: Wires, result: Result) -> list[tuple[str, str]]:
    """Return the matches that aren't so."""
    return [(m.near, m.far) for m in result.matches if wires.mate[m.near] != m.far]
