# SPDX-License-Identifier: MIT
"""Why a match is so, as one would tell an inspector, and what rests on a diode."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.ringout.bundle import Place, other_place
from wiretrack.ringout.certainty import doubts
from wiretrack.ringout.deductions import Deductions
from wiretrack.ringout.fitted import DiodeStage, ResistorStage
from wiretrack.ringout.masks import bits

if TYPE_CHECKING:
    from collections.abc import Iterator

    from wiretrack.ringout.evidence import Evidence
    from wiretrack.ringout.fitted import FittedStage
    from wiretrack.ringout.stage import Stage, Touch


def explain(evidence: Evidence, tag: str) -> list[str]:
    """Return the readings that prove what belongs to the near end `tag`, a sentence each."""
    known = Deductions(evidence)
    end = evidence.bundle.index("near", tag)
    lines = _by_colour(known, end)
    for stage in known.stages:
        if stage not in known.found.refused:
            line = _by_stage(known, stage, end)
            if line:
                lines.append(line)
    for fitted in known.fitted:
        if fitted not in known.found.refused:
            lines += _by_fitted(known, fitted, end)
    return lines + _in_all(known, tag, end)


def _in_all(known: Deductions, tag: str, end: int) -> list[str]:
    """Return what all readings together say of a near end."""
    names = known.evidence.names("far", known.found.of["near"][end])
    if known.is_reference(end) or known.matched.get(end) is not None:
        lines = [f"So {tag} is end {names[0]}."]
        if end in known.told_by_colour:
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


def _by_colour(known: Deductions, end: int) -> list[str]:
    if known.is_reference(end):
        return [f"{known.bundle.names('near')[end]} is known at both places."]
    colour = known.bundle.near[end].colour
    alike = known.start.of["near"][end]
    if colour is None or alike.bit_count() == known.bundle.size:
        return []
    names = ", ".join(known.evidence.names("far", alike))
    return [f"It is {colour}; by colour it can only be {names} at the far place."]


def _by_stage(known: Deductions, stage: Stage, end: int) -> str | None:
    """Return what one stage says of a near end, if it says anything."""
    joined_at: Place = other_place(stage.at)
    mates = known.found.of["near"][end]
    here = 1 << end if stage.at == "near" else mates
    there = mates if stage.at == "near" else 1 << end
    parts = {stage.component(e) for e in bits(here)}
    groups = [g for g in stage.joined(known.found, known.contacts) if g & there]
    if len(parts) != 1 or len(groups) != 1:
        return None
    names = known.evidence.names(stage.at, parts.pop())
    group = ", ".join(known.evidence.names(joined_at, groups[0]))
    if len(names) == 1:
        return (
            f"With {group} alone at the {joined_at} place,"
            f" {names[0]} read closed to nothing at the {stage.at} place."
        )
    return (
        f"With {group} joined at the {joined_at} place,"
        f" {', '.join(names)} read closed to each other at the {stage.at} place."
    )


def _by_fitted(known: Deductions, stage: FittedStage, end: int) -> Iterator[str]:
    """Yield what a stage with resistors or a diode says of a near end, if it says anything."""
    mate = known.found.settled("near", end)
    if mate is None:
        return
    here, there = (end, mate) if stage.at == "near" else (mate, end)
    if isinstance(stage, DiodeStage):
        yield from _by_diode(known, stage, here, there)
    elif isinstance(stage, ResistorStage):
        yield from _by_resistor(known, stage, here, there)


def _by_diode(known: Deductions, stage: DiodeStage, here: int, there: int) -> Iterator[str]:
    if there not in stage.own or stage.source is None:
        return
    source = stage.source
    sink = stage.anode if source == stage.cathode else stage.cathode
    box, away = other_place(stage.at), stage.at
    names, far = known.bundle.names(box), known.bundle.names(away)
    for pair in stage.pairs:
        plus = stage.told(pair).plus
        if here in pair and plus is not None and stage.flow(pair) == "one way":
            minus = pair[0] if plus == pair[1] else pair[1]
            shown = "read" if stage.checks else "put on to read"
            yield (
                f"With a diode over {names[source]} and {names[sink]} at the {box} place, {shown}"
                f" closed with the meter's plus on {names[source]} only, {far[plus]} and"
                f" {far[minus]} read closed at the {away} place with plus on {far[plus]} only."
            )


def _by_resistor(known: Deductions, stage: ResistorStage, here: int, there: int) -> Iterator[str]:
    box = other_place(stage.at)
    names, away = known.bundle.names(box), known.bundle.names(stage.at)
    for label, (mask, values) in enumerate(stage.labels):
        if not mask >> there & 1 or not values:
            continue
        touch = _through(known, stage, here, label)
        if touch is None or touch.ohms is None:
            continue
        other = touch.ends[0] if touch.ends[1] == here else touch.ends[1]
        ends = " + ".join(names[one] for one in bits(mask))
        yield (
            f"With {values[0]:g} ohm from {ends} to {stage.fit.common} at the {box} place,"
            f" {away[here]} read {touch.ohms:g} ohm to {away[other]} at the {stage.at} place:"
            " no other resistor there reads so."
        )


def _through(known: Deductions, stage: ResistorStage, here: int, label: int) -> Touch | None:
    """Return the last reading between an end and the common return that fits one resistor."""
    found = None
    for pair, touches in stage.pairs.items():
        if here not in pair:
            continue
        other = pair[0] if pair[1] == here else pair[1]
        if known.found.of[stage.at][other] & ~stage.common:
            continue
        fitting = [touch for touch in touches if (0, label) in stage.possible(touch)]
        found = fitting[-1] if fitting else found
    return found


def diode_notes(known: Deductions) -> Iterator[str]:
    """Yield the remarks on diodes that told two conductors apart."""
    for stage in known.diodes:
        if not stage.proven() or stage in known.found.refused:
            continue
        names = known.bundle.names(other_place(stage.at))
        if not stage.checks:
            yield (
                f"Which of {names[stage.anode]} and {names[stage.cathode]} is which rests on the"
                f" diode's band being on {names[stage.cathode]}, as asked: no reading can show it"
                " put on the wrong way round."
            )
        elif stage.source == stage.cathode:
            yield (
                f"The diode's band was on {names[stage.anode]}, or the meter's plus lead is its"
                " negative one: the touches at its own box show that, so nothing is lost by it."
            )
