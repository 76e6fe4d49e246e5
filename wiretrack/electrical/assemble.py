# SPDX-License-Identifier: MIT
"""From the records of a site to what the rules look at: raceways, conductors, what protects them.

The rating stated for a circuit counts first. Else it is that of the breaker or fuse that its line
conductors are landed on, directly or through a switch, contactor, splice or link in the same box.
"""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

from wiretrack.electrical.runs import Protection, Run, Termination, Wire
from wiretrack.model.circuits import together
from wiretrack.model.entities import Circuit
from wiretrack.model.routes import route_of
from wiretrack.model.words import ARRAYS

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from wiretrack.model.entities import Conductor, Enclosure, Raceway
    from wiretrack.model.parts import Device, End
    from wiretrack.model.source import SiteDocument


_DISCONNECTS = ("disconnect", "inverter")


def wires_of(document: SiteDocument) -> tuple[Wire, ...]:
    """Return every conductor in use with its circuit; one that isn't listed is a bare one."""
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
    ends = conductor.between
    parallel = [other for other in like if other.between == ends]
    numbers = [other.parallel_set for other in parallel]
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
        for other in parallel:
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


def _span(pieces: Sequence[Conductor]) -> frozenset[str]:
    """Return the boxes where pieces laid end to end begin and end."""
    span: frozenset[str] = frozenset()
    for piece in pieces:
        span ^= piece.between
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
        ends = (end.enclosure for end in wire.conductor.ends)
        path = [raceway.leg for raceway in paths.get(wire.conductor.pull or "", ())]
        for code in route_of(path, *ends).raceways:
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


PROTECTING = ("breaker", "fuse")
_PASSED_THROUGH = ("disconnect", "contactor", "splice", "bus")
_NOT_PROTECTED = ("signal", "earthing")
LINES = ("L1", "L2", "L3", "L+", "L-")


class Landings:
    """The devices of a site by the terminals of their poles."""

    def __init__(self, devices: Iterable[Device]) -> None:
        self._at: defaultdict[tuple[str, str], list[Device]] = defaultdict(list)
        for device in devices:
            for code in dict.fromkeys(code for pole in device.poles for code in pole):
                self._at[device.enclosure, code].append(device)

    def terminations(self, conductor: Conductor) -> tuple[Termination, ...]:
        """Return what the ends of a conductor are landed on."""
        return tuple(
            Termination(f"{end.enclosure}/{end.terminal}", self._named(end))
            for end in conductor.ends
            if end.terminal is not None
        )

    def _named(self, end: End) -> tuple[Device, ...]:
        """Return the devices at an end's terminal; the one that it is named after, if there."""
        found = self._at.get((end.enclosure, end.terminal or ""), [])
        own = [d for d in found if (end.terminal or "").startswith(f"{d.code}:")]
        return tuple(own or found)

    def protecting(self, end: End) -> list[Device]:
        """Return the breakers and fuses that an end is landed on or joined to within its box."""
        return [device for device, _ in self._poles(end)]

    def poles(self, conductor: Conductor) -> tuple[str, ...]:
        """Return the poles of breakers and fuses that a conductor's ends are joined to."""
        return tuple(
            f"{device.enclosure}/{device.code} pole {number}"
            for end in conductor.ends
            for device, number in self._poles(end)
        )

    def _poles(self, end: End) -> list[tuple[Device, int]]:
        """Return the protecting poles that an end is joined to within its box.

        A terminal that several poles of one device share is where these are joined, behind them.
        """
        if end.terminal is None:
            return []
        queue, seen = [end.terminal], {end.terminal}
        found: list[tuple[Device, int]] = []
        while queue:
            here = queue.pop()
            devices = self._at.get((end.enclosure, here), [])
            stops = [device for device in devices if device.kind in PROTECTING]
            for device in stops:
                own = [number for number, pole in enumerate(device.poles, 1) if here in pole]
                found += [(device, own[0])] if len(own) == 1 else []
            if stops:
                continue
            for device in devices:
                if device.kind not in _PASSED_THROUGH:
                    continue
                there = {code for pole in device.poles if here in pole for code in pole} - seen
                seen |= there
                queue += sorted(there)
        return found


Rated = dict[str, tuple[float, str | None]]


def protection_of(
    circuit: Circuit, own: Sequence[Conductor], landings: Landings
) -> Protection | None:
    """Return the overcurrent device of a circuit, or None if no rating is known."""
    if circuit.system in _NOT_PROTECTED:
        return None
    lines = [conductor for conductor in own if conductor.function in LINES]
    first = _rated(landings, (conductor.from_end for conductor in lines))
    rated = first | _rated(landings, (conductor.to_end for conductor in lines))
    if circuit.overcurrent_a is not None:
        return _stated(circuit.overcurrent_a, rated, first)
    if not rated:
        return None
    ratings = [rating for rating, _ in rated.values()]
    kinds = {kind for _, kind in rated.values()}
    kind = kinds.pop() if len(kinds) == 1 else None
    return Protection(min(ratings), max(ratings), " or ".join(list(rated)[:3]), kind)


def _rated(landings: Landings, ends: Iterable[End]) -> Rated:
    return {
        f"{device.kind} {device.enclosure}/{device.code}": (device.rating_a, device.kind)
        for end in ends
        for device in landings.protecting(end)
        if device.rating_a is not None
    }


def _stated(rating_a: float, rated: Rated, first: Rated) -> Protection:
    """Return the stated device; what the circuit is landed on tells its kind.

    A device at the conductors' first end with another rating contradicts it. One at their second
    end may be another device further on.
    """
    same = [name for name, (rating, _) in rated.items() if rating == rating_a]
    if same:
        return Protection(rating_a, rating_a, same[0], rated[same[0]][1])
    clash = "; ".join(f"{name} is rated {rating:g} A" for name, (rating, _) in first.items())
    return Protection(rating_a, rating_a, "overcurrent device", None, clash)
