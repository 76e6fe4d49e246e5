# SPDX-License-Identifier: MIT
"""From the records of a site to what the rules look at: raceways with their conductors."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

from wiretrack.electrical.overcurrent import Landings, protection_of
from wiretrack.electrical.runs import Run, Wire
from wiretrack.model.circuits import together
from wiretrack.model.entities import Circuit
from wiretrack.model.routes import route_of
from wiretrack.model.words import ARRAYS

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from wiretrack.model.document import SiteDocument
    from wiretrack.model.entities import Conductor, Enclosure, Raceway
    from wiretrack.model.parts import Device

_DISCONNECTS = ("disconnect", "inverter")


def wires_of(document: SiteDocument) -> tuple[Wire, ...]:
    """Return every conductor in service with its circuit; one that isn't listed is a bare one."""
    return _wires(document, [c for c in document.conductors if c.retired_at is None])


def abandoned_in(document: SiteDocument) -> tuple[Wire, ...]:
    """Return every conductor that was retired, but left in its raceway."""
    return _wires(document, [c for c in document.conductors if c.retired_because == "abandoned"])


def _wires(document: SiteDocument, conductors: Sequence[Conductor]) -> tuple[Wire, ...]:
    circuits = {circuit.code: circuit for circuit in document.circuits}
    landings = Landings(document.devices)
    alike: defaultdict[tuple[str, ...], list[Conductor]] = defaultdict(list)
    spares = []
    for conductor in conductors:
        if conductor.circuits:
            alike[conductor.circuits].append(conductor)
        else:
            spares.append([conductor])
    wires: dict[int, Wire] = {}
    for own in (*alike.values(), *spares):
        codes = own[0].circuits
        served = tuple(circuits.get(code, Circuit(code=code)) for code in codes)
        circuit = together(served)
        device = protection_of(circuit, own, landings)
        for conductor in own:
            ends, poles = landings.terminations(conductor), landings.poles(conductor)
            wires[id(conductor)] = Wire(
                conductor, circuit, ends, device, *_sets(conductor, own), poles, served
            )  # fmt: skip
    return tuple(wires[id(conductor)] for conductor in conductors)


def _sets(conductor: Conductor, own: Sequence[Conductor]) -> tuple[int, int, tuple[str, ...]]:
    """Return how many of a circuit's conductors of one function are in parallel, and may be.

    Those that join the same two boxes may be; those that have sets of their own are, also where
    one set goes through more boxes than another. The facts in which the sets differ come third.
    """
    like = [other for other in own if other.function == conductor.function]
    ends = _boxes(conductor)
    beside = [other for other in like if _boxes(other) == ends]
    numbers = [other.parallel_set for other in beside]
    if conductor.parallel_set is None or None in numbers:
        return 1, len(numbers), ()
    pieces: defaultdict[int, list[Conductor]] = defaultdict(list)
    for other in like:
        if other.parallel_set is not None:
            pieces[other.parallel_set].append(other)
    span = _span(pieces[conductor.parallel_set])
    sets = {number for number, set_ in pieces.items() if span and _span(set_) == span}
    if len(set(numbers)) > len(sets):
        sets = {number for number in numbers if number is not None}
        pieces = defaultdict(list, {number: [] for number in sets})
        for other in beside:
            pieces[other.parallel_set or 0].append(other)
    together = [other for number in sets for other in pieces[number]]
    facts: dict[str, set[str | float | None]] = {
        "size": {other.size for other in together},
        "metal": {other.metal for other in together},
        "insulation": {other.insulation for other in together},
        "length": {_total([piece.length_m for piece in pieces[number]]) for number in sets},
    }
    unlike = tuple(fact for fact, values in facts.items() if len(values) > 1)
    return max(len(sets), 1), len(numbers), unlike


def _boxes(conductor: Conductor) -> frozenset[str]:
    return frozenset((conductor.from_end.enclosure, conductor.to_end.enclosure))


def _span(pieces: Sequence[Conductor]) -> frozenset[str]:
    """Return the boxes where pieces laid end to end begin and end."""
    span: frozenset[str] = frozenset()
    for piece in pieces:
        span ^= _boxes(piece)
    return span


def _total(lengths: Sequence[float | None]) -> float | None:
    known = [length for length in lengths if length is not None]
    return round(sum(known), 3) if len(known) == len(lengths) else None


def runs_of(document: SiteDocument) -> tuple[Run, ...]:
    """Return every raceway with the conductors that lie in it."""
    boxes = {box.code: box for box in document.enclosures}
    raceways = {raceway.code: raceway for raceway in document.raceways}
    paths = {
        pull.code: [raceways[code] for code in pull.path if code in raceways]
        for pull in document.pulls
    }
    inside = _by_raceway(wires_of(document), paths)
    abandoned = _by_raceway(abandoned_in(document), paths)
    before = _before_disconnect(document, boxes)
    return tuple(
        Run(
            raceway, tuple(inside[raceway.code]), boxes.get(raceway.from_enclosure),
            boxes.get(raceway.to_enclosure), before.get(raceway.code), document.site,
            tuple(abandoned[raceway.code]),
        )
        for raceway in document.raceways
    )  # fmt: skip


def _by_raceway(
    wires: Sequence[Wire], paths: Mapping[str, Sequence[Raceway]]
) -> defaultdict[str, list[Wire]]:
    inside: defaultdict[str, list[Wire]] = defaultdict(list)
    for wire in wires:
        ends = (wire.conductor.from_end.enclosure, wire.conductor.to_end.enclosure)
        for code in route_of(paths.get(wire.conductor.pull or "", ()), *ends).raceways:
            inside[code].append(wire)
    return inside


def is_stop(box: Enclosure, devices: Iterable[Device]) -> bool:
    """Return whether a PV run ends in a box: there it can be disconnected."""
    return box.kind in _DISCONNECTS or any(device.kind == "disconnect" for device in devices)


def _before_disconnect(document: SiteDocument, boxes: Mapping[str, Enclosure]) -> dict[str, bool]:
    """Return for each raceway whether an array is reached from it without passing a disconnect."""
    starts = [box.code for box in document.enclosures if box.kind in ARRAYS]
    if not starts:
        return {}
    inside: defaultdict[str, list[Device]] = defaultdict(list)
    for device in document.devices:
        inside[device.enclosure].append(device)
    stops = {box.code for box in boxes.values() if is_stop(box, inside[box.code])}
    joined: defaultdict[str, list[Raceway]] = defaultdict(list)
    for raceway in document.raceways:
        for code in {raceway.from_enclosure, raceway.to_enclosure}:
            joined[code].append(raceway)
    reached, queue = set(starts), list(starts)
    before = {raceway.code: False for raceway in document.raceways}
    while queue:
        here = queue.pop()
        if here in stops:
            continue
        for raceway in joined[here]:
            ends = (raceway.from_enclosure, raceway.to_enclosure)
            before[raceway.code] = True
            there = ends[1] if here == ends[0] else ends[0]
            if there not in reached:
                reached.add(there)
                queue.append(there)
    return before
