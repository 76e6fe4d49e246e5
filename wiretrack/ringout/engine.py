# SPDX-License-Identifier: MIT
"""The way in: a ring-out that asks for steps, takes answers, and says what follows."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Self

from wiretrack.errors import BundleError, StepError
from wiretrack.ringout.answers import Live, Skipped
from wiretrack.ringout.conclusions import candidates_of, conclude_result, explain
from wiretrack.ringout.evidence import Evidence
from wiretrack.ringout.imagined import references_help
from wiretrack.ringout.planner import Planner, planned
from wiretrack.ringout.purpose import STOP, why
from wiretrack.ringout.questions import contradictions
from wiretrack.ringout.results import Guidance, Result
from wiretrack.ringout.steps import Probe, ProveDead

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.ringout.answers import Answer
    from wiretrack.ringout.bundle import Bundle, Place
    from wiretrack.ringout.questions import Contradiction
    from wiretrack.ringout.results import Step
    from wiretrack.ringout.steps import Action


UNUSED = (
    "References weren't used, as without them it takes no longer."
    " Nobody searched for wires that touch earth."
)
PLAIN_STEPS = 20  # and two for every two ends: a sound bundle takes fewer without references


class Ringout:
    """A ring-out under way.

    Everything follows from the bundle and the steps applied so far, in their order; any legal
    step is taken, whoever thought of it. So a stored log can be applied again after an
    interruption, with a reading superseded, or with another method half way.
    """

    def __init__(self, bundle: Bundle) -> None:
        self.bundle = bundle
        self._all = Evidence(bundle)
        # As long as no step names a reference: what is known without them.
        self._plain = Evidence(replace(bundle, references=())) if bundle.references else None
        self._helped = references_help(bundle)
        self._log: list[tuple[Action, Answer]] = []
        self._next: Step | None = None
        self._planner: Planner | None = None
        self._skipped = False
        self._live: ProveDead | None = None  # a voltage was found, and isn't proven dead yet

    @property
    def log(self) -> tuple[tuple[Action, Answer], ...]:
        """Return all steps applied so far, with their answers."""
        return tuple(self._log)

    @property
    def evidence(self) -> Evidence:
        """Return all that was done and read, references left out where they aren't used."""
        if self._plain is None or (self._helped and not self._knows_more(self._plain)):
            return self._all
        return self._plain

    def _knows_more(self, plain: Evidence) -> bool:
        return len(conclude_result(plain).matches) > len(conclude_result(self._all).matches)

    def next_step(self) -> Step:
        """Return what to do next; a `Result` when nothing more can be found out."""
        if self._next is None:
            self._next = self._live or self._planned() or self.result()
        return self._next

    def _planned(self) -> Action | None:
        for evidence in filter(None, (None if self._helped else self._plain, self._all)):
            if self._skipped:
                step, self._planner = planned(evidence.bundle, self._log)
            else:
                self._planner = Planner(evidence)
                step = self._planner.next_action()
            if evidence is self._plain and _in_trouble(evidence):
                continue
            if step is not None or not conclude_result(evidence).unresolved:
                return step
        return None

    def guidance(self, boxes: Mapping[str, str]) -> Guidance:
        """Return what the next step is for, and how far along it is; `boxes` names the places."""
        step, known = self.next_step(), {"known": len(self.matched), "of": self.bundle.most_matches}
        if isinstance(step, Result):
            return Guidance(phase="", why="", **known)
        planner = self._planner
        aim, evidence = (planner.aim, planner.evidence) if planner else (STOP, self.evidence)
        return Guidance(phase=aim, why=why(evidence, aim, step, self._log, boxes), **known)

    @property
    def matched(self) -> dict[str, str]:
        """The near ends that are matched, each with its far end."""
        self.next_step()
        found = (self._planner or Planner(self.evidence)).known.matched
        pairs = ((self.bundle.near[end], self.bundle.far[mate]) for end, mate in found.items())
        return {e.name: mate.name for e, mate in pairs if not (e.absent or mate.absent)}

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
        self._all.apply(step, checked)
        if self._plain is not None:
            try:
                self._plain.apply(step, checked)
            except BundleError:  # it names a reference
                self._plain = None
        self._log.append((step, checked))
        self._next = self._planner = None
        self._skipped = self._skipped or isinstance(checked, Skipped)
        if isinstance(checked, Live) and isinstance(step, Probe | ProveDead):
            self._live = ProveDead(step.at, step.between, checked.volts)
        elif isinstance(step, ProveDead):
            self._live = None

    def retake(self, step: Action, answer: Answer) -> None:
        """Take in a step of a stored log, whatever gear and crew it was made with.

        Raises
        ------
        StepError
            If the step can't have been carried out; nothing is taken in then.
        """
        both = [one for one in (self._all, self._plain) if one is not None]
        for one in both:
            one.lenient = True
        try:
            self.apply(step, answer)
        finally:
            for one in both:
                one.lenient = False

    def result(self) -> Result:
        """Return what is known now, as the last step of the protocol."""
        found = conclude_result(self.evidence)
        unused = self._plain is not None and not self._helped and bool(found.matches)
        return replace(found, notes=(*found.notes, UNUSED)) if unused else found

    def why(self, tag: str) -> list[str]:
        """Return, in plain words, the readings that prove what belongs to `tag`.

        Raises
        ------
        BundleError
            If no near end is called `tag`.
        """
        return explain(self.evidence, tag)

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

    def candidates(self) -> dict[str, tuple[str, ...]]:
        """Return, for each near end not identified yet, the far ends it may belong to."""
        return candidates_of(self.evidence)


def _in_trouble(plain: Evidence) -> bool:
    """Return whether so much was done without references that they must help."""
    return bool(plain.count > PLAIN_STEPS + 2 * plain.bundle.size**2)
