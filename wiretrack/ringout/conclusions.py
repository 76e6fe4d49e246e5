# SPDX-License-Identifier: MIT
"""What the evidence amounts to: matches and why they are so, faults, remarks, what stays open."""

from __future__ import annotations

from collections import Counter
from itertools import islice
from typing import TYPE_CHECKING

from wiretrack.ringout.bundle import PLACES, RACEWAY, Place, other_place
from wiretrack.ringout.certainty import BY_EXCLUSION, BY_TONE, POINTED, PROVEN, doubts
from wiretrack.ringout.checking import CHECKED, confirmations, confirmed, look_at, missed
from wiretrack.ringout.deductions import Deductions
from wiretrack.ringout.fitted import DiodeStage, ResistorStage, opposite
from wiretrack.ringout.masks import bits, lowest, mask_of, union
from wiretrack.ringout.questions import questions
from wiretrack.ringout.results import Extra, FoundFault, Match, Result
from wiretrack.ringout.rounds import next_groups
from wiretrack.ringout.screening import MOST_TOUCHES
from wiretrack.ringout.slips import mistwisted, parted

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from wiretrack.ringout.evidence import Evidence
    from wiretrack.ringout.fitted import FittedStage
    from wiretrack.ringout.stage import Stage, Touch

WHAT_WOULD_HELP = (
    "Continuity alone can't match these wires: they look the same. Use a reference known in both"
    " boxes: the metal raceway or an identified conductor. Or put a diode over two of them. A"
    " resistor alone doesn't help: it reads the same on either of the two."
)


def conclude_result(known: Deductions) -> Result:
    """Return the conclusions from all evidence so far."""
    evidence = known.evidence
    near, far, unsure = known.bundle.near, known.bundle.far, doubts(known)
    touched = confirmed(known)
    sound = {end: CHECKED if touched >> end & 1 else PROVEN for end in known.matched}
    matches = tuple(
        Match(near[end].name, far[mate].name, end not in unsure, unsure.get(end, sound[end]))
        for end, mate in known.matched.items()
    )
    why = dict.fromkeys(known.toned["near"], BY_TONE)
    likely = (
        Match(near[end].name, far[mate].name, sure=False, why=why.get(end, POINTED))
        for end, mate in known.pointed_at.items()
    )
    extra = {at: known.extra[at] for at in PLACES}
    gone = {at: [*extra[at], *bits(known.bundle.absent[at])] for at in PLACES}
    named = (
        {match.near for match in matches} | {near[end].name for end in gone["near"]},
        {match.far for match in matches} | {far[end].name for end in gone["far"]},
    )
    screening = (
        len(stage.touches) if stage.is_bare else len(stage.bunches) + stage.late_touches
        for stage in evidence.stages.values()
    )
    apart = sum(ends.bit_count() for ends in evidence.apart.values())
    return Result(
        matches=matches,
        unresolved=tuple(
            [end.name for end in near if end.name not in named[0]]
            + [end.name for end in far if end.name not in named[1]]
        ),
        extra=Extra(*(known.evidence.names(at, mask_of(extra[at])) for at in PLACES)),
        faults=(*_contacts(known), *_open(known), *_silent_joins(known)),
        walks=evidence.walks,
        probes=evidence.probes,
        joins=evidence.join_steps,
        hands=evidence.hands,
        screening_probes=sum(screening) + apart,
        by_exclusion=tuple(near[end].name for end in known.never_closed),
        by_colour=tuple(near[end].name for end in known.told_by_colour),
        likely=tuple(likely),
        questions=questions(known),
        notes=tuple(_notes(known)),
    )


def candidates_of(evidence: Evidence) -> dict[str, tuple[str, ...]]:
    """Return, for each near end not identified yet, the far ends it may belong to."""
    known = Deductions(evidence)
    there = ~evidence.bundle.absent["far"]
    return {
        end.name: evidence.names("far", known.secure.of["near"][i] & there)
        for i, end in enumerate(evidence.bundle.near)
        if i not in known.matched and not end.absent
    }


def _listed(known: Deductions, place: Place, ends: Iterable[int]) -> str:
    names = known.bundle.names(place)
    return ", ".join(names[end] for end in ends)


def _contacts(known: Deductions) -> list[FoundFault]:
    """Return the conductors that touch each other or the raceway, once each."""
    found: list[FoundFault] = []
    for place in PLACES:
        for contact in known.contacts.sure[place]:
            here = known.evidence.names(place, contact)
            mates = union(known.found.of[place][end] for end in bits(contact))
            is_exact = mates.bit_count() == contact.bit_count()
            there = known.evidence.names(other_place(place), mates) if is_exact else ()
            both = (*here, *there) if place == "near" else (*there, *here)
            ends = tuple(dict.fromkeys(name for name in both if name != RACEWAY))
            if any(set(ends) <= set(fault.ends) for fault in found):
                continue
            box, away = known.bundle.box(place), known.bundle.box(other_place(place))
            told = f"{' and '.join(here)} read closed in {box} with nothing connected in {away}"
            found.append(FoundFault("earthed" if RACEWAY in here else "short", ends, told))
    return found


def _open(known: Deductions) -> list[FoundFault]:
    """Return the conductors that are broken; one that touches another did read closed to it."""
    extra = known.extra
    one_sided = not (extra["near"] and extra["far"])  # what is over at one place only isn't broken

    def is_broken(place: Place, end: int | None) -> bool:
        if end is None or known.bundle.absent[place] >> end & 1 or known.touching(place, end):
            return False
        # Where its other end isn't known, nobody can listen there: silence at one place must do.
        unknown = known.found.settled(place, end) is None and known.broken(place, end)
        is_open = unknown or known.open(place, end)
        return is_open and not (one_sided and end in extra[place])

    found = []
    for end in range(known.bundle.size):
        mate = known.found.settled("near", end)
        if is_broken("near", end) or is_broken("far", mate):
            there = 0 if mate is None else 1 << mate
            ends = (*known.evidence.names("near", 1 << end), *known.evidence.names("far", there))
            found.append(FoundFault("open", ends, f"{ends[0]} never read closed to anything"))
    silent = (end for end in range(known.bundle.size) if is_broken("far", end))
    for end in () if found else islice(silent, 1):
        (name,) = known.evidence.names("far", 1 << end)
        found.append(FoundFault("open", (name,), f"{name} never read closed to anything"))
    return found


def _silent_joins(known: Deductions) -> list[FoundFault]:
    """Return the joins of which nothing read closed, of conductors that never did elsewhere.

    Some must have been silent at either place, or else a bad contact may be all; those joined at
    the near one are told then.
    """
    found: dict[Place, list[FoundFault]] = {"near": [], "far": []}
    for stage in known.stages:
        place = other_place(stage.at)
        for group in stage.groups if stage not in known.found.refused else ():
            if all(known.suspect(place, e) and not known.broken(place, e) for e in bits(group)):
                names = known.evidence.names(place, group)
                told = (
                    f"{' and '.join(names)} were twisted together in {known.bundle.box(place)}"
                    f" and read open in {known.bundle.box(stage.at)}: at most one of them is OK,"
                    " or the twist came off"
                )
                found[place].append(FoundFault("open", names, told))
    return found["near"] if all(found.values()) else []


def _notes(known: Deductions) -> Iterator[str]:
    """Yield the remarks on a ring-out, a sentence or two each."""
    box = known.bundle.box
    yield from _on_colours(known)
    for place, ends in known.extra.items():
        if ends:
            yield (
                f"Without an end in {box(other_place(place))}: {_listed(known, place, ends)}."
                " It stops short, was abandoned, or leads to another box."
                " Look for it there before you cut or cap it."
            )
    off = [(one.at, *told) for one in known.stages for told in parted(known, one, whole=True)]
    yield from (told for _, _, told in off)
    if slips := mistwisted(known):
        yield f"All readings fit if {'; or if '.join(slip.told for slip in slips)}."
    yield from look_at(known) if any(missed(known)) else _on_check(known)
    for place in PLACES:
        named = union(ends for at, ends, _ in off if at == place)
        if silent := [end for end in known.badly_touched(place) if not named >> end & 1]:
            yield (
                f"Never read closed in {box(place)}, though OK:"
                f" {_listed(known, place, silent)}. A bad contact there, or a twist that came off."
                " Clean the ends before you land them."
            )
    lone = [end for end in known.never_closed if not known.broken("near", end)]
    if lone and known.begun:
        yield (
            f"Never read closed, matched because all other ends are taken, and perhaps broken:"
            f" {_listed(known, 'near', lone)}. To make sure, connect each to one known to be"
            f" OK, and touch the two in {box('far')}."
        )
    if known.told_by_colour:
        yield (
            f"{len(known.told_by_colour)} of the matches hold only if no colour changes on the way;"
            " the readings alone don't tell them."
        )
    yield from _on_touches(known)
    nothing = not known.begun and not known.bundle.diode
    if nothing and next_groups(known, known.evidence.place) is None:
        yield WHAT_WOULD_HELP
    yield from _on_diodes(known)


def _on_check(known: Deductions) -> Iterator[str]:
    """Yield which matches a check at the end fits that aren't sure all the same, in a sentence."""
    unsure = doubts(known)
    ends = [end for end in bits(confirmed(known)) if end in unsure]
    if ends:
        yield (
            f"The check at the end fits what is likely: {_listed(known, 'near', ends)} read closed"
            " as they should."
        )


def _on_colours(known: Deductions) -> Iterator[str]:
    if not known.bundle.colours_agree:
        yield (
            "The colours in the two boxes can't belong to the same wires (one may be spliced"
            " with another colour); they were not used."
        )
    elif not known.trust_colours:
        yield "The readings make sense only if a colour changes on the way; colours were not used."
    for end, mate in known.matched.items() if known.begun else ():
        near, far = known.bundle.near[end], known.bundle.far[mate]
        if near.colour and far.colour and near.colour != far.colour:
            yield (
                f"{near.name} is {near.colour} in {known.bundle.box('near')} and {far.colour} in"
                f" {known.bundle.box('far')}, end {far.name}: look for a splice."
            )


def _on_touches(known: Deductions) -> Iterator[str]:
    """Yield the touches that were made as often as anybody is asked to, and settle nothing."""
    pairs: set[tuple[Place, str]] = set()
    for stage in known.evidence.stages.values():
        for pair, touches in stage.pairs.items():
            if len(touches) >= MOST_TOUCHES:
                pairs.add((stage.at, _listed(known, stage.at, pair)))
        bunches = Counter(frozenset((left, right)) for left, right, _ in stage.bunches)
        for both in (both for both, times in bunches.items() if times >= MOST_TOUCHES):
            pairs.add((stage.at, _listed(known, stage.at, sorted(map(lowest, both)))))
    for place, names in sorted(pairs):
        yield (
            f"{names} in {known.bundle.box(place)} were touched {MOST_TOUCHES} times. More touches"
            " settle nothing: look for wires that touch now and then, and for bad contacts."
        )


def _on_diodes(known: Deductions) -> Iterator[str]:
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


def explain(evidence: Evidence, tag: str) -> list[str]:
    """Return the readings that prove what belongs to the near end `tag`, a sentence each."""
    known = Deductions(evidence)
    end = evidence.bundle.index("near", tag)
    lines = _by_colour(known, end)
    for stage in known.stages:
        if stage not in known.found.refused:
            lines += _by_stage(known, stage, end)
    for fitted in known.fitted:
        if fitted not in known.found.refused:
            lines += _by_fitted(known, fitted, end)
    return [*lines, *confirmations(known, end), *_in_all(known, tag, end)]


def _in_all(known: Deductions, tag: str, end: int) -> list[str]:
    names = known.evidence.names("far", known.found.of["near"][end])
    if known.is_reference(end) or known.matched.get(end) is not None:
        doubt = None if known.is_reference(end) else doubts(known).get(end)
        reasons = [] if doubt is None else [f"It is not sure. {doubt}"]
        if doubt != BY_EXCLUSION and not known.proven("near", end):
            reasons.append(BY_EXCLUSION)
        return [*reasons, f"So {tag} is end {names[0]}."]
    if not names:
        return [f"None of the ends there belongs to {tag}: all are taken."]
    if len(names) == 1 and known.begun:
        return [f"That points to end {names[0]}; it isn't sure yet that nothing else touches it."]
    if len(names) == known.bundle.size or not known.begun:
        return [f"Nothing read so far tells which end belongs to {tag}."]
    return [f"So {tag} is one of the ends {', '.join(names)}."]


def _by_colour(known: Deductions, end: int) -> list[str]:
    if known.is_reference(end):
        return [f"{known.bundle.names('near')[end]} is known in both boxes."]
    colour = known.bundle.near[end].colour
    alike = known.start.of["near"][end]
    if colour is None or alike.bit_count() == known.bundle.size:
        return []
    names = ", ".join(known.evidence.names("far", alike))
    return [f"It is {colour}; by colour it can only be {names} in {known.bundle.box('far')}."]


def _by_stage(known: Deductions, stage: Stage, end: int) -> Iterator[str]:
    mates, place = known.found.of["near"][end], other_place(stage.at)
    here, there = (1 << end, mates) if stage.at == "near" else (mates, 1 << end)
    parts = {stage.component(e) for e in bits(here)}
    groups = [g for g in stage.joined(known.found, known.contacts) if g & there]
    if len(parts) != 1 or len(groups) != 1:
        return
    names = known.evidence.names(stage.at, parts.pop())
    group = ", ".join(known.evidence.names(place, groups[0]))
    if len(names) == 1:
        yield (
            f"With {group} alone in {known.bundle.box(place)},"
            f" {names[0]} read closed to nothing in {known.bundle.box(stage.at)}."
        )
    else:
        yield (
            f"With {group} twisted together in {known.bundle.box(place)},"
            f" {', '.join(names)} read closed to each other in {known.bundle.box(stage.at)}."
        )


def _by_fitted(known: Deductions, stage: FittedStage, end: int) -> Iterator[str]:
    mate = known.found.settled("near", end)
    if mate is None:
        return
    here, there = (end, mate) if stage.at == "near" else (mate, end)
    if isinstance(stage, DiodeStage):
        yield from _by_diode(known, stage, here, there)
    elif isinstance(stage, ResistorStage):
        yield from _by_resistor(known, stage, here, there)


def _by_diode(known: Deductions, stage: DiodeStage, here: int, there: int) -> Iterator[str]:
    source, box = stage.source, other_place(stage.at)
    if there not in stage.own or source is None:
        return
    sink = opposite(stage.own, source)
    names, far = known.bundle.names(box), known.bundle.names(stage.at)
    for pair in stage.pairs:
        plus = stage.told(pair).plus
        if here in pair and plus is not None and stage.flow(pair) == "one way":
            shown = "read" if stage.checks else "put on to read"
            yield (
                f"With a diode over {names[source]} and {names[sink]} in {known.bundle.box(box)},"
                f" {shown} closed with the meter's plus on {names[source]} only: {far[plus]} and"
                f" {far[opposite(pair, plus)]} read closed in {known.bundle.box(stage.at)}"
                f" with plus on {far[plus]} only."
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
        ends = " + ".join(names[one] for one in bits(mask))
        yield (
            f"With {values[0]:g} Ω from {ends} to {stage.fit.common} in {known.bundle.box(box)},"
            f" {away[here]} read {touch.ohms:g} Ω to {away[opposite(touch.ends, here)]} in"
            f" {known.bundle.box(stage.at)}: no other resistor there reads so."
        )


def _through(known: Deductions, stage: ResistorStage, here: int, label: int) -> Touch | None:
    found = None
    for pair, touches in stage.pairs.items():
        if here in pair and not known.found.of[stage.at][opposite(pair, here)] & ~stage.common:
            fitting = [touch for touch in touches if (0, label) in stage.possible(touch)]
            found = fitting[-1] if fitting else found
    return found
