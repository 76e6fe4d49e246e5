# SPDX-License-Identifier: MIT
"""What follows from the facts: contacts, candidates, proofs, and what is broken."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING

from wiretrack.ringout.bundle import PLACES, Place, other_place
from wiretrack.ringout.candidates import Contacts, by_colour, conclude, effective_groups, propagate
from wiretrack.ringout.diodes import of_diodes
from wiretrack.ringout.masks import bits, lowest, union
from wiretrack.ringout.packing import domains
from wiretrack.ringout.screening import OPEN_TOUCHES, depth_of, exposed_to, next_cut

if TYPE_CHECKING:
    from wiretrack.ringout.bundle import Bundle
    from wiretrack.ringout.candidates import AnyStage, Candidates
    from wiretrack.ringout.diodes import DiodeStage
    from wiretrack.ringout.facts import Facts
    from wiretrack.ringout.fitted import FittedStage
    from wiretrack.ringout.probing import Model
    from wiretrack.ringout.screening import Cut
    from wiretrack.ringout.stage import Stage


class Knowledge:
    """Conclusions from one state of the facts; made anew whenever a fact is added."""

    def __init__(self, facts: Facts) -> None:
        self.facts = facts
        self.bundle: Bundle = facts.bundle
        self.size = len(facts.bundle.names("near"))

    @cached_property
    def contacts(self) -> Contacts:
        """Return the ends that read closed to each other with nothing joined, per place."""
        sure: dict[Place, list[int]] = {}
        vague: dict[Place, list[int]] = {}
        for place in PLACES:
            bare = self.facts.bare(place)
            sets = bare.components() if bare else []
            sure[place] = [ends for ends in sets if ends.bit_count() > 1]
            vague[place] = [left | right for left, right in bare.unexplained()] if bare else []
        return Contacts(sure, vague)

    @cached_property
    def stages(self) -> list[Stage]:
        """Return the stages that can tell who is whom, oldest first."""
        return [s for s in self.facts.stages.values() if s.groups and s.touches]

    @cached_property
    def fitted(self) -> list[FittedStage]:
        """Return the stages with resistors, oldest first."""
        return [stage for stage in self.facts.fitted.values() if stage.touches]

    @cached_property
    def diodes(self) -> list[DiodeStage]:
        """Return the stages with a diode, oldest first, those only checked included."""
        return of_diodes(list(self.facts.fitted.values()))

    @property
    def begun(self) -> bool:
        """Return whether anything was read that can tell who is whom."""
        return bool(self.stages or self.fitted)

    @cached_property
    def trust_colours(self) -> bool:
        """Return whether colours can be evidence.

        Not if the two places show different ones, and not if a stage makes sense only without
        them and a thorough search found no contact that would explain it.
        """
        if not self.bundle.colours_agree:
            return False
        searched = tuple(p for p in PLACES if self.bare_depth(p) >= OPEN_TOUCHES)
        if not searched or len({end.colour for end in self.bundle.near}) < 2:
            return True
        return self.facts.remember(
            "trust", (searched, *self._heard()), lambda: self._colours_fit(searched)
        )

    def _colours_fit(self, searched: tuple[Place, ...]) -> bool:
        return not any(
            self._needs_other_colours(stage)
            for stage in self.stages
            if other_place(stage.at) in searched
        )

    def _needs_other_colours(self, stage: Stage) -> bool:
        start, plain = by_colour(self.bundle), by_colour(self.bundle, trust=False)
        if propagate(start, [stage], self.contacts):
            return False
        return propagate(plain, [stage], self.contacts)

    def state(self, but: Stage | None = None) -> tuple[object, ...]:
        """Return what identifies the state of all stages but one."""
        counts = [(key, len(s.touches)) for key, s in self.facts.stages.items() if s is not but]
        fitted = [len(stage.touches) for stage in self.facts.fitted.values()]
        return (*counts, *fitted)

    def _heard(self, but: Stage | None = None) -> tuple[object, ...]:
        """Return what identifies the closed readings of all stages but one."""
        heard = [(key, *s.heard) for key, s in self.facts.stages.items() if s is not but]
        fitted = [len(stage.touches) for stage in self.facts.fitted.values()]
        return (*heard, *fitted)

    @cached_property
    def start(self) -> Candidates:
        """Return who may be whom by colours and references alone."""
        trust = self.trust_colours
        return self.facts.remember("start", trust, lambda: by_colour(self.bundle, trust=trust))

    @cached_property
    def found(self) -> Candidates:
        """Return who may be whom by all that was read."""
        return self.facts.remember(
            "found",
            (self.trust_colours, *self._heard()),
            lambda: conclude(
                self.start,
                [*self.stages, *self.fitted],
                self.contacts,
                self._tainted(self.stages),
            ),
        )

    def without(self, stage: Stage) -> Candidates:
        """Return who may be whom by all stages but one."""
        others = [s for s in self.stages if s is not stage]
        used: list[AnyStage] = [*others, *self.fitted]
        return conclude(self.start, used, self.contacts, self._tainted(others))

    @property
    def need(self) -> int:
        """Return how many open touches every two components of a stage must have."""
        if self.bundle.screen == "none":
            return 0
        if self.found.refused:
            return OPEN_TOUCHES
        return max(0, OPEN_TOUCHES - max(self.bare_depth(place) for place in PLACES))

    def told_apart(self, stage: Stage) -> bool:
        """Return whether the components of a stage were searched for contacts between them."""
        components = stage.components(self.contacts.sure[stage.at])
        if self._searched_alone(stage):
            return True
        exposed = self.exposed(stage, components)
        if exposed is None:
            return False
        state = (len(stage.touches), tuple(components), self.need, tuple(exposed))
        return self.facts.remember(
            ("told apart", stage.at, stage.groups),
            state,
            lambda: depth_of(stage, components, exposed) >= self.need,
        )

    def _searched_alone(self, stage: Stage) -> bool:
        """Return whether a stage was searched for contacts between any two of its components."""
        components = stage.components(self.contacts.sure[stage.at])
        key = ("searched alone", stage.at, stage.groups)
        state = (len(stage.touches), tuple(components), self.need)
        return self.facts.remember(
            key, state, lambda: depth_of(stage, components) >= self.need or len(components) < 2
        )

    def exposed(self, stage: Stage, components: list[int]) -> list[int] | None:
        """Return, per component, those that an unnoticed contact could unite it with; `None`: all.

        A contact between conductors of different groups would have shown in a searched stage.
        """
        key = ("blocks", stage.at, stage.groups)
        refused = len(self.found.refused)
        state = (self.need, refused, *self._heard(stage), *self.state(stage))
        blocks = self.facts.remember(key, state, lambda: self._blocks(stage))
        return None if blocks is None else exposed_to(components, blocks)

    def _blocks(self, stage: Stage) -> list[int] | None:
        """Return the ends here that all other searched stages held together; `None` for all."""
        blocks: list[int] | None = None
        for other in self.stages:
            if other is stage or other in self.found.refused or not self._searched_alone(other):
                continue
            sets = self._known_sets(other, stage.at)
            if sets is not None:
                cut = {a & b for a in (blocks or [-1]) for b in sets}
                blocks = [block for block in cut if block.bit_count() > 1]
                if not blocks:
                    break
        return blocks

    def _known_sets(self, stage: Stage, place: Place) -> list[int] | None:
        """Return the ends at a place whose conductors were in one group of a stage, if known."""
        groups = effective_groups(stage, self.found, self.contacts)
        if stage.at != place:
            return [group for group in groups if group.bit_count() > 1]
        sets = stage.components(self.contacts.sure[place])
        return sets if len(sets) == len(groups) else None

    def next_cut(self, stage: Stage, components: list[int], width: int) -> Cut | None:
        """Return the next two bunches to touch in a search for contacts; `None` if it is done."""
        return next_cut(stage, components, self.need, width, self.exposed(stage, components))

    @cached_property
    def settling(self) -> list[AnyStage]:
        """Return the stages that a match can rest on: searched for contacts, or read through."""
        refused = self.found.refused
        done: list[AnyStage] = [s for s in self.stages if s not in refused and self.told_apart(s)]
        return done + [s for s in self.fitted if s not in refused and not s.next_pair(self.found)]

    @cached_property
    def secure(self) -> Candidates:
        """Return who may be whom by the stages that no hidden contact can have spoilt."""
        if len(self.settling) == len(self.stages) + len(self.fitted):
            return self.found
        return conclude(self.start, self.settling, self.contacts)

    @cached_property
    def colourless(self) -> Candidates:
        """Return who may be whom by the secure readings without any colour."""
        plain = by_colour(self.bundle, trust=False)
        return conclude(plain, self.settling, self.contacts)

    def _tainted(self, stages: list[Stage]) -> list[AnyStage]:
        """Return the stages with readings for which no reason is known.

        These are bunches that read closed, and readings that fit no resistor.
        """
        if any(self.contacts.sure.values()):
            return []
        bunches = [stage for stage in stages if stage.unexplained()]
        return [*bunches, *(stage for stage in self.fitted if stage.odd())]

    def model(self, stage: Stage) -> Model:
        """Return what is known of a stage before its own touches."""
        from wiretrack.ringout.probing import Model

        key = ("model", stage.at, stage.groups)
        state = (self.trust_colours, *self._heard(stage))
        return self.facts.remember(key, state, lambda: Model(stage, self))

    def apart(self, stage: Stage) -> list[int]:
        """Return, per end here, the ends that no join of `stage` can hold together with it.

        What was joined here and found whole there in an earlier stage is known there as a set;
        where the joins of `stage` hold no two of any such set, they keep all its ends apart.
        """
        apart = [0] * self.size
        for earlier in self.stages:
            if earlier.at == stage.at or earlier in self.without(stage).refused:
                continue
            groups = [group for group in earlier.groups if group.bit_count() > 1]
            whole = self.size - sum(group.bit_count() - 1 for group in groups)
            sets = earlier.components()
            mixed = any((g & one).bit_count() > 1 for g in stage.groups for one in sets)
            if len(sets) == whole and not mixed and not any(self.contacts.sure.values()):
                for group in groups:
                    for end in bits(group):
                        apart[end] |= group & ~(1 << end)
        return apart

    def bare_depth(self, place: Place) -> int:
        """Return how many open touches at least stand against each contact, at one place."""
        bare = self.facts.bare(place)
        if bare is None:
            return 0
        state = len(bare.touches)
        return self.facts.remember(
            ("depth", place), state, lambda: depth_of(bare, bare.components())
        )

    def touching(self, place: Place, end: int) -> bool:
        """Return whether an end is, or may be, that of a conductor known to touch another."""
        if any(contact >> end & 1 for contact in self.contacts.at(place)):
            return True
        mates = self.found.of[place][end]
        return any(not mates & ~contact for contact in self.contacts.at(other_place(place)))

    def is_reference(self, end: int) -> bool:
        """Return whether an end is a reference, known at both places beforehand."""
        return end >= self.bundle.size

    @cached_property
    def _proven(self) -> dict[Place, int]:
        """Return the ends of which a closed reading shows that the conductor is whole."""
        proven: dict[Place, int] = {"near": 0, "far": 0}
        for stage in self.stages:
            if stage in self.found.refused:
                continue
            for component in stage.components():
                if component.bit_count() > 1:
                    proven[stage.at] |= component
        for fitted in self.fitted:
            if fitted not in self.found.refused:
                proven[fitted.at] |= fitted.proven()
        for end in range(self.size):
            mate = self.found.settled("near", end)
            if mate is not None and (proven["near"] >> end & 1 or proven["far"] >> mate & 1):
                proven["near"] |= 1 << end
                proven["far"] |= 1 << mate
            if self.is_reference(end):
                proven["near"] |= 1 << end
                proven["far"] |= 1 << end
        return proven

    def proven(self, place: Place, end: int) -> bool:
        """Return whether a closed reading shows that the end's conductor is whole."""
        return bool(self._proven[place] >> end & 1)

    @cached_property
    def _broken(self) -> dict[Place, int]:
        broken: dict[Place, int] = {"near": 0, "far": 0}
        for stage in self.stages:
            if stage not in self.found.refused:
                self._break_by(stage, broken)
        for fitted in self.fitted:
            for end in bits(fitted.silent()):
                if not self.found.of[fitted.at][end] & ~fitted.fitted:
                    broken[fitted.at] |= 1 << end
        for place in PLACES:
            broken[place] &= ~self._proven[place]
        return broken

    def _break_by(self, stage: Stage, broken: dict[Place, int]) -> None:
        """Add the ends that had to read closed in a searched stage, and never did.

        A group is alive if some component can only be that group and has two ends, or one
        that is proven elsewhere: the join holds, so what doesn't close there is broken.
        """
        split = self.domain_of(stage) if self._searched(stage) else None
        if split is None:
            return
        components, groups, domain = split
        here, there = stage.at, other_place(stage.at)
        alive: dict[int, int] = {}
        for members, possible in zip(components, domain, strict=True):
            sound = members.bit_count() > 1 or self._known_sound(here, members)
            if possible.bit_count() == 1 and sound:
                alive[possible] = alive.get(possible, 0) | members
        silent = union(members for members in components if members.bit_count() == 1)
        whole = self._proven[there]
        for members, possible in zip(components, domain, strict=True):
            if members.bit_count() == 1:
                mates = self.found.of[here][members.bit_length() - 1]
                if all(
                    alive.get(1 << g, 0) & ~members or groups[g] & whole & ~mates
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

    @cached_property
    def _suspect(self) -> dict[Place, int]:
        """Return the ends that could have read closed in a searched stage, and didn't."""
        suspect: dict[Place, int] = {"near": 0, "far": 0}
        for stage in self.stages:
            split = self.domain_of(stage) if self._searched(stage) else None
            if split is None or stage in self.found.refused:
                continue
            here, there = stage.at, other_place(stage.at)
            for members, possible in zip(split[0], split[2], strict=True):
                joined = all(split[1][g].bit_count() > 1 for g in bits(possible))
                if members.bit_count() == 1 and joined:
                    suspect[here] |= members
                    mate = self.found.settled(here, lowest(members))
                    suspect[there] |= 0 if mate is None else 1 << mate
        return {place: suspect[place] & ~self._proven[place] for place in PLACES}

    def suspect(self, place: Place, end: int) -> bool:
        """Return whether an unproven end was joined to another, and read closed to nothing."""
        return bool(self._suspect[place] >> end & 1)

    def _known_sound(self, place: Place, member: int) -> bool:
        end = member.bit_length() - 1
        return self.found.settled(place, end) is not None and self.proven(place, end)

    def _searched(self, stage: Stage) -> bool:
        from wiretrack.ringout.probing import Probing

        key = ("searched", stage.at, stage.groups)
        return self.facts.remember(key, self.state(), lambda: Probing(stage, self).searched)

    def broken(self, place: Place, end: int) -> bool:
        """Return whether an end had to read closed, was touched often enough, and never did."""
        return bool(self._broken[place] >> end & 1)

    def domain_of(self, stage: Stage) -> tuple[list[int], list[int], list[int]] | None:
        """Return a stage's components, groups, and the groups each component may be."""
        groups = effective_groups(stage, self.found, self.contacts)
        components = stage.components(self.contacts.sure[stage.at])
        domain = domains(components, groups, self.found.of[stage.at])
        return None if domain is None else (components, groups, domain)
