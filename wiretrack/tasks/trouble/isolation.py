# SPDX-License-Identifier: MIT
"""What goes dead and what stays live when a device is opened, as the record says it."""

from __future__ import annotations

from dataclasses import field
from typing import TYPE_CHECKING

from wiretrack.electrical.cautions import INVERTER, once
from wiretrack.errors import BadInputError, NotFoundError
from wiretrack.late import dataclass
from wiretrack.model.entities import Circuit, Conductor, Enclosure
from wiretrack.model.entity import Point
from wiretrack.model.isolating import isolate, openable, supplies_of
from wiretrack.model.parts import Device
from wiretrack.model.wiring import Wiring
from wiretrack.model.words import ARRAYS, PROTECTIVE
from wiretrack.readings.continuity import CONTINUITY
from wiretrack.readings.voltage import VOLTAGE
from wiretrack.store.places import place_called
from wiretrack.store.searching import resolve
from wiretrack.store.source import site_of
from wiretrack.tasks.change.retired import ABANDONED, ABANDONED_CAUTION
from wiretrack.tasks.report.punchlist import members

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Sequence

    from wiretrack.model.isolating import Supply
    from wiretrack.model.site import Site
    from wiretrack.model.wiring import Link, Network
    from wiretrack.store.store import Registry

MOST = 100  # devices that are tried, the nearest ones
UNSWITCHED = (*PROTECTIVE, "N", "M")  # what isn't followed when asking what is live


@dataclass(frozen=True)
class Wire:
    """A conductor and the boxes that it lies between.

    Of one that is or may be live, which supply feeds it, and why that is one or can't be decided.
    """

    conductor: str
    circuit: str
    function: str
    between: tuple[str, str]
    from_: str | None = field(default=None, metadata={"blank": None})
    why: str | None = field(default=None, metadata={"blank": None})


@dataclass(frozen=True)
class Feed:
    """A supply: where it comes in, why it is one, and whether that is sure."""

    from_: str
    why: str
    sure: bool


@dataclass(frozen=True, kw_only=True)
class OpenedDevice:
    """What a device leaves dead and live when it is opened, and what to mind.

    `also` are devices opened with it, as ``BOX/DEVICE``. `unused` are devices that count as no
    supply as no wire is recorded on them, `abandoned` the conductors left in the boxes met.
    """

    device: str
    enclosure: str
    goes_dead: tuple[Wire, ...]
    stays_live: tuple[Wire, ...]
    unknown: tuple[Wire, ...]
    supplies: tuple[Feed, ...]
    state_unknown: tuple[str, ...]
    unused: tuple[str, ...]
    abandoned: tuple[str, ...]
    cautions: tuple[str, ...]
    also: tuple[str, ...] = ()


def supplies_in(site: Site, network: Network, named: Sequence[Point] = ()) -> list[Supply]:
    """Return what is under voltage in a network by the record, or may be; also what is `named`."""
    kinds = _kinds(site, {point.enclosure for point in network.points})
    met = {code for link in network.links for code in link.served}
    return supplies_of(
        network,
        {code for code, kind in kinds.items() if kind in ARRAYS},
        {code for code, kind in kinds.items() if kind == "inverter"},
        {c.code: c.system for c in site.find(Circuit, "code", met)},
        named,
    )


def isolation(
    registry: Registry, words: Sequence[str], sources: Sequence[str] = ()
) -> OpenedDevice:
    """Return which conductors a device leaves dead and live, and what the record can't decide.

    Parameters
    ----------
    words : sequence of str
        ``ENCLOSURE/DEVICE``, written in any way that people do, or a code that is used once. Of a
        tag or the code of anything else, the nearest devices that make it dead are opened.
    sources : sequence of str
        Terminals (``ENCLOSURE/TERMINAL``) that are under voltage, beside those of the record.
    """
    wiring = Wiring(site_of(registry), UNSWITCHED)
    named = [place_called(registry, word, ("terminal",)).point for word in sources]
    (enclosure, device), *also = _meant(registry, wiring, "/".join(words), named)
    site, record = wiring.site, wiring.site.one(Device, Point(enclosure, device))
    others = (site.one(Device, place) for place in also)
    network = wiring.joined(pole.one for each in (record, *others) for pole in wiring.poles(each))
    found = isolate(network, enclosure, device, supplies_in(site, network, named), also)
    links = [*found.dead, *(link for link, _ in (*found.live, *found.unknown))]
    boxes = {
        enclosure,
        *(place.enclosure for place in also),
        *(end.enclosure for link in links for end in (link.one, link.other)),
    }
    left = tuple(
        sorted(
            str(c.tag)
            for c in site.find(Conductor, "enclosure", boxes)
            if c.retired_because == ABANDONED
        )
    )
    circuits = site.find(Circuit, "code", {code for link in links for code in link.served})
    places = {kind or "" for kind in _kinds(site, boxes).values()}
    warned = _cautions({circuit.system for circuit in circuits}, places)
    return OpenedDevice(
        device=device,
        enclosure=enclosure,
        also=tuple(f"{place.enclosure}/{place.terminal}" for place in also),
        goes_dead=tuple(Wire(*_facts(link)) for link in found.dead),
        stays_live=tuple(Wire(*_facts(k), str(s.point), s.why) for k, s in found.live),
        unknown=tuple(Wire(*_facts(link), why=why) for link, why in found.unknown),
        supplies=tuple(Feed(str(s.point), s.why, s.is_sure) for s in found.supplies),
        state_unknown=_devices(found.unsure),
        unused=_devices(found.unused),
        abandoned=left,
        cautions=(ABANDONED_CAUTION, *warned) if left else warned,
    )


def _meant(
    registry: Registry, wiring: Wiring, word: str, named: Sequence[Point]
) -> Sequence[Point]:
    """Return the device that a word names, or the nearest that make dead what it names."""
    try:
        return [device_at(registry, word)]
    except NotFoundError as no_device:
        try:
            named_so = resolve(registry, word)
        except NotFoundError:
            raise no_device from None
    lines = [
        c
        for c in members(wiring.site, named_so.what, named_so.code)
        if c.retired_at is None and c.function not in UNSWITCHED
    ]
    found = _making_dead(wiring, lines, named)
    if not found:
        raise BadInputError(
            f"No one device in the record makes a line of {word} dead.",
            "Treat it as live, or name a device: BOX/DEVICE.",
        )
    return found


def _making_dead(wiring: Wiring, lines: Sequence[Conductor], named: Sequence[Point]) -> list[Point]:
    """Return devices that together make lines dead, each as near as one that makes as many dead."""
    points = [point for c in lines for point in (wiring.link(c).one, wiring.link(c).other)]
    network = wiring.joined(points)
    supplies = supplies_in(wiring.site, network, named)
    dead = {
        place: {link.name for link in isolate(network, *place, supplies).dead}
        for place in openable(network, points)[:MOST]
    }
    left, chosen = {str(c.tag) for c in lines}, list[Point]()
    while left and dead:
        best = min(dead, key=lambda place: (-len(dead[place] & left), len(dead[place])))
        if not dead[best] & left:
            break
        left -= dead[best]
        chosen.append(best)
    return chosen


def device_at(registry: Registry, word: str) -> Point:
    """Return the place of the device with poles that `word` names."""
    return place_called(registry, word, ("device",), with_poles=True).point


def _kinds(site: Site, boxes: Collection[str]) -> dict[str, str | None]:
    return {e.code: e.kind for e in site.find(Enclosure, "code", boxes)}


def _facts(link: Link) -> tuple[str, str, str, tuple[str, str]]:
    return link.name, link.circuit, link.function, (link.one.enclosure, link.other.enclosure)


def _devices(links: Iterable[Link]) -> tuple[str, ...]:
    return tuple(sorted({f"{link.one.enclosure} {link.name}" for link in links}))


def _cautions(systems: Collection[str | None], places: Collection[str]) -> tuple[str, ...]:
    """Return the cautions of every system met, the last word last."""
    order = sorted(systems, key=lambda system: str(system)) or [None]
    lines = [INVERTER] if "inverter" in places else []
    lines += (line for kind in (VOLTAGE, CONTINUITY) for s in order for line in
              kind.cautions(s, tuple(places)))  # fmt: skip
    return once(lines)
