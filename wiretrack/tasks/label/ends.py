# SPDX-License-Identifier: MIT
"""The ends that a word names, each as what its label says, and what of it a legend shows."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Literal

from wiretrack.errors import BadInputError
from wiretrack.labels.payload import check_base_address, make_payload
from wiretrack.labels.subject import LabelSubject
from wiretrack.store import records
from wiretrack.store.searching import resolve
from wiretrack.tasks.change.retired import conductor_in_service
from wiretrack.tasks.label.dimensions import outer_diameter_mm

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from wiretrack.labels.legend import Contents
    from wiretrack.model.entities import Conductor, End
    from wiretrack.store.store import Registry

Side = Literal["from", "to"]
SIDES: tuple[Side, Side] = ("from", "to")
# What each choice of contents shows beside the tag; the symbol's text is shown by all.
SHOWN: dict[Contents, tuple[str, ...]] = {
    "tag": (),
    "short": ("circuit", "function", "this_place"),
    "full": ("circuit", "function", "this_place", "other_place"),
    "long": (
        "circuit", "function", "title", "this_place", "other_place", "size", "colour",
    ),
}  # fmt: skip


def subjects(registry: Registry, what: str | None = None) -> list[LabelSubject]:
    """Return the ends that `what` names; all ends of the site without it.

    Both ends of a conductor, or of each one in a circuit, pull or raceway; for an enclosure the
    ends that lie in it.

    Raises
    ------
    NotFoundError, TagError
        If nothing is called so.
    """
    found, here = named_conductors(registry, what)
    address = records.site(registry).base_address
    return [
        subject
        for subject, end in _both_ends(registry, found, address)
        if here in (None, end.enclosure)
    ]


def is_identified(conductor: Conductor, side: str) -> bool:
    """Return whether it is known which of the ends in a box is this one of the conductor.

    The near end of a pull carries the tag from the start; the far one is known once it is rung out
    or landed, or capped as a spare.
    """
    if side == "from" or not conductor.pull:
        return True
    end = conductor.to_end
    return not (end.terminal is None and end.mark is None and end.state != "capped")


def named_conductors(
    registry: Registry, what: str | None = None
) -> tuple[list[Conductor], str | None]:
    """Return the conductors in service that `what` names; if it names an enclosure, its code too.

    Raises
    ------
    NotFoundError, TagError, RetiredError
        If nothing is called so, or it is a conductor that is no longer part of the work.
    """
    if what is None:
        return records.conductors(registry, in_service=True), None
    named = resolve(registry, what)
    if named.what == "conductor":
        return [conductor_in_service(registry, named.code)], None
    scopes: dict[str, records.Scope] = {
        "circuit": {"circuits": [named.code]},
        "pull": {"pull": named.code},
        "raceway": {"raceway": named.code},
        "enclosure": {"enclosures": [named.code]},
    }
    scope: records.Scope = {**scopes[named.what], "in_service": True}
    found = records.conductors(registry, **scope)
    return found, named.code if named.what == "enclosure" else None


def subjects_of(registry: Registry, found: Iterable[Conductor]) -> list[LabelSubject]:
    """Return both ends of each conductor, as their labels would be printed now.

    An address that can't be printed counts as none here, so that the rest can still be compared.
    """
    address = records.site(registry).base_address
    try:
        address = address and check_base_address(address)
    except BadInputError:
        address = None
    return [subject for subject, _ in _both_ends(registry, found, address)]


def legend_of(
    subject: LabelSubject, contents: Contents = "full", *, text_only: bool = False
) -> dict[str, Any]:
    """Return what a label of these contents says, for the print log."""
    shown = SHOWN[contents] if text_only else (*SHOWN[contents], "payload")
    return {name: getattr(subject, name) for name in shown}


def _both_ends(
    registry: Registry, found: Iterable[Conductor], base_address: str | None
) -> Iterator[tuple[LabelSubject, End]]:
    found = list(found)
    codes = {code for conductor in found for code in conductor.circuits}
    titles = {circuit.code: circuit.title for circuit in records.circuits(registry, codes)}
    for conductor in found:
        for side in SIDES:
            here, there = conductor.from_end, conductor.to_end
            if side == "to":
                here, there = there, here
            yield _subject(conductor, side, here, there, base_address, titles), here


def _subject(
    conductor: Conductor,
    side: Side,
    here: End,
    there: End,
    base_address: str | None,
    titles: dict[str, str | None],
) -> LabelSubject:
    tag = conductor.tag
    return LabelSubject(
        tag=tag,
        payload=make_payload(tag, base_address),
        circuit=conductor.circuit,
        function=conductor.function,
        title=" / ".join(filter(None, map(titles.get, conductor.circuits))) or None,
        this_place=here.place,
        other_place=there.place,
        this_box=here.enclosure,
        other_box=there.enclosure,
        size=conductor.size,
        colour=conductor.colour,
        outer_diameter_mm=outer_diameter_mm(conductor),
        end=side,
    )
