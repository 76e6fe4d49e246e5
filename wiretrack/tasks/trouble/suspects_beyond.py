# SPDX-License-Identifier: MIT
"""Who is suspected of low insulation in what hangs on a conductor or circuit, and which readings.

Loads are off and what is read is disconnected, so that a reading is of wires alone; a load has a
reading of its own. Between two wires it is read where a short between them trips too.
"""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

from wiretrack.electrical import symptoms
from wiretrack.errors import FaultLocationError, Hint
from wiretrack.late import dataclass
from wiretrack.manner import words
from wiretrack.model.entities import Conductor, Enclosure
from wiretrack.model.wiring import ALWAYS_JOINED, Wiring
from wiretrack.model.words import ARRAYS, PROTECTIVE
from wiretrack.tasks.trouble.gathering import (
    Gathering,
    Suspect,
    place_of,
    refuse_earth,
    sole_circuit,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from wiretrack.model.wiring import Link, Network
    from wiretrack.store.searching import Named
    from wiretrack.tasks.trouble.gathering import Suspicion

_INSULATION = "isolate, prove dead, disconnect both ends, and measure its insulation alone"


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


def beyond(found: Gathering, named: Named) -> Suspicion:
    """Return the suspects of what hangs on a conductor, or on all lines of a circuit."""
    circuit, top = named.code, ""
    if named.what == "conductor":
        conductor = found.site.one(Conductor, named.code)
        refuse_earth(conductor)
        circuit, top = sole_circuit(conductor), str(conductor.tag)
    network = Wiring(found.site, PROTECTIVE).of_circuit(circuit)
    own = [k for k in network.links if k.what == "conductor" and circuit in k.served]
    below = {link.name: _downstream(network, link) for link in own}
    if top:
        own = [link for link in own if link.name == top or link.name in below[top]]
    if not own:
        raise FaultLocationError(
            f"{named.code} has no conductor that could be disconnected",
            "Record its conductors, or name a tag",
        )
    number = {
        k.name: found.add(
            Suspect(k.name, *found.weigh(k.name), "conductor", k.name, decide=_INSULATION)
        )
        for k in own
    }
    hanging = _Hanging({link.name: link for link in own}, below, number)
    _to_earth(found, hanging)
    if found.symptom.name == "tripping-breaker":
        _between(found, hanging)
        _breakers(found, network, hanging)
    _arrays(found, hanging)
    _loads(found, hanging)
    found.remarks.append("disconnect electronics and surge protection before the test voltage")
    return found.suspicion(circuit, top or circuit)


def _to_earth(found: Gathering, hanging: _Hanging) -> None:
    """Add the readings to PE of each conductor with what hangs on it, and of that alone."""
    for name, link in hanging.own.items():
        with_own = [hanging.number[n] for n in hanging.with_below(name)]
        found.ask(link.one.enclosure, (name, "PE"), with_own, [name])
        if len(with_own) > 1 and link.is_landed(link.other):
            between = (place_of(link, link.other), "PE")
            found.ask(link.other.enclosure, between, with_own[1:], [name])


def _between(found: Gathering, hanging: _Hanging) -> None:
    """Add the short between each two conductors that run side by side, and its readings."""
    number = {}
    pairs = [
        (one, other)
        for one, other in combinations(hanging.own.values(), 2)
        if _boxes(one) == _boxes(other)
    ]
    for one, other in pairs:
        name, code = f"a short between {one.name} and {other.name}", f"{one.name},{other.name}"
        weighed = found.weigh_short(one.name, other.name)
        number[frozenset((one.name, other.name))] = found.add(
            Suspect(name, *weighed, "conductor", code, decide=_INSULATION)
        )
    for one, other in pairs:
        both = {
            number[frozenset((a, b))]
            for a in hanging.with_below(one.name)
            for b in hanging.with_below(other.name)
            if frozenset((a, b)) in number
        }
        tags = [one.name, other.name]
        found.ask(one.one.enclosure, (one.name, other.name), both, tags)
        rest = both - {number[frozenset(tags)]}
        if rest and one.is_landed(one.other) and other.is_landed(other.other):
            between = place_of(one, one.other), place_of(other, other.other)
            found.ask(one.other.enclosure, between, rest, tags)


def _boxes(link: Link) -> tuple[str, str]:
    return link.one.enclosure, link.other.enclosure


def _breakers(found: Gathering, network: Network, hanging: _Hanging) -> None:
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
        because = f"a {pole.kind or 'device'}"
        found.add(Suspect(code.replace("/", " "), weight, because, "device", code, decide))


def _arrays(found: Gathering, hanging: _Hanging) -> None:
    boxes = {link.one.enclosure for link in hanging.own.values()}
    arrays = (e.code for e in found.site.find(Enclosure, "code", boxes) if e.kind in ARRAYS)
    for box in sorted(arrays):
        decide = f"measure the array's insulation in {box} with its strings disconnected"
        weight = symptoms.ARRAY_WEIGHT
        array = found.add(Suspect(f"the array in {box}", weight, "", "enclosure", box, decide))
        for name, link in hanging.own.items():
            if link.one.enclosure == box and link.is_landed(link.one):
                found.ask(box, (place_of(link, link.one), "PE"), [array], [name])


def _loads(found: Gathering, hanging: _Hanging) -> None:
    """Add what is connected at the far ends, a suspect for each box, with its reading to PE."""
    boxes: dict[str, list[Link]] = {}
    for link in hanging.leaves():
        boxes.setdefault(link.other.enclosure, []).append(link)
    for box, links in boxes.items():
        name, weight = words(f"an earth fault in what is connected in {box}"), symptoms.LOAD_WEIGHT
        decide = "disconnect it and measure its insulation, or exchange it"
        load = found.add(Suspect(name, weight, "", "load", box, decide))
        tags = [link.name for link in links]
        for link in links:
            if link.is_landed(link.other):
                found.ask(box, (place_of(link, link.other), "PE"), [load], tags, of_load=True)
        if found.symptom.name == "tripping-breaker":
            name, because = f"a short inside what is connected in {box}", "or too much current"
            found.add(Suspect(name, weight, because, "load", box, "run the circuit without it"))


def _downstream(network: Network, link: Link) -> list[str]:
    """Return the conductors of the same circuit that hang on the "to" end of one."""

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
