# SPDX-License-Identifier: MIT
"""The way in: a ring-out that asks for steps, takes answers, and says what follows."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Self

from wiretrack.errors import StepError
from wiretrack.ringout.answers import Live, Ohms, Skipped, Sounded, Volts
from wiretrack.ringout.conclusions import candidates_of, conclude_result, explain
from wiretrack.ringout.deductions import Deductions
from wiretrack.ringout.evidence import Evidence
from wiretrack.ringout.planner import Planner, planned
from wiretrack.ringout.purpose import CONTACTS, STOP, VERIFY, why
from wiretrack.ringout.questions import contradictions
from wiretrack.ringout.references import (
    begins_with_references,
    could_help,
    next_apart,
    without_references,
)
from wiretrack.ringout.results import Guidance, Result
from wiretrack.ringout.slips import hint, mistwisted
from wiretrack.ringout.steps import Probe, ProveDead

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.ringout.action import Action
    from wiretrack.ringout.answers import Answer
    from wiretrack.ringout.bundle import Bundle, Place
    from wiretrack.ringout.questions import Contradiction
    from wiretrack.ringout.results import Step
    from wiretrack.ringout.slips import Slip

UNUSED = "Not used as a reference, because it saves no walk: {}."


class Ringout:
    """A ring-out under way.

    Everything follows from the bundle and the steps applied so far, in their order; any legal
    step is taken, whoever thought of it. So a stored log can be applied again after an
    interruption, with a reading superseded, or with another method half way.
    """

    def __init__(self, bundle: Bundle) -> None:
        self.bundle = bundle
        self._plain = without_references(bundle)
        self._begins = begins_with_references(bundle)
        self._named = self._touched = False  # see `_told`
        self.evidence = self._begun(used=self._begins)
        self._log: list[tuple[Action, Answer]] = []
        self._next: Step | None = None
        self._planner: Planner | None = None
        self._skipped = False
        self._live: ProveDead | None = None  # a voltage was found, and isn't proven dead yet

    @property
    def log(self) -> tuple[tuple[Action, Answer], ...]:
        """Return all steps applied so far, with their answers."""
        return tuple(self._log)

    def next_step(self) -> Step:
        """Return what to do next; a `Result` when nothing more can be found out."""
        if self._next is None:
            self._next = self._live or self._planned() or self.result()
        return self._next

    def _planned(self) -> Action | None:
        step, self._planner = self._plan(self.evidence)
        if self.evidence.spare and not (step and step.is_touch):
            log = self._log if self._skipped else ()
            put_off = {done for done, answer in log if isinstance(answer, Skipped)}
            touch = next_apart(self.evidence, put_off)
            if touch is not None:
                self._planner.aim = CONTACTS
                return touch
        if step is None and self.evidence.spare and could_help(self._planner.known):
            further, planner = self._plan(self._folded(used=True))
            if further is not None:
                step, self._planner = further, planner
        return step

    def _plan(self, evidence: Evidence) -> tuple[Action | None, Planner]:
        if self._skipped:
            return planned(evidence, self._log)
        planner = Planner(evidence)
        return planner.next_action(), planner

    def _begun(self, *, used: bool) -> Evidence:
        """Return the evidence at the beginning, whether the references are used or spare."""
        references = self.bundle.references
        return Evidence(self.bundle) if used else Evidence(self._plain, spare=references)

    def _folded(self, *, used: bool) -> Evidence:
        """Return the evidence of the whole log, whether the references are used or spare."""
        evidence = self._begun(used=used)
        evidence.lenient = True
        for step, answer in self._log:
            evidence.apply(step, answer)
        evidence.lenient = False
        return evidence

    def guidance(self, boxes: Mapping[str, str]) -> Guidance:
        """Return what the next step is for, and how far along it is; `boxes` names the places."""
        step, planner = self.next_step(), self._planner
        found = Guidance(phase="", why="", known=len(self.matched), of=self.bundle.most_matches)
        if isinstance(step, Result):
            return found
        aim, evidence = (planner.aim, planner.evidence) if planner else (STOP, self.evidence)
        told = why(evidence, aim, step, self._log, boxes)
        is_past = step.is_touch or aim == VERIFY
        look = hint(planner.known) if planner and not is_past else None
        return replace(found, phase=aim, why=told, look=look)

    @property
    def matched(self) -> dict[str, str]:
        """The near ends that are matched, each with its far end."""
        self.next_step()
        found = (self._planner or Planner(self.evidence)).known.matched
        pairs = ((self.bundle.near[end], self.bundle.far[mate]) for end, mate in found.items())
        return {e.name: mate.name for e, mate in pairs if not (e.absent or mate.absent)}

    @property
    def can_be_checked(self) -> bool:
        """Whether all is done, and matches could be checked once more."""
        is_over = isinstance(self.next_step(), Result)
        return is_over and self._planner is not None and self._planner.to_check is not None

    @property
    def effort(self) -> tuple[int, int, int, int]:
        """How many touches, joins, walks, and ends twisted on or taken out, so far."""
        done = self.evidence
        return done.probes, done.join_steps, done.walks, done.hands

    def held(self, place: Place) -> tuple[tuple[str, ...], ...]:
        """Return the ends that are held together at a place now, group by group."""
        groups = self.evidence.joins[place]
        return tuple(self.evidence.names(place, group) for group in groups)

    def apply(self, step: Step, answer: Answer | Mapping[str, Any]) -> None:
        """Take in a step that was carried out, and its answer.

        Raises
        ------
        StepError
            If the step can't have been carried out now, or the answer isn't one to it.
        """
        if isinstance(step, Result):
            raise StepError("The ring-out is finished", "No answer is wanted any more")
        checked = step.parse(answer) if isinstance(answer, Mapping) else answer
        step = step.as_done(checked)
        named, touched = self._told(step, checked)
        evidence = self._evidence(used=named or (not touched and self._begins))
        evidence.apply(step, checked)
        self.evidence, self._named, self._touched = evidence, named, touched
        self._log.append((step, checked))
        self._next = self._planner = None
        self._skipped = self._skipped or isinstance(checked, Skipped)
        if isinstance(checked, Live) and isinstance(step, Probe | ProveDead):
            self._live = ProveDead(step.at, step.between, checked.volts)
        elif isinstance(step, ProveDead):
            self._live = None

    def _told(self, step: Action, answer: Answer) -> tuple[bool, bool]:
        """Return whether a reference was connected or read closed so far, and anything was read.

        References are used from the first such step on; or from the beginning, where they are
        touched first. So the log alone tells whether they are, whatever gear it was made with.
        """
        read = isinstance(step, Probe) and isinstance(answer, Ohms | Sounded | Volts)
        is_open = read and self.evidence.spare and self.evidence.read(answer)[0] == "open"
        told = step.connects or (read and not is_open)
        is_named = told and not step.ends_named.isdisjoint(self.bundle.references)
        return self._named or is_named, self._touched or read

    def _evidence(self, *, used: bool) -> Evidence:
        """Return the evidence so far, with the references used or spare, as is wanted now."""
        if not self.bundle.references or used != bool(self.evidence.spare):
            return self.evidence
        evidence = self._folded(used=used)
        evidence.lenient = self.evidence.lenient
        return evidence

    def retake(self, step: Action, answer: Answer) -> None:
        """Take in a step of a stored log, whatever gear and crew it was made with.

        Raises
        ------
        StepError
            If the step can't have been carried out; nothing is taken in then.
        """
        self.evidence.lenient = True
        try:
            self.apply(step, answer)
        finally:
            self.evidence.lenient = False

    def result(self) -> Result:
        """Return what is known now, as the last step of the protocol."""
        planner = self._planner
        is_own = planner is not None and planner.evidence is self.evidence
        found = conclude_result(planner.known if planner and is_own else Deductions(self.evidence))
        left = " and ".join(self.evidence.spare)
        return replace(found, notes=(*found.notes, UNUSED.format(left))) if left else found

    def why(self, tag: str) -> list[str]:
        """Return, in plain words, the readings that prove what belongs to `tag`.

        Raises
        ------
        BundleError
            If no near end is called `tag`.
        """
        is_spare = tag in self.evidence.spare
        return explain(self._folded(used=True) if is_spare else self.evidence, tag)

    def contradictions(self) -> tuple[Contradiction, ...]:
        """Return the smallest sets of readings that can't all be true."""
        return contradictions(self.evidence)

    @classmethod
    def replayed(cls, bundle: Bundle, log: Sequence[tuple[Action, Answer]]) -> Self:
        """Return the ring-out after a log of steps, whatever gear and crew they were made with.

        Raises
        ------
        StepError
            If a step can't have been carried out.
        """
        ringing = cls(bundle)
        for step, answer in log:
            ringing.retake(step, answer)
        return ringing

    def slips(self) -> Sequence[Slip]:
        """Return the slips that would explain readings that contradict."""
        return mistwisted(Deductions(self.evidence))

    def candidates(self) -> dict[str, tuple[str, ...]]:
        """Return, for each near end not identified yet, the far ends it may belong to."""
        return candidates_of(self.evidence)
