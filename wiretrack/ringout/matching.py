# SPDX-License-Identifier: MIT
"""Who may be whom by the evidence: contacts, candidates, what is told apart, what is proven."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeVar

from wiretrack.late import cached_property
from wiretrack.ringout import own_ohms
from wiretrack.ringout.bundle import PLACES, Place, other_place
from wiretrack.ringout.candidates import Contacts, by_colour, conclude
from wiretrack.ringout.fitted import DiodeStage
from wiretrack.ringout.masks import bits, union
from wiretrack.ringout.screening import OPEN_TOUCHES, depth_of, exposed_to, next_cut

if TYPE_CHECKING:
    from collections.abc import Callable

    from wiretrack.ringout.bundle import Bundle
    from wiretrack.ringout.candidates import AnyStage, Candidates
    from wiretrack.ringout.evidence import Evidence
    from wiretrack.ringout.fitted import FittedStage
    from wiretrack.ringout.screening import Cut
    from wiretrack.ringout.stage import Homes, Stage

_T = TypeVar("_T")


class Matching:
    """Who may be whom by one state of the evidence; made again whenever that grows."""

    def __init__(self, evidence: Evidence) -> None:
        self.evidence = evidence
        self.bundle: Bundle = evidence.bundle
        self.size = len(evidence.bundle.names("near"))

    @cached_property
    def contacts(self) -> Contacts:
        """The ends that read closed to each other with nothing joined, per place."""
        sure: dict[Place, list[int]] = {}
        vague: dict[Place, list[int]] = {}
        for place in PLACES:
            bare = self.evidence.bare(place)
            sets = bare.components() if bare else []
            sure[place] = [ends for ends in sets if ends.bit_count() > 1]
            vague[place] = [left | right for left, right in bare.unexplained()] if bare else []
        return Contacts(sure, vague)

    @cached_property
    def stages(self) -> list[Stage]:
        """The stages that can tell who is whom, oldest first."""
        checks = self.checks
        return [
            s for s in self.evidence.stages.values() if s.groups and s.touches and s not in checks
        ]

    @cached_property
    def checks(self) -> list[Stage]:
        """The stages that can tell nothing new: all that they join was matched before."""
        joined = [stage for stage in self.evidence.stages.values() if stage.groups]
        return [stage for stage in joined[1:] if self._checks_only(stage)]

    def _checks_only(self, stage: Stage) -> bool:
        if any(group.bit_count() != 2 for group in stage.groups):
            return False
        key, state = ("checks", stage.at, stage.groups), self.heard(stage)
        return self.evidence.remember(key, state, lambda: self._was_matched(stage))

    def _was_matched(self, stage: Stage) -> bool:
        """Return whether all that a stage joins was matched, and whole, before it."""
        before, place = type(self)(self.evidence.before(stage)), other_place(stage.at)
        return all(
            before.found.settled(place, end) is not None and before.proven(place, end)
            for end in bits(union(stage.groups))
        )

    @cached_property
    def fitted(self) -> list[FittedStage]:
        """The stages with resistors, oldest first."""
        return [stage for stage in self.evidence.fitted.values() if stage.touches]

    @cached_property
    def diodes(self) -> list[DiodeStage]:
        """The stages with a diode, oldest first, those only checked included."""
        return [s for s in self.evidence.fitted.values() if isinstance(s, DiodeStage)]

    @property
    def begun(self) -> bool:
        """Whether anything was read that can tell who is whom."""
        return bool(self.stages or self.fitted)

    @cached_property
    def trust_colours(self) -> bool:
        """Whether colours can be evidence.

        Not if the two places show different ones, and not if a stage makes sense only without
        them and a thorough search found no contact that would explain it.
        """
        if not self.bundle.colours_agree:
            return False
        if len({end.colour for end in self.bundle.near}) < 2:
            return True
        searched = tuple(p for p in PLACES if self.bare_depth(p) >= OPEN_TOUCHES)
        if not searched:
            return True
        state = (searched, *self.heard())
        return self.evidence.remember("trust", state, lambda: self._colours_fit(searched))

    def _colours_fit(self, searched: tuple[Place, ...]) -> bool:
        return all(
            self._is_possible(stage, trust=True) or not self._is_possible(stage, trust=False)
            for stage in self.stages
            if other_place(stage.at) in searched
        )

    def _is_possible(self, stage: Stage, *, trust: bool) -> bool:
        """Return whether a stage can be true by itself, by colours or without them."""
        key, start = ("possible", stage.at, stage.groups, trust), self.by_colour(trust=trust)
        contacts = tuple(tuple(self.contacts.at(place)) for place in PLACES)
        return self.evidence.remember(
            key, (stage.heard, contacts), lambda: start.allows([stage], self.contacts)
        )

    def state(self, but: Stage | None = None) -> tuple[object, ...]:
        """Return what identifies the state of all stages but one."""
        counts = [(key, len(s.touches)) for key, s in self.evidence.stages.items() if s is not but]
        fitted = [len(stage.touches) for stage in self.evidence.fitted.values()]
        return (*counts, *fitted)

    def heard(self, but: Stage | None = None) -> tuple[object, ...]:
        """Return what identifies the closed readings of all stages but one."""
        heard = [(key, *s.heard) for key, s in self.evidence.stages.items() if s is not but]
        fitted = [len(stage.touches) for stage in self.evidence.fitted.values()]
        return (*heard, *fitted)

    def remember_told(self, what: str, but: Stage | None, make: Callable[[], _T]) -> _T:
        """Return what `make` says of the closed readings of all stages but one; ask it but once.

        A check tells nothing: what was said before its readings still holds.
        """
        key = (what, but and but.at, but and but.groups)

        def told() -> _T:
            used = [stage for stage in self.stages if stage is not but]
            state = [(id(stage), *stage.heard) for stage in used]
            bare = [one.heard for place in PLACES if (one := self.evidence.bare(place))]
            contacts = [tuple(self.contacts.at(place)) for place in PLACES]
            fitted = [len(stage.touches) for stage in self.evidence.fitted.values()]
            basis = (self.trust_colours, *state, *bare, *contacts, *fitted)
            return self.evidence.remember((*key, "told"), basis, make)

        state = (self.trust_colours, *map(id, self.checks), *self.heard(but))
        return self.evidence.remember(key, state, told)

    @cached_property
    def start(self) -> Candidates:
        """Who may be whom by colours and references alone."""
        return self.by_colour(trust=self.trust_colours)

    def by_colour(self, *, trust: bool) -> Candidates:
        """Return the same, whether colours are evidence or not."""
        key, bundle = ("by colour", trust), self.bundle
        return self.evidence.remember(key, None, lambda: by_colour(bundle, trust=trust))

    @cached_property
    def found(self) -> Candidates:
        """Who may be whom by all that was read, ohms too where they are to decide."""
        if not self.bundle.ohms:
            return self.without(None)
        return self.evidence.remember("by ohms", self.state(), self._by_ohms)

    def _by_ohms(self) -> Candidates:
        """Return the candidates with what the wires' own resistance tells, if all else fits."""
        plain, leads = self.without(None), self.bundle.leads_ohm
        if plain.refused:
            return plain
        ohms = [end.expected_ohm for end in self.bundle.near]
        trial, changed = plain.copy(), False
        for stage in self.stages:
            for end, mate in own_ohms.told(stage, plain, self.contacts, ohms, leads):
                changed |= trial.keep("far", end, 1 << mate)
                trial.keep("near", mate, 1 << end)
        fits = changed and trial.propagate([*self.stages, *self.fitted], self.contacts)
        return trial if fits else plain

    def without(self, stage: Stage | None) -> Candidates:
        """Return who may be whom by all stages but one."""
        return self.remember_told("without", stage, lambda: self._without(stage))

    def homes(self, stage: Stage) -> Homes | None:
        """Return what the components of a stage can be by all that was read; `None` if nothing."""
        key, state = ("homes", stage.at, stage.groups), (self.trust_colours, *self.heard())
        return self.evidence.remember(key, state, lambda: stage.homes(self.found, self.contacts))

    def _without(self, stage: Stage | None) -> Candidates:
        others = [s for s in self.stages if s is not stage]
        used: list[AnyStage] = [*others, *self.fitted]
        return conclude(self.start, used, self.contacts, self._tainted(others))

    @property
    def need(self) -> int:
        """How many open touches every two components of a stage must have."""
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
        return self.evidence.remember(
            ("told apart", stage.at, stage.groups),
            state,
            lambda: depth_of(stage, components, exposed) >= self.need,
        )

    def _searched_alone(self, stage: Stage) -> bool:
        """Return whether a stage was searched for contacts between any two of its components."""
        components = stage.components(self.contacts.sure[stage.at])
        return self.evidence.remember(
            ("searched alone", stage.at, stage.groups),
            (len(stage.touches), tuple(components), self.need),
            lambda: depth_of(stage, components) >= self.need or len(components) < 2,
        )

    def exposed(self, stage: Stage, components: list[int]) -> list[int] | None:
        """Return, per component, those that an unnoticed contact could unite it with; `None`: all.

        A contact between conductors of different groups would have shown in a searched stage.
        """
        key = ("blocks", stage.at, stage.groups)
        refused = len(self.found.refused)
        state = (self.need, refused, *self.heard(), *self.state(stage))
        blocks = self.evidence.remember(key, state, lambda: self._blocks(stage))
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
        groups = stage.joined(self.found, self.contacts)
        if stage.at != place:
            return [group for group in groups if group.bit_count() > 1]
        sets = stage.components(self.contacts.sure[place])
        return sets if len(sets) == len(groups) else None

    def next_cut(self, stage: Stage, components: list[int], held: int = 0) -> Cut | None:
        """Return what to touch next in a search for contacts; `None` if it is done.

        `held` is the bunch that is twisted where one is.
        """
        exposed, twist = self.exposed(stage, components), self.bundle.twist
        return next_cut(stage, components, self.need, held, twist=twist, exposed=exposed)

    @cached_property
    def settling(self) -> list[AnyStage]:
        """The stages that a match can rest on: searched for contacts, or read through."""
        refused = self.found.refused
        done: list[AnyStage] = [s for s in self.stages if s not in refused and self.told_apart(s)]
        return done + [s for s in self.fitted if s not in refused and not s.next_pair(self.found)]

    @cached_property
    def secure(self) -> Candidates:
        """Who may be whom by the stages that no hidden contact can have spoilt."""
        if len(self.settling) == len(self.stages) + len(self.fitted):
            return self.found
        return self._by_settling("secure", self.start)

    def _by_settling(self, what: str, start: Candidates) -> Candidates:
        """Return who may be whom by the settling stages alone."""
        return self.evidence.remember(
            what, self.state(), lambda: conclude(start, self.settling, self.contacts)
        )

    def _tainted(self, stages: list[Stage]) -> list[AnyStage]:
        """Return the stages with readings for which no reason is known.

        These are bunches that read closed, and readings that fit no resistor.
        """
        if any(self.contacts.sure.values()):
            return []
        bunches = [stage for stage in stages if stage.unexplained()]
        return [*bunches, *(stage for stage in self.fitted if stage.odd())]

    def apart(self, stage: Stage) -> list[int]:
        """Return, per end here, the ends that no join of `stage` can hold together with it.

        What was joined here and found whole there in an earlier stage is known there as a set;
        where the joins of `stage` hold no two of any such set, they keep all its ends apart.
        """
        apart = [0] * self.size
        others = [one for one in self.stages if one.at != stage.at]
        refused = self.without(stage).refused if others else []
        for earlier in others:
            if earlier in refused:
                continue
            groups = [group for group in earlier.groups if group.bit_count() > 1]
            whole = self.size - sum(group.bit_count() - 1 for group in groups)
            sets = earlier.components()
            if len(sets) != whole or any(self.contacts.sure.values()):
                continue
            if not any((g & one).bit_count() > 1 for g in stage.groups for one in sets):
                for group in groups:
                    for end in bits(group):
                        apart[end] |= group & ~(1 << end)
        return apart

    def bare_depth(self, place: Place) -> int:
        """Return how many open touches at least stand against each contact, at one place."""
        bare = self.evidence.bare(place)
        if bare is None:
            return 0
        key, state = ("depth", place), len(bare.touches)
        return self.evidence.remember(key, state, lambda: depth_of(bare, bare.components()))

    @cached_property
    def _proven(self) -> dict[Place, int]:
        """The ends of which a closed reading shows that the conductor is whole."""
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

    def is_reference(self, end: int) -> bool:
        """Return whether an end is a reference, known at both places beforehand."""
        return end >= self.bundle.size

    def proven(self, place: Place, end: int) -> bool:
        """Return whether a closed reading shows that the end's conductor is whole."""
        return bool(self._proven[place] >> end & 1)
