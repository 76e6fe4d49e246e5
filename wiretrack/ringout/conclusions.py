# SPDX-License-Identifier: MIT
"""What the facts amount to: matches, faults with their evidence, and what stays unresolved."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.ringout.bundle import PLACES, RACEWAY, Place, other_place
from wiretrack.ringout.fitted_words import diode_notes, diode_questions
from wiretrack.ringout.knowledge import Knowledge
from wiretrack.ringout.masks import bits, union
from wiretrack.ringout.noting import notes
from wiretrack.ringout.ohms import questions
from wiretrack.ringout.steps import FoundFault, Match, Result

if TYPE_CHECKING:
    from wiretrack.ringout.facts import Facts


def conclude_result(facts: Facts) -> Result:
    """Return the conclusions from all facts so far."""
    known = Knowledge(facts)
    matches = _matches(known)
    return Result(
        matches=matches,
        unresolved=_unresolved(known, matches),
        faults=_faults(known),
        walks=facts.walks,
        probes=facts.probes,
        joins=facts.join_steps,
        screening_probes=_screening(facts),
        by_exclusion=_by_exclusion(known),
        questions=(*questions(known), *diode_questions(known)),
        notes=(*notes(known), *diode_notes(known)),
    )


def candidates_of(facts: Facts) -> dict[str, list[str]]:
    """Return, for each near end not identified yet, the far ends it may belong to."""
    known = Knowledge(facts)
    rows = known.found.of["near"]
    return {
        end.name: list(facts.names("far", rows[i]))
        for i, end in enumerate(facts.bundle.near)
        if rows[i].bit_count() > 1
    }


def _matches(known: Knowledge) -> tuple[Match, ...]:
    bundle = known.bundle
    if not known.begun and bundle.size > 1:
        return ()
    found = []
    for end in range(bundle.size):
        mate = known.found.settled("near", end)
        if mate is not None and known.found.settled("far", mate) == end:
            found.append(Match(bundle.near[end].name, bundle.far[mate].name))
    return tuple(found)


def _unresolved(known: Knowledge, matches: tuple[Match, ...]) -> tuple[str, ...]:
    near = {match.near for match in matches}
    far = {match.far for match in matches}
    bundle = known.bundle
    return tuple(
        [end.name for end in bundle.near if end.name not in near]
        + [end.name for end in bundle.far if end.name not in far]
    )


def _screening(facts: Facts) -> int:
    """Return the touches that only searched for contacts."""
    count = 0
    for stage in facts.stages.values():
        count += len(stage.touches) if stage.is_bare else len(stage.bunches) + stage.late_touches
    return count


def _by_exclusion(known: Knowledge) -> tuple[str, ...]:
    bundle = known.bundle
    return tuple(
        bundle.near[end].name
        for end in range(bundle.size)
        if known.found.settled("near", end) is not None and not known.proven("near", end)
    )


def _name(known: Knowledge, place: Place, end: int) -> str:
    return known.bundle.names(place)[end]


def _faults(known: Knowledge) -> tuple[FoundFault, ...]:
    return (*_contacts(known), *_open(known))


def _contacts(known: Knowledge) -> list[FoundFault]:
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


def _open(known: Knowledge) -> list[FoundFault]:
    """Return the conductors that are broken."""
    found = []
    used = set()
    for end in range(known.bundle.size):
        mate = known.found.settled("near", end)
        broken = known.broken("near", end) or (mate is not None and known.broken("far", mate))
        if not broken:
            continue
        ends = [_name(known, "near", end)]
        if mate is not None:
            ends.append(_name(known, "far", mate))
            used.add(mate)
        found.append(FoundFault("open", tuple(ends), f"{ends[0]} never read closed to anything"))
    for end in range(known.bundle.size):
        if known.broken("far", end) and end not in used and not found:
            name = _name(known, "far", end)
            found.append(FoundFault("open", (name,), f"{name} never read closed to anything"))
    return found
