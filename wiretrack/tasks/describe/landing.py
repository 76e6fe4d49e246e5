# SPDX-License-Identifier: MIT
"""Landing an end on a terminal, capping it as a spare, or setting it loose."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.electrical.rules.landing import Landed, at_odds, named_shortly
from wiretrack.errors import AskedError, BadInputError, Hint, NotFoundError
from wiretrack.exchange.places import check_code
from wiretrack.late import dataclass
from wiretrack.model.circuits import together
from wiretrack.model.entities import Conductor, Enclosure
from wiretrack.model.entity import Point
from wiretrack.model.parts import End
from wiretrack.model.words import END_STATES
from wiretrack.plain import near
from wiretrack.store import changing, history
from wiretrack.store.places import place_called
from wiretrack.store.searching import is_called, resolve
from wiretrack.store.source import site_of
from wiretrack.tasks.change.retired import conductor_in_service

if TYPE_CHECKING:
    from wiretrack.model.entities import ConductorEnd
    from wiretrack.store.store import Registry


@dataclass(frozen=True)
class Sure:
    """What somebody has confirmed of a landing."""

    new_terminal: bool = False
    anyway: bool = False


NOT_SURE = Sure()


@dataclass(frozen=True)
class EndNow:
    """A conductor's end as it is now; `new_terminal` if the landing made its terminal."""

    tag: str
    enclosure: str
    terminal: str | None
    state: str | None
    new_terminal: bool = False


def land(
    registry: Registry, tag: str, end: End, *, who: str | None = None, sure: Sure = NOT_SURE
) -> EndNow:
    """Change the state of a conductor's end in an enclosure to that of `end`.

    With a terminal it is landed on that; without one it is capped or loose. `BadInputError` if
    terminal and state contradict, the conductor has no end in that enclosure, or its other end is
    on that terminal; `AskedError` if the enclosure has no such terminal in the record, or what is
    on it can't be together with this conductor, and nobody is `sure`.
    """
    enclosure, typed = _place_of(registry, end)
    terminal = check_code("The terminal", typed)
    state = end.state or ("landed" if terminal else None)
    conductor, side, here, there = _end_in(registry, tag, enclosure)
    if state not in END_STATES or (state == "landed") != bool(terminal):
        raise BadInputError(
            "An end is landed on a terminal, or capped or loose without one.",
            Hint("Give {terminal}, or {capped}, or {loose}."),
            field="terminal",
        )
    made, name = False, str(conductor.tag)
    if terminal is not None:
        point = Point(here.enclosure, terminal)
        if (there.enclosure, there.terminal) == point:
            raise BadInputError(f"Both ends of {name} would be on {point}. Name another terminal.")
        made = _is_new(registry, point, sure)
        _check_company(registry, point, conductor, sure)
    changing.land_end(registry, conductor.tag, side, state, terminal, who=who)
    return EndNow(name, here.enclosure, terminal, state, made)


def _place_of(registry: Registry, end: End) -> tuple[str, str | None]:
    """Return the box and the terminal that somebody typed, as the record writes that terminal."""
    written = f"{end.enclosure}/{end.terminal}" if end.terminal else end.enclosure
    is_box = not end.terminal and (end.state or is_called(registry, "enclosure", written))
    try:
        return (
            (end.enclosure, None)
            if is_box
            else place_called(registry, written, ("terminal",)).point
        )
    except NotFoundError:
        return end.enclosure, end.terminal


def take_back(
    registry: Registry, tag: str, enclosure: str, *, who: str | None = None, sure: Sure = NOT_SURE
) -> EndNow:
    """Put an end back to how it was before its last landing."""
    conductor, side, here, _ = _end_in(registry, tag, enclosure)
    name = str(conductor.tag)
    earlier = history.landing_before(registry, conductor.tag, side)
    if earlier is None:
        raise BadInputError(f"The record holds no earlier landing of {name} in {here.enclosure}.")
    terminal, state = earlier
    if state is None:
        changing.land_end(registry, conductor.tag, side, None, terminal, who=who)
        return EndNow(name, here.enclosure, terminal, None)
    end = End(enclosure=here.enclosure, terminal=terminal, state=state)
    return land(registry, tag, end, who=who, sure=sure)


def _end_in(registry: Registry, tag: str, enclosure: str) -> ConductorEnd:
    code = resolve(registry, enclosure, ("enclosure",)).code
    conductor = conductor_in_service(registry, tag)
    for end in conductor.sides:
        if end.here.enclosure == code:
            return end
    name = str(conductor.tag)
    raise BadInputError(f"{name} has no end in {code}.", Hint(job="show", about=name))


def _is_new(registry: Registry, point: Point, sure: Sure) -> bool:
    """Return whether a landing makes this terminal; ask where the record lists others.

    Terminals that are there only because something is landed on them are no list.
    """
    names, listed = _terminals_in(site_of(registry).one(Enclosure, point.enclosure))
    if point.terminal in names:
        return False
    if listed and not sure.new_terminal:
        known = named_shortly(near(point.terminal, names) or names)
        raise AskedError(
            "terminal",
            f"{point.enclosure} has no terminal {point.terminal} in the record. It has {known}.",
            "new_terminal",
        )
    return True


def _check_company(registry: Registry, point: Point, conductor: Conductor, sure: Sure) -> None:
    """Ask about a terminal on which this conductor can't lie together with what is there."""
    own = _landed(conductor)
    for there in site_of(registry).at(Conductor, "terminal", point):
        if there.tag == conductor.tag or there.retired_at is not None or sure.anyway:
            continue
        other = _landed(there)
        if at_odds(own, other) != "pass":
            raise AskedError(
                "terminal",
                f"{other.words} is on {point.enclosure} {point.terminal}. Together with"
                f" {own.words} that is a short circuit or an earth fault.",
                "anyway",
            )


def _landed(c: Conductor) -> Landed:
    earthed = together(c.serves).solidly_earthed
    return Landed(str(c.tag), c.circuit, c.function, earthed, c.circuits)


def _terminals_in(box: Enclosure) -> tuple[list[str], bool]:
    """Return an enclosure's terminals, and whether any is there for itself: a pole's, or bare."""
    names = [terminal.code for terminal in box.terminals]
    poles = {code for device in box.devices for pole in device.poles for code in pole}
    ends = (end for conductor in box.conductors for end in conductor.ends)
    used = {end.terminal for end in ends if end.enclosure == box.code}
    return names, any(name in poles or name not in used for name in names)
