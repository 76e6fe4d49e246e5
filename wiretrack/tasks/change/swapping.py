# SPDX-License-Identifier: MIT
"""Two ends found crossed: what the record says of their landing is exchanged."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.days import before
from wiretrack.errors import BadInputError, Hint
from wiretrack.late import dataclass
from wiretrack.model.entities import Conductor, readings_of
from wiretrack.model.tags import format_tag
from wiretrack.readings import kind_of
from wiretrack.store import changing
from wiretrack.store.searching import resolve
from wiretrack.store.source import site_of
from wiretrack.tasks.change.done import Done, moment_of_change, today_is_now
from wiretrack.tasks.change.retired import conductor_in_service, refuse_too_early

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.model.parts import End
    from wiretrack.store.store import Registry


@dataclass(frozen=True, kw_only=True)
class SwappedEnd:
    """An end where it was found to be."""

    tag: str
    circuit: str
    function: str
    terminal: str | None
    state: str | None
    mark: str | None


@dataclass(frozen=True, kw_only=True)
class StaleReading:
    """A reading that was judged by the old landing."""

    id: str | None
    tag: str
    kind: str
    value: str
    at: str | None


@dataclass(frozen=True, kw_only=True)
class Swapped(Done):
    """Two ends that were found crossed, and the readings that their landing spoils."""

    box: str
    at: str
    marks: bool
    ends: Sequence[SwappedEnd]
    stale_readings: Sequence[StaleReading]


def swap(
    registry: Registry,
    tags: tuple[str, str],
    box: str,
    *,
    marks: bool = False,
    at: str | None = None,
    who: str | None = None,
) -> Swapped:
    """Exchange the landings of two conductors' ends in a box; with `marks`, their end marks too.

    Readings stay with their conductor; those that rest on which end was landed where are owed
    again. `BadInputError` if both are one conductor, an end isn't in the box, or there is nothing
    to exchange.
    """
    moment = today_is_now(moment_of_change(at))
    with registry.write(who):
        one, other = (conductor_in_service(registry, text) for text in tags)
        if one.tag == other.tag:
            raise BadInputError(f"{format_tag(one.tag or '')} is named twice. Name two conductors.")
        refuse_too_early(registry, (one, other), moment)
        code = resolve(registry, box, ("enclosure",)).code
        ends = _end_in(one, code), _end_in(other, code)
        marks = _check(ends, (one, other), code, marks=marks)
        pair = (one.tag, other.tag)
        changing.exchange_ends(registry, pair, code, moment, marks=marks)
    site = site_of(registry)
    ends_now = [
        SwappedEnd(
            tag=str(c.tag), circuit=c.circuit, function=c.function, terminal=end.terminal,
            state=end.state, mark=end.mark,
        )
        for c, end in ((c, _end_in(c, code)) for c in (site.one(Conductor, tag) for tag in pair))
    ]  # fmt: skip
    return Swapped(
        box=code,
        at=moment,
        marks=marks,
        ends=ends_now,
        stale_readings=_stale(registry, pair, moment),
    ).with_left_to_do(registry, pair)


def _end_in(conductor: Conductor, box: str) -> End:
    ends = [e for e in (conductor.from_end, conductor.to_end) if e.enclosure == box]
    tag = str(conductor.tag)
    if not ends:
        raise BadInputError(f"{tag} has no end in {box}.", Hint(job="show", about=tag))
    if len(ends) == 2:
        raise BadInputError(
            f"{tag} has both its ends in {box}, so it can't be told which one is crossed.",
            Hint("Land each one again.", job="land", about=f"{tag} {box}"),
        )
    return ends[0]


def _check(
    ends: tuple[End, End], found: tuple[Conductor, Conductor], box: str, *, marks: bool
) -> bool:
    """Return whether end marks are exchanged: as asked, or because they are all there is."""
    one, other = ends
    if (one.terminal, one.state) != (other.terminal, other.state):
        return marks
    tags = " and ".join(str(conductor.tag) for conductor in found)
    if one.mark != other.mark and (marks or one.terminal is None):
        return True
    where = f"are both on {one.terminal}" if one.terminal else f"are both {one.state or 'unknown'}"
    raise BadInputError(
        f"{tags} {where} in {box}: an exchange changes nothing.", Hint(job="show", about=box)
    )


def _stale(registry: Registry, tags: tuple[str, str], moment: str) -> list[StaleReading]:
    found = readings_of(site_of(registry).find(Conductor, "tag", tags))
    return [
        StaleReading(
            id=reading.id,
            tag=format_tag(reading.subject),
            kind=reading.kind,
            value=reading.value,
            at=reading.at,
        )
        for reading in found
        if kind_of(reading.kind).rests_on_landing and before(reading.at, moment)
    ]
