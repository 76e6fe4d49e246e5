# SPDX-License-Identifier: MIT
"""Suspects of a search for a fault, gathered and weighed, and the readings that tell them apart."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Self

from wiretrack.days import day
from wiretrack.electrical import symptoms
from wiretrack.electrical.quantity_text import shown
from wiretrack.errors import FaultLocationError, Hint
from wiretrack.late import dataclass
from wiretrack.model.entities import Conductor
from wiretrack.model.tags import parse_tag
from wiretrack.model.words import PROTECTIVE
from wiretrack.readings.base import is_conductor, latest
from wiretrack.readings.judging import Judge
from wiretrack.store.source import site_of
from wiretrack.tasks.trouble.questions import Question

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from wiretrack.electrical.symptoms import Symptom
    from wiretrack.model.entity import Point
    from wiretrack.model.wiring import Link
    from wiretrack.procedure import Procedure
    from wiretrack.store.store import Registry

_LOAD_ASK = (
    "Isolate, prove dead. Disconnect {name} in {point}, the load stays on {one}. "
    "Is the insulation of {one} to {other} below its limit?"
)


@dataclass(frozen=True)
class Suspect:
    """One thing that may be at fault; `because` says what in the record speaks for or against.

    `what` and `code` name it in the record (of a short the tags of both conductors, with a
    comma), and `decide` says what would decide whether it is at fault.
    """

    name: str
    weight: float
    because: str = ""
    what: str | None = None
    code: str | None = None
    decide: str | None = None


@dataclass(frozen=True)
class Suspicion:
    """What a search begins with, and keeps: the suspects, and the readings to choose of."""

    circuit: str
    subject: str
    suspects: tuple[Suspect, ...]
    questions: tuple[Question, ...]
    remarks: tuple[str, ...] = ()

    @classmethod
    def stored(cls, search: Procedure) -> Self:
        """Return what a stored search began with, as `document` wrote it."""
        said = search.settings
        try:
            suspects = tuple(Suspect(**row) for row in said["suspects"])
            asked: Iterable[dict[str, Any]] = (
                {key: tuple(v) if isinstance(v, list) else v for key, v in row.items()}
                for row in said["questions"]
            )
            questions = tuple(Question(**row | {"bad": _mask(row["bad"])}) for row in asked)
            return cls(search.circuit, said["subject"], suspects, questions, tuple(said["remarks"]))
        except (KeyError, TypeError) as error:
            what = f"The search for a fault of {search.circuit} can't be read"
            raise FaultLocationError(what, Hint("Begin it again.", job="symptom")) from error


def _mask(numbers: Iterable[int]) -> int:
    return sum(1 << number for number in set(numbers))


class Gathering:
    """Suspects and readings of one symptom, as they are found.

    Conductors are weighed by their last readings and their ends.
    """

    def __init__(self, registry: Registry, symptom: Symptom) -> None:
        self.site, self.symptom = site_of(registry), symptom
        self.remarks: list[str] = []
        self.suspects: list[Suspect] = []
        self._questions: list[Question] = []
        self._registry, self._judge = registry, Judge(site_of(registry))

    def suspicion(self, circuit: str, subject: str) -> Suspicion:
        """Return all that was gathered, and what no reading can show."""
        for name, decide in self.symptom.others:
            self.add(Suspect(name, symptoms.OTHER_WEIGHT, what="other", decide=decide))
        return Suspicion(
            circuit,
            subject,
            tuple(self.suspects),
            tuple(self._questions),
            tuple(self.remarks),
        )

    def add(self, suspect: Suspect) -> int:
        """Add a suspect and return its number."""
        self.suspects.append(suspect)
        return len(self.suspects) - 1

    def ask(
        self,
        box: str,
        between: tuple[str, str],
        bad: Iterable[int],
        disconnected: Sequence[str] = (),
        *,
        of_load: bool = False,
    ) -> None:
        """Add a reading in a box that leaves the suspects of the numbers `bad` if it is bad."""
        one, other = (place.replace("/", " ") for place in between)
        ask = _LOAD_ASK if of_load else self.symptom.ask
        self._questions.append(
            Question(
                box,
                ask.format(one=one, other=other, name=" and ".join(disconnected), point=box),
                _mask(bad),
                self.symptom.bad_if,
                self.symptom.kind,
                between,
                tuple(disconnected),
                "on" if of_load else self.symptom.loads,
                self.symptom.live,
            )
        )

    def weigh(self, name: str) -> tuple[float, str]:
        """Return the weight of a conductor, by its tag, and what in the record speaks for it."""
        conductor = self.site.one(Conductor, parse_tag(name))
        for end in conductor.ends:
            if end.state in ("loose", "capped"):
                return symptoms.LOOSE_WEIGHT, f"its end in {end.enclosure} is {end.state}"
        return self._by_readings(conductor.tag, against=None)

    def weigh_short(self, name: str, other: str) -> tuple[float, str]:
        """Return the weight of a short between two conductors, and what speaks for it."""
        pair = [parse_tag(name), parse_tag(other)]
        found = [self._by_readings(one, against=two) for one, two in (pair, pair[::-1])]
        weight, because = max(found, key=lambda one: (one[0] != 1.0, one[0]))
        return weight * symptoms.PAIR_WEIGHT, because

    def _by_readings(self, tag: str, against: str | None) -> tuple[float, str]:
        """Weigh by readings `against` another conductor, or else by all that are against none."""
        found = [r for r in latest(self.site.one(Conductor, tag).readings) if not r.is_stale]
        judged = {
            self._judge.verdict(reading).outcome: reading
            for reading in found
            if reading.kind in self.symptom.baseline
            and (reading.against if is_conductor(reading.against) else None) == against
        }
        for outcome in ("fail", "doubt", "pass"):
            if outcome in judged:
                last = judged[outcome]
                because = f"{last.kind} {shown(last.value, last.unit)} on {day(last.at)}: {outcome}"
                return symptoms.VERDICT_WEIGHTS[outcome], because
        return 1.0, f"no {' or '.join(self.symptom.baseline)} reading on record"


def place_of(link: Link, point: Point) -> str:
    """Return an end as ``BOX/TERMINAL``; of one on no terminal the conductor's tag."""
    if link.what == "conductor" and not link.is_landed(point):
        return link.name
    return f"{point.enclosure}/{point.terminal}"


def sole_circuit(conductor: Conductor) -> str:
    """Return the one circuit that a conductor serves."""
    if len(conductor.circuits) == 1:
        return conductor.circuits[0]
    raise FaultLocationError(
        f"{conductor.tag} serves {' and '.join(conductor.circuits) or 'no circuit'}",
        "Name a conductor of the one circuit that the fault shows in",
    )


def refuse_earth(conductor: Conductor) -> None:
    """Refuse to follow a protective conductor: it has no supply, and nothing hangs on it."""
    if conductor.function in PROTECTIVE:
        raise FaultLocationError(
            f"{conductor.tag} is a protective conductor ({conductor.function}), which isn't "
            "followed",
            "Name the line or neutral conductor beside it",
        )
