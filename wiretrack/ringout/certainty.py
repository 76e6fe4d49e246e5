# SPDX-License-Identifier: MIT
"""Which matches are sure, and why one isn't.

A match is sure if only a wrong answer, or a mixture of faults rarer than one in ten thousand
bundles, could make it wrong. So colours, exclusion and one closed reading that stands alone aren't
enough; nor is it where a broken conductor whose loose part touches another one would read the same.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.ringout.bundle import PLACES
from wiretrack.ringout.confirming import unconfirmed
from wiretrack.ringout.loose_parts import loose_parts
from wiretrack.ringout.masks import lowest
from wiretrack.ringout.matching import matched, never_closed, told_by_colour
from wiretrack.ringout.probing import Probing
from wiretrack.ringout.screening import OPEN_TOUCHES
from wiretrack.ringout.unexplained import came_and_went

if TYPE_CHECKING:
    from wiretrack.ringout.knowledge import Knowledge
    from wiretrack.ringout.stage import Stage

BY_COLOUR = "Only colours tell it from others. A colour can change on the way."
BY_EXCLUSION = "It never read closed. All other ends are taken. It may be broken."
UNSEARCHED = "Nobody searched for wires that touch each other."
CONTRADICTED = "Readings contradict each other."
ONCE_CLOSED = "Two bunches read closed, then open. Wires may touch now and then."
FAULTY = "A wire is broken or touches another. More faults could hide behind it."
POINTED = "Readings point to it. More touches must rule out wires that touch each other."
PROVEN = "Closed readings at the boxes tell it from all others."


def doubts(known: Knowledge) -> dict[int, str]:
    """Return, for the matched near ends that aren't sure, why."""
    state = (*known.state(), known.facts.bundle.screen)
    return known.facts.remember("doubts", state, lambda: _doubts(known))


def _doubts(known: Knowledge) -> dict[int, str]:
    pairs = matched(known)
    found = dict.fromkeys(told_by_colour(known), BY_COLOUR)
    for end in never_closed(known):
        found.setdefault(end, BY_EXCLUSION)
    trouble = _trouble(known) if len(found) < len(pairs) else None
    if trouble is not None:
        for end in pairs:
            found.setdefault(end, trouble)
    if len(found) < len(pairs):
        _by_one_reading(known, pairs, found)
    if len(found) < len(pairs):
        _by_loose_part(known, pairs, found)
    return {end: why for end, why in found.items() if end in pairs}


def _trouble(known: Knowledge) -> str | None:
    """Return what makes every match doubtful, if anything does."""
    if known.bundle.screen == "none":
        return UNSEARCHED
    stages = list(known.facts.stages.values())
    for touch in (touch for stage in stages for touch in came_and_went(stage)):
        one, two = (known.bundle.names(touch.at)[end] for end in touch.ends)
        return f"{one} and {two} ({touch.at} box) read closed, then open. Touch them again."
    if known.found.refused or any(stage.unexplained() for stage in stages):
        return CONTRADICTED
    if any(stage.once_closed() for stage in stages):
        return ONCE_CLOSED
    searched = all(known.bare_depth(place) >= OPEN_TOUCHES for place in PLACES)
    if not searched and any(not _explained(known, stage) for stage in known.stages):
        return FAULTY
    return None


def _explained(known: Knowledge, stage: Stage) -> bool:
    """Return whether a stage shows nothing but what was joined."""
    split = known.domain_of(stage)
    if split is None or _touching(known):
        return False
    components, _, homes = split
    for i, one in enumerate(components):
        for j in range(i):
            one_home = homes[i] == homes[j] and homes[i].bit_count() == 1
            if one_home and stage.opens(lowest(one), lowest(components[j])):
                return False
    return True


def _touching(known: Knowledge) -> bool:
    return any(known.contacts.at(place) for place in PLACES)


def _by_one_reading(known: Knowledge, pairs: dict[int, int], found: dict[int, str]) -> None:
    """Add the ends that another arrangement fits as soon as one closed reading isn't true."""
    for stage in known.stages:
        for link in unconfirmed(Probing(stage, known)):
            names = " and ".join(known.bundle.names(stage.at)[end] for end in link.pair)
            why = f"It rests on one reading: {names} at the {stage.at} box. Touch them again."
            for end in pairs:
                found.setdefault(end, why)


def _by_loose_part(known: Knowledge, pairs: dict[int, int], found: dict[int, str]) -> None:
    """Add the ends that would read the same if a loose part of one touched another's."""
    why = "A broken wire that touches another at {} and {} ({} box) would read the same."
    for one, two, place, world in loose_parts(known, pairs):
        names = known.bundle.names(place)
        for end, mate in pairs.items():
            if world is None or world.settled("near", end) != mate:
                found.setdefault(end, why.format(names[one], names[two], place))
