# SPDX-License-Identifier: MIT
"""What changes share: when they were made, what other circuits use too."""

from __future__ import annotations

from collections import defaultdict
from datetime import datetime
from typing import TYPE_CHECKING

from wiretrack import days
from wiretrack.errors import BadInputError
from wiretrack.model.entities import Circuit, Conductor
from wiretrack.model.entity import Point
from wiretrack.model.tags import Tag, format_tag
from wiretrack.model.wiring import ALWAYS_JOINED, Link, Network, Wiring
from wiretrack.model.words import LINES, PROTECTIVE
from wiretrack.store.source import site_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.model.site import Site
    from wiretrack.store.store import Registry


def check_free(registry: Registry, place: Point, conductor: Conductor) -> None:
    """Refuse a terminal that holds an end of another circuit or function.

    Ends on a bus or a splice may meet, and so may protective conductors.
    """
    for link in Wiring(site_of(registry)).at(place):
        if link.what == "conductor" and not may_meet(registry, place, link, conductor):
            raise BadInputError(
                f"{place} is taken by {link.name}"
                f" ({link.circuit} {link.function}). Name another terminal for"
                f" {conductor.circuit} {conductor.function}."
            )


def may_meet(registry: Registry, place: Point, one: Conductor | Link, other: Conductor) -> bool:
    """Return whether ends of two conductors may lie on one terminal."""
    theirs = one.served if isinstance(one, Link) else one.circuits
    if one.function == other.function and not {*theirs}.isdisjoint(other.circuits):
        return True
    if one.function in PROTECTIVE and other.function in PROTECTIVE:
        return True
    return any(pole.kind in ALWAYS_JOINED for pole in _poles(registry, place))


def check_no_bypass(registry: Registry, place: Point, tag: str) -> None:
    """Refuse both pieces of a conductor on one terminal of one pole: that leads past the device."""
    for pole in _poles(registry, place):
        if pole.kind not in ALWAYS_JOINED:
            raise BadInputError(
                f"Both pieces of {format_tag(tag)} on {place} lead past"
                f" {pole.name}. Name the terminal of each: TAG={place.terminal},"
                f"{pole.beyond(place).terminal}."
            )


def joined(registry: Registry, box: str, one: str | None, other: str | None) -> bool:
    """Return whether two terminals of a box are one, or have a device's pole between them."""
    if one is None or other is None:
        return False
    place = Point(box, one)
    poles = _poles(registry, place)
    return one == other or any(pole.beyond(place).terminal == other for pole in poles)


def _poles(registry: Registry, place: Point) -> list[Link]:
    return [link for link in Wiring(site_of(registry)).at(place) if link.what == "device"]


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


def _kin(function: str) -> tuple[str, ...]:
    """Return the functions that do what this one does."""
    return tuple(kin for group in (_EARTHS, _NEUTRALS) if function in group for kin in group)


def _hanging_on(site: Site, conductor: Conductor, leaving: set[Tag]) -> list[str]:
    """Return the circuits that a conductor alone joins with those at its other end.

    Which end is fed isn't recorded; it is where fewer circuits meet, or else its "to" end.
    """
    if any(end.terminal is None for end in conductor.ends):
        return []
    places = [Point(end.enclosure, end.terminal or "") for end in conductor.ends]
    joined = Wiring(site).joined([], [site.one(Conductor, conductor.tag)])
    gone, kin = {format_tag(tag or "") for tag in leaving}, _kin(conductor.function)
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


_DAY = 10  # characters of YYYY-MM-DD


def moment_of_change(text: str | None) -> str:
    """Return when a change was made: a day as a day, a time as RFC 3339, now where none is said."""
    if text is None:
        return days.now()
    typed = days.typed(text)
    found = typed.isoformat() if not isinstance(typed, datetime) else days.typed_time(text)
    if days.date_of(found) > days.today():
        raise BadInputError(
            f"{days.day(found)} lies in the future. Change the record once the work is done."
        )
    return found


def today_is_now(moment: str) -> str:
    """Return a moment, the day of today as the time now."""
    is_today = len(moment) == _DAY and days.date_of(moment) == days.today()
    return days.now() if is_today else moment
