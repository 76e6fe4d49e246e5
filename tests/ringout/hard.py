# SPDX-License-Identifier: MIT
"""Hard bundles: several faults at once, and what goes wrong with hands, contacts and keys.

Nothing here knows how the ring-out thinks; it only connects nodes, hides and turns readings.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, ClassVar

from tests.ringout.bundles import random_wires
from tests.ringout.simulation import Wires
from wiretrack.encoding import document
from wiretrack.ringout.engine import Ringout
from wiretrack.ringout.results import Result

if TYPE_CHECKING:
    from tests.ringout.simulation import Node

FAULTS = ("open", "short", "earthed", "intermittent", "broken near part", "broken far part")
MISHAPS = ("none", "bad contacts", "bad for good", "wrong key", "wrong twist", "bunches")
BAD_CONTACT = 0.02
MOST_STEPS = 2_000


@dataclass
class HardWires(Wires):
    """A bundle with faults that come and go, ends that never make contact, and slips of hands."""

    links: list[tuple[Node, Node]] = field(default_factory=list)  # touching for good
    comes_and_goes: list[tuple[Node, Node, float]] = field(default_factory=list)
    touching_now: list[tuple[Node, Node]] = field(default_factory=list)
    slips: ClassVar[bool] = True
    bad_for_good: set[Node] = field(default_factory=set)  # no touch on it ever reads closed
    wrong_key: int = -1  # the number of the touch whose answer is turned round
    wrong_twist: int = -1  # the number of the join in which one end goes astray
    bunches: int = -1  # the number of the join of which two bunches touch each other
    touches: int = 0
    joined: int = 0
    told: list[str] = field(default_factory=list)  # what was put in
    asked: Counter[object] = field(default_factory=Counter)

    def connections(self) -> list[tuple[Node, Node]]:
        """Return all that connects two nodes, the contacts that are there now included."""
        return [*super().connections(), *self.links, *self.touching_now]

    def answer(self, step: dict[str, Any]) -> dict[str, Any]:
        """Return what the person answers, who may have slipped."""
        if step["step"] == "join":
            step = self._slipped(step)
        if step["step"] != "probe":
            return super().answer(step)
        self.asked[self._situation(step)] += 1
        self.touching_now = [
            (a, b) for a, b, chance in self.comes_and_goes if self.rng.random() < chance
        ]
        if self.touching_now:
            self.net = None
        answer = super().answer(step)
        if self.touching_now:
            self.touching_now, self.net = [], None
        if any(self.node(step["at"], name) in self.bad_for_good for name in step["between"]):
            answer = {"ohms": "OL"}
        if self.touches == self.wrong_key:
            answer = {"ohms": 0.4 if answer["ohms"] == "OL" else "OL"}
        self.touches += 1
        return answer

    def _situation(self, step: dict[str, Any]) -> object:
        joins = tuple(
            (place, frozenset(frozenset(group) for group in groups))
            for place, groups in sorted(self.joins.items())
        )
        return step["at"], frozenset(step["between"]), joins, len(self.fits), len(self.diodes)

    def _slipped(self, step: dict[str, Any]) -> dict[str, Any]:
        number, self.joined = self.joined, self.joined + 1
        groups = [list(group) for group in step["groups"]]
        if number == self.wrong_twist:
            source = self.rng.randrange(len(groups))
            astray = self.rng.choice([n for n in groups[source] if n not in ("raceway",)] or [""])
            held = {name for group in groups for name in group}
            loose = [n for n in self.bundle.names(step["at"]) if n not in held]
            way = self.rng.choice(("elsewhere", "exchanged", "left out"))
            others = [g for g in groups if g is not groups[source]]
            if astray and way == "elsewhere" and others:
                groups[source].remove(astray)
                self.rng.choice(others).append(astray)
            elif astray and way == "exchanged" and loose:
                groups[source][groups[source].index(astray)] = self.rng.choice(loose)
            elif astray:
                groups[source].remove(astray)
        if number == self.bunches and len(groups) > 1:
            one, two = self.rng.sample(range(len(groups)), 2)
            groups[one] += groups[two]
            del groups[two]
        return {**step, "groups": [group for group in groups if group]}


def hard_wires(
    seed: int,
    *,
    most: int = 24,
    faults: int | None = None,
    mishap: str | None = None,
    kinds: tuple[str, ...] = (),
    **options: Any,
) -> HardWires:
    """Return a bundle of 2 to `most` conductors with faults and one mishap.

    `kinds` are faults to be put in; so many `faults` more are drawn, up to three by default.
    """
    sound = random_wires(seed, 2, most, **options)
    wires = HardWires(sound.bundle, sound.mate, rng=sound.rng)
    rng = wires.rng
    count = rng.randint(0, 3) if faults is None else faults
    for kind in (*kinds, *(rng.choice(FAULTS) for _ in range(count))):
        _put_fault(wires, kind)
    _put_mishap(wires, rng.choice(MISHAPS) if mishap is None else mishap)
    return wires


def _put_fault(wires: HardWires, kind: str) -> None:
    rng, tags = wires.rng, sorted(wires.mate)
    one, two = rng.sample(tags, 2)
    wires.told.append(f"{kind} {one} {two}")
    if kind == "open":
        wires.broken.add(one)
    elif kind == "short":
        wires.shorted.append((one, two))
    elif kind == "earthed":
        wires.shorted.append((one, "raceway"))
    elif kind == "intermittent":
        link = (("near", one), ("near", two), rng.choice((0.1, 0.3, 0.5, 0.7, 0.9)))
        wires.comes_and_goes.append(link)
    else:
        wires.broken.add(one)
        far = kind == "broken far part"
        ends = (wires.mate[one], wires.mate[two]) if far else (one, two)
        place = "far" if far else "near"
        wires.links.append(((place, ends[0]), (place, ends[1])))


def _put_mishap(wires: HardWires, kind: str) -> None:
    rng = wires.rng
    wires.told.append(kind)
    if kind == "bad contacts":
        wires.bad_contact = BAD_CONTACT
    elif kind == "bad for good":
        place = rng.choice(("near", "far"))
        wires.bad_for_good = {
            (place, end)
            for end in rng.sample(wires.bundle.names("far" if place == "far" else "near"), 1)
        }
    elif kind == "wrong key":
        wires.wrong_key = rng.randint(0, 3 * wires.bundle.size)
    elif kind == "wrong twist":
        wires.wrong_twist = rng.randint(0, 2)
    elif kind == "bunches":
        wires.bunches = rng.randint(0, 2)


def rung_out(wires: HardWires) -> tuple[Result, Ringout]:
    """Run a whole ring-out; a run that doesn't end in good time is an error."""
    ringing = Ringout(wires.bundle)
    for _ in range(MOST_STEPS):
        step = ringing.next_step()
        if isinstance(step, Result):
            return step, ringing
        ringing.apply(step, wires.answer(document(step)))
    raise AssertionError(f"{wires.told} doesn't end")
