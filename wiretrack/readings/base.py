# SPDX-License-Identifier: MIT
"""What every kind of reading answers, and what judging one asks of the record.

Each kind has a file here, named as the kind, that holds its one instance as `KIND`. Nothing else
asks for a kind by its name where the answer is one of those below.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, ClassVar, Protocol

from wiretrack import days
from wiretrack.electrical.cautions import around
from wiretrack.model.tags import format_tag

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence, Set

    from wiretrack.electrical.accuracy import Meter
    from wiretrack.electrical.expected_voltage import ExpectedVoltage
    from wiretrack.electrical.insulation_limits import Basis
    from wiretrack.electrical.quantities import Measured
    from wiretrack.electrical.supplies import CircuitFacts
    from wiretrack.electrical.trending import Trend
    from wiretrack.model.entities import Circuit, Conductor, Reading
    from wiretrack.model.knowledge import PlannedTest, Verdict

OTHER_THINGS = ("raceway", "PE")  # what a reading may be taken against, beside a conductor
ReadingKey = tuple[str, str, "str | None"]


class Record(Protocol):
    """What judging a reading asks of the record, beyond the reading and its conductor."""

    def circuit(self, *codes: str) -> Circuit:
        """Return the circuit of that code, or what several have in common."""

    def facts(self, *codes: str) -> CircuitFacts:
        """Return what the record says of the voltages of a circuit, or of several."""

    def conductor(self, tag: str) -> Conductor:
        """Return the conductor of that tag."""

    def meter(self, code: str | None) -> Meter:
        """Return what is known of the instrument of that code; `None` is one not named."""

    def in_series(self, one: str, other: str) -> Sequence[str]:
        """Return the tags from `one` to `other`, each joined with the next; empty if not."""

    def return_of(self, conductor: Conductor) -> str | None:
        """Return the tag of the one protective conductor beside it; `None` if none is sure."""


@dataclass(frozen=True)
class PlanConductor:
    """A conductor of the circuit: its tag, its function, and the two boxes it lies between.

    Conductors between the same boxes are a section of the circuit; one is read against another of
    its own section where there is one.
    """

    tag: str
    function: str
    between: frozenset[str] | None = None


@dataclass(frozen=True)
class PlanCircuit:
    """The circuit whose readings are planned; voltages in V, `None` is unknown."""

    system: str | None
    conductors: tuple[PlanConductor, ...]
    max_voltage_v: float | None
    voc_stc_v: float | None
    metal_raceway: bool | None
    basis: Basis


@dataclass(frozen=True)
class TrendRule:
    """How readings of a kind are followed over the years.

    `spread` is what they differ by meaning nothing: a share of the largest, or in the logarithm
    where `is_log`. Those followed by logarithm get worse as they fall, the others as they rise.
    """

    spread: float
    is_log: bool


@dataclass(frozen=True)
class AtReference:
    """A reading at the reference temperature in its unit, how it got there, and by which rule."""

    value: float
    note: str
    source: str


class ReadingKind(ABC):
    """One kind of reading.

    `name` is what people and files write, `title` says it in words. `unit` is stored and typed,
    `symbol` is printed; `prefix` is the one that a form begins with, and `signed` says whether the
    value has a sign. `subjects` are what it is read of: a conductor, a device or a circuit.
    `fields` are the facts of a reading that only some kinds have. `precautions` are read before;
    where `is_guarded` they are confirmed too. `rests_on_landing` says whether it proves nothing
    once the ends that it was taken at are found crossed.
    """

    name: ClassVar[str]
    title: ClassVar[str]
    unit: ClassVar[str] = "ohm"
    symbol: ClassVar[str] = "Ω"
    prefix: ClassVar[str] = ""
    signed: ClassVar[bool] = False
    subjects: ClassVar[tuple[str, ...]] = ("conductor",)
    fields: ClassVar[tuple[str, ...]]
    precautions: ClassVar[tuple[str, ...]]
    is_guarded: ClassVar[bool]
    rests_on_landing: ClassVar[bool] = True
    trend: ClassVar[TrendRule | None] = None

    @property
    def read_of(self) -> str:
        """What it is read of, in words."""
        return " or ".join(self.subjects)

    @abstractmethod
    def parse(self, text: str) -> Measured:
        """Return what was read.

        Raises
        ------
        QuantityError, OutOfRangeError
            If `text` is not such a quantity, or an impossible one.
        """

    @abstractmethod
    def judge(self, measured: Measured, reading: Reading, subject: Any, record: Record) -> Verdict:
        """Return what a reading proves about its subject: an entity of a kind of `subjects`.

        Raises
        ------
        BadInputError
            If it can't be judged at all: it mustn't be stored.
        """

    @abstractmethod
    def owed(self, circuit: PlanCircuit) -> list[PlannedTest]:
        """Return the readings of this kind that a circuit needs, in working order."""

    def proves(self, step: PlannedTest, taken: Set[ReadingKey]) -> bool:
        """Return whether a reading that was taken is the one that `step` asks for.

        The protective conductor and the metal raceway are both earth, so a reading to one stands
        for the other.
        """
        against = OTHER_THINGS if step.against in OTHER_THINGS else (step.against,)
        return any((step.kind, step.subject, other) in taken for other in against)

    def expected(
        self, step: PlannedTest, facts: CircuitFacts, functions: Mapping[str | None, str]
    ) -> ExpectedVoltage | None:
        """Return what the meter should show at a step, `None` where it isn't known beforehand."""
        return None

    def meant_otherwise(self, measured: Measured) -> tuple[str, str] | None:
        """Return the two ways to write a value whose unit was likely another, else `None`."""
        return None

    def compares(self, reading: Reading) -> bool:
        """Return whether a reading may stand beside those of other years."""
        return True

    def at_reference(self, reading: Reading) -> Trend | None:
        """Return a reading brought to 20 °C by a table for its own kind, `None` where it can't."""
        return None

    def at_20(self, reading: Reading, conductor: Conductor) -> AtReference:
        """Return a reading with a number as it counts in a trend."""
        return AtReference(reading.number or 0.0, "as read", "")

    def limit_at_20(self, limit: float, reading: Reading, at_20: float) -> float:
        """Return the limit of a reading as it counts in a trend, where the reading is `at_20`."""
        return limit

    def cautions(self, system: str | None = None, places: tuple[str, ...] = ()) -> tuple[str, ...]:
        """Return what to read before taking one, the last word last.

        Parameters
        ----------
        system : str, optional
            System of the circuit; PV and batteries have dangers of their own.
        places : tuple of str
            Kinds of the enclosures at both ends; a roof adds what holds there.
        """
        return around(self.precautions, system, places)

    def entry(self) -> Entry:
        """Return how one is typed into a form."""
        return Entry(self.unit, self.symbol, self.prefix, self.signed, self.is_guarded, self.fields)


@dataclass(frozen=True)
class Entry:
    """How a reading is typed into a form."""

    unit: str
    symbol: str
    prefix: str
    signed: bool
    guarded: bool
    fields: tuple[str, ...]


def is_conductor(against: str | None) -> bool:
    """Return whether a reading was taken against another conductor."""
    return against is not None and against not in OTHER_THINGS


def sections(conductors: Sequence[PlanConductor]) -> list[list[PlanConductor]]:
    """Return the conductors by the boxes that they lie between."""
    found: dict[frozenset[str] | None, list[PlanConductor]] = {}
    for conductor in conductors:
        found.setdefault(conductor.between, []).append(conductor)
    return list(found.values())


def written(against: str | None) -> str | None:
    """Return what a reading was taken against, a tag as people write it."""
    return against if against in (None, *OTHER_THINGS) else format_tag(against)


def latest(found: Iterable[Reading]) -> list[Reading]:
    """Return the last of each kind, subject and other thing; superseded ones don't count.

    `found` is in order of time.
    """
    found = list(found)
    superseded = {reading.supersedes for reading in found if reading.supersedes}
    return list({r.key: r for r in found if r.id not in superseded}.values())


def in_time(found: Iterable[Reading]) -> list[Reading]:
    """Return readings in order of time; those of the future come first."""
    return sorted(found, key=lambda reading: days.in_time(reading.at))
