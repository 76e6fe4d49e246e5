# SPDX-License-Identifier: MIT
"""What to do next, derived from the evidence alone; the same log always leads to the same step.

Where touches can't be made, others come first, and those again before one leaves.
"""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from wiretrack.late import cached_property
from wiretrack.ringout import own_ohms
from wiretrack.ringout.answers import Live, Ohms, Skipped
from wiretrack.ringout.bundle import Place, other_place
from wiretrack.ringout.certainty import doubts, next_confirming
from wiretrack.ringout.checking import check_groups, is_led, next_check
from wiretrack.ringout.deductions import Deductions
from wiretrack.ringout.evidence import Evidence
from wiretrack.ringout.exchanges import FEW_ENDS, next_across, told_alike
from wiretrack.ringout.first_joins import joined_once
from wiretrack.ringout.fitting import (
    bridged,
    check_touch,
    diode_round,
    fit_round,
    ohms_groups,
    polar,
    tone_round,
    useless,
)
from wiretrack.ringout.hidden_faults import hiding, next_between, next_hiding
from wiretrack.ringout.masks import bits, lowest, union
from wiretrack.ringout.probing import SEARCH_TOUCHES, Probing, model_of
from wiretrack.ringout.purpose import AGAIN, CHECK, CONTACTS, DOUBT, MATCH, VERIFY
from wiretrack.ringout.questions import is_strange
from wiretrack.ringout.rounds import MOST_WALKS, next_groups, one_walk
from wiretrack.ringout.screening import OPEN_TOUCHES, locate, next_cut, spent
from wiretrack.ringout.steps import FitDiode, Join, Listen, Probe, Tone, Unjoin, Walk

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from wiretrack.ringout.action import Action
    from wiretrack.ringout.answers import Answer
    from wiretrack.ringout.rounds import Groups
    from wiretrack.ringout.screening import Cut
    from wiretrack.ringout.stage import Stage

ASKED_OPEN = 3  # so often is a pair touched that reads open, and closed by way of another end
# Per conductor, besides a touch of every two (two where just pairs are joined, as all pairs are
# touched against each other then): sound bundles take seven to nine. Readings that still contradict
# then won't agree.
MOST_STEPS = 25
TIMES_ASKED = 2  # a touch that was put off so often, with the same joins, isn't asked for again


class Planner:
    """Decides the next step for one state of the evidence."""

    def __init__(self, evidence: Evidence) -> None:
        self.evidence, self.bundle = evidence, evidence.bundle
        self.known = Deductions(evidence)
        self.here: Place = evidence.place
        self.there: Place = other_place(evidence.place)
        self.own = evidence.joins[self.here]
        self.left = evidence.walked_since_join[
            self.here
        ]  # what is joined here was walked away from
        self.aim = MATCH  # what the step is for, once that is decided

    @cached_property
    def helped(self) -> bool:
        """Whether a helper's joins serve: where ends touch or stop short, the meter must walk."""
        trouble = (*self.known.contacts.sure.values(), *self.bundle.absent.values())
        return self.bundle.crew == 2 and not any(trouble)

    def next_action(self) -> Action | None:
        """Return the next step, or `None` when nothing more can be found out."""
        size = self.bundle.size
        squares = size * size // (1 if self.bundle.joins == "pairs" else 2)
        if self.evidence.count >= MOST_STEPS * (1 + size) + squares:
            return None
        if self.evidence.fits[self.here]:
            check = check_touch(self.known, self.here)
            off = self.left or self.helped or useless(self.known, self.here)
            return check or (Unjoin(self.here) if off else Walk(self.there))
        wish = self._wish()
        if self.own:
            return self._with_own_joins(wish)
        if isinstance(wish, Probe | Listen):
            return wish
        if wish is None:
            return self._move_on()
        groups = _bunches(wish)
        return self._join(self.here, groups) if groups else self._touch(*map(lowest, wish))

    def _with_own_joins(self, wish: Probe | Listen | Cut | None) -> Action:
        if isinstance(wish, tuple) and self.own == _bunches(wish):
            # Each time on other ends: one may make bad contact.
            turn = len(self.evidence.stage(self.here).bunches)
            sides = [list(bits(side)) for side in wish]
            return self._touch(*(side[turn % len(side)] for side in sides))
        if isinstance(wish, tuple) and self._held and (bunch := _bunches(wish)):
            if len(bunch) == 1 and bunch[0] & ~self._held == 0:
                return Unjoin(self.here, self.evidence.names(self.here, self._held & ~bunch[0]))
        fit = fit_round(self.known, self.here)
        if fit and fit[0] == self.own and not self.left:
            return fit[1]
        used = self.evidence.touched_since_join[self.here] or self.left
        if used or wish is not None or self.helped:
            return Unjoin(self.here)
        if self.evidence.stage(self.there) in Deductions(self.evidence).checks:
            self.aim = VERIFY
        return Walk(self.there)

    def _wish(self) -> Probe | Listen | Cut | None:
        fit = self.evidence.fits[self.there]
        if isinstance(fit, Tone):
            row = self.known.found.of[self.there][self.bundle.index(self.there, fit.end)]
            end = self.evidence.tone_stage(fit).next_end(row & ~self.bundle.absent[self.here])
            return None if end is None else Listen(self.here, self.bundle.names(self.here)[end])
        if fit is not None:
            pair = self.evidence.fitted_stage(fit).next_pair(self.known.found)
            if isinstance(fit, FitDiode):
                return polar(self.known, self.here, pair)
            return None if pair is None else self._touch(*pair)
        stage = self.evidence.stage(self.here)
        for aim, wish in self._wishes(stage):
            if wish is not None and not spent(stage, wish):
                self.aim = aim
                return wish
        return None

    def _wishes(self, stage: Stage) -> Iterator[tuple[str, Cut | None]]:
        """Yield what may be worth touching in a stage, and what for, the most urgent first."""
        yield AGAIN, self._ask_again(stage)
        if stage.is_bare and not self.own:
            yield CHECK, _single(next(stage.closed_but_once(), None))
        yield CONTACTS, locate(stage)
        if stage.is_bare:
            key, state = ("bare need", self.here), (self.known.trust_colours, *self.known.heard())
            need, twist = self.evidence.remember(key, state, self._bare_need), self.bundle.twist
            # References first: so the log tells from the beginning that they are used.
            parts = sorted(stage.components(), key=lambda part: part < 1 << self.bundle.size)
            yield CONTACTS, next_cut(stage, parts, need, self._held, twist=twist)
            yield CONTACTS, None if self.own else _single(next_hiding(self.known, self.here))
            return
        if self.own and self.left:
            return
        if stage in self.known.checks:
            yield VERIFY, None if self.own else _single(next_check(self.known, stage))
            yield CONTACTS, None if self.own else _single(next_hiding(self.known, self.here))
            return
        probing = Probing(stage, self.known)
        if not probing.overfull:
            yield MATCH, _single(probing.next_pair())
            if self.bundle.ohms:
                yield MATCH, _single(own_ohms.unread(stage))
        if probing.overfull or probing.contradictory:
            yield DOUBT, self._confirm(probing)
            if not self._others_are_refused(stage):
                return
        yield CONTACTS, self.known.next_cut(stage, probing.components, self._held)
        for touch in stage.open_within():
            often = len(stage.asked(*touch.pair))
            yield DOUBT, _single(touch.ends) if often < ASKED_OPEN else None
        if self.bundle.screen != "none":
            yield CHECK, _single(next_confirming(probing))
            yield CONTACTS, _single(next_between(self.known, stage))
            alike = (not self.helped and self._joined_next) or told_alike(self.known, stage)
            yield CONTACTS, _single(next_across(self.known, stage, alike))

    def _others_are_refused(self, stage: Stage) -> bool:
        """Return whether not this stage is refused but others are: then matches may rest on it."""
        refused = self.known.found.refused
        return bool(refused) and stage not in refused

    def _ask_again(self, stage: Stage) -> Cut | None:
        """Return the last touch again, if it was unclear or doesn't fit its path."""
        if not stage.touches or self.own or stage.is_bare:
            return None
        last = stage.touches[-1]
        asked = [t for t in stage.asked(*last.pair) if t.verdict == last.verdict]
        if last.own or len(asked) != 1 or last.verdict == "open":
            return None
        candidates = model_of(self.known, stage).candidates
        is_odd = last.verdict == "unclear" or is_strange(self.known, last, candidates)
        return _single(last.ends) if is_odd else None

    @property
    def _held(self) -> int:
        """The bunch that is twisted here, to search for contacts with."""
        return self.own[0] if len(self.own) == 1 and not self.left else 0

    def _bare_need(self) -> int:
        """Return how thoroughly to search for contacts here and now."""
        if self.known.found.refused:
            return OPEN_TOUCHES
        if bridged(self.known):
            return 1
        if self.bundle.screen == "none" or self.known.begun:
            return 0
        if self.bundle.screen == "first":
            return OPEN_TOUCHES
        if one_walk(self.known, self.here):
            return 1
        ends = range(self.bundle.size)
        # Two of one join in every round touch unnoticed. In a small bundle of look-alikes too many
        # ends are alone in a join to prove without it that none is broken and touches.
        if len({self.known.start.of[self.here][end] for end in ends}) == 1:
            return int(3 < self.bundle.size <= FEW_ENDS)
        return int(not joined_once(self.known, self.here, ends))

    def _confirm(self, probing: Probing) -> Cut | None:
        """Return a closed touch of a contradictory stage once more, the last one first.

        Where components fit no join, one of theirs: one wrong key can have united them.
        """
        stage, fitting = probing.stage, probing.model.fitting
        unfit = union(part for part in probing.components if not fitting(part)) or -1
        for touch in reversed(stage.touches):
            if touch.verdict == "closed" and not touch.own and unfit >> touch.ends[0] & 1:
                asked = stage.asked(*touch.pair)
                if sum(one.verdict == "closed" for one in asked) < 2 and len(asked) < 4:
                    return _single(touch.ends)
        return None

    def _touch(self, first: int, second: int) -> Probe:
        names = self.bundle.names(self.here)
        return Probe(self.here, (names[first], names[second]))

    def _join(self, place: Place, groups: tuple[int, ...]) -> Join:
        return Join(place, tuple(self.evidence.names(place, group) for group in groups))

    def _move_on(self) -> Action | None:
        known = self.known
        if known.found.refused and self._is_unsearched():
            self.aim = CONTACTS
            return Unjoin(self.there) if self.helped else Walk(self.there)
        if self.helped:
            return self._next_round_with_helper() or self._check()
        fit = fit_round(known, self.here)
        if fit is not None:
            return self._join(self.here, fit[0]) if fit[0] else fit[1]
        if self._joined_next is not None:
            return self._join(self.here, self._joined_next)
        if known.begun and next_groups(known, self.there) is not None:
            return Walk(self.there)
        return self._back_to_search() or self._with_diode() or self._with_tone() or self._check()

    @cached_property
    def _joined_next(self) -> Groups | None:
        """What to twist together here next, once all is read."""
        return ohms_groups(self.known, self.here) or next_groups(self.known, self.here)

    def _check(self) -> Action | None:
        """Return the step towards a check of the matches, made once at the end."""
        groups = self.to_check if is_led(self.known, self._sure) else None
        if groups is None:
            if self.known.checks or next_hiding(self.known, self.there) is None:
                return None
            self.aim = CONTACTS
            return Walk(self.there)
        self.aim, place = VERIFY, self.there if self.helped else self.here
        return Unjoin(place) if self.helped and self._joined_there() else self._join(place, groups)

    @property
    def to_check(self) -> Groups | None:
        """What to twist together for a check, whether one is led or not; `None` for none."""
        place = self.there if self.helped else self.here
        if self.evidence.walks >= MOST_WALKS:
            return None
        asked = self.bundle.check == "always"
        apart = hiding(self.known, other_place(place)) if asked else ()
        return check_groups(self.known, place, self._sure, apart)

    @property
    def _sure(self) -> set[int]:
        return {*self.known.matched} - {*doubts(self.known)}

    def _with_diode(self) -> Action | None:
        """Return the step towards a diode over two look-alikes that joins can't tell apart."""
        diode = diode_round(self.known, self.here)
        if diode is None and self._joined_there() and diode_round(self.known, self.there):
            return Walk(self.there)
        return diode

    def _with_tone(self) -> Action | None:
        """Return the step towards a tone on an end that nothing else tells apart."""
        if isinstance(self.evidence.fits[self.there], Tone):
            return Walk(self.there) if tone_round(self.known, self.there) else None
        return tone_round(self.known, self.here)

    def _back_to_search(self) -> Action | None:
        """Return the step towards joins under which contacts weren't looked for thoroughly."""
        if not self.known.need or self.evidence.walks >= MOST_WALKS:
            return None
        for stage in self.evidence.stages.values():
            if stage in self.known.stages and stage not in self.known.found.refused:
                components = Probing(stage, self.known).components
                if self.known.next_cut(stage, components):
                    self.aim = CONTACTS
                    if self.evidence.joins[other_place(stage.at)] == stage.groups:
                        return None
                    here = self.here == stage.at
                    return Walk(self.there) if here else self._join(self.here, stage.groups)
        return None

    def _is_unsearched(self) -> bool:
        """Return whether contacts that contradictions hint at weren't searched for at both boxes.

        One of a broken conductor's parts shows at its own box only.
        """
        here, there = (self.known.bare_depth(at) < OPEN_TOUCHES for at in (self.here, self.there))
        if self.helped:
            return here and there and self._joined_there()
        few = self.evidence.walks < MOST_WALKS // 2  # what comes and goes is never searched whole
        return few and (there or (here and self._joined_there()))

    def _joined_there(self) -> bool:
        return bool(self.evidence.joins[self.there] or self.evidence.fits[self.there])

    def _next_round_with_helper(self) -> Action | None:
        fit = fit_round(self.known, self.there)
        groups = fit[0] if fit else next_groups(self.known, self.there)
        if groups is None:
            diode = diode_round(self.known, self.there)
            return Unjoin(self.there) if diode and self._joined_there() else diode
        is_fitted = self.evidence.fits[self.there]
        if fit and self.evidence.joins[self.there] == groups and not is_fitted:
            return fit[1]
        return Unjoin(self.there) if self._joined_there() else self._join(self.there, groups)


def _bunches(cut: Cut) -> tuple[int, ...]:
    return tuple(sorted(side for side in cut if side.bit_count() > 1))


def _single(pair: tuple[int, int] | None) -> Cut | None:
    return None if pair is None else (1 << pair[0], 1 << pair[1])


def planned(
    evidence: Evidence, log: Sequence[tuple[Action, Answer]]
) -> tuple[Action | None, Planner]:
    """Return the next step, `None` if nothing more can be found out, and the planner that says so.

    The plan is that of a bundle where each touch that was put off read open, or as it did
    before: so others come first. Nothing is concluded from that. Once the plan would go on to
    something else, what was put off once counts as untouched, and is asked for if it matters.
    """
    put_off = _PutOff(evidence, log)
    action, planner = put_off.plan(often=1)
    return (action, planner) if isinstance(action, Probe) else put_off.plan(often=TIMES_ASKED)


class _PutOff:
    """How often each touch was put off since it was last made, with the joins that held then."""

    def __init__(self, evidence: Evidence, log: Sequence[tuple[Action, Answer]]) -> None:
        self._bundle, self._spare, self._log = evidence.bundle, evidence.spare, log
        self._times: Counter[object] = Counter()
        self._real = self._evidence(often=None)

    def plan(self, often: int) -> tuple[Action | None, Planner]:
        """Return the plan where what was put off here `often` times counts as touched."""
        planner = Planner(self._evidence(often))
        return planner.next_action(), planner

    def _evidence(self, often: int | None) -> Evidence:
        """Return the evidence with what was put off imagined as touched; `None`: without it."""
        evidence = Evidence(self._bundle, self._spare)
        evidence.lenient = True
        last: dict[object, Answer] = {}
        for step, answer in self._log:
            if isinstance(answer, Live) or not isinstance(step, Probe):
                evidence.apply(step, answer)
                continue
            key = _key(evidence, step)
            if not isinstance(answer, Skipped):
                evidence.apply(step, answer)
                last[key] = answer
                if often is None:
                    del self._times[key]
            elif often is None:
                self._times[key] += 1
                evidence.apply(step, answer)
            elif self._times[key] >= often or key[0] != _key(self._real, step)[0]:
                for _ in range(1 if key in last else SEARCH_TOUCHES):
                    evidence.apply(step, last.get(key, Ohms(None)))
        evidence.lenient = False
        return evidence


def _key(evidence: Evidence, touch: Probe) -> tuple[object, object]:
    """Return the stage that a touch belongs to, and which of its touches it is."""
    there = other_place(touch.at)
    stage = (touch.at, evidence.joins[there], evidence.fits[there])
    return stage, (evidence.joins[touch.at], frozenset(touch.between), touch.plus)
