# SPDX-License-Identifier: MIT
"""Who may still be whom, from closed readings, joins, group sizes and colours alone.

Open readings play no part here: one can be a bad contact. Whatever is struck out is impossible
unless a conductor touches another one that isn't known to.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections import Counter
from dataclasses import field
from typing import TYPE_CHECKING

from wiretrack.late import dataclass
from wiretrack.ringout.bundle import PLACES, Bundle, FarEnd, NearEnd, Place, other_place
from wiretrack.ringout.masks import bits, union

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence


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


class AnyStage(ABC):
    """Touches made at one place while the same was joined or fitted at the other.

    `groups` are the joins at the other place, as bits over its ends.
    """

    at: Place
    groups: tuple[int, ...]

    @abstractmethod
    def strike(self, found: Candidates, contacts: Contacts) -> bool | None:
        """Strike what the readings exclude; return whether that is anything new.

        `None` if one of them can't be.
        """


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

    def keep_all(self, place: Place, ends: int, allowed: int) -> bool:
        """Strike all but `allowed` from each of several ends, given as bits; return whether any."""
        rows, lost = self.of[place], 0
        for end in bits(ends):
            lost |= rows[end] & ~allowed
            rows[end] &= allowed
        opposite = self.of[other_place(place)]
        for other in bits(lost):
            opposite[other] &= ~ends
        return bool(lost)

    def agree(self, place: Place) -> None:
        """Strike at the other place what was struck in the rows of `place`, all at once."""
        shared: dict[int, int] = {}
        for end, mask in enumerate(self.of[place]):
            shared[mask] = shared.get(mask, 0) | 1 << end
        there = other_place(place)
        seen = [0] * len(self.of[there])
        for mask, ends in shared.items():
            for other in bits(mask):
                seen[other] |= ends
        self.of[there] = [a & b for a, b in zip(self.of[there], seen, strict=True)]

    def _all_different(self) -> bool:
        """Strike candidates that others need for themselves; return whether anything changed."""
        changed, again = False, True
        while again:
            again = False
            for place in PLACES:
                opposite = self.of[other_place(place)]
                shared: dict[int, int] = {}
                for end, mask in enumerate(self.of[place]):
                    shared[mask] = shared.get(mask, 0) | 1 << end
                for mask, ends in shared.items():
                    if mask.bit_count() == ends.bit_count():
                        alone = not mask & mask - 1  # most are, once much was read
                        others = (
                            opposite[mask.bit_length() - 1]
                            if alone
                            else union(opposite[o] for o in bits(mask))
                        )
                        if others & ~ends:
                            again |= self.keep_all(place, others & ~ends, ~mask)
            changed |= again
        return changed

    def _is_overbooked(self) -> bool:
        return any(
            count > mask.bit_count()
            for rows in self.of.values()
            for mask, count in Counter(rows).items()
        )

    def propagate(self, stages: Iterable[AnyStage], contacts: Contacts) -> bool:
        """Strike all that the stages exclude together; return False if nothing is left possible."""
        used = [(stage, list[int]()) for stage in stages]
        again = True
        while again:
            again = self._all_different()
            if self._is_overbooked():
                return False
            for stage, last in used:
                if last == self.of[stage.at]:
                    continue  # all that it excludes is struck
                last[:] = self.of[stage.at]
                changed = stage.strike(self, contacts)
                if changed is None or any(0 in rows for rows in self.of.values()):
                    return False
                again |= changed
        return True

    def allows(self, stages: Iterable[AnyStage], contacts: Contacts) -> bool:
        """Return whether all these stages can be true at once."""
        return self.copy().propagate(stages, contacts)


def by_colour(bundle: Bundle, *, trust: bool = True) -> Candidates:
    """Return who may be whom before any reading: by colours where both are known."""
    size, whole = bundle.size, len(bundle.names("near"))
    use = trust and bundle.colours_agree
    near, far = (
        [*_alike(ends, others, use=use), *[0] * (whole - size)]
        for ends, others in ((bundle.near, bundle.far), (bundle.far, bundle.near))
    )
    for index in range(size, whole):
        near[index] = far[index] = 1 << index
    found = Candidates({"near": near, "far": far})
    found._all_different()
    return found


def _alike(
    ends: Sequence[NearEnd | FarEnd], others: Sequence[NearEnd | FarEnd], *, use: bool
) -> list[int]:
    """Return, per end, the `others` that have its colour, or one of which none is known."""
    whole = (1 << len(others)) - 1
    worn: dict[str | None, int] = {}
    for number, other in enumerate(others):
        worn[other.colour] = worn.get(other.colour, 0) | 1 << number
    unknown = worn.get(None, 0)
    return [
        worn.get(end.colour, 0) | unknown if use and end.colour is not None else whole
        for end in ends
    ]


def _odd_ones(
    start: Candidates, stages: Sequence[AnyStage], contacts: Contacts
) -> list[tuple[AnyStage, Candidates]]:
    """Return the stages without which all others agree, each with what those tell."""
    found = []
    for stage in stages if len(stages) > 2 else ():
        trial = start.copy()
        if trial.propagate([other for other in stages if other is not stage], contacts):
            found.append((stage, trial))
    return found


def conclude(
    start: Candidates,
    stages: Sequence[AnyStage],
    contacts: Contacts,
    tainted: Sequence[AnyStage] = (),
) -> Candidates:
    """Return who may be whom after all stages.

    Stages that contradict are refused, and so is every stage that contradicts a refused one:
    which of them is wrong can't be known, so none of them is believed. Only where all others agree
    once one alone is left out, and that holds of no other one, it alone is refused. `tainted`
    stages are refused beforehand.
    """
    found = start.copy()
    if not tainted and found.propagate(stages, contacts):
        return found
    odd = [] if tainted else _odd_ones(start, stages, contacts)
    if len(odd) == 1:
        ((stage, found),) = odd
        found.refused = [stage]
        return found
    found = start.copy()
    used: list[AnyStage] = []
    refused = list(tainted)
    for stage in stages:
        if stage in tainted:
            continue
        trial = found.copy()
        if trial.propagate([*used, stage], contacts):
            found = trial
            used.append(stage)
        else:
            refused.append(stage)

    def is_blamed(stage: AnyStage) -> bool:
        """Return whether a stage contradicts a refused one that is possible by itself."""
        return any(
            start.allows([other], contacts)
            and (
                not start.allows([stage, other], contacts)
                or all(start.allows([one, other], contacts) for one in used)
            )
            for other in refused
        )

    if refused:
        used = [stage for stage in used if not is_blamed(stage)]
        found = start.copy()
        if not found.propagate(used, contacts):
            found = start.copy()
    found.refused = refused
    return found
