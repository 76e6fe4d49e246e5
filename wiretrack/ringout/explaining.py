# SPDX-License-Identifier: MIT
"""Why a match is so, as one would tell an inspector."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.ringout.bundle import Place, other_place
from wiretrack.ringout.candidates import effective_groups
from wiretrack.ringout.certainty import doubts
from wiretrack.ringout.fitted_words import by_fitted
from wiretrack.ringout.knowledge import Knowledge
from wiretrack.ringout.masks import bits
from wiretrack.ringout.matching import matched, told_by_colour

if TYPE_CHECKING:
    from wiretrack.ringout.facts import Facts
    from wiretrack.ringout.stage import Stage


def explain(facts: Facts, tag: str) -> list[str]:
    """Return the readings that prove what belongs to the near end `tag`, a sentence each."""
    known = Knowledge(facts)
    end = facts.bundle.index("near", tag)
    lines = _by_colour(known, end)
    for stage in known.stages:
        if stage not in known.found.refused:
            line = _by_stage(known, stage, end)
            if line:
                lines.append(line)
    for fitted in known.fitted:
        if fitted not in known.found.refused:
            lines += by_fitted(known, fitted, end)
    return lines + _in_all(known, tag, end)


def _in_all(known: Knowledge, tag: str, end: int) -> list[str]:
    """Return what all readings together say of a near end."""
    names = known.facts.names("far", known.found.of["near"][end])
    if known.is_reference(end) or matched(known).get(end) is not None:
        lines = [f"So {tag} is end {names[0]}."]
        if end in told_by_colour(known):
            lines.insert(0, "Readings alone don't tell; colours do, if none changes on the way.")
        if not known.proven("near", end):
            lines.append("It never read closed itself: all others are taken. It may be broken.")
        doubt = None if known.is_reference(end) else doubts(known).get(end)
        return lines if doubt is None else [f"It is not sure. {doubt}", *lines]
    if len(names) == 1 and known.begun:
        return [f"That points to end {names[0]}; it isn't sure yet that nothing else touches it."]
    if len(names) == known.bundle.size or not known.begun:
        return [f"Nothing read so far tells which end belongs to {tag}."]
    return [f"So {tag} is one of the ends {', '.join(names)}."]


def _by_colour(known: Knowledge, end: int) -> list[str]:
    if known.is_reference(end):
        return [f"{known.bundle.names('near')[end]} is known at both places."]
    colour = known.bundle.near[end].colour
    alike = known.start.of["near"][end]
    if colour is None or alike.bit_count() == known.bundle.size:
        return []
    names = ", ".join(known.facts.names("far", alike))
    return [f"It is {colour}; by colour it can only be {names} at the far place."]


def _by_stage(known: Knowledge, stage: Stage, end: int) -> str | None:
    """Return what one stage says of a near end, if it says anything."""
    joined_at: Place = other_place(stage.at)
    mates = known.found.of["near"][end]
    here = 1 << end if stage.at == "near" else mates
    there = mates if stage.at == "near" else 1 << end
    parts = {stage.component(e) for e in bits(here)}
    groups = [g for g in effective_groups(stage, known.found, known.contacts) if g & there]
    if len(parts) != 1 or len(groups) != 1:
        return None
    names = known.facts.names(stage.at, parts.pop())
    group = ", ".join(known.facts.names(joined_at, groups[0]))
    if len(names) == 1:
        return (
            f"With {group} alone at the {joined_at} place,"
            f" {names[0]} read closed to nothing at the {stage.at} place."
        )
    return (
        f"With {group} joined at the {joined_at} place,"
        f" {', '.join(names)} read closed to each other at the {stage.at} place."
    )
