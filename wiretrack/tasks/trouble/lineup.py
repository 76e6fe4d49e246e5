# SPDX-License-Identifier: MIT
"""The suspects of a search for a fault, the readings that tell them apart, and old readings."""

from __future__ import annotations

from dataclasses import asdict, dataclass, field
from typing import TYPE_CHECKING, Any

from wiretrack.days import day
from wiretrack.electrical import symptoms
from wiretrack.errors import FaultLocationError
from wiretrack.model.entities import Conductor
from wiretrack.readings.base import is_conductor
from wiretrack.store import records
from wiretrack.store.searching import tag_of
from wiretrack.store.source import site_of
from wiretrack.tasks.test.crossings import standing
from wiretrack.tasks.test.testing import latest
from wiretrack.tasks.test.verdicts import Judge

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.electrical.symptoms import Symptom
    from wiretrack.model.entities import Reading
    from wiretrack.model.entity import Point
    from wiretrack.model.wiring import Link
    from wiretrack.store.store import Registry

EARTH = ("PE", "FE", "PEN")


def sole_circuit(conductor: Conductor) -> str:
    """Return the one circuit that a conductor serves.

    Raises
    ------
    FaultLocationError
        If it serves none, or several: where the fault shows isn't said by its tag then.
    """
    if len(conductor.circuits) == 1:
        return conductor.circuits[0]
    name, served = str(conductor.tag), " and ".join(conductor.circuits)
    raise FaultLocationError(
        f"{name} serves {served or 'no circuit'}",
        "Name a conductor of the one circuit that the fault shows in",
    )


@dataclass(frozen=True)
class Suspect:
    """One thing that may be at fault; `because` says what in the record speaks for or against.

    `what` and `code` name it in the record (of a short the tags of both conductors, with a
    comma), and `decide` says what would decide whether it is at fault.
    """

    name: str
    weight: float
    because: str
    what: str
    code: str | None
    decide: str


@dataclass
class Lineup:
    """The suspects of a search and the readings to choose of; `bad` lists suspects by number."""

    circuit: str
    subject: str
    suspects: list[Suspect] = field(default_factory=list)
    questions: list[dict[str, Any]] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)

    def suspect(
        self, name: str, what: str, code: str | None, decide: str, weight: float, because: str = ""
    ) -> int:
        """Add a suspect and return its number."""
        self.suspects.append(Suspect(name, weight, because, what, code, decide))
        return len(self.suspects) - 1

    def add_others(self, symptom: Symptom) -> None:
        """Add what no reading can show."""
        for name, decide in symptom.others:
            self.suspect(name, "other", None, decide, symptoms.OTHER_WEIGHT)

    def question(
        self,
        symptom: Symptom,
        box: str,
        between: tuple[str, str],
        bad: Sequence[int],
        *,
        parted: Sequence[str] = (),
        loads: str | None = None,
        ask: str | None = None,
    ) -> None:
        """Add a reading in a box that leaves the suspects `bad` if it is bad.

        It is read `between` two places, with the conductors `parted` disconnected in that box.
        """
        one, other = (place.replace("/", " ") for place in between)
        words = {
            "one": one, "other": other, "name": " and ".join(parted), "point": box,
        }  # fmt: skip
        self.questions.append({
            "box": box, "ask": (ask or symptom.ask).format(**words), "bad": sorted(bad),
            "bad_if": symptom.bad_if, "kind": symptom.kind, "between": list(between),
            "disconnected": list(parted), "loads": loads or symptom.loads, "live": symptom.live,
        })  # fmt: skip

    def as_json(self) -> dict[str, Any]:
        """Return what a stored search keeps, so that it goes on as it began."""
        return asdict(self)


def place_of(link: Link, point: Point) -> str:
    """Return an end as ``BOX/TERMINAL``; of one on no terminal the conductor's tag."""
    if link.what == "conductor" and not link.is_landed(point):
        return link.name
    return f"{point.enclosure}/{point.terminal}"


def refuse_earth(name: str, function: str) -> None:
    """Refuse to follow a protective conductor: it has no supply, and nothing hangs on it."""
    if function in EARTH:
        raise FaultLocationError(
            f"{name} is a protective conductor ({function}), which isn't followed",
            "Name the line or neutral conductor beside it",
        )


class Weigher:
    """Weighs conductors by their last readings, their ends and the places they run through."""

    def __init__(self, registry: Registry, symptom: Symptom) -> None:
        self._registry, self._symptom = registry, symptom
        self._judge = Judge(registry)

    def conductor(self, tag: str) -> tuple[float, str]:
        """Return a conductor's weight and what in the record speaks for it."""
        plain = tag_of(self._registry, tag)
        for end in site_of(self._registry).one(Conductor, plain).ends:
            if end.state in ("loose", "capped"):
                return symptoms.LOOSE_WEIGHT, f"its end in {end.enclosure} is {end.state}"
        return self._by_readings(plain, between=None)

    def pair(self, tag: str, other: str) -> tuple[float, str]:
        """Return the weight of a short between two conductors, and what speaks for it."""
        pair = [tag_of(self._registry, name) for name in (tag, other)]
        found = [self._by_readings(one, between=two) for one, two in (pair, pair[::-1])]
        weight, because = max(found, key=lambda one: (one[0] != 1.0, one[0]))
        return weight * symptoms.PAIR_WEIGHT, because

    def _by_readings(self, tag: str, between: str | None) -> tuple[float, str]:
        """Weigh by readings against another conductor, `between`, or else by all the others."""
        taken = standing(self._registry, latest(records.readings(self._registry, tags=[tag])))
        judged = [
            (reading, self._judge.verdict(reading).outcome)
            for reading in taken
            if reading.kind in self._symptom.baseline and _against(reading) == between
        ]
        for outcome in ("fail", "doubt", "pass"):
            of = [reading for reading, found in judged if found == outcome]
            if of:
                last = of[-1]
                because = f"{last.kind} {last.value} on {day(last.at)}: {outcome}"
                return symptoms.VERDICT_WEIGHTS[outcome], because
        return 1.0, f"no {' or '.join(self._symptom.baseline)} reading on record"


def _against(reading: Reading) -> str | None:
    """Return the other conductor that a reading is against; `None` of any other reading."""
    return reading.against if is_conductor(reading.against) else None
