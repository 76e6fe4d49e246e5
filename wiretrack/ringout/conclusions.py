# SPDX-License-Identifier: MIT
"""What the evidence amounts to: matches, faults, remarks, and what stays unresolved."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.ringout.bundle import PLACES, RACEWAY, Place, other_place
from wiretrack.ringout.certainty import POINTED, PROVEN, doubts
from wiretrack.ringout.deductions import Deductions
from wiretrack.ringout.explaining import diode_notes
from wiretrack.ringout.masks import bits, lowest, union
from wiretrack.ringout.questions import questions
from wiretrack.ringout.results import FoundFault, Match, Result
from wiretrack.ringout.rounds import next_groups
from wiretrack.ringout.screening import MOST_TOUCHES, spent

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from wiretrack.ringout.evidence import Evidence
    from wiretrack.ringout.stage import Stage


def conclude_result(evidence: Evidence) -> Result:
    """Return the conclusions from all evidence so far."""
    known = Deductions(evidence)
    matches = _with_doubts(known)
    return Result(
        matches=matches,
        unresolved=_unresolved(known, matches),
        faults=_faults(known),
        walks=evidence.walks,
        probes=evidence.probes,
        joins=evidence.join_steps,
        screening_probes=_screening(evidence),
        by_exclusion=_tags(known, known.never_closed),
        by_colour=_tags(known, known.told_by_colour),
        likely=_named(known, known.pointed_at),
        questions=questions(known),
        notes=(*notes(known), *diode_notes(known)),
    )


def candidates_of(evidence: Evidence) -> dict[str, tuple[str, ...]]:
    """Return, for each near end not identified yet, the far ends it may belong to."""
    known = Deductions(evidence)
    sure = known.matched
    return {
        end.name: evidence.names("far", known.secure.of["near"][i])
        for i, end in enumerate(evidence.bundle.near)
        if i not in sure
    }


def _with_doubts(known: Deductions) -> tuple[Match, ...]:
    """Return the matches, each with whether it is sure and why, or why not."""
    near, far, unsure = known.bundle.near, known.bundle.far, doubts(known)
    return tuple(
        Match(near[end].name, far[mate].name, end not in unsure, unsure.get(end, PROVEN))
        for end, mate in known.matched.items()
    )


def _named(known: Deductions, pairs: Mapping[int, int]) -> tuple[Match, ...]:
    near, far = known.bundle.near, known.bundle.far
    return tuple(
        Match(near[end].name, far[mate].name, sure=False, why=POINTED)
        for end, mate in pairs.items()
    )


def _unresolved(known: Deductions, matches: tuple[Match, ...]) -> tuple[str, ...]:
    near = {match.near for match in matches}
    far = {match.far for match in matches}
    bundle = known.bundle
    return tuple(
        [end.name for end in bundle.near if end.name not in near]
        + [end.name for end in bundle.far if end.name not in far]
    )


def _screening(evidence: Evidence) -> int:
    """Return the touches that only searched for contacts."""
    count = 0
    for stage in evidence.stages.values():
        count += len(stage.touches) if stage.is_bare else len(stage.bunches) + stage.late_touches
    return count


def _tags(known: Deductions, ends: Iterable[int]) -> tuple[str, ...]:
    return tuple(known.bundle.near[end].name for end in ends)


def _name(known: Deductions, place: Place, end: int) -> str:
    return known.bundle.names(place)[end]


def _faults(known: Deductions) -> tuple[FoundFault, ...]:
    return (*_contacts(known), *_open(known), *_silent_joins(known))


def _contacts(known: Deductions) -> list[FoundFault]:
    """Return the conductors that touch each other or the raceway, once each."""
    found: list[FoundFault] = []
    seen: set[frozenset[str]] = set()
    for place in PLACES:
        for contact in known.contacts.sure[place]:
            here = [_name(known, place, end) for end in bits(contact)]
            there = union(known.found.of[place][end] for end in bits(contact))
            exact = there.bit_count() == contact.bit_count()
            opposite = [_name(known, other_place(place), e) for e in bits(there)] if exact else []
            near, far = (here, opposite) if place == "near" else (opposite, here)
            ends = tuple(dict.fromkeys(name for name in (*near, *far) if name != RACEWAY))
            if frozenset(ends) in seen or any(set(ends) <= one for one in seen):
                continue
            seen.add(frozenset(ends))
            earthed = RACEWAY in here
            evidence = (
                f"{' and '.join(here)} read closed at the {place} place"
                " with nothing joined at the other"
            )
            found.append(FoundFault("earthed" if earthed else "short", ends, evidence))
    return found


def _open(known: Deductions) -> list[FoundFault]:
    """Return the conductors that are broken."""
    found = []
    used = set()
    for end in range(known.bundle.size):
        mate = known.found.settled("near", end)
        if not (_broken(known, "near", end) or (mate is not None and _broken(known, "far", mate))):
            continue
        ends = [_name(known, "near", end)]
        if mate is not None:
            ends.append(_name(known, "far", mate))
            used.add(mate)
        found.append(FoundFault("open", tuple(ends), f"{ends[0]} never read closed to anything"))
    for end in range(known.bundle.size):
        if _broken(known, "far", end) and end not in used and not found:
            name = _name(known, "far", end)
            found.append(FoundFault("open", (name,), f"{name} never read closed to anything"))
    return found


def _broken(known: Deductions, place: Place, end: int) -> bool:
    """Return whether an end is broken; one that touches another did read closed to it."""
    return known.broken(place, end) and not known.touching(place, end)


def _silent_joins(known: Deductions) -> list[FoundFault]:
    """Return the joins of which nothing read closed, of conductors that never did elsewhere."""
    found = []
    for stage in known.stages:
        place = other_place(stage.at)
        for group in stage.groups if stage not in known.found.refused else ():
            ends = list(bits(group))
            if all(known.suspect(place, e) and not known.broken(place, e) for e in ends):
                names = tuple(_name(known, place, end) for end in ends)
                evidence = (
                    f"{' and '.join(names)} were joined at the {place} place and read open at"
                    f" the {stage.at} one: at most one of them is whole, or the join fell off"
                )
                found.append(FoundFault("open", names, evidence))
    return found


WHAT_WOULD_HELP = (
    "Continuity alone can't tell these look-alikes apart. What would help: a reference known at"
    " both places (the metal raceway, an identified conductor), or a diode over two of them. A"
    " resistor alone wouldn't: it reads the same whichever of the two it is on."
)


def notes(known: Deductions) -> tuple[str, ...]:
    """Return the remarks on a ring-out, a sentence or two each."""
    found = [*_on_colours(known), *_on_proof(known)]
    for stage in known.stages:
        if stage not in known.found.refused:
            found += _on_joins(known, stage)
    found += _on_touches(known)
    nothing = not known.begun and not known.bundle.diode
    if nothing and next_groups(known, known.evidence.place) is None:
        found.append(WHAT_WOULD_HELP)
    return tuple(found)


def _on_colours(known: Deductions) -> Iterator[str]:
    if not known.bundle.colours_agree:
        yield (
            "The colours at the two places can't belong to the same wires (one may be spliced"
            " with another colour); they were not used."
        )
    elif not known.trust_colours:
        yield "The readings make sense only if a colour changes on the way; colours were not used."
    for end, mate in known.matched.items() if known.begun else ():
        near, far = known.bundle.near[end], known.bundle.far[mate]
        if near.colour and far.colour and near.colour != far.colour:
            yield (
                f"{near.name} is {near.colour} at the near place and {far.colour} at the far one,"
                f" end {far.name}: look for a splice."
            )


def _on_proof(known: Deductions) -> Iterator[str]:
    """Yield what the matches rest on besides closed readings of their own."""
    lone = [end for end in known.never_closed if not known.broken("near", end)]
    if lone and known.begun:
        yield (
            f"Never read closed, matched because all other ends are taken, and perhaps broken:"
            f" {_listed(known, 'near', lone)}. To make sure, join each to a conductor known to be"
            " whole, and touch the two at the other place."
        )
    coloured = known.told_by_colour
    if coloured:
        yield (
            f"{len(coloured)} of the matches hold only if no colour changes on the way; the"
            " readings alone don't tell them."
        )


def _on_touches(known: Deductions) -> Iterator[str]:
    """Yield the touches that were made as often as anybody is asked to, and settle nothing."""
    pairs: set[tuple[Place, str]] = set()
    for stage in known.evidence.stages.values():
        for pair, touches in stage.pairs.items():
            if len(touches) >= MOST_TOUCHES:
                pairs.add((stage.at, _listed(known, stage.at, list(pair))))
        for left, right, _ in stage.bunches:
            if spent(stage, (left, right)):
                ends = [lowest(left), lowest(right)]
                pairs.add((stage.at, _listed(known, stage.at, ends)))
    for place, names in sorted(pairs):
        yield (
            f"{names} at the {place} place were touched {MOST_TOUCHES} times. More touches settle"
            " nothing: look for wires that touch now and then, and for bad contacts."
        )


def _on_joins(known: Deductions, stage: Stage) -> Iterator[str]:
    """Yield the ends that were joined, are whole, and yet read open in a finished stage."""
    place = other_place(stage.at)
    for group in stage.groups:
        mates = {end: known.found.settled(place, end) for end in bits(group)}
        sound = [end for end in mates if known.proven(place, end) and mates[end] is not None]
        if len(sound) < 2 or len(sound) != len(mates):
            continue
        off = [end for end in sound if _apart(stage, mates, end)]
        if len(off) == len(sound):
            yield f"The join of {_listed(known, place, sound)} at the {place} place fell off."
        elif off:
            yield (
                f"{_listed(known, place, off)} had come off the join of"
                f" {_listed(known, place, sound)} at the {place} place."
            )


def _apart(stage: Stage, mates: dict[int, int | None], end: int) -> bool:
    """Return whether an end's far side read open, and never closed, to all others of its join."""
    mine = mates[end]
    others = [mate for other, mate in mates.items() if other != end and mate is not None]
    return mine is not None and not any(
        stage.closed(mine, mate) or not stage.opens(mine, mate) for mate in others
    )


def _listed(known: Deductions, place: Place, ends: list[int]) -> str:
    names = known.bundle.names(place)
    return ", ".join(names[end] for end in ends)
