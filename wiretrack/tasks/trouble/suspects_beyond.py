# SPDX-License-Identifier: MIT
"""Who is suspected of low insulation in what hangs on a conductor or circuit, and which readings.

Loads are off and what is read is disconnected, so that a reading is of wires alone; a load has a
reading of its own. Between two wires it is read where a short between them trips too.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING

from wiretrack.electrical import symptoms
from wiretrack.errors import FaultLocationError, Hint
from wiretrack.model.entities import Conductor
from wiretrack.model.tags import format_tag
from wiretrack.model.wiring import ALWAYS_JOINED, Wiring
from wiretrack.store.source import site_of
from wiretrack.tasks.find.topology import ARRAYS, boxes_in
from wiretrack.tasks.trouble.lineup import (
    EARTH,
    Lineup,
    Weigher,
    place_of,
    refuse_earth,
    sole_circuit,
)

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from wiretrack.electrical.symptoms import Symptom
    from wiretrack.model.entity import Point
    from wiretrack.model.wiring import Link, Network
    from wiretrack.store.store import Registry

_INSULATION = "isolate, prove dead, disconnect both ends, and measure its insulation alone"
_LOAD_ASK = (
    "Isolate, prove dead. Disconnect {name} in {point}, the load stays on {one}. "
    "Is the insulation of {one} to {other} below its limit?"
)


@dataclass(frozen=True)
class _Hanging:
    """The conductors of a search, what hangs on each, and their numbers as suspects."""

    own: dict[str, Link]
    below: dict[str, list[str]]
    number: dict[str, int]

    def with_below(self, name: str) -> list[str]:
        """Return a conductor and those of the search that hang on it."""
        return [name, *(n for n in self.below[name] if n in self.own)]

    def leaves(self) -> Iterator[Link]:
        """Yield the conductors on which nothing hangs and whose ends may be on a load."""
        for name, link in self.own.items():
            loose = ("loose", "capped")
            if not self.below[name] and not link.other.terminal.removesuffix(", far").endswith(
                loose
            ):
                yield link


def beyond(registry: Registry, symptom: Symptom, kind: str, code: str) -> Lineup:
    """Return the suspects of what hangs on a conductor, or on all lines of a circuit."""
    site, circuit = site_of(registry), code
    if kind == "conductor":
        conductor = site.one(Conductor, code)
        refuse_earth(format_tag(code), conductor.function)
        circuit = sole_circuit(conductor)
    network = Wiring(site, EARTH).of_circuit(circuit)
    own = [k for k in network.links if k.what == "conductor" and circuit in k.served]
    below = {link.name: _downstream(network, link) for link in own}
    if kind == "conductor":
        top = format_tag(code)
        own = [link for link in own if link.name == top or link.name in below[top]]
    if not own:
        raise FaultLocationError(
            f"{code} has no conductor that could be disconnected",
            "Record its conductors, or name a tag",
        )
    made = Lineup(circuit, format_tag(code) if kind == "conductor" else code)
    weigher = Weigher(registry, symptom)
    number = {
        link.name: made.suspect(
            link.name, "conductor", link.name, _INSULATION, *weigher.conductor(link.name)
        )
        for link in own
    }
    hanging = _Hanging({link.name: link for link in own}, below, number)
    _to_earth(made, symptom, hanging)
    if symptom.name == "tripping-breaker":
        _between(made, symptom, hanging, weigher)
        _breakers(made, network, hanging)
    _arrays(registry, made, symptom, hanging)
    _loads(made, symptom, hanging)
    made.add_others(symptom)
    made.remarks.append("take electronics and surge protective devices off before the test voltage")
    return made


def _to_earth(made: Lineup, symptom: Symptom, hanging: _Hanging) -> None:
    """Add the readings to PE of each conductor with what hangs on it, and of that alone."""
    for name, link in hanging.own.items():
        with_own = [hanging.number[n] for n in hanging.with_below(name)]
        _read(made, symptom, link.one, (name, "PE"), with_own, [name])
        if len(with_own) > 1 and link.is_landed(link.other):
            between = (place_of(link, link.other), "PE")
            _read(made, symptom, link.other, between, with_own[1:], [name])


def _read(
    made: Lineup,
    symptom: Symptom,
    point: Point,
    between: tuple[str, str],
    bad: Sequence[int],
    parted: Sequence[str],
) -> None:
    made.question(symptom, point.enclosure, between, bad, parted=parted)


def _between(made: Lineup, symptom: Symptom, hanging: _Hanging, weigher: Weigher) -> None:
    """Add the short between each two conductors that run side by side, and its readings."""
    pairs = [
        (one, other)
        for one, other in combinations(hanging.own.values(), 2)
        if _ends_in(one) == _ends_in(other)
    ]
    number = {}
    for one, other in pairs:
        name, code = f"a short between {one.name} and {other.name}", f"{one.name},{other.name}"
        number[frozenset((one.name, other.name))] = made.suspect(
            name, "conductor", code, _INSULATION, *weigher.pair(one.name, other.name)
        )
    for one, other in pairs:
        both = {
            number[frozenset((a, b))]
            for a in hanging.with_below(one.name)
            for b in hanging.with_below(other.name)
            if frozenset((a, b)) in number
        }
        tags = [one.name, other.name]
        _read(made, symptom, one.one, (one.name, other.name), sorted(both), tags)
        rest = both - {number[frozenset(tags)]}
        if rest and one.is_landed(one.other) and other.is_landed(other.other):
            between = place_of(one, one.other), place_of(other, other.other)
            _read(made, symptom, one.other, between, sorted(rest), tags)


def _ends_in(link: Link) -> tuple[str, str]:
    return link.one.enclosure, link.other.enclosure


def _breakers(made: Lineup, network: Network, hanging: _Hanging) -> None:
    """Add the devices that feed the search's conductors: no insulation reading shows one."""
    below = {name for names in hanging.below.values() for name in names}
    heads = [link for name, link in hanging.own.items() if name not in below]
    devices = {
        f"{pole.one.enclosure}/{pole.name}": pole
        for link in heads
        for pole in network.at(link.one)
        if pole.what == "device" and pole.kind not in (*ALWAYS_JOINED, "load", "source")
    }
    for code, pole in devices.items():
        weight = symptoms.DEVICE_WEIGHTS.get(pole.kind or "", 1.0)
        decide = "close it with its load side disconnected: does it trip?"
        name = code.replace("/", " ")
        made.suspect(name, "device", code, decide, weight, f"a {pole.kind or 'device'}")


def _arrays(registry: Registry, made: Lineup, symptom: Symptom, hanging: _Hanging) -> None:
    """Add each array that conductors begin at, with a reading of its own."""
    arrays = boxes_in(registry, {k.one.enclosure for k in hanging.own.values()}, ARRAYS)
    for box in sorted(arrays):
        decide = f"measure the array's insulation in {box} with its strings disconnected"
        array = made.suspect(f"the array in {box}", "enclosure", box, decide, symptoms.ARRAY_WEIGHT)
        for name, link in hanging.own.items():
            if link.one.enclosure == box and link.is_landed(link.one):
                _read(made, symptom, link.one, (place_of(link, link.one), "PE"), [array], [name])


def _loads(made: Lineup, symptom: Symptom, hanging: _Hanging) -> None:
    """Add what is connected at the far ends, a suspect for each box, with its reading to PE."""
    boxes: dict[str, list[Link]] = {}
    for link in hanging.leaves():
        boxes.setdefault(link.other.enclosure, []).append(link)
    for box, links in boxes.items():
        decide = "disconnect it and measure its insulation, or exchange it"
        load = made.suspect(
            f"an earth fault in what is connected in {box}", "load", box, decide,
            symptoms.LOAD_WEIGHT,
        )  # fmt: skip
        tags = [link.name for link in links]
        for link in links:
            if link.is_landed(link.other):
                place = place_of(link, link.other)
                made.question(symptom, box, (place, "PE"), [load], parted=tags, loads="on",
                              ask=_LOAD_ASK)  # fmt: skip
        if symptom.name == "tripping-breaker":
            made.suspect(
                f"a short inside what is connected in {box}", "load", box,
                "run the circuit without it", symptoms.LOAD_WEIGHT, "or too much current",
            )  # fmt: skip


def _downstream(network: Network, link: Link) -> list[str]:
    """Return the conductors of the same circuit that hang on the "to" end of one.

    Raises
    ------
    FaultLocationError
        If they lead back to its "from" end.
    """

    def passes(other: Link) -> bool:
        if other is link or other.is_open:
            return False
        return other.what == "device" or not {*link.served}.isdisjoint(other.served)

    reached = network.reached([link.other], passes)
    if link.one in reached:
        raise FaultLocationError(
            f"{link.name} is part of a loop, so nothing lies beyond it",
            Hint("Open a device in the loop, or correct the record.", job="tree"),
        )
    return [
        other.name
        for other in network.links
        if other.what == "conductor" and passes(other) and other.one in reached
    ]
