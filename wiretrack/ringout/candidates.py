# SPDX-License-Identifier: MIT
"""Who may still be whom, from closed readings, joins, group sizes and colours alone.

Open readings play no part here: one can be a bad contact. Whatever is struck out is impossible
unless a conductor touches another one that isn't known to.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from wiretrack.ringout.bundle import PLACES, Bundle, Place, other_place
from wiretrack.ringout.fitted import FittedStage
from wiretrack.ringout.masks import bits, merged, union
from wiretrack.ringout.packing import domains

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from wiretrack.ringout.stage import Stage

    AnyStage = Stage | FittedStage


@dataclass(frozen=True)
class Contacts:
    """Conductors that touch each other though they shouldn't, per place.

    `sure` are sets of ends that read closed to each other with nothing joined. `vague` are sets
    of which two ends, not known which, must touch: bunches that read closed just once.
    """

    sure: Mapping[Place, Sequence[int]]
    vague: Mapping[Place, Sequence[int]]

    def at(self, place: Place) -> list[int]:
        """Return all sets of ends at a place that may bridge joins."""
        return [*self.sure[place], *self.vague[place]]


@dataclass
class Candidates:
    """For each end of a place, the ends of the other place that it may belong to, as bits."""

    of: dict[Place, list[int]]
    refused: list[AnyStage] = field(default_factory=list)

    def copy(self) -> Candidates:
        """Return an independent copy."""
        return Candidates({place: list(rows) for place, rows in self.of.items()}, [])

    def settled(self, place: Place, end: int) -> int | None:
        """Return the one end that `end` can belong to, if it is only one."""
        mask = self.of[place][end]
        return mask.bit_length() - 1 if mask.bit_count() == 1 else None

    def keep(self, place: Place, end: int, allowed: int) -> bool:
        """Strike all but `allowed` from an end; return whether that changed anything."""
        lost = self.of[place][end] & ~allowed
        if not lost:
            return False
        self.of[place][end] &= allowed
        opposite = self.of[other_place(place)]
        for other in bits(lost):
            opposite[other] &= ~(1 << end)
        return True

    @property
    def impossible(self) -> bool:
        """Return whether some end can belong to none."""
        return any(not mask for rows in self.of.values() for mask in rows)


def by_colour(bundle: Bundle, *, trust: bool = True) -> Candidates:
    """Return who may be whom before any reading: by colours where both are known."""
    size, whole = bundle.size, len(bundle.names("near"))
    use = trust and bundle.colours_agree
    near = [0] * whole
    far = [0] * whole
    for i, one in enumerate(bundle.near):
        for x, two in enumerate(bundle.far):
            known = one.colour is not None and two.colour is not None
            if not (use and known) or one.colour == two.colour:
                near[i] |= 1 << x
                far[x] |= 1 << i
    for index in range(size, whole):
        near[index] = far[index] = 1 << index
    found = Candidates({"near": near, "far": far})
    _all_different(found)
    return found


def effective_groups(stage: Stage, found: Candidates, contacts: Contacts) -> list[int]:
    """Return what is connected at the other place of a stage: joins, and ends known to touch.

    Where a contact is known at the stage's own place only, all groups that it may bridge
    count as one.
    """
    joined_at = other_place(stage.at)
    whole = len(found.of[joined_at])
    single = ((1 << whole) - 1) & ~union(stage.groups)
    groups = [*stage.groups, *(1 << end for end in bits(single))]
    glue = contacts.at(joined_at)
    for contact in contacts.at(stage.at):
        glue.append(union(found.of[stage.at][end] for end in bits(contact)))
    return merged(groups, glue)


def _apply(stage: AnyStage, found: Candidates, contacts: Contacts) -> bool | None:
    """Strike what a stage excludes; return whether anything changed, `None` if it can't be."""
    if isinstance(stage, FittedStage):
        return stage.strike(found, contacts)
    groups = effective_groups(stage, found, contacts)
    components = stage.components(contacts.sure[stage.at])
    domain = domains(components, groups, found.of[stage.at])
    if domain is None:
        return None
    changed = False
    for component, possible in zip(components, domain, strict=True):
        allowed = union(groups[index] for index in bits(possible))
        for end in bits(component):
            changed |= found.keep(stage.at, end, allowed)
    return changed


def _all_different(found: Candidates) -> bool:
    """Strike candidates that others need for themselves; return whether anything changed."""
    changed, again = False, True
    while again:
        again = False
        for place in PLACES:
            shared: dict[int, int] = {}
            for end, mask in enumerate(found.of[place]):
                shared[mask] = shared.get(mask, 0) | 1 << end
            for mask, ends in shared.items():
                if mask.bit_count() == ends.bit_count():
                    for other in bits(union(found.of[other_place(place)][o] for o in bits(mask))):
                        if not ends >> other & 1:
                            again |= found.keep(place, other, ~mask)
        changed |= again
    return changed


def _overbooked(found: Candidates) -> bool:
    for rows in found.of.values():
        shared: dict[int, int] = {}
        for mask in rows:
            shared[mask] = shared.get(mask, 0) + 1
        if any(count > mask.bit_count() for mask, count in shared.items()):
            return True
    return False


def propagate(found: Candidates, stages: Iterable[AnyStage], contacts: Contacts) -> bool:
    """Strike all that the stages exclude together; return False if nothing is left possible."""
    used = list(stages)
    again = True
    while again:
        again = _all_different(found)
        if _overbooked(found):
            return False
        for stage in used:
            changed = _apply(stage, found, contacts)
            if changed is None or found.impossible:
                return False
            again |= changed
    return True


def conclude(
    start: Candidates,
    stages: Sequence[AnyStage],
    contacts: Contacts,
    tainted: Sequence[AnyStage] = (),
) -> Candidates:
    """Return who may be whom after all stages.

    Stages that contradict are refused, and so is every stage that contradicts a refused one:
    which of them is wrong can't be known, so none of them is believed. `tainted` stages are
    refused beforehand.
    """
    found = start.copy()
    if not tainted and propagate(found, stages, contacts):
        return found
    found = start.copy()
    used: list[AnyStage] = []
    refused = list(tainted)
    for stage in stages:
        if stage in tainted:
            continue
        trial = found.copy()
        if propagate(trial, [*used, stage], contacts):
            found = trial
            used.append(stage)
        else:
            refused.append(stage)
    if refused:
        used = [stage for stage in used if not _blamed(start, stage, used, refused, contacts)]
        found = start.copy()
        if not propagate(found, used, contacts):
            found = start.copy()
    found.refused = refused
    return found


def _blamed(
    start: Candidates,
    stage: AnyStage,
    used: list[AnyStage],
    refused: list[AnyStage],
    contacts: Contacts,
) -> bool:
    """Return whether `stage` contradicts a refused one that is possible by itself."""
    for other in refused:
        if not propagate(start.copy(), [other], contacts):
            continue
        if not propagate(start.copy(), [stage, other], contacts):
            return True
        if all(propagate(start.copy(), [one, other], contacts) for one in used):
            return True
    return False
