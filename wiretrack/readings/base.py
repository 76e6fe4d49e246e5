# SPDX-License-Identifier: MIT
"""What every kind of reading answers, and what judging one asks of the record.

Each kind has a file here, named as the kind, that holds its one instance as `KIND`. Nothing else
asks for a kind by its name where the answer is one of those below.
"""

from __future__ import annotations

import re
from abc import ABC, abstractmethod
from typing import TYPE_CHECKING, Any, ClassVar

from wiretrack import days
from wiretrack.electrical.accuracy import UNKNOWN_METER, meter_of
from wiretrack.electrical.cautions import around
from wiretrack.electrical.limits import between
from wiretrack.electrical.strings import CELL_C
from wiretrack.electrical.supplies import circuit_facts
from wiretrack.late import dataclass
from wiretrack.model.circuits import together
from wiretrack.model.entities import Circuit, Conductor
from wiretrack.model.parts import Instrument
from wiretrack.model.tags import format_tag, is_plain_tag, parse_tag
from wiretrack.model.wiring import Wiring

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence, Set

    from wiretrack.electrical.accuracy import Meter
    from wiretrack.electrical.quantities import Measured
    from wiretrack.electrical.supplies import CircuitFacts
    from wiretrack.electrical.trending import Trend
    from wiretrack.electrical.voltage import ExpectedVoltage
    from wiretrack.model.entities import Reading
    from wiretrack.model.entity import PlannedTest, Verdict
    from wiretrack.model.site import Site

OTHER_THINGS = ("raceway", "PE")  # both are earth
# What a reading may be of, and how people write that.
SUBJECTS = {
    "conductor": "a conductor by its tag",
    "device": "a device as BOX/DEVICE",
    "circuit": "a circuit by its code",
}
# What is possible for the facts of a reading: from, to, what it is called, unit.
LIMITS = {
    "leads_ohm": (0.0, 1000.0, "Leads' resistance", "ohm"),
    "temp_c": (-100.0, 250.0, "Temperature", "°C"),  # no table of wires or insulation goes further
    "cell_temp_c": (*CELL_C, "Cell temperature", "°C"),
    "test_voltage_v": (0.0, 50_000.0, "Test voltage", "V"),
}
ReadingKey = tuple[str, str, "str | None"]


class Record:
    """What judging a reading asks of the record, beyond the reading and its conductor."""

    def __init__(self, site: Site) -> None:
        self.site, self._wiring = site, Wiring(site)
        self._circuits: dict[tuple[str, ...], Circuit] = {}
        self._facts: dict[tuple[str, ...], CircuitFacts] = {}
        self._meters: dict[str | None, Meter] = {None: UNKNOWN_METER}

    def circuit(self, *codes: str) -> Circuit:
        """Return the circuit of that code, or what several have in common."""
        if codes not in self._circuits:
            self._circuits[codes] = together([self.site.one(Circuit, code) for code in codes])
        return self._circuits[codes]

    def facts(self, *codes: str) -> CircuitFacts:
        """Return what the record says of the voltages of a circuit, or of several together."""
        if codes not in self._facts:
            members = self.site.find(Conductor, "circuit", codes)
            functions = [c.function for c in members if c.retired_at is None]
            self._facts[codes] = circuit_facts(self.circuit(*codes), functions, self.site.facts)
        return self._facts[codes]

    def conductor(self, tag: str) -> Conductor:
        """Return the conductor of that tag."""
        return self.site.one(Conductor, tag)

    def meter(self, code: str | None) -> Meter:
        """Return what is known of the instrument of that code; `None` is one not named."""
        if code not in self._meters:
            found = self.site.one(Instrument, code or "")
            self._meters[code] = meter_of(found.accuracy, found.resolution, found.code, found.range)
        return self._meters[code]

    def in_series(self, one: str, other: str) -> list[str]:
        """Return the tags from `one` to `other`, each joined with the next; empty if not."""
        from wiretrack.model.path import in_series

        first, last = (self._wiring.link(self.conductor(tag)) for tag in (one, other))
        return [parse_tag(link.name) for link in in_series(self._wiring, first, last)]

    def return_of(self, conductor: Conductor) -> str | None:
        """Return the tag of the one protective conductor beside it; `None` if none is sure."""
        found = [
            c.tag
            for c in self.site.find(Conductor, "circuit", conductor.circuits)
            if c.function in ("PE", "PEN")
            and c.retired_at is None
            and c.between == conductor.between
            and c.tag != conductor.tag
        ]
        return found[0] if len(found) == 1 else None


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

    `name` is what people and files write, `title` says it in words, `order` is its place in the
    working order. `unit` is stored and typed, `symbol` is printed; `prefix` is the one that a form
    begins with, and `signed` says whether the value has a sign. `subjects` are what it is read of:
    words of `SUBJECTS`. `against` are the words for what it may be taken against, or at; one that
    is read of conductors may be taken against another one too; `to` stands between the two.
    `fields` are the facts of a reading that only some kinds have. `precautions` are read before;
    where `is_guarded` they are confirmed too, and `caution` is the one line that stands for them.
    `leads_on` says in a line what to connect where, of ``{subject}``, ``{against}``, ``{near}`` and
    ``{far}``; `if_failed` is the job that follows a failed one, and its words. `rests_on_landing`
    says whether it proves nothing once the ends that it was taken at are found crossed.
    """

    name: ClassVar[str]
    title: ClassVar[str]
    unit: ClassVar[str] = "ohm"
    symbol: ClassVar[str] = "Ω"
    prefix: ClassVar[str] = ""
    signed: ClassVar[bool] = False
    order: ClassVar[int]
    subjects: ClassVar[tuple[str, ...]] = ("conductor",)
    against: ClassVar[tuple[str, ...]] = OTHER_THINGS
    to: ClassVar[str] = "to"
    fields: ClassVar[tuple[str, ...]]
    precautions: ClassVar[tuple[str, ...]]
    caution: ClassVar[str]
    is_guarded: ClassVar[bool]
    leads_on: ClassVar[str]
    if_failed: ClassVar[tuple[str, ...]] = ("test",)
    rests_on_landing: ClassVar[bool] = True
    trend: ClassVar[TrendRule | None] = None

    @property
    def read_of(self) -> str:
        """What it is read of, in words."""
        return " or ".join(self.subjects)

    @property
    def counterparts(self) -> str:
        """What it may be taken against, in words."""
        tags = ["a tag"] if "conductor" in self.subjects else []
        *first, last = [*tags, *self.against]
        return f"{', '.join(first)} or {last}" if first else last

    def told(self, against: str | None) -> str:
        """Return what was read against what, in words: ``insulation to PE``."""
        return f"{self.name} {self.to} {against}" if against else self.name

    @abstractmethod
    def parse(self, text: str) -> Measured:
        """Return what was read.

        Raises `QuantityError` or `OutOfRangeError` if `text` is not such a quantity, or an
        impossible one.
        """

    @abstractmethod
    def judge(self, measured: Measured, reading: Reading, subject: Any, record: Record) -> Verdict:
        """Return what a reading proves about its subject: an entity of a kind of `subjects`.

        Raises `BadInputError` if it can't be judged at all: it mustn't be stored.
        """

    @abstractmethod
    def owed(self, circuit: Circuit) -> list[PlannedTest]:
        """Return the readings of this kind that a circuit needs, in working order.

        They are of its conductors in use, of its devices or of itself.
        """

    def proves(self, step: PlannedTest, logged: Set[ReadingKey]) -> bool:
        """Return whether a reading that was taken is the one that `step` asks for.

        The protective conductor and the metal raceway are both earth, so a reading to one stands
        for the other.
        """
        against = OTHER_THINGS if step.against in OTHER_THINGS else (step.against,)
        return any((step.kind, step.subject, other) in logged for other in against)

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

        PV and batteries have dangers of their own, and `places`, the kinds of the
        enclosures at both ends, too: a roof adds what holds there.
        """
        return around(self.precautions, [system], places)

    def entry(self) -> Entry:
        """Return how one is typed into a form."""
        return Entry(
            self.unit, self.symbol, self.prefix, self.signed, self.is_guarded, self.fields,
            self.counterparts,
        )  # fmt: skip


@dataclass(frozen=True)
class Entry:
    """How a reading is typed into a form."""

    unit: str
    symbol: str
    prefix: str
    signed: bool
    guarded: bool
    fields: tuple[str, ...]
    against: str


def with_unit(text: str, prefix: str, unit: str) -> str:
    """Return a value as one types it in full, where it is a bare number.

    >>> [with_unit(text, "M", "ohm") for text in (">2000", "0.31 ohm", "OL")]
    ['>2000 Mohm', '0.31 ohm', 'OL']
    """
    return f"{text} {prefix}{unit}" if re.fullmatch(r">?[-+]?[0-9.,]+", text) else text


def refuse_impossible(name: str, value: float | None) -> None:
    """Refuse a fact of a reading that is beyond its `LIMITS`."""
    if value is not None and name in LIMITS:
        low, high, called, unit = LIMITS[name]
        between(low, high, called, value, unit)


def is_conductor(against: str | None) -> bool:
    """Return whether a reading was taken against another conductor."""
    return against is not None and is_plain_tag(against)


def sections(conductors: Sequence[Conductor]) -> list[list[Conductor]]:
    """Return the conductors by the boxes that they lie between."""
    found: dict[frozenset[str], list[Conductor]] = {}
    for conductor in conductors:
        found.setdefault(conductor.between, []).append(conductor)
    return list(found.values())


def written(against: str | None) -> str | None:
    """Return what a reading was taken against, a tag as people write it."""
    return format_tag(against) if against and is_conductor(against) else against


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
