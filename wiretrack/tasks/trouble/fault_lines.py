# SPDX-License-Identifier: MIT
"""Conductors as lines for fault location: their route section by section, from the record."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import TYPE_CHECKING

from wiretrack.electrical.continuity import (
    COLDEST_C,
    LENGTH_TOLERANCE,
    TEMP_TOLERANCE_K,
    WARMEST_C,
)
from wiretrack.electrical.faults.line import Line, Section, part_of
from wiretrack.electrical.likely_length import ROUTE_TOLERANCE
from wiretrack.electrical.quantities import parse_temperature
from wiretrack.errors import BadInputError, FaultLocationError, Hint
from wiretrack.store.searching import resolve
from wiretrack.tasks.change.retired import conductor_in_service

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.model.entities import Conductor
    from wiretrack.store.store import Registry

NO_TEMPERATURE = (
    f"temperature not stated: anything from {COLDEST_C:g} to {WARMEST_C:g} °C allowed for"
)


@dataclass
class Temperatures:
    """What is known of the conductors' temperature: everywhere, and by raceway, in °C."""

    everywhere_c: float | None = None
    by_raceway_c: dict[str, float] = field(default_factory=dict)

    def at(self, raceway: str | None) -> tuple[float, float]:
        """Return a section's temperature in °C and how far it may be off in K."""
        known = self.by_raceway_c.get(raceway or "", self.everywhere_c)
        if known is None:
            return (COLDEST_C + WARMEST_C) / 2, (WARMEST_C - COLDEST_C) / 2
        return known, TEMP_TOLERANCE_K


@dataclass(frozen=True)
class Traced:
    """A line with its sources and the remarks that whoever reads the result must see.

    `route` is every raceway on the way, from the first box on; `None` where the record lacks one.
    """

    line: Line
    sources: tuple[str, ...]
    remarks: tuple[str, ...]
    circuits: tuple[str, ...]
    tags: tuple[str, ...]
    route: tuple[str, ...] | None


def temperatures(registry: Registry, texts: Sequence[str]) -> Temperatures:
    """Return what ``20 C`` or ``W13=12 C`` say of temperatures."""
    found = Temperatures()
    for text in texts:
        raceway, equals, value = text.rpartition("=")
        if equals:
            found.by_raceway_c[resolve(registry, raceway, ("raceway",)).code] = parse_temperature(
                value
            )
        else:
            found.everywhere_c = parse_temperature(value)
    return found


def line_of(registry: Registry, words: Sequence[str], temps: Temperatures) -> Traced:
    """Return conductors joined one after the other as one line, from the first's free end.

    Raises
    ------
    BadInputError
        If they don't meet end to end, or size or metal is unknown.
    FaultLocationError
        If a length is unknown: what to measure is said.
    RetiredError
        If one of them is no longer part of the work.
    """
    found = [conductor_in_service(registry, word) for word in words]
    line: list[Section] = []
    routes: list[list[str]] = []
    sources: list[str] = []
    remarks: list[str] = []
    for conductor, start in zip(found, _starts(found), strict=True):
        sections, source, remark = _sections(conductor, temps)
        routes.append(list(conductor.route.raceways))
        if sections[0].from_box != start:
            sections = backwards(sections)
            routes[-1].reverse()
        line += sections
        sources.append(source)
        remarks += remark
    if any(section.temp_tolerance_k > TEMP_TOLERANCE_K for section in line):
        remarks.append(NO_TEMPERATURE)
    return Traced(
        tuple(line), tuple(dict.fromkeys(sources)), tuple(dict.fromkeys(remarks)),
        found[0].circuits, tuple(str(c.tag) for c in found),
        tuple(code for route in routes for code in route) if all(routes) else None,
    )  # fmt: skip


def beside(faulty: Traced, good: Traced) -> Traced:
    """Return the good conductor of a loop, from the near end of the faulty one on.

    Raises
    ------
    BadInputError
        If it doesn't run beside the faulty one: other boxes at its ends, or other raceways.
    """
    one, other = " + ".join(faulty.tags), " + ".join(good.tags)
    same = set(faulty.tags) & set(good.tags)
    if same:
        raise BadInputError(
            f"{min(same)} is the faulty conductor itself. Name a sound one beside it."
        )
    ends = (faulty.line[0].from_box, faulty.line[-1].to_box)
    route = good.route
    if (good.line[0].from_box, good.line[-1].to_box) != ends:
        good = replace(good, line=backwards(good.line))
        route = route[::-1] if route else None
    theirs = (good.line[0].from_box, good.line[-1].to_box)
    hint = "Name a sound conductor beside it from end to end."
    if theirs != ends:
        raise BadInputError(
            f"{other} runs from {theirs[1]} to {theirs[0]}, {one} from {ends[0]} to {ends[1]}."
            f" {hint}"
        )
    if faulty.route is None or route is None:
        unsure = f"the record lacks the raceways of {one if faulty.route is None else other}"
        remark = f"{unsure}: see that {one} and {other} run side by side from end to end"
        return replace(good, remarks=(*good.remarks, remark))
    if faulty.route != route:
        raise BadInputError(
            f"{other} runs through {', '.join(route)}, {one} through {', '.join(faulty.route)}."
            f" {hint}"
        )
    return good


def backwards(line: Sequence[Section]) -> Line:
    """Return a line as it is from its other end."""
    return tuple(
        replace(section, from_box=section.to_box, to_box=section.from_box)
        for section in reversed(line)
    )


def _starts(found: Sequence[Conductor]) -> list[str]:
    """Return the box where each conductor of a series begins."""
    first = found[0]
    if len(found) == 1:
        return [first.from_end.enclosure]
    here = _ends(first)
    free = [box for box in here if box not in _ends(found[1])]
    starts = [free[0] if free else here[0]]
    for conductor, following in pairwise(found):
        one, other = _ends(conductor)
        meeting = other if starts[-1] == one else one
        if meeting not in _ends(following):
            names = [str(c.tag) for c in (conductor, following)]
            raise BadInputError(
                f"{names[0]} ends in {meeting}, where {names[1]} has no end. "
                "Name the conductors in the order in which the path goes through them."
            )
        starts.append(meeting)
    return starts


def _ends(conductor: Conductor) -> tuple[str, str]:
    return conductor.from_end.enclosure, conductor.to_end.enclosure


def _sections(conductor: Conductor, temps: Temperatures) -> tuple[Line, str, list[str]]:
    """Return a conductor's sections, where their resistance comes from, and remarks."""
    tag = str(conductor.tag)
    if conductor.metal is None:
        raise BadInputError(f"The metal of {tag} is unknown. Record it: Cu or Al.")
    pieces, tolerance, remarks = _pieces(conductor, tag)
    sections, source = [], ""
    for raceway, from_box, to_box, length_m in pieces:
        temp_c, off_k = temps.at(raceway)
        part, source = part_of(
            tag, conductor.size, conductor.metal, conductor.strands, length_m, temp_c
        )
        sections.append(Section(from_box, to_box, length_m, (part,), raceway, tolerance, off_k))
    return tuple(sections), source, remarks


Piece = tuple["str | None", str, str, float]


def _pieces(conductor: Conductor, tag: str) -> tuple[list[Piece], float, list[str]]:
    """Return raceway, boxes and conductor length of each section, and how far lengths may be off.

    The conductor's own length is spread over its raceways by their lengths: what is in the boxes
    is shared out evenly.
    """
    route = conductor.route
    one, other = _ends(conductor)
    own_m = conductor.length_m
    if route.length_m is not None:
        scale = 1.0 if own_m is None else own_m / route.length_m
        pieces: list[Piece] = [
            (leg.raceway, leg.from_box, leg.to_box, (leg.length_m or 0.0) * scale)
            for leg in route.legs
        ]
        if own_m is None:
            return pieces, ROUTE_TOLERANCE, [f"{tag}: length taken from its raceways"]
        return pieces, LENGTH_TOLERANCE, []
    missing = [leg.raceway for leg in route.legs if leg.length_m is None]
    if own_m is None:
        what = f" and of its raceways {', '.join(missing)}" if missing else ""
        raise FaultLocationError(
            f"The length of {tag}{what} is unknown",
            Hint(
                "Pace it off and record it, or read a sound conductor beside it.",
                job="expect-length",
                about=conductor.size,
            ),
        )
    code = route.raceways[0] if len(route.legs) == 1 else None
    remark = f"no length is recorded for {', '.join(missing)}: the raceway can't be named"
    return [(code, one, other, own_m)], LENGTH_TOLERANCE, [remark] if len(route.legs) > 1 else []
