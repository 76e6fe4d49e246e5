# SPDX-License-Identifier: MIT
"""What a ring-out is asked to do, checked against the registry, and what each method takes."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from wiretrack.electrical.colours import parse_colour
from wiretrack.electrical.quantities import parse_resistance_ohm
from wiretrack.electrical.resistance import expected_of
from wiretrack.errors import BadInputError, FieldError, Hint
from wiretrack.model.entities import Conductor, Pull
from wiretrack.model.tags import format_tag
from wiretrack.ringout.bundle import MAX_CONDUCTORS, RACEWAY, FarEnd, NearEnd, Times
from wiretrack.ringout.forecast import (
    ABOUT_NOTE,
    DIODE_NOTE,
    Method,
    compare_methods,
    information_bound,
)
from wiretrack.store.searching import resolve, tag_of
from wiretrack.store.source import site_of
from wiretrack.tasks.identify.settings import GEAR, Gear, GearAsked, Settings

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence, Set

    from wiretrack.model.parts import End
    from wiretrack.model.parts import FarEnd as SeenEnd
    from wiretrack.procedure import Procedure
    from wiretrack.ringout.bundle import Bundle
    from wiretrack.store.store import Registry

MOST_RESISTORS = 100  # planning takes longer the more there are


@dataclass(frozen=True, kw_only=True)
class Wanted(GearAsked):
    """A ring-out as somebody asks for it."""

    pull: str
    near: str
    far: str
    references: Sequence[str] = ()
    start: str = "near"
    far_colours: str | None = None
    far_ends: int | None = None
    again: bool = False
    switch: bool = False

    def only(self, *names: str) -> Wanted:
        """Return the pull, the boxes and these fields, all others being as by default."""
        bare = Wanted(pull=self.pull, near=self.near, far=self.far)
        return replace(bare, **{name: getattr(self, name) for name in names})


def way_of(registry: Registry, wanted: Wanted) -> tuple[str, str, str]:
    """Return the codes of the pull, the near box and the far box, as the registry writes them."""
    pull = resolve(registry, wanted.pull, ("pull",)).code
    near = resolve(registry, wanted.near, ("enclosure",)).code
    far = resolve(registry, wanted.far, ("enclosure",)).code
    if near == far:
        raise BadInputError(f"Near and far box are both '{near}'. Name the two ends of the pull.")
    return pull, near, far


def conductors_of(registry: Registry, pull: str) -> list[Conductor]:
    """Return the conductors of a pull that are in use."""
    found = site_of(registry).find(Conductor, "pull", [pull])
    return [c for c in found if c.retired_at is None]


def split_ends(registry: Registry, wanted: Wanted) -> tuple[list[Conductor], list[Conductor]]:
    """Return the conductors between the boxes: those to be identified, and the others."""
    pull, near, far = way_of(registry, wanted)
    found = [
        c
        for c in conductors_of(registry, pull)
        if {c.from_end.enclosure, c.to_end.enclosure} == {near, far}
    ]
    if not found:
        raise BadInputError(
            f"No conductor of {pull} runs from {near} to {far}.", Hint(job="show", about=pull)
        )
    references = [_reference(registry, text) for text in wanted.references]
    known = [
        c for c in found if str(c.tag) in references or _identified(_end_in(c, far), wanted.again)
    ]
    return [c for c in found if c not in known], known


def known_between(
    registry: Registry, record: Procedure, sought: Set[str]
) -> list[tuple[Conductor, End]]:
    """Return the conductors of a ring-out's boxes that aren't `sought`, with their far ends."""
    boxes, pull = {record.near, record.far}, record.pull
    found = [
        (one, _end_in(one, record.far or ""))
        for one in (conductors_of(registry, pull) if pull else ())
        if {one.from_end.enclosure, one.to_end.enclosure} == boxes and str(one.tag) not in sought
    ]
    return [(one, end) for one, end in found if _identified(end, again=False)]


def as_begun(registry: Registry, wanted: Wanted, settings: Settings) -> Wanted:
    """Return what is wanted of a ring-out under way, as it was when that began.

    If ends are to be found that an earlier ring-out had marked, it was begun to find all again.
    """
    _, known = split_ends(registry, wanted)
    sought = {end.name for end in settings.near}
    if any(str(conductor.tag) in sought for conductor in known):
        return replace(wanted, again=True)
    return wanted


def settings_for(registry: Registry, wanted: Wanted) -> Settings:
    """Return all that the ring-out rests on: ends, colours, references, gear.

    Raises
    ------
    BadInputError
        If something isn't in the registry, or no ring-out can be made of it.
    """
    pull, near, far = way_of(registry, wanted)
    unknown, known = split_ends(registry, wanted)
    if not unknown:
        raise BadInputError(
            f"Every conductor of {pull} is identified in {far} already.",
            Hint("Begin again with {again} where that is in doubt."),
        )
    marks = {_end_in(c, far).mark for c in known}
    named = replace(wanted, pull=pull, far=far)
    seen = [end for end in site_of(registry).one(Pull, pull).far_ends if end.enclosure == far]
    settings = Settings(
        near_box=near,
        far_box=far,
        near=tuple(map(_near_end, unknown)),
        far=_far_ends(named, seen, len(unknown), marks),
        references=tuple(_reference(registry, text) for text in wanted.references),
        start=wanted.start,
        times=_times(registry),
        gear=gear_for(registry, wanted),
    )
    _ = settings.bundle
    return settings


def gear_for(registry: Registry, wanted: GearAsked) -> Gear:
    """Return the gear and crew that are asked for."""
    return Gear(
        joins=wanted.joins,
        screen=wanted.screen,
        resistors=_resistors(wanted.resistors),
        diode=wanted.diode,
        tone=wanted.tone,
        crew=wanted.crew,
        instrument=_instrument(registry, wanted.instrument),
    )


def changed(registry: Registry, settings: Settings, said: Mapping[str, Any]) -> Settings:
    """Return settings with other gear, references or colours at the far box, each checked.

    Raises
    ------
    FieldError
        If one of them can't be; it names the field.
    """
    for name, value in said.items():
        try:
            if name == "references":
                known = tuple(_reference(registry, text) for text in value)
                settings = replace(settings, references=known)
            elif name == "far_colours":
                settings = replace(settings, far=_coloured(settings, value))
            else:
                asked = replace(settings.gear.asked, **{name: value})
                settings = replace(settings, gear=gear_for(registry, asked))
            _ = settings.bundle
        except BadInputError as error:
            raise FieldError(name, error) from error
    return settings


def _coloured(settings: Settings, typed: str) -> tuple[FarEnd, ...]:
    colours = list(map(parse_colour, typed.split(",")))
    _check_count(
        len(colours), len(settings.far), f"Colours given: {len(colours)}", settings.far_box
    )
    return tuple(replace(e, colour=c) for e, c in zip(settings.far, colours, strict=True))


def field_at_fault(registry: Registry, wanted: Wanted) -> str:
    """Return the field because of which no ring-out can be made, or nothing."""
    try:
        resolve(registry, wanted.near, ("enclosure",))
    except BadInputError:
        return "near"
    for name in ("far", "references", "far_colours", "far_ends", *GEAR):
        try:
            settings_for(registry, wanted.only(name))
        except BadInputError:
            return name
    return ""


def _near_end(conductor: Conductor) -> NearEnd:
    expected = expected_of(conductor)
    return NearEnd(
        name=str(conductor.tag),
        colour=conductor.colour,
        expected_ohm=expected.ohms if expected else None,
    )


def _end_in(conductor: Conductor, enclosure: str) -> End:
    ends = (conductor.from_end, conductor.to_end)
    return next(end for end in ends if end.enclosure == enclosure)


def _identified(end: End, again: bool) -> bool:
    """Return whether an end is known: landed on a terminal, or marked by an earlier ring-out."""
    return end.terminal is not None or (end.mark is not None and not again)


def _far_ends(
    wanted: Wanted, seen: Sequence[SeenEnd], count: int, used: Set[str | None]
) -> tuple[FarEnd, ...]:
    """Return the ends at the far box in the order of their marks: as typed, else as recorded.

    The marks in `used` are on ends that are identified; no other end gets one of them. There are as
    many as conductors, `count`, unless more or fewer are said, typed or recorded.
    """
    said = wanted.far_ends
    if not 1 <= (said or count) <= MAX_CONDUCTORS or said == 0:
        raise BadInputError(f"Ends at the far box: {said}. It must be 1 to {MAX_CONDUCTORS}.")
    free = (mark for mark in map(str, itertools.count(1)) if mark not in used)
    recorded = [FarEnd(name=e.mark, colour=e.colour) for e in seen if e.mark not in used]
    if wanted.far_colours:
        typed = [parse_colour(word) for word in wanted.far_colours.split(",")]
        _check_count(len(typed), said, f"Colours given: {len(typed)}", wanted.far)
        return tuple(FarEnd(name=next(free), colour=colour) for colour in typed)
    if recorded:
        told = f"The record of {wanted.pull} has {len(recorded)} ends"
        _check_count(len(recorded), said, told, wanted.far)
        return tuple(recorded)
    return tuple(FarEnd(name=next(free)) for _ in range(said or count))


def _check_count(given: int, said: int | None, told: str, far: str) -> None:
    if said not in (given, None):
        raise BadInputError(
            f"{told} in {far}, but {said} are said."
            " Name each end that isn't identified yet, in the order of the end marks."
        )


def _times(registry: Registry) -> Times:
    """Return what work takes on the site; what it doesn't say is as common practice has it."""
    site, usual = site_of(registry).facts, Times()
    return Times(
        site.walk_time_s or usual.walk_s,
        site.twist_time_s or usual.twist_s,
        site.touch_time_s or usual.touch_s,
    )


def _reference(registry: Registry, text: str) -> str:
    if text.strip().casefold() == RACEWAY:
        return RACEWAY
    return format_tag(tag_of(registry, text))


def _instrument(registry: Registry, code: str | None) -> str | None:
    return resolve(registry, code, ("instrument",)).code if code else None


def _resistors(text: str | None) -> tuple[float, ...]:
    words = text.split(",") if text else []
    if len(words) > MOST_RESISTORS:
        raise BadInputError(
            f"The kit has {len(words)} resistors; at most {MOST_RESISTORS} can be planned with."
            " Name those that you take along."
        )
    return tuple(map(parse_resistance_ohm, words))


@dataclass(frozen=True, kw_only=True)
class RingoutPlan:
    """Walks, joins and touches of every method, the plainest first.

    `bound` is log2 of the number of arrangements: no plan can do with fewer touches on average.
    """

    pull: str
    near: str
    far: str
    conductors: int
    bound: float
    times: Times
    methods: tuple[Method, ...]
    notes: tuple[str, ...]


def ringout_plan(registry: Registry, wanted: Wanted) -> RingoutPlan:
    """Return what each method takes for the ring-out that is `wanted`."""
    settings = settings_for(registry, wanted)
    bundle = settings.bundle
    methods = compare_methods(bundle)
    return RingoutPlan(
        pull=wanted.pull,
        near=settings.near_box,
        far=settings.far_box,
        conductors=bundle.size,
        bound=round(information_bound(bundle), 1),
        times=bundle.times,
        methods=tuple(methods),
        notes=tuple(_notes(bundle, methods)),
    )


def _notes(bundle: Bundle, methods: Sequence[Method]) -> Iterator[str]:
    names = {method.name for method in methods}
    if not methods[0].forecast.whole:
        yield "Continuity alone can't tell these apart; a reference or a diode would help."
    if "diode" in names and not bundle.diode:
        yield DIODE_NOTE
    elif bundle.diode and "diode" not in names:
        yield "A diode isn't needed here: joins tell all apart in as few walks."
    if any(method.forecast.about for method in methods):
        yield ABOUT_NOTE
