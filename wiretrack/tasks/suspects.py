# SPDX-License-Identifier: MIT
"""Who is suspected of a symptom, how likely by the record, and which readings tell them apart."""

from __future__ import annotations

from collections import deque
from dataclasses import asdict, dataclass, field
from typing import TYPE_CHECKING, Any

from wiretrack.days import day
from wiretrack.electrical import symptoms
from wiretrack.errors import FaultLocationError
from wiretrack.registry import wiring
from wiretrack.registry.dumping import readings
from wiretrack.registry.searching import resolve, tag_of
from wiretrack.registry.service import conductors
from wiretrack.tags import format_tag
from wiretrack.tasks.crossings import standing
from wiretrack.tasks.retired import refuse_retired_named
from wiretrack.tasks.testing import latest
from wiretrack.tasks.topology import (
    UNSWITCHED,
    network_at_conductor,
    network_of_circuit,
    supplies_in,
)
from wiretrack.tasks.verdicts import Judge
from wiretrack.topology.network import Link, Point

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Sequence

    from wiretrack.electrical.symptoms import Symptom
    from wiretrack.registry.store import Registry
    from wiretrack.topology.isolating import Supply
    from wiretrack.topology.network import Network

EARTH = ("PE", "FE", "PEN")
_RETURNS = {"L+": "L-", "L-": "L+", "N": "L1"}


@dataclass(frozen=True)
class Suspect:
    """One thing that may be at fault; `because` says what in the record speaks for or against."""

    name: str
    weight: float
    because: str = ""


@dataclass
class Lineup:
    """The suspects of a search and the readings to choose of; `bad` lists suspects by number."""

    circuit: str
    subject: str
    suspects: list[Suspect] = field(default_factory=list)
    questions: list[dict[str, Any]] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)

    def suspect(self, name: str, weight: float, because: str = "") -> int:
        """Add a suspect and return its number."""
        self.suspects.append(Suspect(name, weight, because))
        return len(self.suspects) - 1

    def question(self, box: str, ask: str, bad: Sequence[int]) -> None:
        """Add a reading in a box that leaves the suspects `bad` if it is bad."""
        self.questions.append({"box": box, "ask": ask, "bad": sorted(bad)})

    def as_json(self) -> dict[str, Any]:
        """Return what a stored search keeps, so that it goes on as it began."""
        return asdict(self)


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
        return _beyond(registry, symptom, named.what, named.code)
    return _before(registry, symptom, _one_tag(registry, named.what, named.code))


def _one_tag(registry: Registry, kind: str, code: str) -> str:
    """Return the tag to follow: that of a circuit is asked for where it has several."""
    if kind == "conductor":
        return code
    found = [c for c in conductors(registry, "k.code = ?", [code]) if c.function not in EARTH]
    if len(found) == 1:
        return found[0].tag or ""
    names = ", ".join(f"{format_tag(c.tag or '')} {c.function}" for c in found[:8])
    raise FaultLocationError(
        f"{code} has {len(found)} conductors that could be followed",
        f"Name the one at the load's terminal: {names}" if found else "Record its conductors",
    )


def _before(registry: Registry, symptom: Symptom, tag: str) -> Lineup:
    """Return the suspects along the path from the nearest supply to a conductor's load."""
    end = wiring.ends_of(registry, tag)[0]
    made = Lineup(end.circuit, format_tag(tag))
    supply, path = _path_to(registry, made)
    weigher = _Weigher(registry, symptom)
    other = _RETURNS.get(end.function, "N, or another line")
    because = "" if supply.is_sure else supply.why
    made.suspect(f"what feeds {supply.point}", symptoms.SUPPLY_WEIGHT, because)
    here, device = supply.point, None
    for link in path:
        if device is None or _device_of(link) != device:
            ask = symptom.ask.format(point=here, other=other, name=made.subject)
            made.question(here.enclosure, ask, range(len(made.suspects)))
            if link.what == "device":
                made.suspect(f"{link.one.enclosure} {link.name}", *_device(link, made))
            else:
                made.suspect(link.name, *weigher.conductor(link.name))
        device = _device_of(link)
        here = link.beyond(here)
    ask = symptom.ask.format(point=here, other=other, name=made.subject)
    made.question(here.enclosure, ask, range(len(made.suspects)))
    made.suspect(f"the load on {here}", symptoms.LOAD_WEIGHT)
    return made


def _path_to(registry: Registry, made: Lineup) -> tuple[Supply, list[Link]]:
    """Return the nearest supply of a conductor and the way from it to the load's end.

    Where every way leads through an open device, the way through it is returned.

    Raises
    ------
    FaultLocationError
        If nothing feeds it by the record, or two ways lead to it.
    """
    tag = tag_of(registry, made.subject)
    function = wiring.ends_of(registry, tag)[0].function
    _refuse_earth(made.subject, function)
    without = EARTH if function in ("N", "M") else UNSWITCHED
    network = network_at_conductor(registry, tag, without)
    subject = next(k for k in network.links if k.name == made.subject)
    supplies = {supply.point: supply for supply in supplies_in(registry, network)}
    for passes in (None, lambda link: True):
        ways = _shortest(network, subject.other, supplies, passes)
        if ways is not None:
            break
    else:
        raise FaultLocationError(
            f"By the record nothing feeds {made.subject}",
            "Record what its source's end is landed on, and the poles of the devices on the way",
        )
    point, path = ways
    if network.has_way_beside(path, point):
        raise FaultLocationError(
            f"Two ways lead from {point} to {subject.other}: a loop, so there is no before and "
            "after",
            "Open a device in the loop, or correct the record: wiretrack trace TAG --tree",
        )
    return supplies[point], path


def _refuse_earth(name: str, function: str) -> None:
    """Refuse to follow a protective conductor: it has no supply, and nothing hangs on it."""
    if function in EARTH:
        raise FaultLocationError(
            f"{name} is a protective conductor ({function}), which isn't followed",
            "Name the line or neutral conductor beside it",
        )


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
        if here in supplies:
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


def _beyond(registry: Registry, symptom: Symptom, kind: str, code: str) -> Lineup:
    """Return the suspects of what hangs on a conductor, or on all lines of a circuit."""
    circuit = code
    if kind == "conductor":
        end = wiring.ends_of(registry, code)[0]
        _refuse_earth(format_tag(code), end.function)
        circuit = end.circuit
    network = network_of_circuit(registry, circuit, EARTH)
    own = [k for k in network.links if k.what == "conductor" and k.circuit == circuit]
    below = {link.name: _downstream(network, link) for link in own}
    if kind == "conductor":
        top = format_tag(code)
        own = [link for link in own if link.name == top or link.name in below[top]]
    if not own:
        raise FaultLocationError(
            f"{code} has no conductor that could be parted", "Record its conductors, or name a tag"
        )
    made = Lineup(circuit, format_tag(code) if kind == "conductor" else code)
    weigher = _Weigher(registry, symptom)
    number = {link.name: made.suspect(link.name, *weigher.conductor(link.name)) for link in own}
    loads = _loads(made, own, below)
    for link in own:
        hanging = {number[name] for name in below[link.name] if name in number}
        hanging |= {loads[end] for end in [link.name, *below[link.name]] if end in loads}
        for point, bad in ((link.one, hanging | {number[link.name]}), (link.other, hanging)):
            ask = symptom.ask.format(point=point, name=link.name, other="PE")
            if bad:
                made.question(point.enclosure, ask, sorted(bad))
    made.remarks.append("take electronics and surge protective devices off before the test voltage")
    return made


def _loads(made: Lineup, own: Sequence[Link], below: dict[str, list[str]]) -> dict[str, int]:
    """Add what is connected at the far ends, a suspect for each box; return it by conductor."""
    boxes: dict[str, int] = {}
    found = {}
    for link in own:
        if not below[link.name]:
            box = link.other.enclosure
            if box not in boxes:
                boxes[box] = made.suspect(f"what is connected in {box}", symptoms.LOAD_WEIGHT)
            found[link.name] = boxes[box]
    return found


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
        return other.what == "device" or other.circuit == link.circuit

    reached = network.reached([link.other], passes)
    if link.one in reached:
        raise FaultLocationError(
            f"{link.name} is part of a loop, so nothing lies beyond it",
            "Open a device in the loop, or correct the record: wiretrack trace TAG --tree",
        )
    return [
        other.name
        for other in network.links
        if other.what == "conductor" and passes(other) and other.one in reached
    ]


class _Weigher:
    """Weighs conductors by their last readings, their ends and the places they run through."""

    def __init__(self, registry: Registry, symptom: Symptom) -> None:
        self._registry, self._symptom = registry, symptom
        self._judge = Judge(registry)

    def conductor(self, tag: str) -> tuple[float, str]:
        """Return a conductor's weight and what in the record speaks for it."""
        plain = tag_of(self._registry, tag)
        one, other = wiring.ends_of(self._registry, plain)
        for end in (one, other):
            if end.state in ("loose", "capped"):
                return symptoms.LOOSE_WEIGHT, f"its end in {end.enclosure} is {end.state}"
        taken = standing(self._registry, latest(readings(self._registry, "c.tag = ?", [plain])))
        judged = [
            (reading, self._judge.verdict(reading).outcome)
            for reading in taken
            if reading.kind in self._symptom.baseline
        ]
        for outcome in ("fail", "doubt", "pass"):
            of = [reading for reading, found in judged if found == outcome]
            if of:
                last = of[-1]
                because = f"{last.kind} {last.value} on {day(last.at)}: {outcome}"
                return symptoms.VERDICT_WEIGHTS[outcome], because
        return 1.0, f"no {' or '.join(self._symptom.baseline)} reading on record"
