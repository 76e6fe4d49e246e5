# SPDX-License-Identifier: MIT
"""The way in: a ring-out that asks for steps, takes answers, and says what follows."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from wiretrack.errors import StepError
from wiretrack.ringout.conclusions import conclude_result
from wiretrack.ringout.explaining import explain
from wiretrack.ringout.facts import Facts
from wiretrack.ringout.planner import Planner
from wiretrack.ringout.steps import Result, parse_answer

if TYPE_CHECKING:
    from wiretrack.ringout.bundle import Bundle
    from wiretrack.ringout.steps import Action, Answer, Match, Step


class Ringout:
    """A ring-out under way.

    Everything follows from the bundle and the steps applied so far, in their order; any legal
    step is taken, whoever thought of it. So a stored log can be applied again after an
    interruption, with a reading superseded, or with another method half way.
    """

    def __init__(self, bundle: Bundle) -> None:
        self.bundle = bundle
        self.facts = Facts(bundle)
        self._log: list[tuple[Action, Answer]] = []
        self._next: Step | None = None

    @property
    def log(self) -> tuple[tuple[Action, Answer], ...]:
        """Return all steps applied so far, with their answers."""
        return tuple(self._log)

    def next_step(self) -> Step:
        """Return what to do next; a `Result` when nothing more can be found out."""
        if self._next is None:
            self._next = Planner(self.facts).next_action() or self.result()
        return self._next

    def apply(self, step: Step, answer: Answer | Mapping[str, Any]) -> None:
        """Take in a step that was carried out, and its answer.

        Raises
        ------
        StepError
            If the step can't have been carried out now, or the answer isn't one to it.
        """
        if isinstance(step, Result):
            raise StepError("The ring-out is finished", "No answer is wanted any more")
        checked = parse_answer(step, answer) if isinstance(answer, Mapping) else answer
        self.facts.apply(step, checked)
        self._log.append((step, checked))
        self._next = None

    def result(self) -> Result:
        """Return what is known now, as the last step of the protocol."""
        return conclude_result(self.facts)

    def matches(self) -> tuple[Match, ...]:
        """Return the conductors identified so far."""
        return self.result().matches

    def why(self, tag: str) -> list[str]:
        """Return, in plain words, the readings that prove what belongs to `tag`.

        Raises
        ------
        BundleError
            If no near end is called `tag`.
        """
        return explain(self.facts, tag)

    def status(self) -> dict[str, Any]:
        """Return what is matched, what is open, and what contradicts, ready for JSON."""
        return {**self.result().to_json(), "steps": len(self._log)}
