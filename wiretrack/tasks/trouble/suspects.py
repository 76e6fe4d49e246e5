# SPDX-License-Identifier: MIT
"""Who is suspected of a symptom along the path to a load, and which readings tell them apart."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise, product
from typing import TYPE_CHECKING

from wiretrack.electrical import symptoms
from wiretrack.errors import FaultLocationError, Hint
from wiretrack.late import dataclass
from wiretrack.model.entities import Circuit, Conductor, Enclosure
from wiretrack.model.entity import Point
from wiretrack.model.wiring import Wiring
from wiretrack.model.words import ARRAYS, DC_SYSTEMS, LINES, PROTECTIVE
from wiretrack.store.searching import resolve
from wiretrack.tasks.change.retired import refuse_retired_named
from wiretrack.tasks.trouble.gathering import (
    Gathering,
    Suspect,
    place_of,
    refuse_earth,
    sole_circuit,
)
from wiretrack.tasks.trouble.isolation import UNSWITCHED, supplies_in
from wiretrack.tasks.trouble.suspects_beyond import beyond

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from wiretrack.electrical.symptoms import Symptom
    from wiretrack.model.isolating import Supply
    from wiretrack.model.site import Site
    from wiretrack.model.wiring import Link
    from wiretrack.store.store import Registry
    from wiretrack.tasks.trouble.gathering import Suspicion

_NEUTRALS = ("N", "M")
_DC = {"L+": "L-", "L-": "L+"}


def suspected(registry: Registry, symptom: Symptom, what: str) -> Suspicion:
    """Return what is suspected of a symptom at a conductor or circuit."""
    named = resolve(registry, what, ("conductor", "circuit"))
    refuse_retired_named(registry, named.what, named.code)
    found = Gathering(registry, symptom)
    if symptom.bad_leaves == "beyond":
        return beyond(found, named)
    if named.what == "conductor":
        return _before(found, found.site.one(Conductor, named.code))
    return _before(found, _only(found.site, named.code))


def _only(site: Site, circuit: str) -> Conductor:
    """Return the conductor of a circuit to follow; it is asked for where there are several."""
    found = [c for c in site.one(Circuit, circuit).in_service if c.function not in PROTECTIVE]
    if len(found) == 1:
        return found[0]
    names = ", ".join(f"{c.tag} {c.function}" for c in found[:8])
    raise FaultLocationError(
        f"{circuit} has {len(found)} conductors that could be followed",
        f"Name the one at the load's terminal: {names}" if found else "Record its conductors",
    )


@dataclass(frozen=True)
class _Stop:
    """A point of a path where it can be measured, and what lies before it."""

    point: Point
    place: str
    suspects: tuple[int, ...]
    devices: frozenset[tuple[str, str]]


@dataclass(frozen=True)
class _WayBack:
    """A way back of the current: its stops; none, but what is `missing`, where none is recorded."""

    function: str
    stops: tuple[_Stop, ...]
    missing: tuple[int, ...] = ()

    def across(self, stop: _Stop, every: frozenset[tuple[str, str]]) -> _Stop | None:
        """Return the stop in the same box that as many devices lie before, of both ways' `every`.

        Where the way isn't in the record, its function stands for the terminal.
        """
        box = stop.point.enclosure
        if not self.stops:
            return _Stop(Point(box, self.function), f"{box}/{self.function}", self.missing, every)
        both = every & self.stops[-1].devices
        for other in self.stops:
            if other.point.enclosure == box and other.devices & both == stop.devices & both:
                return other
        return None


def _before(found: Gathering, conductor: Conductor) -> Suspicion:
    """Return the suspects along the path from the nearest supply to a conductor's load.

    A reading against the neutral, the other pole or another line is bad for a fault in either of
    them; one of a line against PE tells which, where the circuit's system has an earth.
    """
    circuit = sole_circuit(conductor)
    supply, path = _path_to(found.site, conductor)
    stops = _stops(found, supply.point, path, _supply(found, supply))
    has_earth = _has_earth(found.site.one(Circuit, circuit))
    ways = [*_ways_back(found, conductor, path[-1], supply.point.enclosure, has_earth)]
    if found.symptom.name == "reversed-polarity":  # exchanged are both: one names the other
        alone = [tuple(replace(stop, suspects=()) for stop in way.stops) for way in ways]
        pairs = zip(ways, alone, strict=True)
        ways = [] if has_earth else [replace(way, stops=stops) for way, stops in pairs]
    amid = {n + 1 for n, (a, b) in enumerate(pairwise(map(_device_of, path))) if a and a == b}
    for stop in (stop for n, stop in enumerate(stops) if n not in amid):
        box = stop.point.enclosure
        if has_earth and conductor.function not in _NEUTRALS:
            found.ask(box, (stop.place, "PE"), stop.suspects)
        for way in ways:
            other = way.across(stop, stops[-1].devices)
            if other is None:
                continue
            found.ask(box, (stop.place, other.place), (*stop.suspects, *other.suspects))
            if has_earth and way.function in LINES:
                found.ask(box, (other.place, "PE"), other.suspects)
    found.add(
        Suspect(
            f"the load on {stops[-1].point}",
            symptoms.LOAD_WEIGHT,
            what="load",
            code=stops[-1].place,
            decide="measure at the load's own terminals, then test or exchange the load",
        )
    )
    return found.suspicion(circuit, str(conductor.tag))


def _stops(
    found: Gathering, point: Point, path: Sequence[Link], supply: int, back: str = ""
) -> tuple[_Stop, ...]:
    """Return the stops of a path from `point`, its links added as suspects.

    `back` is the function of a way back.
    """
    before, devices = {supply: None}, set[tuple[str, str]]()
    stops = [_Stop(point, place_of(path[0], point), (supply,), frozenset())]
    for link in path:
        before[_suspect(found, link, back)] = None
        device = _device_of(link)
        if device:
            devices.add(device)
        point = link.beyond(point)
        stops.append(_Stop(point, place_of(link, point), tuple(before), frozenset(devices)))
    return tuple(stops)


def _has_earth(circuit: Circuit) -> bool:
    """Return whether a line of a circuit has a voltage to PE: AC that isn't known to be unearthed.

    In DC only where the record says that it is solidly earthed.
    """
    if circuit.system in DC_SYSTEMS:
        return bool(circuit.solidly_earthed)
    return circuit.solidly_earthed is not False


def _ways_back(
    found: Gathering, of: Conductor, last: Link, box: str, has_earth: bool
) -> Iterator[_WayBack]:
    """Yield the ways back along the last conductor of a path, from the supply's box on.

    They are the neutral or the other pole, else the other lines.
    """
    members = found.site.one(Circuit, sole_circuit(of)).in_service
    there = {c.function for c in members}
    if of.function in _DC:
        wanted = [_DC[of.function]]
    elif of.function in LINES and "N" in there:
        wanted = ["N"]
    else:
        wanted = [f for f in (*LINES, *_DC) if f in there and f != of.function]
    boxes = {last.one.enclosure, last.other.enclosure}
    for function in wanted[:1] if of.function in _NEUTRALS else wanted:
        parallel = (
            c for c in members if c.function == function and {e.enclosure for e in c.ends} == boxes
        )
        conductor = next(parallel, None)
        way = conductor and _way_back(found, conductor, box)
        if way:
            yield way
        elif not has_earth:
            yield _not_recorded(found, function)


def _way_back(found: Gathering, conductor: Conductor, box: str) -> _WayBack | None:
    """Return a way back from the supply's box on; `None` and a remark if it can't be followed."""
    function = conductor.function
    try:
        supply, path = _path_to(found.site, conductor)
    except FaultLocationError as error:
        found.remarks.append(f"{function} isn't followed: {error.what.rstrip('.')}")
        return None
    here, start = supply.point, 0
    for n, link in enumerate(path):
        if here.enclosure == box:
            start = n
            break
        here = link.beyond(here)
    else:
        here = supply.point
    fed = found.add(
        Suspect(
            f"{function} of the supply in {here.enclosure}",
            symptoms.SUPPLY_WEIGHT * symptoms.RETURN_WEIGHT,
            what="supply",
            code=place_of(path[start], here),
            decide=f"measure the voltage in {here.enclosure}, where the supply comes in",
        )
    )
    return _WayBack(function, _stops(found, here, path[start:], fed, function))


def _not_recorded(found: Gathering, function: str) -> _WayBack:
    decide = f"record the {function} conductors of the circuit, then search again"
    name = f"{function}, which isn't in the record"
    return _WayBack(function, (), (found.add(Suspect(name, 1.0, what="other", decide=decide)),))


def _supply(found: Gathering, supply: Supply) -> int:
    box = supply.point.enclosure
    is_array = any(e.kind in ARRAYS for e in found.site.at(Enclosure, "code", box))
    return found.add(
        Suspect(
            f"the array {supply.point}" if is_array else f"what feeds {supply.point}",
            symptoms.SUPPLY_WEIGHT,
            "" if supply.is_sure else supply.why,
            "enclosure" if is_array else "supply",
            box if is_array else "/".join(supply.point),
            f"measure the voltage in {box}, where the supply comes in",
        )
    )


def _suspect(found: Gathering, link: Link, back: str) -> int:
    """Add a conductor or device of a path; `back` is the function of a way back, if it is one."""
    if link.what == "device":
        suspect = _device(found, link, back)
    else:
        weight, because = found.weigh(link.name)
        decide = "isolate, prove dead, and test it end to end for continuity"
        suspect = Suspect(link.name, weight, because, "conductor", link.name, decide)
    for number, known in enumerate(found.suspects):
        if known.name == suspect.name:
            return number
    weight = suspect.weight * (symptoms.RETURN_WEIGHT if back else 1.0)
    return found.add(replace(suspect, weight=weight))


def _device(found: Gathering, link: Link, back: str) -> Suspect:
    box, code = link.one.enclosure, f"{link.one.enclosure}/{link.name}"
    known = symptoms.DEVICE_WEIGHTS.get(link.kind or "", 1.0)
    weight, because = known, f"a {link.kind or 'device'}"
    if link.is_open:
        weight, because = symptoms.OPEN_WEIGHT, "open in the record"
    elif link.is_unsure:
        found.remarks.append(f"whether {box} {link.name} is closed isn't recorded: look at it")
        weight, because = symptoms.UNKNOWN_STATE_WEIGHT, "its position isn't recorded"
    name = f"{box} {link.name}"
    if back:  # what opens all poles is said of the device's own pole
        name, weight, because = f"{name}, {back} pole", known / 2, ""
    decide = "look at it, then isolate and test across its closed poles for continuity"
    return Suspect(name, weight, because, "device", code, decide)


def _path_to(site: Site, conductor: Conductor) -> tuple[Supply, Sequence[Link]]:
    """Return the nearest supply of a conductor, a sure one first, and the way to the load's end.

    Where every way leads through an open device, the way through it is returned.
    `FaultLocationError` if nothing feeds it by the record, or two ways lead to it.
    """
    refuse_earth(conductor)
    wiring = Wiring(site, PROTECTIVE if conductor.function in _NEUTRALS else UNSWITCHED)
    network, load = wiring.joined([], [conductor]), wiring.link(conductor).other
    supplies = {supply.point: supply for supply in supplies_in(site, network)}
    sure = [point for point, supply in supplies.items() if supply.is_sure]
    for passes, points in product((None, lambda link: True), (sure, supplies)):
        way = network.nearest(load, points, passes)
        if way is not None:
            break
    else:
        raise FaultLocationError(
            f"In the record nothing feeds {conductor.tag}",
            "Record what its source's end is landed on, and the poles of the devices on the way",
        )
    point, path = way
    if network.has_second_way(path, point):
        raise FaultLocationError(
            f"Two ways lead from {point} to {load}: a loop, so there is no before and after",
            Hint("Open a device in the loop, or correct the record.", job="tree"),
        )
    return supplies[point], path


def _device_of(link: Link) -> tuple[str, str] | None:
    return (link.one.enclosure, link.name) if link.what == "device" else None
