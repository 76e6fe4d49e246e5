# SPDX-License-Identifier: MIT
"""What follows from the evidence: which ends are matched, and what is broken or touches.

A conductor that touches another one can read closed for it. So a match counts only where every
two components of the stages it rests on were touched often enough to find that out, and where
its conductor, if it was joined to another one, did read closed.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.late import cached_property
from wiretrack.ringout.bundle import PLACES, Place, other_place
from wiretrack.ringout.masks import bits, lowest, mask_of, union
from wiretrack.ringout.matching import Matching
from wiretrack.ringout.probing import Probing

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from wiretrack.ringout.candidates import Candidates
    from wiretrack.ringout.stage import Stage


class Deductions(Matching):
    """All that follows from one state of the evidence."""

    @cached_property
    def matched(self) -> dict[int, int]:
        """For the near ends that are matched, their far ends."""
        if not self.settling and self.bundle.size > 1:
            return {}
        now, uneven = dict(self._settled(self.found)), any(self.bundle.absent.values())
        return {
            end: mate
            for end, mate in self._settled(self.secure)
            if now.get(end) == mate and (self.broken("near", end) or not self.suspect("near", end))
            if not uneven or not (self.broken("near", end) or self.broken("far", mate))
        }

    @property
    def pointed_at(self) -> dict[int, int]:
        """What closed readings point to, of which more touches must make sure."""
        found = self._settled(self.found) if self.begun else ()
        toned = self.toned["near"]
        return {end: mate for end, mate in (*found, *toned.items()) if end not in self.matched}

    @cached_property
    def toned(self) -> dict[Place, dict[int, int]]:
        """What tones make likely, and what is left then; by the ends at either place."""
        trial = self.found.copy()
        for stage in self.evidence.tones.values():
            place = other_place(stage.at)
            mate = stage.likely(trial.of[place][stage.end] & ~self.bundle.absent[stage.at])
            if mate is not None:
                trial.keep(place, stage.end, 1 << mate)
                trial.keep(stage.at, mate, 1 << stage.end)
        possible = bool(self.evidence.tones) and trial.propagate((), self.contacts)
        open_ = {end for end, row in enumerate(self.found.of["near"]) if row & row - 1}
        near = {e: m for e, m in self._settled(trial) if e in open_} if possible else {}
        return {"near": near, "far": {mate: end for end, mate in near.items()}}

    @cached_property
    def told_by_colour(self) -> list[int]:
        """The matched near ends that the readings alone, without colours, don't tell."""
        if not self.trust_colours or not any(end.colour for end in self.bundle.near):
            return []
        start = self.by_colour(trust=False)
        if start.of == self.start.of:
            return []
        plain = self._by_settling("without colours", start)
        return [
            end
            for end, mate in self.matched.items()
            if plain.settled("near", end) != mate and end not in self.told_by_ohms
        ]

    @cached_property
    def told_by_ohms(self) -> list[int]:
        """The matched near ends that closed and open alone, without the ohms, don't tell."""
        if not self.bundle.ohms:
            return []
        plain = self.without(None)
        return [end for end, mate in self.matched.items() if plain.settled("near", end) != mate]

    @property
    def never_closed(self) -> list[int]:
        """The matched near ends of which no closed reading shows that they are whole."""
        return [end for end in self.matched if not self.proven("near", end)]

    def _settled(self, found: Candidates) -> Iterator[tuple[int, int]]:
        for end in range(self.bundle.size):
            mate = found.settled("near", end)
            is_there = mate is not None and not self.lone("near", end) | self.lone("far", mate)
            if mate is not None and is_there and found.settled("far", mate) == end:
                yield end, mate

    def touching(self, place: Place, end: int) -> bool:
        """Return whether an end is, or may be, that of a conductor known to touch another."""
        return bool(self._touching[place] >> end & 1)

    @cached_property
    def _touching(self) -> dict[Place, int]:
        at = {place: self.contacts.at(place) for place in PLACES}
        return {
            place: union(at[place])
            | mask_of(
                end
                for end, mates in enumerate(self.found.of[place])
                if any(not mates & ~contact for contact in at[other_place(place)])
            )
            for place in PLACES
        }

    def broken(self, place: Place, end: int) -> bool:
        """Return whether an end had to read closed, was touched often enough, and never did."""
        silent = self._silent["near"][place] | self._silent["far"][place]
        return bool((silent | self.bundle.absent[place]) >> end & 1)

    def open(self, place: Place, end: int) -> bool:
        """Return whether an end's conductor was silent at both places, so no bad contact hid it."""
        return all(self._silent[at][place] >> end & 1 for at in PLACES)

    def unheard(self, place: Place) -> list[int]:
        """Return the silent ends that weren't joined here and listened for at the other place."""
        there = self._silent[other_place(place)][place]
        return [
            end
            for end in bits(self._silent[place][place] & ~there)
            if not self.touching(place, end) and not self.lone(place, end)
        ]

    def whole(self, place: Place) -> int:
        """Return the ends whose conductor is whole, whichever of their candidates it is."""
        there, rows = self._proven[other_place(place)], self.found.of[place]
        return self._proven[place] | mask_of(e for e, row in enumerate(rows) if not row & ~there)

    def badly_touched(self, place: Place) -> list[int]:
        """Return the ends that were silent here only: a joined conductor of theirs reads closed."""
        return list(bits(self._silent_ends[place][place] & self._proven[place]))

    def lone(self, place: Place, end: int) -> bool:
        """Return whether an end has none at the other place, or is itself not there."""
        here, there = self.bundle.absent[place], self.bundle.absent[other_place(place)]
        return bool(here >> end & 1) or not self.found.of[place][end] & ~there

    @property
    def extra(self) -> dict[Place, list[int]]:
        """The ends of which none was found at the other place, where one place has more ends."""
        if not any(self.bundle.absent.values()) or not (self.settling or self.bundle.size == 1):
            return {place: [] for place in PLACES}
        taken = {"near": set(self.matched), "far": set(self.matched.values())}
        return {
            place: [
                end
                for end in range(self.bundle.size)
                if not self.bundle.absent[place] >> end & 1
                and end not in taken[place]
                and (self.lone(place, end) or self.broken(place, end))
                and not self.touching(place, end)
            ]
            for place in PLACES
        }

    @cached_property
    def _silent_ends(self) -> dict[Place, dict[Place, int]]:
        """By where was touched, the ends at each place that had to read closed, and never did."""
        silent: dict[Place, dict[Place, int]] = {at: {"near": 0, "far": 0} for at in PLACES}
        for stage in self.stages:
            if stage not in self.found.refused:
                self._add_if_read(stage, self._broken_by(stage), silent[stage.at])
        for fitted in self.fitted:
            for end in bits(fitted.silent()):
                if not self.found.of[fitted.at][end] & ~fitted.fitted:
                    silent[fitted.at][fitted.at] |= 1 << end
        return silent

    @cached_property
    def _silent(self) -> dict[Place, dict[Place, int]]:
        """The same, without those that a closed reading shows to be whole."""
        ends = self._silent_ends
        return {at: {p: ends[at][p] & ~self._proven[p] for p in PLACES} for at in PLACES}

    def _add_if_read(
        self, stage: Stage, ends: Mapping[Place, int], known: dict[Place, int]
    ) -> None:
        """Add the ends of both places that a stage tells, if nothing more is to be read in it."""
        # To see that takes longest, so it is last.
        if any(ends[place] & ~known[place] for place in PLACES) and self.is_read(stage):
            for place in PLACES:
                known[place] |= ends[place]

    def _broken_by(self, stage: Stage) -> dict[Place, int]:
        """Return the ends that had to read closed in a searched stage, and never did.

        A group is alive if some component can only be that group and has two ends, or one
        that is proven elsewhere: the join holds, so what doesn't close there is broken.
        """
        broken: dict[Place, int] = {"near": 0, "far": 0}
        homes = self.homes(stage)
        if homes is None:
            return broken
        components, groups, domain = homes
        here, there = stage.at, other_place(stage.at)
        alive: dict[int, int] = {}
        for members, possible in zip(components, domain, strict=True):
            sound = members.bit_count() > 1 or self._is_sound(here, lowest(members))
            if possible.bit_count() == 1 and sound:
                alive[possible] = alive.get(possible, 0) | members
        silent = union(members for members in components if members.bit_count() == 1)
        whole, absent = self.whole(there), self.bundle.absent[there]
        for members, possible in zip(components, domain, strict=True):
            if members.bit_count() == 1:
                mates = self.found.of[here][lowest(members)]
                if all(
                    alive.get(1 << g, 0) & ~members
                    or groups[g] & whole & ~mates
                    or not groups[g] & ~absent
                    for g in bits(possible)
                ):
                    broken[here] |= members
        for index, group in enumerate(groups):
            reached = alive.get(1 << index, 0)
            for end in bits(group):
                mates = self.found.of[there][end]
                missed = reached and not mates & reached
                if missed or (group & whole & ~(1 << end) and not mates & ~silent):
                    broken[there] |= 1 << end
        return broken

    def _is_sound(self, place: Place, end: int) -> bool:
        return self.found.settled(place, end) is not None and self.proven(place, end)

    def suspect(self, place: Place, end: int) -> bool:
        """Return whether an unproven end was joined to another, and read closed to nothing."""
        return bool(self._suspect[place] >> end & 1)

    @cached_property
    def _suspect(self) -> dict[Place, int]:
        """The ends that could have read closed in a searched stage, and didn't."""
        suspect: dict[Place, int] = {"near": 0, "far": 0}
        for stage in self.stages:
            homes = self.homes(stage) if stage not in self.found.refused else None
            if homes is None:
                continue
            here, there = stage.at, other_place(stage.at)
            components, groups, domain = homes
            joined = mask_of(g for g, group in enumerate(groups) if group.bit_count() > 1)
            silent: dict[Place, int] = {"near": 0, "far": 0}
            for members, possible in zip(components, domain, strict=True):
                if members.bit_count() == 1 and not possible & ~joined:
                    silent[here] |= members
                    mate = self.found.settled(here, lowest(members))
                    silent[there] |= 0 if mate is None else 1 << mate
            self._add_if_read(stage, silent, suspect)
        return {place: suspect[place] & ~self._proven[place] for place in PLACES}

    def is_read(self, stage: Stage) -> bool:
        """Return whether nothing more can be found out by touching in a stage."""
        key = ("searched", stage.at, stage.groups)
        return self.evidence.remember(key, self.state(), lambda: Probing(stage, self).is_searched)
