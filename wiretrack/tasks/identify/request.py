# SPDX-License-Identifier: MIT
"""What a ring-out is asked to do, checked against the registry, and what each method takes."""

from __future__ import annotations

import itertools
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from wiretrack.electrical.colours import parse_colour
from wiretrack.electrical.quantities import parse_resistance_ohm
from wiretrack.electrical.resistance import expected_of
from wiretrack.errors import BadInputError, FieldError, Hint
from wiretrack.late import dataclass
from wiretrack.model.entities import Conductor, Pull
from wiretrack.model.tags import format_tag
from wiretrack.ringout.bundle import MAX_CONDUCTORS, RACEWAY, FarEnd, NearEnd, Times
from wiretrack.store.searching import resolve, tag_of
from wiretrack.store.source import site_of
from wiretrack.tasks.identify.numbers import check_colours, numbered
from wiretrack.tasks.identify.settings import GEAR, Gear, GearAsked, Settings

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence, Set

    from wiretrack.model.parts import End
    from wiretrack.model.parts import FarEnd as SeenEnd
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
    near_numbers: bool = False
    near_colours: str | None = None
    again: bool = False
    switch: bool = False

    def only(self, *names: str) -> Wanted:
        """Return the pull, the boxes and these fields, all others being as by default."""
        bare = Wanted(pull=self.pull, near=self.near, far=self.far)
        return replace(bare, **{name: getattr(self, name) for name in names})


def way_of(registry: Registry, wanted: Wanted) -> tuple[str, str, tuple[str, ...]]:
    """Return the codes of the pull, the near box and the far boxes, as the registry writes them."""
    pull = resolve(registry, wanted.pull, ("pull",)).code
    near = resolve(registry, wanted.near, ("enclosure",)).code
    boxes = [resolve(registry, one, ("enclosure",)).code for one in wanted.far.split(",")]
    if near in boxes:
        raise BadInputError(f"Near and far box are both '{near}'. Name the two ends of the pull.")
    return pull, near, tuple(dict.fromkeys(boxes))


def conductors_of(registry: Registry, pull: str) -> list[Conductor]:
    """Return the conductors of a pull that are in use."""
    found = site_of(registry).find(Conductor, "pull", [pull])
    return [c for c in found if c.retired_at is None]


def split_ends(registry: Registry, wanted: Wanted) -> tuple[list[Conductor], list[Conductor]]:
    """Return the conductors between the boxes: those to be identified, and the others."""
    pull, near, boxes = way_of(registry, wanted)
    found = _between(registry, pull, near, boxes)
    for far in boxes:
        if all(_far_end(c, near).enclosure != far for c in found):
            raise BadInputError(
                f"No conductor of {pull} runs from {near} to {far}.", Hint(job="show", about=pull)
            )
    references = [_reference(registry, text) for text in wanted.references]
    known = [
        c for c in found if str(c.tag) in references or _identified(_far_end(c, near), wanted.again)
    ]
    return [c for c in found if c not in known], known


def _between(registry: Registry, pull: str, near: str, boxes: Sequence[str]) -> list[Conductor]:
    """Return the conductors of a pull that run from the near box to a far one."""
    return [
        one
        for one in conductors_of(registry, pull)
        if near in (one.from_end.enclosure, one.to_end.enclosure)
        and _far_end(one, near).enclosure in boxes
    ]


def _going_on(
    registry: Registry, wanted: Wanted, landed: Sequence[Conductor]
) -> tuple[NearEnd, ...]:
    """Return the near ends that answer in a further box too: daisy chains.

    There a conductor goes on from the terminal that one of the `landed` ones ends on, and its end
    isn't identified yet. `BadInputError` if one near end goes on to several ends.
    """
    pull, near, boxes = way_of(registry, wanted)
    first: dict[tuple[str, str | None], Conductor] = {}
    for one in landed:
        end = _far_end(one, near)
        if end.terminal:
            first[end.enclosure, end.terminal] = one
    found: dict[str, NearEnd] = {}
    for one in conductors_of(registry, pull):
        for here, there in ((one.from_end, one.to_end), (one.to_end, one.from_end)):
            lead = first.get((here.enclosure, here.terminal))
            if lead is None or lead is one or there.enclosure not in boxes:
                continue
            if str(lead.tag) in found:
                raise BadInputError(
                    f"{lead.tag} goes on from {here.place} to several ends. Disconnect all but one"
                    " there, or ring them out from that box."
                )
            if not _identified(there, wanted.again):
                seen = _near_end(one, there.enclosure, several=True)
                found[str(lead.tag)] = replace(seen, name=str(lead.tag), goes_on_as=seen.name)
    return tuple(found.values())


def known_between(registry: Registry, settings: Settings, pull: str) -> list[tuple[Conductor, End]]:
    """Return the conductors of a ring-out's boxes that were known before, with their far ends."""
    sought = {*settings.sought, *settings.references}
    near = settings.near_box
    found = _between(registry, pull, near, settings.boxes) if pull else []
    ends = [(one, _far_end(one, near)) for one in found if str(one.tag) not in sought]
    return [(one, end) for one, end in ends if _identified(end, again=False)]


def as_begun(registry: Registry, wanted: Wanted, settings: Settings) -> Wanted:
    """Return what is wanted of a ring-out under way, as it was when that began.

    If ends are to be found that an earlier ring-out had marked, it was begun to find all again.
    """
    _, known = split_ends(registry, wanted)
    sought = settings.sought
    if any(str(conductor.tag) in sought for conductor in known):
        return replace(wanted, again=True)
    return wanted


def settings_for(registry: Registry, wanted: Wanted) -> Settings:
    """Return all that the ring-out rests on: ends, colours, references, gear."""
    pull, near, boxes = way_of(registry, wanted)
    unknown, known = split_ends(registry, wanted)
    several = len(boxes) > 1
    if not unknown:
        raise BadInputError(
            f"Every conductor of {pull} is identified in {' and '.join(boxes)} already.",
            Hint("Begin again with {again} where that is in doubt."),
        )
    marks = {_far_end(c, near).mark for c in known}
    ends = tuple(_near_end(c, _far_end(c, near).enclosure, several) for c in unknown)
    if several:
        ends += _going_on(registry, wanted, known)
    untagged: tuple[NearEnd, ...] = ()
    if wanted.near_numbers or wanted.near_colours:
        ends, untagged = numbered(wanted.near_colours, near, unknown, ends)
    settings = Settings(
        near_box=near,
        far_box=boxes[0],
        near=ends,
        far=_far_ends_of(registry, replace(wanted, pull=pull), boxes, ends, marks),
        references=tuple(_reference(registry, text) for text in wanted.references),
        start=wanted.start,
        times=_times(registry),
        gear=gear_for(registry, wanted),
        untagged=untagged,
    )
    _ = settings.bundles
    check_colours(settings)
    return settings


def _far_ends_of(
    registry: Registry,
    wanted: Wanted,
    boxes: Sequence[str],
    near: Sequence[NearEnd],
    used: Set[str | None],
) -> tuple[FarEnd, ...]:
    """Return the ends of all far boxes; the marks go on from box to box."""
    recorded = site_of(registry).one(Pull, wanted.pull).far_ends
    if len(boxes) > 1 and any(text.strip().casefold() != RACEWAY for text in wanted.references):
        raise BadInputError(
            f"A conductor can't be a reference for {len(boxes)} far boxes. The raceway can."
        )
    if len(boxes) > 1 and (wanted.far_ends or wanted.far_colours):
        raise BadInputError(
            f"Ends of {len(boxes)} far boxes can't be typed at once. Record them with the pull:"
            " mark, colour and box of each."
        )
    found: list[FarEnd] = []
    for box in boxes:
        seen = [end for end in recorded if end.enclosure == box]
        count = sum(end.box in (None, box) for end in near)
        taken = used | {end.name for end in found}
        ends = _far_ends(replace(wanted, far=box), seen, count, taken) if count else ()
        found += [replace(end, box=box) for end in ends] if len(boxes) > 1 else ends
    return tuple(found)


def gear_for(registry: Registry, wanted: GearAsked) -> Gear:
    """Return the gear and crew that are asked for."""
    return Gear(
        joins=wanted.joins,
        screen=wanted.screen,
        check=wanted.check,
        resistors=_resistors(wanted.resistors),
        diode=wanted.diode,
        tone=wanted.tone,
        ohms=wanted.ohms,
        crew=wanted.crew,
        instrument=_instrument(registry, wanted.instrument),
    )


def changed(registry: Registry, settings: Settings, said: Mapping[str, Any]) -> Settings:
    """Return settings with other gear, references or colours at the far box, each checked."""
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
            _ = settings.bundles
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
    for name in ("far", "references", "far_colours", "far_ends", "near_colours", *GEAR):
        more = ("near_numbers",) if name == "near_colours" else ()
        try:
            settings_for(registry, wanted.only(name, *more))
        except BadInputError:
            return name
    return ""


def _near_end(conductor: Conductor, box: str, several: bool) -> NearEnd:
    expected = expected_of(conductor)
    return NearEnd(
        name=str(conductor.tag),
        colour=conductor.colour,
        expected_ohm=expected.ohms if expected else None,
        box=box if several else None,
    )


def _far_end(conductor: Conductor, near: str) -> End:
    start, end = conductor.from_end, conductor.to_end
    return end if start.enclosure == near else start


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
