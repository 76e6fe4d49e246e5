# SPDX-License-Identifier: MIT
"""What a ring-out is asked to do, checked against the registry and put into settings to be kept."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from wiretrack.electrical.colours import parse_colour
from wiretrack.electrical.quantities import parse_resistance_ohm
from wiretrack.errors import BadInputError, Hint
from wiretrack.model.tags import format_tag
from wiretrack.ringout.bundle import Bundle, FarEnd, NearEnd
from wiretrack.store import records
from wiretrack.store.searching import resolve, tag_of
from wiretrack.tasks.find.conductors import expected_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence, Set

    from wiretrack.model.entities import Conductor, End
    from wiretrack.store.store import Registry

RACEWAY = "raceway"
MOST_RESISTORS = 100  # planning takes longer the more there are


@dataclass(frozen=True, kw_only=True)
class Wanted:
    """A ring-out as somebody asks for it."""

    pull: str
    near: str
    far: str
    references: Sequence[str] = ()
    start: str = "near"
    resistors: str | None = None
    diode: bool = False
    crew: int = 1
    far_colours: str | None = None
    joins: str = "any"
    screen: str = "auto"
    instrument: str | None = None
    again: bool = False
    switch: bool = False


def way_of(registry: Registry, wanted: Wanted) -> tuple[str, str, str]:
    """Return the codes of the pull, the near box and the far box, as the registry writes them."""
    pull = resolve(registry, wanted.pull, ("pull",)).code
    near = resolve(registry, wanted.near, ("enclosure",)).code
    far = resolve(registry, wanted.far, ("enclosure",)).code
    if near == far:
        raise BadInputError(f"Near and far box are both '{near}'. Name the two ends of the pull.")
    return pull, near, far


def split_ends(registry: Registry, wanted: Wanted) -> tuple[list[Conductor], list[Conductor]]:
    """Return the conductors between the boxes: those to be identified, and the others."""
    pull, near, far = way_of(registry, wanted)
    found = [
        c
        for c in records.conductors(registry, pull=pull, in_service=True)
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


def as_begun(registry: Registry, wanted: Wanted, settings: Mapping[str, Any]) -> Wanted:
    """Return what is wanted of a ring-out under way, as it was when that began.

    If ends are to be found that an earlier ring-out had marked, it was begun to find all again.
    """
    _, known = split_ends(registry, wanted)
    sought = {end["name"] for end in settings["near"]}
    if any(str(conductor.tag) in sought for conductor in known):
        return replace(wanted, again=True)
    return wanted


def settings_for(registry: Registry, wanted: Wanted) -> dict[str, Any]:
    """Return all that a ring-out rests on, as it is stored: ends, colours, references, gear.

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
            Hint("Begin anew with {again} where that is in doubt."),
        )
    marks = {_end_in(c, far).mark for c in known}
    settings = {
        "near_box": near,
        "far_box": far,
        "near": [_near_end(conductor) for conductor in unknown],
        "far": _far_ends(registry, (pull, far), len(unknown), wanted.far_colours, marks),
        "references": [_reference(registry, text) for text in wanted.references],
        "start": wanted.start,
        **gear_for(registry, wanted),
    }
    bundle_of(settings)
    return settings


def gear_for(registry: Registry, wanted: Wanted) -> dict[str, Any]:
    """Return the gear and crew that are asked for, as they are stored."""
    return {
        "joins": wanted.joins,
        "screen": wanted.screen,
        "resistors": _resistors(wanted.resistors),
        "diode": wanted.diode,
        "crew": wanted.crew,
        "instrument": _instrument(registry, wanted.instrument),
    }


# What a ring-out that was stored before one of these could be asked for was done with.
_AS_BEFORE: dict[str, Any] = {
    "joins": "any",
    "screen": "auto",
    "instrument": None,
    "diode": False,
    "earlier": [],
}


def with_defaults(settings: Mapping[str, Any]) -> dict[str, Any]:
    """Return stored settings with what could not be asked for when they were stored."""
    return {**_AS_BEFORE, **settings}


def same_request(stored: Mapping[str, Any], asked: Mapping[str, Any]) -> bool:
    """Return whether two settings ask for the same; expected ohms may have become known since."""

    def essence(settings: Mapping[str, Any]) -> dict[str, Any]:
        near = [{**end, "expected_ohm": None} for end in settings["near"]]
        return {**with_defaults(settings), "near": near, "earlier": None}

    return essence(stored) == essence(asked)


def bundle_of(settings: Mapping[str, Any]) -> Bundle:
    """Return the bundle that stored settings describe."""
    settings = with_defaults(settings)
    return Bundle(
        near=tuple(NearEnd(**end) for end in settings["near"]),
        far=tuple(FarEnd(**end) for end in settings["far"]),
        references=tuple(settings["references"]),
        start=settings["start"],
        joins=settings["joins"],
        screen=settings["screen"],
        resistors=tuple(settings["resistors"]),
        diode=settings["diode"],
        crew=settings["crew"],
    )


def _near_end(conductor: Conductor) -> dict[str, Any]:
    expected = expected_of(conductor)
    return {
        "name": str(conductor.tag),
        "colour": conductor.colour,
        "expected_ohm": expected.ohms if expected else None,
    }


def _end_in(conductor: Conductor, enclosure: str) -> End:
    ends = (conductor.from_end, conductor.to_end)
    return next(end for end in ends if end.enclosure == enclosure)


def _identified(end: End, again: bool) -> bool:
    """Return whether an end is known: landed on a terminal, or marked by an earlier ring-out."""
    return end.terminal is not None or (end.mark is not None and not again)


def _far_ends(
    registry: Registry, place: tuple[str, str], count: int, colours: str | None, used: Set[Any]
) -> list[dict[str, Any]]:
    """Return the ends at the far box in the order of their marks: as typed, else as recorded.

    The marks in `used` are on ends that are identified; no other end gets one of them.
    """
    pull, far = place
    recorded = [
        {"name": end.mark, "colour": end.colour}
        for end in records.far_ends(registry, pull, far)
        if end.mark not in used
    ]
    names = [mark for mark in map(str, range(1, count + len(used) + 1)) if mark not in used]
    if colours:
        typed = [parse_colour(word) for word in colours.split(",")]
        _check_count(len(typed), count, f"colours given: {len(typed)}", far)
        return [
            {"name": name, "colour": colour} for name, colour in zip(names, typed, strict=False)
        ]
    if recorded:
        _check_count(len(recorded), count, f"the record of {pull} has {len(recorded)} ends", far)
        return recorded
    return [{"name": name, "colour": None} for name in names[:count]]


def _check_count(given: int, count: int, told: str, far: str) -> None:
    if given != count:
        raise BadInputError(
            f"{told[0].upper()}{told[1:]} in {far}, but {count} are to be identified."
            " Name each end that isn't identified yet, in the order of the end marks."
        )


def _reference(registry: Registry, text: str) -> str:
    if text.strip().casefold() == RACEWAY:
        return RACEWAY
    return format_tag(tag_of(registry, text))


def _instrument(registry: Registry, code: str | None) -> str | None:
    return resolve(registry, code, ("instrument",)).code if code else None


def _resistors(text: str | None) -> list[float]:
    words = text.split(",") if text else []
    if len(words) > MOST_RESISTORS:
        raise BadInputError(
            f"The kit has {len(words)} resistors; at most {MOST_RESISTORS} can be planned with."
            " Name those that you take along."
        )
    return [parse_resistance_ohm(word) for word in words]
