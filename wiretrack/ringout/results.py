# SPDX-License-Identifier: MIT
"""What a ring-out found: the last step of the protocol."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, NoReturn

from wiretrack.errors import StepError
from wiretrack.ringout.steps import Action

if TYPE_CHECKING:
    from wiretrack.ringout.bundle import Place


@dataclass(frozen=True)
class Match:
    """Two ends of one conductor; `sure` and `why` say what it rests on, and don't tell it apart.

    `sure` means that only a wrong answer, or a mixture of faults rarer than one in ten thousand
    bundles, could make the match wrong.
    """

    near: str
    far: str
    sure: bool = field(default=False, compare=False)
    why: str = field(default="", compare=False)

    def to_json(self) -> dict[str, Any]:
        """Return the match as the protocol writes it."""
        return {"near": self.near, "far": self.far, "sure": self.sure, "why": self.why}


@dataclass(frozen=True)
class FoundFault:
    """A broken or touching conductor: near tags first, far marks where they are known."""

    kind: str
    ends: tuple[str, ...]
    evidence: str

    def to_json(self) -> dict[str, Any]:
        """Return the fault as the protocol writes it."""
        return {"kind": self.kind, "ends": list(self.ends), "evidence": self.evidence}


@dataclass(frozen=True)
class Question:
    """A reading that doesn't fit what it claims to be, kept with the reason for doubting it."""

    at: Place
    between: tuple[str, str]
    ohms: float | None
    expected_ohm: float | None
    reason: str

    def to_json(self) -> dict[str, Any]:
        """Return the question as the protocol writes it."""
        return {
            "at": self.at,
            "between": list(self.between),
            "ohms": self.ohms,
            "expected": self.expected_ohm,
            "reason": self.reason,
        }


@dataclass(frozen=True, kw_only=True)
class Result:
    """What the ring-out found.

    `probes` counts every touch; `screening_probes` are those among them that only searched for
    conductors touching each other. `matches` would survive a hidden contact and a bad one;
    `likely` are what the closed readings point to, as long as that isn't so yet. Of the matches,
    `by_exclusion` names those whose conductor never read closed itself, and `by_colour` those
    that the readings alone don't tell: they hold if no colour changes on the way.
    """

    matches: tuple[Match, ...]
    unresolved: tuple[str, ...]
    faults: tuple[FoundFault, ...]
    walks: int
    probes: int
    joins: int
    screening_probes: int
    by_exclusion: tuple[str, ...] = ()
    by_colour: tuple[str, ...] = ()
    likely: tuple[Match, ...] = ()
    questions: tuple[Question, ...] = ()
    notes: tuple[str, ...] = ()

    def parse(self, answer: object) -> NoReturn:
        """Raise: nothing more is asked."""
        raise StepError("The ring-out is finished", "No answer is wanted any more")

    typed = parse

    def to_json(self) -> dict[str, Any]:
        """Return the step as the protocol writes it."""
        return {
            "step": "result",
            "matches": [match.to_json() for match in self.matches],
            "unresolved": list(self.unresolved),
            "faults": [fault.to_json() for fault in self.faults],
            "walks": self.walks,
            "probes": self.probes,
            "joins": self.joins,
            "screening_probes": self.screening_probes,
            "by_exclusion": list(self.by_exclusion),
            "by_colour": list(self.by_colour),
            "likely": [match.to_json() for match in self.likely],
            "questions": [question.to_json() for question in self.questions],
            "notes": list(self.notes),
        }


Step = Action | Result
