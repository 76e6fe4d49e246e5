# SPDX-License-Identifier: MIT
"""Conductors as lines for fault location: their route section by section, from the record."""

from __future__ import annotations

from dataclasses import field, replace
from itertools import pairwise
from typing import TYPE_CHECKING

from wiretrack.electrical.continuity import (
    COLDEST_C,
    LENGTH_TOLERANCE,
    TEMP_TOLERANCE_K,
    WARMEST_C,
)
from wiretrack.electrical.faults.line import Line, Section, part_of
from wiretrack.electrical.limits import METALS
from wiretrack.electrical.quantities import parse_temperature
from wiretrack.electrical.resistance import ROUTE_TOLERANCE
from wiretrack.errors import BadInputError, FaultLocationError, Hint
from wiretrack.late import dataclass
from wiretrack.store.searching import resolve
from wiretrack.tasks.change.retired import conductor_in_service

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.model.entities import Conductor
    from wiretrack.store.store import Registry

NO_TEMPERATURE = (
    f"temperature not stated: anything from {COLDEST_C:g} to {WARMEST_C:g} °C allowed for"
)


@dataclass(frozen=True)
class Temperatures:
    """What is known of the conductors' temperature: everywhere, and by raceway, in °C."""

    everywhere_c: float | None = None
    by_raceway_c: dict[str, float] = field(default_factory=dict)

    @classmethod
    def typed(cls, registry: Registry, texts: Sequence[str]) -> Temperatures:
        """Return what ``20 C`` or ``W13=12 C`` say of temperatures."""
        everywhere_c, by_raceway_c = None, {}
        for text in texts:
            raceway, equals, value = text.rpartition("=")
            if equals:
                code = resolve(registry, raceway, ("raceway",)).code
                by_raceway_c[code] = parse_temperature(value)
            else:
                everywhere_c = parse_temperature(value)
        return cls(everywhere_c, by_raceway_c)

    def at(self, raceway: str | None) -> tuple[float, float]:
        """Return a section's temperature in °C and how far it may be off in K."""
        known = self.by_raceway_c.get(raceway or "", self.everywhere_c)
        if known is None:
            return (COLDEST_C + WARMEST_C) / 2, (WARMEST_C - COLDEST_C) / 2
        return known, TEMP_TOLERANCE_K


@dataclass(frozen=True)
class Series:
    """Conductors one after the other as one line, with its sources and what is assumed of it.

    `route` is every raceway on the way, from the first box on; `None` where the record lacks one.
    """

    conductors: tuple[Conductor, ...]
    line: Line
    route: tuple[str, ...] | None
    sources: tuple[str, ...]
    remarks: tuple[str, ...]

    @property
    def ends(self) -> tuple[str, str]:
        """The boxes at its near and its far end."""
        return self.line[0].from_box, self.line[-1].to_box

    def __str__(self) -> str:
        return " + ".join(str(c.tag) for c in self.conductors)

    def backwards(self) -> Series:
        """Return it as it is from its other end."""
        route = None if self.route is None else self.route[::-1]
        return replace(self, line=backwards(self.line), route=route)


def line_of(registry: Registry, words: Sequence[str], temps: Temperatures) -> Series:
    """Return conductors joined one after the other as one line, from the first's free end."""
    found = [conductor_in_service(registry, word) for word in words]
    line: list[Section] = []
    routes: list[tuple[str, ...]] = []
    sources: list[str] = []
    remarks: list[str] = []
    for conductor, start in zip(found, _starts(found), strict=True):
        sections, source, remark = _sections(conductor, temps)
        is_forwards = sections[0].from_box == start
        line += sections if is_forwards else backwards(sections)
        route = conductor.route.raceways
        routes.append(tuple(route if is_forwards else reversed(route)))
        sources.append(source)
        remarks += remark
    if any(section.temp_tolerance_k > TEMP_TOLERANCE_K for section in line):
        remarks.append(NO_TEMPERATURE)
    return Series(
        tuple(found),
        tuple(line),
        sum(routes, ()) if all(routes) else None,
        tuple(dict.fromkeys(sources)),
        tuple(dict.fromkeys(remarks)),
    )


def good_of_loop(faulty: Series, good: Series) -> Series:
    """Return the good conductor of a loop, from the near end of the faulty one on."""
    same = {str(c.tag) for c in faulty.conductors} & {str(c.tag) for c in good.conductors}
    if same:
        raise BadInputError(
            f"{min(same)} is the faulty conductor itself. Name a sound one beside it."
        )
    if good.ends != faulty.ends:
        good = good.backwards()
    hint = "Name a sound conductor beside it from end to end."
    if good.ends != faulty.ends:
        raise BadInputError(
            f"{good} runs from {good.ends[1]} to {good.ends[0]}, {faulty} from {faulty.ends[0]} to"
            f" {faulty.ends[1]}. {hint}"
        )
    if faulty.route is None or good.route is None:
        unsure = f"the record lacks the raceways of {faulty if faulty.route is None else good}"
        remark = f"{unsure}: see that {faulty} and {good} run side by side from end to end"
        return replace(good, remarks=(*good.remarks, remark))
    if faulty.route != good.route:
        raise BadInputError(
            f"{good} runs through {', '.join(good.route)}, {faulty} through"
            f" {', '.join(faulty.route)}. {hint}"
        )
    return good


def backwards(line: Sequence[Section]) -> Line:
    """Return a line as it is from its other end."""
    return tuple(
        replace(section, from_box=section.to_box, to_box=section.from_box)
        for section in reversed(line)
    )


def _starts(found: Sequence[Conductor]) -> list[str]:
    first = found[0]
    if len(found) == 1:
        return [first.from_end.enclosure]
    here = _boxes(first)
    free = [box for box in here if box not in _boxes(found[1])]
    starts = [free[0] if free else here[0]]
    for conductor, following in pairwise(found):
        one, other = _boxes(conductor)
        meeting = other if starts[-1] == one else one
        if meeting not in _boxes(following):
            raise BadInputError(
                f"{conductor.tag} ends in {meeting}, where {following.tag} has no end. "
                "Name the conductors in the order in which the path goes through them."
            )
        starts.append(meeting)
    return starts


def _boxes(conductor: Conductor) -> tuple[str, str]:
    return conductor.from_end.enclosure, conductor.to_end.enclosure


def _sections(conductor: Conductor, temps: Temperatures) -> tuple[Line, str, list[str]]:
    """Return a conductor's sections, where their resistance comes from, and remarks."""
    tag = str(conductor.tag)
    if conductor.metal is None:
        raise BadInputError(f"The metal of {tag} is unknown. Record it: {' or '.join(METALS)}.")
    pieces, tolerance, remarks = _pieces(conductor)
    sections, source = [], ""
    for raceway, from_box, to_box, length_m in pieces:
        temp_c, off_k = temps.at(raceway)
        part, source = part_of(
            tag, conductor.size, conductor.metal, conductor.strands, length_m, temp_c
        )
        sections.append(Section(from_box, to_box, length_m, (part,), raceway, tolerance, off_k))
    return tuple(sections), source, remarks


Piece = tuple["str | None", str, str, float]


def _pieces(conductor: Conductor) -> tuple[list[Piece], float, list[str]]:
    """Return raceway, boxes and conductor length of each section, and how far lengths may be off.

    The conductor's own length is spread over its raceways by their lengths: what is in the boxes
    is shared out evenly.
    """
    route, own_m = conductor.route, conductor.length_m
    if route.length_m is not None:
        scale = 1.0 if own_m is None else own_m / route.length_m
        pieces: list[Piece] = [
            (leg.raceway, leg.from_box, leg.to_box, (leg.length_m or 0.0) * scale)
            for leg in route.legs
        ]
        if own_m is None:
            return pieces, ROUTE_TOLERANCE, [f"{conductor.tag}: length assumed from its raceways"]
        return pieces, LENGTH_TOLERANCE, []
    missing = ", ".join(leg.raceway for leg in route.legs if leg.length_m is None)
    if own_m is None:
        what = f" and of its raceways {missing}" if missing else ""
        raise FaultLocationError(
            f"The length of {conductor.tag}{what} is unknown",
            Hint(
                "Pace it off and record it, or read a sound conductor beside it.",
                job="expect-length",
                about=conductor.size,
            ),
        )
    code = route.raceways[0] if len(route.legs) == 1 else None
    remark = f"no length is recorded for {missing}: the raceway can't be named"
    one, other = _boxes(conductor)
    return [(code, one, other, own_m)], LENGTH_TOLERANCE, [remark] if len(route.legs) > 1 else []
