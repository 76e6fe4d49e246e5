# SPDX-License-Identifier: MIT
"""Near ends as anonymous as far ones: they carry numbers, and get tags once they are matched."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.electrical.colours import parse_colour
from wiretrack.errors import BadInputError
from wiretrack.ringout.bundle import NearEnd
from wiretrack.tasks.identify.settings import NUMBER

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.model.entities import Conductor
    from wiretrack.model.parts import End
    from wiretrack.tasks.identify.settings import Settings


def numbered(
    typed: str | None, near: str, unknown: Sequence[Conductor], ends: Sequence[NearEnd]
) -> tuple[tuple[NearEnd, ...], tuple[NearEnd, ...]]:
    """Return the near ends, numbered where they aren't landed, and the conductors of those."""
    if any(end.box for end in ends):
        raise BadInputError("Numbers in the near box serve one far box. Name one far box.")
    both = list(zip(unknown, ends, strict=True))
    loose = [(one, end) for one, end in both if _end_in(one, near).terminal is None]
    if not loose:
        raise BadInputError(f"All ends are landed in {near}, so none needs a number there.")
    stocks: dict[str | None, set[tuple[object, ...]]] = {}
    for one, _ in loose:
        stock = (one.size, one.metal, one.insulation, one.strands)
        stocks.setdefault(one.colour, set()).add(stock)
    if mixed := [colour for colour, kinds in stocks.items() if len(kinds) > 1]:
        raise BadInputError(
            f"Conductors of one colour ({mixed[0] or 'unknown'}) differ in size or kind, so they"
            " can't be given in turn. Tag their near ends first."
        )
    colours: list[str | None] = [None] * len(loose)
    if typed:
        colours = [parse_colour(word) for word in typed.split(",")]
    if len(colours) != len(loose):
        raise BadInputError(
            f"Colours given in {near}: {len(colours)}, but {len(loose)} ends have no tag there."
        )
    recorded = [one.colour for one, _ in loose if one.colour]
    for colour in sorted(set(recorded)) if typed else ():
        count, named = recorded.count(colour), colours.count(colour)
        if named < count:
            raise BadInputError(
                f"The record has {count} wires in {colour}, but {named} are named in {near}."
            )
    ohms = {end.expected_ohm for _, end in loose}
    expected = ohms.pop() if len(ohms) == 1 else None
    numbers = tuple(
        NearEnd(name=f"{NUMBER}{number}", colour=colour, expected_ohm=expected)
        for number, colour in enumerate(colours, 1)
    )
    tagged = tuple(end for one, end in both if _end_in(one, near).terminal is not None)
    return (*tagged, *numbers), tuple(end for _, end in loose)


def check_colours(settings: Settings) -> None:
    """Raise where colours tell which conductor a pair of numbers is, and nobody said them."""
    colours = {end.colour for end in settings.untagged}
    seen = [end.colour for end in settings.numbers.values()], [end.colour for end in settings.far]
    if len(colours) > 1 and not any(all(one) for one in seen):
        listed = ", ".join(sorted(filter(None, colours)))
        raise BadInputError(
            f"The wires are of different colours ({listed}). Name the colour of each end in"
            f" {settings.near_box}, or in {settings.far_boxes}, in the order of the numbers."
        )


def _end_in(conductor: Conductor, box: str) -> End:
    return conductor.from_end if conductor.from_end.enclosure == box else conductor.to_end
