# SPDX-License-Identifier: MIT
"""A guided search for a fault as it stands: suspects, log, the next reading, what is found."""

from __future__ import annotations

from dataclasses import field
from functools import lru_cache
from typing import TYPE_CHECKING, ClassVar, Self

from wiretrack.electrical import symptoms
from wiretrack.electrical.symptoms import symptom_of
from wiretrack.errors import BadInputError
from wiretrack.exchange.places import check_text
from wiretrack.late import cached_property, dataclass
from wiretrack.manner import words
from wiretrack.model.entities import Circuit, Enclosure
from wiretrack.tasks.test.cautions import cautions_at
from wiretrack.tasks.trouble.gathering import Suspicion
from wiretrack.tasks.trouble.questions import SOURCE, next_question, remaining

if TYPE_CHECKING:
    from collections.abc import Mapping

    from wiretrack.model.site import Site
    from wiretrack.procedure import Procedure
    from wiretrack.tasks.trouble.questions import Question

OUTCOMES = ("yes", "no", "cant")
CONTRADICTION = (
    "no cause agrees with all the answers: one of them is wrong, or there are two faults; "
    "repeat the reading that you trust least and correct its answer"
)
_planned = lru_cache(maxsize=8)(next_question)


@dataclass(frozen=True)
class Answer:
    """An answer to a question: ``yes``, ``no``, or ``cant`` where it can't be read.

    `value` is what the meter showed, for the log.
    """

    outcome: str
    value: str | None = None
    note: str | None = None

    def stored(self) -> dict[str, str]:
        """Return it as the log keeps it."""
        outcome = "cant" if self.outcome == "can't" else self.outcome
        if outcome not in OUTCOMES:
            raise BadInputError(f"'{outcome}' is no answer. Answers: {', '.join(OUTCOMES)}.")
        value, note = check_text("The value", self.value), check_text("The note", self.note)
        texts = {"outcome": outcome, "value": value, "note": note}
        return {key: text for key, text in texts.items() if text is not None}


@dataclass(frozen=True, kw_only=True)
class Logged:
    """An answer that counts, as the log shows it; `superseded` is how many it replaced."""

    number: int
    ask: str
    outcome: str
    value: str | None
    note: str | None
    at: str
    by: str | None
    superseded: int


@dataclass(frozen=True, kw_only=True)
class Step:
    """The reading to take next: in which box, between what, and what each answer means.

    `question` is its number among all that the search may ask.
    """

    question: int = field(metadata={"json": None})
    number: int
    box: str
    where: str | None
    kind: str
    ask: str
    between: tuple[str, ...]
    disconnected: tuple[str, ...]
    loads: str
    live: bool
    yes: str
    no: str


@dataclass(frozen=True)
class LikelyCause:
    """A suspect as the answers leave it; `measured` says whether a reading tells of it."""

    name: str
    because: str
    left: bool
    likelihood: float
    measured: bool


@dataclass(frozen=True)
class Finding:
    """What a reading showed to be at fault; of what may be, what would decide it."""

    what: str | None
    code: str | None
    name: str
    decide: str | None = field(default=None, metadata={"blank": None})


@dataclass(frozen=True, kw_only=True)
class Search:
    """A search as it is now: the suspects, the log, and what is found or asked next."""

    ALSO: ClassVar = ("suspects", "log", "next", "found", "undecided", "confirm", "confirm_by",
                      "contradiction")  # fmt: skip
    record: Procedure = field(metadata={"json": None})
    begun: Suspicion = field(metadata={"json": None})
    where: Mapping[str, str | None] = field(metadata={"json": None})
    circuit: str
    subject: str
    symptom: str
    title: str
    at: str
    version: str
    remarks: tuple[str, ...]
    cautions: tuple[str, ...]
    source: str = f"{SOURCE}; {symptoms.SOURCE}"

    @classmethod
    def of(cls, site: Site, record: Procedure) -> Self:
        """Return a stored search as it stands."""
        symptom = symptom_of(record.symptom)
        begun = Suspicion.stored(record)
        boxes = {question.box for question in begun.questions}
        members = site.one(Circuit, record.circuit).in_service
        return cls(
            record=record,
            begun=begun,
            where={e.code: e.where for e in site.find(Enclosure, "code", boxes)},
            circuit=record.circuit,
            subject=begun.subject,
            symptom=record.symptom,
            title=words(symptom.title),
            at=record.at,
            version=record.version,
            remarks=begun.remarks,
            cautions=cautions_at(site, symptom.kind, members, [record.circuit]),
        )

    @cached_property
    def _readings(self) -> list[tuple[Question, bool]]:
        """The readings that were taken, each with whether it was bad."""
        said = (
            (self.begun.questions[given.step["question"]], given.answer["outcome"])
            for given in self.record.answers
        )
        return [(question, word == question.bad_if) for question, word in said if word != "cant"]

    @cached_property
    def _left(self) -> int:
        """The suspects that agree with every answer, a bit for each."""
        return remaining(len(self.begun.suspects), self._readings)

    @cached_property
    def _asked(self) -> int | None:
        """The number of the question to ask now; `None` at the end of the search."""
        questions = self.begun.questions
        if not self._left:
            return None
        answered = {given.step["question"] for given in self.record.answers}
        box = self._readings[-1][0].box if self._readings else self.record.settings.get("box")
        still = [n for n in range(len(questions)) if n not in answered]
        weights = tuple(suspect.weight for suspect in self.begun.suspects)
        plan = _planned(weights, tuple(questions[n] for n in still), self._left, box)
        return None if plan.question is None else still[plan.question]

    @cached_property
    def next(self) -> Step | None:
        """The reading to take now; `None` at the end of the search."""
        if self._asked is None:
            return None
        question, symptom = self.begun.questions[self._asked], symptom_of(self.symptom)
        return Step(
            question=self._asked,
            number=len(self.record.answers) + 1,
            box=question.box,
            where=self.where.get(question.box),
            kind=question.kind,
            ask=question.ask,
            between=question.between,
            disconnected=question.disconnected,
            loads=question.loads,
            live=question.live,
            yes=symptom.yes,
            no=symptom.no,
        )

    @cached_property
    def suspects(self) -> tuple[LikelyCause, ...]:
        """Everything that was suspected, with how likely each is by now."""
        measured = 0
        for question, _ in self._readings:
            measured |= question.bad
        left = self._left
        total = sum(s.weight for n, s in enumerate(self.begun.suspects) if left >> n & 1)
        if not left & (left - 1) and not left & measured:
            total += symptoms.OTHER_WEIGHT  # nothing is certain that no reading tells of
        return tuple(
            LikelyCause(
                s.name,
                s.because,
                bool(left >> n & 1),
                s.weight / total if left >> n & 1 else 0.0,
                bool(measured >> n & 1),
            )
            for n, s in enumerate(self.begun.suspects)
        )

    @property
    def log(self) -> tuple[Logged, ...]:
        """The answers that count."""
        return tuple(
            Logged(
                number=number,
                ask=given.step.get("ask", ""),
                outcome=given.answer["outcome"],
                value=given.answer.get("value"),
                note=given.answer.get("note"),
                at=given.at,
                by=given.by,
                superseded=given.superseded,
            )
            for number, given in enumerate(self.record.answers, 1)
        )

    @cached_property
    def found(self) -> Finding | None:
        """What is left at the end where a bad reading showed it and it is one thing; else `None`.

        The poles of a device are one thing.
        """
        suspects = [s for n, s in enumerate(self.begun.suspects) if self._left >> n & 1]
        things = {(s.what, s.code) for s in suspects}
        is_shown = any(is_bad for _, is_bad in self._readings)
        if self._asked is not None or not is_shown or len(things) != 1 or suspects[0].code is None:
            return None
        return Finding(suspects[0].what, suspects[0].code, suspects[0].name)

    @property
    def undecided(self) -> tuple[Finding, ...]:
        """What is left at the end, and what would decide it.

        Of answers that contradict each other it is what they name.
        """
        if self._asked is not None or self.found:
            return ()
        left = self._left
        for question, is_bad in () if left else self._readings:
            left |= question.bad if is_bad else 0
        return tuple(
            Finding(s.what, s.code, s.name, s.decide)
            for n, s in enumerate(self.begun.suspects)
            if left >> n & 1
        )

    @property
    def confirm(self) -> str | None:
        """What makes sure of what was found."""
        return symptom_of(self.symptom).confirm.words if self.found else None

    @property
    def confirm_by(self) -> str | None:
        """The job that does that; an empty text where none does."""
        return symptom_of(self.symptom).confirm.job if self.found else None

    @property
    def contradiction(self) -> str | None:
        """What to do where no cause agrees with all the answers."""
        is_one = not self._left and self.record.answers and self.begun.suspects
        return CONTRADICTION if is_one else None
