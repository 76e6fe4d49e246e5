# SPDX-License-Identifier: MIT
"""Who is suspected of a symptom along the path to a load, and which readings tell them apart."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, replace
from itertools import pairwise, product
from typing import TYPE_CHECKING

from wiretrack.electrical import symptoms
from wiretrack.errors import FaultLocationError, Hint
from wiretrack.model.entities import Conductor
from wiretrack.model.entity import Point
from wiretrack.model.tags import format_tag
from wiretrack.model.wiring import Link, Wiring
from wiretrack.model.words import DC_SYSTEMS
from wiretrack.store import records
from wiretrack.store.searching import resolve
from wiretrack.store.source import site_of
from wiretrack.tasks.change.retired import refuse_retired_named
from wiretrack.tasks.find.topology import (
    ARRAYS,
    UNSWITCHED,
    boxes_in,
    supplies_in,
)
from wiretrack.tasks.trouble.lineup import (
    EARTH,
    Lineup,
    Weigher,
    place_of,
    refuse_earth,
    sole_circuit,
)
from wiretrack.tasks.trouble.suspects_beyond import beyond

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Sequence

    from wiretrack.electrical.symptoms import Symptom
    from wiretrack.model.isolating import Supply
    from wiretrack.model.wiring import Network
    from wiretrack.store.store import Registry

_LINES = ("L1", "L2", "L3")
_DC = {"L+": "L-", "L-": "L+"}


def lineup(registry: Registry, symptom: Symptom, what: str) -> Lineup:
    """Return the suspects of a symptom at a conductor or circuit.

    Raises
    ------
    FaultLocationError
        If the path closes to a loop, or the circuit has no conductor that could be followed.
    """
    named = resolve(registry, what, ("conductor", "circuit"))
    refuse_retired_named(registry, named.what, named.code)
    if symptom.bad_leaves == "beyond":
        return beyond(registry, symptom, named.what, named.code)
    return _before(registry, symptom, _one_tag(registry, named.what, named.code))


def _one_tag(registry: Registry, kind: str, code: str) -> str:
    """Return the tag to follow: that of a circuit is asked for where it has several."""
    if kind == "conductor":
        return code
    members = records.conductors(registry, circuits=[code], in_service=True)
    found = [c for c in members if c.function not in EARTH]
    if len(found) == 1:
        return found[0].tag
    names = ", ".join(f"{format_tag(c.tag or '')} {c.function}" for c in found[:8])
    raise FaultLocationError(
        f"{code} has {len(found)} conductors that could be followed",
        f"Name the one at the load's terminal: {names}" if found else "Record its conductors",
    )


@dataclass(frozen=True)
class _Stop:
    """A point of a path where it can be measured, and what lies before it."""

    point: Point
    place: str
    suspects: tuple[int, ...]
    devices: frozenset[tuple[str, str] | None]


@dataclass(frozen=True)
class _Return:
    """A way back of the current: its stops, and whether it is in the record at all."""

    function: str
    stops: tuple[_Stop, ...]
    missing: tuple[int, ...] = ()

    def beside(self, stop: _Stop, every: frozenset[tuple[str, str] | None]) -> _Stop | None:
        """Return the stop in the same box that as many devices lie before, of both ways' `every`.

        Where the way isn't in the record, its function stands for the terminal.
        """
        box = stop.point.enclosure
        if not self.stops:
            return _Stop(Point(box, self.function), f"{box}/{self.function}", self.missing, every)
        both = every & self.stops[-1].devices
        for other in self.stops:
            alike = other.devices & both == stop.devices & both
            if other.point.enclosure == box and alike:
                return other
        return None


def _before(registry: Registry, symptom: Symptom, tag: str) -> Lineup:
    """Return the suspects along the path from the nearest supply to a conductor's load.

    A reading against the neutral, the other pole or another line is bad for a fault in either of
    them; one of a line against PE tells which, where the circuit's system has an earth.
    """
    conductor = site_of(registry).one(Conductor, tag)
    circuit = sole_circuit(conductor)
    made = Lineup(circuit, format_tag(tag))
    supply, path = _path_to(registry, tag)
    weigher = Weigher(registry, symptom)
    stops = _stops(made, supply.point, path, weigher, _supply(registry, made, supply))
    has_earth = _has_earth(registry, circuit)
    at = (path[-1], supply.point.enclosure)
    ways = _returns(registry, made, conductor, at, weigher, has_earth)
    if symptom.name == "reversed-polarity":  # exchanged are both: one names the other
        ways = [] if has_earth else [replace(way, stops=_alone(way.stops)) for way in ways]
    amid = {n + 1 for n, (a, b) in enumerate(pairwise(map(_device_of, path))) if a and a == b}
    for stop in (stop for n, stop in enumerate(stops) if n not in amid):
        box = stop.point.enclosure
        if has_earth and conductor.function not in ("N", "M"):
            made.question(symptom, box, (stop.place, "PE"), stop.suspects)
        for way in ways:
            other = way.beside(stop, stops[-1].devices)
            if other is None:
                continue
            bad = {*stop.suspects, *other.suspects}
            made.question(symptom, box, (stop.place, other.place), sorted(bad))
            if has_earth and way.function in _LINES:
                made.question(symptom, box, (other.place, "PE"), other.suspects)
    decide = "measure at the load's own terminals, then test or exchange the load"
    made.suspect(
        f"the load on {stops[-1].point}", "load", stops[-1].place, decide, symptoms.LOAD_WEIGHT
    )
    made.add_others(symptom)
    return made


def _alone(stops: Sequence[_Stop]) -> tuple[_Stop, ...]:
    return tuple(replace(stop, suspects=()) for stop in stops)


def _stops(
    made: Lineup,
    point: Point,
    path: Sequence[Link],
    weigher: Weigher,
    supply: int,
    back: str = "",
) -> tuple[_Stop, ...]:
    """Return the stops of a path from `point`, its links added as suspects.

    `back` is the function of a way back.
    """
    before, devices = {supply: None}, set[tuple[str, str] | None]()
    stops = [_Stop(point, place_of(path[0], point), (supply,), frozenset())]
    for link in path:
        before[_suspect(made, link, weigher, back)] = None
        if link.what == "device":
            devices.add(_device_of(link))
        point = link.beyond(point)
        stops.append(_Stop(point, place_of(link, point), tuple(before), frozenset(devices)))
    return tuple(stops)


def _has_earth(registry: Registry, circuit: str) -> bool:
    """Return whether a line of a circuit has a voltage to PE: AC that isn't known to be unearthed.

    In DC only where the record says that it is solidly earthed.
    """
    found = records.circuit(registry, circuit)
    if found.system in DC_SYSTEMS:
        return bool(found.solidly_earthed)
    return found.solidly_earthed is not False


def _returns(
    registry: Registry,
    made: Lineup,
    of: Conductor,
    at: tuple[Link, str],
    weigher: Weigher,
    has_earth: bool,
) -> list[_Return]:
    """Return the ways back from beside the last conductor of a path, from the supply's box.

    They are the neutral or the other pole, else the other lines.
    """
    last, box = at
    found = records.conductors(registry, circuits=of.circuits, in_service=True)
    there = {c.function for c in found}
    if of.function in _DC:
        wanted = [_DC[of.function]]
    elif of.function in _LINES and "N" in there:
        wanted = ["N"]
    else:
        wanted = [f for f in (*_LINES, *_DC) if f in there and f != of.function]
    ways = []
    for function in wanted if of.function not in ("N", "M") else wanted[:1]:
        beside = _beside(last, found, function)
        way = beside and _way_back(registry, made, (function, beside), box, weigher)
        if way:
            ways.append(way)
        elif not has_earth:
            ways.append(_not_recorded(made, function))
    return ways


def _beside(link: Link, found: Sequence[Conductor], function: str) -> Conductor | None:
    """Return the conductor of a function that runs beside another."""
    boxes = {link.one.enclosure, link.other.enclosure}
    return next(
        (
            c
            for c in found
            if c.function == function and {c.from_end.enclosure, c.to_end.enclosure} == boxes
        ),
        None,
    )


def _way_back(
    registry: Registry, made: Lineup, which: tuple[str, Conductor], box: str, weigher: Weigher
) -> _Return | None:
    """Return a way back from the supply's box on; `None` and a remark if it can't be followed."""
    function, conductor = which
    try:
        supply, path = _path_to(registry, conductor.tag)
    except FaultLocationError as error:
        made.remarks.append(f"{function} isn't followed: {error.what.rstrip('.')}")
        return None
    here, start = supply.point, 0
    for n, link in enumerate(path):
        if here.enclosure == box:
            start = n
            break
        here = link.beyond(here)
    else:
        here = supply.point
    name = f"{function} of the supply in {here.enclosure}"
    decide = f"measure the voltage in {here.enclosure}, where the supply comes in"
    weight = symptoms.SUPPLY_WEIGHT * symptoms.RETURN_WEIGHT
    fed = made.suspect(name, "supply", place_of(path[start], here), decide, weight)
    return _Return(function, _stops(made, here, path[start:], weigher, fed, function))


def _not_recorded(made: Lineup, function: str) -> _Return:
    decide = f"record the {function} conductors of the circuit, then search again"
    name = f"{function}, which isn't in the record"
    return _Return(function, (), (made.suspect(name, "other", None, decide, 1.0),))


def _supply(registry: Registry, made: Lineup, supply: Supply) -> int:
    box = supply.point.enclosure
    if boxes_in(registry, [box], ARRAYS):
        name, what, code = f"the array {supply.point}", "enclosure", box
    else:
        name, what, code = f"what feeds {supply.point}", "supply", "/".join(supply.point)
    because = "" if supply.is_sure else supply.why
    decide = f"measure the voltage in {box}, where the supply comes in"
    return made.suspect(name, what, code, decide, symptoms.SUPPLY_WEIGHT, because)


def _suspect(made: Lineup, link: Link, weigher: Weigher, back: str) -> int:
    """Add a conductor or device of a path, of a way back where `back` is its function."""
    if link.what == "device":
        code = f"{link.one.enclosure}/{link.name}"
        decide = "look at it, then isolate and test across its closed poles for continuity"
        weight, because = _device(link, made)
        if back:  # what opens a whole device is told of its own pole
            weight, because = symptoms.DEVICE_WEIGHTS.get(link.kind or "", 1.0) / 2, ""
        name = f"{link.one.enclosure} {link.name}{f', {back} pole' if back else ''}"
    else:
        code = name = link.name
        decide = "isolate, prove dead, and test it end to end for continuity"
        weight, because = weigher.conductor(link.name)
    for number, suspect in enumerate(made.suspects):
        if suspect.name == name:
            return number
    weight *= symptoms.RETURN_WEIGHT if back else 1.0
    return made.suspect(name, link.what, code, decide, weight, because)


def _path_to(registry: Registry, tag: str) -> tuple[Supply, list[Link]]:
    """Return the nearest supply of a conductor, a sure one first, and the way to the load's end.

    Where every way leads through an open device, the way through it is returned.

    Raises
    ------
    FaultLocationError
        If nothing feeds it by the record, or two ways lead to it.
    """
    site, name = site_of(registry), format_tag(tag)
    conductor = site.one(Conductor, tag)
    refuse_earth(name, conductor.function)
    wiring = Wiring(site, EARTH if conductor.function in ("N", "M") else UNSWITCHED)
    network, subject = wiring.joined([], [conductor]), wiring.link(conductor)
    supplies = {supply.point: supply for supply in supplies_in(registry, network)}
    sure = [point for point, supply in supplies.items() if supply.is_sure]
    for passes, points in product((None, lambda link: True), (sure, supplies)):
        ways = _shortest(network, subject.other, points, passes)
        if ways is not None:
            break
    else:
        raise FaultLocationError(
            f"By the record nothing feeds {name}",
            "Record what its source's end is landed on, and the poles of the devices on the way",
        )
    point, path = ways
    if network.has_way_beside(path, point):
        raise FaultLocationError(
            f"Two ways lead from {point} to {subject.other}: a loop, so there is no before and "
            "after",
            Hint("Open a device in the loop, or correct the record.", job="tree"),
        )
    return supplies[point], path


def _shortest(
    network: Network,
    goal: Point,
    supplies: Collection[Point],
    passes: Callable[[Link], bool] | None,
) -> tuple[Point, list[Link]] | None:
    """Return the nearest supply of `goal` and the links from it, fewest first."""
    may = passes or (lambda link: not link.is_open)
    came: dict[Point, Link | None] = {goal: None}
    waiting = deque([goal])
    while waiting:
        here = waiting.popleft()
        if here in supplies and here != goal:
            return here, _links_on(came, here)
        for link in network.at(here):
            there = link.beyond(here)
            if there not in came and may(link):
                came[there] = link
                waiting.append(there)
    return None


def _links_on(came: dict[Point, Link | None], here: Point) -> list[Link]:
    path = list[Link]()
    link = came[here]
    while link is not None:
        path.append(link)
        here = link.beyond(here)
        link = came[here]
    return path


def _device_of(link: Link) -> tuple[str, str] | None:
    return (link.one.enclosure, link.name) if link.what == "device" else None


def _device(link: Link, made: Lineup) -> tuple[float, str]:
    if link.is_open:
        return symptoms.OPEN_WEIGHT, "open by the record"
    if link.is_unsure:
        made.remarks.append(
            f"whether {link.one.enclosure} {link.name} is closed isn't recorded: look at it"
        )
        return symptoms.UNKNOWN_STATE_WEIGHT, "its position isn't recorded"
    return symptoms.DEVICE_WEIGHTS.get(link.kind or "", 1.0), f"a {link.kind or 'device'}"
