# SPDX-License-Identifier: MIT
"""What else the readings show: joins that fell off, colours that change on the way."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.ringout.bundle import Place, other_place
from wiretrack.ringout.masks import bits, lowest
from wiretrack.ringout.matching import matched, never_closed, told_by_colour
from wiretrack.ringout.rounds import next_groups
from wiretrack.ringout.screening import MOST_TOUCHES, spent

if TYPE_CHECKING:
    from collections.abc import Iterator

    from wiretrack.ringout.knowledge import Knowledge
    from wiretrack.ringout.stage import Stage

WHAT_WOULD_HELP = (
    "Continuity alone can't tell these look-alikes apart. What would help: a reference known at"
    " both places (the metal raceway, an identified conductor), or a diode over two of them. A"
    " resistor alone wouldn't: it reads the same whichever of the two it is on."
)


def notes(known: Knowledge) -> tuple[str, ...]:
    """Return the remarks on a ring-out, a sentence or two each."""
    found = [*_on_colours(known), *_on_proof(known)]
    for stage in known.stages:
        if stage not in known.found.refused:
            found += _on_joins(known, stage)
    found += _on_touches(known)
    nothing = not known.begun and not known.bundle.diode
    if nothing and next_groups(known, known.facts.place) is None:
        found.append(WHAT_WOULD_HELP)
    return tuple(found)


def _on_colours(known: Knowledge) -> Iterator[str]:
    if not known.bundle.colours_agree:
        yield (
            "The colours at the two places can't belong to the same wires (one may be spliced"
            " with another colour); they were not used."
        )
    elif not known.trust_colours:
        yield "The readings make sense only if a colour changes on the way; colours were not used."
    for end, mate in matched(known).items() if known.begun else ():
        near, far = known.bundle.near[end], known.bundle.far[mate]
        if near.colour and far.colour and near.colour != far.colour:
            yield (
                f"{near.name} is {near.colour} at the near place and {far.colour} at the far one,"
                f" end {far.name}: look for a splice."
            )


def _on_proof(known: Knowledge) -> Iterator[str]:
    """Yield what the matches rest on besides closed readings of their own."""
    lone = [end for end in never_closed(known) if not known.broken("near", end)]
    if lone and known.begun:
        yield (
            f"Never read closed, matched because all other ends are taken, and perhaps broken:"
            f" {_named(known, 'near', lone)}. To make sure, join each to a conductor known to be"
            " whole, and touch the two at the other place."
        )
    coloured = told_by_colour(known)
    if coloured:
        yield (
            f"{len(coloured)} of the matches hold only if no colour changes on the way; the"
            " readings alone don't tell them."
        )


def _on_touches(known: Knowledge) -> Iterator[str]:
    """Yield the touches that were made as often as anybody is asked to, and settle nothing."""
    pairs: set[tuple[Place, str]] = set()
    for stage in known.facts.stages.values():
        for pair, touches in stage.pairs.items():
            if len(touches) >= MOST_TOUCHES:
                pairs.add((stage.at, _named(known, stage.at, list(pair))))
        for left, right, _ in stage.bunches:
            if spent(stage, (left, right)):
                ends = [lowest(left), lowest(right)]
                pairs.add((stage.at, _named(known, stage.at, ends)))
    for place, names in sorted(pairs):
        yield (
            f"{names} at the {place} place were touched {MOST_TOUCHES} times. More touches settle"
            " nothing: look for wires that touch now and then, and for bad contacts."
        )


def _on_joins(known: Knowledge, stage: Stage) -> Iterator[str]:
    """Yield the ends that were joined, are whole, and yet read open in a finished stage."""
    place = other_place(stage.at)
    for group in stage.groups:
        mates = {end: known.found.settled(place, end) for end in bits(group)}
        sound = [end for end in mates if known.proven(place, end) and mates[end] is not None]
        if len(sound) < 2 or len(sound) != len(mates):
            continue
        off = [end for end in sound if _apart(stage, mates, end)]
        if len(off) == len(sound):
            yield f"The join of {_named(known, place, sound)} at the {place} place fell off."
        elif off:
            yield (
                f"{_named(known, place, off)} had come off the join of"
                f" {_named(known, place, sound)} at the {place} place."
            )


def _apart(stage: Stage, mates: dict[int, int | None], end: int) -> bool:
    """Return whether an end's far side read open, and never closed, to all others of its join."""
    mine = mates[end]
    others = [mate for other, mate in mates.items() if other != end and mate is not None]
    return mine is not None and not any(
        stage.closed(mine, mate) or not stage.opens(mine, mate) for mate in others
    )


def _named(known: Knowledge, place: Place, ends: list[int]) -> str:
    names = known.bundle.names(place)
    return ", ".join(names[end] for end in ends)
