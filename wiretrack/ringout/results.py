# SPDX-License-Identifier: MIT
"""What a ring-out found: the last step of the protocol."""

from __future__ import annotations

from dataclasses import field
from typing import TYPE_CHECKING, Any, NoReturn

from wiretrack.errors import StepError
from wiretrack.late import dataclass
from wiretrack.ringout.action import Action

if TYPE_CHECKING:
    from wiretrack.ringout.bundle import Place


@dataclass(frozen=True)
class Match:
    """Two ends of one conductor; `sure` and `why` say what it rests on, and don't tell it apart.

    `box` is the far box, where there are several; `near_mark` the number on the near end, where it
    had no tag before it was matched.
    `sure` means that only a wrong answer, or a mixture of faults rarer than one in ten thousand
    bundles, could make the match wrong.
    """

    near: str
    far: str
    sure: bool = field(default=False, compare=False)
    why: str = field(default="", compare=False)
    box: str | None = field(default=None, metadata={"blank": None})
    near_mark: str | None = field(default=None, metadata={"blank": None})


@dataclass(frozen=True)
class FoundFault:
    """A broken or touching conductor: near tags first, far marks where they are known."""

    kind: str
    ends: tuple[str, ...]
    evidence: str


@dataclass(frozen=True)
class Extra:
    """Ends that have none at the other place: they stop short, were abandoned, or lead elsewhere.

    They are named where one place has more ends than the other.
    """

    near: tuple[str, ...] = ()
    far: tuple[str, ...] = ()


@dataclass(frozen=True)
class Question:
    """A reading that doesn't fit what it claims to be, kept with the reason for doubting it."""

    at: Place
    between: tuple[str, str]
    ohms: float | None
    expected_ohm: float | None = field(metadata={"json": "expected"})
    reason: str


@dataclass(frozen=True, kw_only=True)
class Result:
    """What the ring-out found.

    `probes` counts every touch, `hands` every end twisted on or taken out; `screening_probes`
    are the touches that only searched for
    conductors touching each other. `matches` would survive a hidden contact and a bad one;
    `likely` are what the closed readings point to, as long as that isn't so yet. Of the matches,
    `by_exclusion` names those whose conductor never read closed itself, and `by_colour` those
    that the readings alone don't tell: they hold if no colour changes on the way.
    """

    kind = "result"  # the word for it as a step
    matches: tuple[Match, ...]
    unresolved: tuple[str, ...]
    extra: Extra = Extra()
    faults: tuple[FoundFault, ...]
    walks: int
    probes: int
    joins: int
    hands: int
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


Step = Action | Result


@dataclass(frozen=True, kw_only=True)
class Guidance:
    """What a step is for: a word and a sentence; and how many `of` all conductors are known.

    `look` is what to look at first: a twist that seems to have come off.
    """

    phase: str
    why: str
    known: int
    of: int
    look: str | None = field(default=None, metadata={"blank": None})


@dataclass(frozen=True, kw_only=True)
class RecordedStep:
    """A step as it was carried out and answered; `connects` is whether it held ends together."""

    number: int
    step: dict[str, Any]
    told: str
    answer: str
    at: str
    superseded: int
    connects: bool = field(metadata={"json": None})


@dataclass(frozen=True)
class Conclusion:
    """Two ends of one conductor, and the readings that prove it, a sentence each."""

    near: str
    far: str
    sure: bool
    why: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class RingoutRecord:
    """All that the latest ring-out of a pull leaves; `by` is who did it, where that is known."""

    pull: str
    near: str
    far: str
    begun: str
    ended: str | None
    instrument: str | None
    references: tuple[str, ...]
    gear: tuple[str, ...]
    steps: tuple[RecordedStep, ...]
    conclusions: tuple[Conclusion, ...]
    finished: bool
    walks: int
    joins: int
    probes: int
    unresolved: tuple[str, ...]
    faults: tuple[FoundFault, ...]
    questions: tuple[Question, ...]
    notes: tuple[str, ...]
    by: str | None = field(default=None, metadata={"blank": None})
