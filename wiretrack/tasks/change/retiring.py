# SPDX-License-Identifier: MIT
"""Retiring a conductor or a whole circuit: pulled out, or left in place."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING, Self

from wiretrack.electrical.cautions import LAST_WORD
from wiretrack.errors import BadInputError
from wiretrack.late import dataclass
from wiretrack.model.entities import Circuit, Conductor
from wiretrack.model.entity import Point
from wiretrack.model.tags import Tag, format_tag
from wiretrack.model.wiring import Network, Wiring
from wiretrack.model.words import LINES
from wiretrack.store import changing
from wiretrack.store.searching import resolve
from wiretrack.store.source import site_of
from wiretrack.tasks.change.cutting import may_meet
from wiretrack.tasks.change.done import Done, moment_of_change, read_after, ringouts_touched
from wiretrack.tasks.change.retired import (
    ABANDONED,
    ABANDONED_CAUTION,
    BECAME,
    conductor_in_service,
    only_in_service,
    refuse_retired_circuit,
    refuse_too_early,
)
from wiretrack.tasks.label.ends import labels_to_take_off

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.model.site import Site
    from wiretrack.store.store import Registry

REMOVED = "removed"


@dataclass(frozen=True)
class RetiredConductor:
    """A conductor that was retired, came back, or stays as other circuits need it."""

    tag: str
    circuit: str
    function: str
    route: Sequence[str]
    ends: tuple[str, str]
    needed_by: Sequence[str] = ()

    @classmethod
    def of(cls, conductor: Conductor, needed_by: Sequence[str] = ()) -> Self:
        """Return what is told of a conductor."""
        one, other = (end.place for end in conductor.ends)
        return cls(
            str(conductor.tag), conductor.circuit, conductor.function, conductor.route.raceways,
            (one, other), needed_by,
        )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Retired(Done):
    """A conductor or circuit that was retired; `because` is unknown where it was taken back."""

    what: str
    code: str
    at: str | None = None
    because: str | None = None
    conductors: Sequence[RetiredConductor]
    stays: Sequence[RetiredConductor] = ()


def retire(
    registry: Registry,
    what: str,
    *,
    abandoned: bool,
    at: str | None = None,
    who: str | None = None,
) -> Retired:
    """Retire the conductor or the circuit that `what` names, as one durable change.

    `abandoned` conductors stay in their raceways, the others are pulled out. Readings, history and
    tags stay for good. A protective conductor or neutral of a circuit that other circuits need
    stays in use, and so does its circuit. `RetiredError` if it is retired already.
    """
    moment = moment_of_change(at)
    because = ABANDONED if abandoned else REMOVED
    with registry.write(who):
        named = resolve(registry, what, ("circuit", "conductor"))
        staying: list[Conductor] = []
        if named.what == "circuit":
            refuse_retired_circuit(site_of(registry).one(Circuit, named.code))
            found = site_of(registry).one(Circuit, named.code).in_service
            needed = needed_by(registry, found) | _shared(registry, named.code, found)
            staying = [conductor for conductor in found if conductor.tag in needed]
            found = [conductor for conductor in found if conductor.tag not in needed]
        else:
            found = [conductor_in_service(registry, named.code)]
            needed = needed_by(registry, found)
        refuse_too_early(registry, found, moment)
        if named.what == "circuit" and not staying:
            changing.retire_circuit(registry, named.code, moment)
        for conductor in found:
            changing.retire_conductor(registry, conductor.tag, moment, because)
        notes = [
            *_needed(named.what == "circuit", named.code, needed),
            *ringouts_touched(registry, found),
            *_terminals_empty(registry, found),
            *(() if abandoned else read_after(registry, found, moment)),
        ]
    return Retired(
        what=named.what,
        code=named.code if named.what == "circuit" else format_tag(named.code),
        at=moment,
        because=because,
        conductors=[RetiredConductor.of(c) for c in found],
        stays=[RetiredConductor.of(c, needed[c.tag]) for c in staying],
        take_off=labels_to_take_off(registry, found) if abandoned else (),
        notes=notes,
        cautions=[ABANDONED_CAUTION, LAST_WORD] if abandoned and found else (),
    )


def take_back(registry: Registry, what: str, *, who: str | None = None) -> Retired:
    """Put a conductor or a circuit that was retired by mistake back into service.

    A circuit comes back with the conductors that were retired together with it. `BadInputError` if
    it isn't retired, or another conductor follows it.
    """
    with registry.write(who):
        named = resolve(registry, what, ("circuit", "conductor"))
        if named.what == "circuit":
            circuit = site_of(registry).one(Circuit, named.code)
            if circuit.retired_at is None:
                raise BadInputError(f"Circuit {circuit.code} is in use. Nothing to take back.")
            found = [
                conductor
                for conductor in site_of(registry).at(Conductor, "circuit", circuit.code)
                if conductor.retired_at == circuit.retired_at
                and conductor.retired_because in (REMOVED, ABANDONED)
            ]
        else:
            found = [_by_mistake(registry, named.code)]
        for conductor in found:
            changing.retire_conductor(registry, conductor.tag, None, None)
        for code in [named.code] if named.what == "circuit" else found[0].circuits:
            changing.retire_circuit(registry, code, None)
        notes = _company(registry, found)
    return Retired(
        what=named.what,
        code=named.code if named.what == "circuit" else format_tag(named.code),
        conductors=[RetiredConductor.of(c) for c in found],
        notes=notes,
    )


def _by_mistake(registry: Registry, tag: str) -> Conductor:
    """Return a retired conductor that nothing has followed."""
    conductor = site_of(registry).one(Conductor, tag)
    name = format_tag(tag)
    if conductor.retired_at is None:
        raise BadInputError(f"{name} is in use. Nothing to take back.")
    after = [str(c.tag) for c in site_of(registry).at(Conductor, "follows", tag)]
    if after or conductor.retired_because not in (REMOVED, ABANDONED):
        place = f" {' and '.join(after)} took its place." if after else ""
        raise BadInputError(
            f"{name} was {BECAME[conductor.retired_because or ABANDONED]}.{place}"
            " Only what was pulled out or abandoned can be taken back."
        )
    return conductor


def _company(registry: Registry, found: Sequence[Conductor]) -> list[str]:
    """Return a sentence for each terminal that something else was landed on meanwhile."""
    notes, own = [], {conductor.tag for conductor in found}
    for conductor in found:
        for end in (conductor.from_end, conductor.to_end):
            place = Point(end.enclosure, end.terminal or "")
            others = [c for c in _on(registry, place) if c.tag not in own]
            notes += [
                f"{end.place} has {format_tag(other.tag or '')} ({other.circuit} {other.function})"
                " too."
                for other in others
                if not may_meet(registry, place, other, conductor)
            ]
    return notes


def _shared(registry: Registry, code: str, found: Sequence[Conductor]) -> dict[str, list[str]]:
    codes = {other for conductor in found for other in conductor.circuits if other != code}
    found_circuits = site_of(registry).find(Circuit, "code", codes)
    others = {circuit.code for circuit in found_circuits if circuit.retired_at is None}
    shared = {c.tag: [o for o in c.circuits if o in others] for c in found}
    return {tag: served for tag, served in shared.items() if served}


def _needed(of_circuit: bool, code: str, needed: dict[str, list[str]]) -> list[str]:
    """Return a sentence on each conductor that other circuits need."""
    notes = [
        f"{format_tag(tag)} {'stays: ' if of_circuit else 'is retired, but '}"
        f"{', '.join(others)} need{'s' if len(others) == 1 else ''} it."
        for tag, others in needed.items()
    ]
    if of_circuit and needed:
        notes.append(f"Circuit {code} stays in use with it.")
    return notes


def _terminals_empty(registry: Registry, found: Sequence[Conductor]) -> list[str]:
    """Return a sentence that names the terminals on which nothing is landed any more."""
    places = dict.fromkeys(
        Point(end.enclosure, end.terminal)
        for conductor in found
        for end in (conductor.from_end, conductor.to_end)
        if end.terminal
    )
    empty = [str(place) for place in places if not _on(registry, place)]
    return [f"Nothing is landed any more on {', '.join(empty)}."] if empty else []


def _on(registry: Registry, place: Point) -> list[Conductor]:
    return only_in_service(site_of(registry).at(Conductor, "terminal", place))


_EARTHS, _NEUTRALS = ("PE", "PEN"), ("N", "PEN")
_LIVE = (*LINES, "L+", "L-")
_WITHOUT_EARTH = ("signal", "earthing")


def needed_by(registry: Registry, going: Sequence[Conductor]) -> dict[str, list[str]]:
    """Return which other circuits need each protective conductor and neutral among `going`.

    One is needed where it alone joins what other circuits have landed at both its ends, or where
    a circuit that lies in the same pull, or between the same boxes, has none of its own.
    """
    site, leaving = site_of(registry), {conductor.tag for conductor in going}
    found: dict[str, list[str]] = {}
    for conductor in going:
        if conductor.function in (*_EARTHS, "N"):
            circuits_there = {
                *_hanging_on(site, conductor, leaving),
                *_without_their_own(site, conductor, leaving),
            }
            if circuits_there:
                found[conductor.tag] = sorted(circuits_there)
    return found


def _hanging_on(site: Site, conductor: Conductor, leaving: set[Tag]) -> list[str]:
    """Return the circuits that a conductor alone joins with those at its other end.

    Which end is fed isn't recorded; it is where fewer circuits meet, or else its "to" end.
    """
    if any(end.terminal is None for end in conductor.ends):
        return []
    places = [Point(end.enclosure, end.terminal or "") for end in conductor.ends]
    joined = Wiring(site).joined([], [site.one(Conductor, conductor.tag)])
    gone = {format_tag(tag or "") for tag in leaving}
    kin = {k for group in (_EARTHS, _NEUTRALS) if conductor.function in group for k in group}
    kept = Network(
        link
        for link in joined.links
        if link.what == "device" or (link.function in kin and link.name not in gone)
    )
    fed, fan = (kept.reached([place], lambda _: True) for place in places)
    sides = [
        {code for point in side for k in kept.at(point) for code in k.served} for side in (fed, fan)
    ]
    if places[1] in fed or not all(sides):
        return []  # joined by another way too, or nobody hangs on one of its ends
    return sorted(sides[1] if len(sides[1]) <= len(sides[0]) else sides[0])


def _along(site: Site, one: Conductor) -> list[Conductor]:
    """Return the conductors in use in the same pull as `one`, or between the same boxes."""
    here = site.at(Conductor, "enclosure", min(one.between))
    found = {c.tag: c for c in here if c.between == one.between}
    if one.pull is not None:
        found |= {c.tag: c for c in site.at(Conductor, "pull", one.pull)}
    return [c for c in found.values() if c.retired_at is None]


def _without_their_own(site: Site, conductor: Conductor, leaving: set[Tag]) -> list[str]:
    """Return the circuits beside a conductor that have no conductor of its function."""
    along = _along(site, conductor)
    live = [c for c in along if c.tag not in leaving and c.function in _LIVE]
    here = {code for c in live for code in c.circuits} - {*conductor.circuits}
    all_of = site.find(Conductor, "circuit", here)
    systems = {c.code: c.system for c in site.find(Circuit, "code", here)}
    functions = defaultdict(set)
    for each in all_of:
        for code in () if each.retired_at else each.circuits:
            functions[code].add(each.function)
    return [
        code for code in sorted(here) if _wants(conductor.function, systems[code], functions[code])
    ]


def _wants(function: str, system: str | None, functions: set[str]) -> bool:
    """Return whether a circuit with these functions lacks what `function` would give it.

    A circuit with one line alone has no other way back than a neutral; with two it may have.
    """
    if function in _EARTHS and system not in _WITHOUT_EARTH and not functions & set(_EARTHS):
        return True
    lines = functions & set(LINES)
    return function in _NEUTRALS and len(lines) == 1 and not functions & set(_NEUTRALS)
