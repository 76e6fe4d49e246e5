# SPDX-License-Identifier: MIT
"""What a circuit owes, in working order; what is asked before a reading; how readings went on."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.errors import BadInputError, Hint, NotFoundError
from wiretrack.late import dataclass
from wiretrack.manner import words
from wiretrack.model.entities import Circuit, Conductor
from wiretrack.model.entity import subject_text
from wiretrack.model.parts import Device, Instrument
from wiretrack.model.tags import format_tag
from wiretrack.readings import BY_NAME, KINDS, TRENDED, kind_of
from wiretrack.readings.base import written
from wiretrack.readings.judging import Judge
from wiretrack.readings.trending import trend_of
from wiretrack.store.searching import resolve, tag_of
from wiretrack.store.source import site_of
from wiretrack.tasks.change.retired import retirement
from wiretrack.tasks.test.cautions import cautions_of
from wiretrack.tasks.test.testing import revision, subject_named

if TYPE_CHECKING:
    from wiretrack.electrical.voltage import ExpectedVoltage
    from wiretrack.readings.trending import ConductorTrend
    from wiretrack.store.store import Registry
    from wiretrack.tasks.change.retired import Retirement
    from wiretrack.tasks.test.testing import Thing


@dataclass(frozen=True)
class OwedTest:
    """A reading still owed, as people write it; `expected` is what the meter should show."""

    kind: str
    subject: str
    against: str | None
    test_voltage: float | None
    source: str
    why: str
    expected: ExpectedVoltage | None


@dataclass(frozen=True)
class ToMeasure:
    """What a reading is of: its name, what the reader relies on, and the `revision` of that.

    `shown` is the code of the record whose page shows it.
    """

    what: str
    name: str
    shown: str
    facts: dict[str, str | float | None]
    seen: str

    @classmethod
    def of(cls, thing: Thing) -> ToMeasure:
        """Return what there is to say of a conductor, a device or a circuit."""
        if isinstance(thing, Conductor):
            told = {key: getattr(thing, key) for key in ("circuit", "function", "size", "colour")}
            told["length_m"] = thing.length_m
            told |= {"from": thing.from_end.place, "to": thing.to_end.place}
            return cls("conductor", str(thing.tag), str(thing.tag), told, revision(thing))
        if isinstance(thing, Device):
            told = {"kind": thing.kind, "rating_a": thing.rating_a}
            name = f"{thing.enclosure}/{thing.code}"
            return cls("device", name, thing.enclosure, told, revision(thing))
        told = {"circuit": thing.title, "system": thing.system, "supply": thing.supply}
        return cls("circuit", thing.code, thing.code, told, revision(thing))


@dataclass(frozen=True)
class WorkingPlan:
    """A circuit's owed readings, the cautions of each kind, and what each reading is of."""

    code: str
    title: str | None
    steps: tuple[OwedTest, ...]
    cautions: dict[str, tuple[str, ...]]
    subjects: dict[str, ToMeasure]


@dataclass(frozen=True)
class ReadingForm:
    """What is asked and said before a reading of a thing is typed; `kinds` are read of such."""

    kind: str
    kinds: tuple[str, ...]
    of: ToMeasure
    cautions: tuple[str, ...]
    retired: Retirement | None


def owed_tests(registry: Registry, circuit: str) -> list[OwedTest]:
    """Return the readings that a circuit still owes, in working order."""
    code = resolve(registry, circuit, ("circuit",)).code
    judge = Judge(site_of(registry))
    record = judge.site.one(Circuit, code)
    functions: dict[str | None, str] = {c.tag: c.function for c in record.in_service}
    return [
        OwedTest(
            step.kind, subject_text(step.subject), written(step.against), step.test_voltage_v,
            step.source, words(step.why),
            kind_of(step.kind).expected(step, judge.facts(code), functions),
        )
        for step in judge.owed(record)
    ]  # fmt: skip


def working_plan(registry: Registry, circuit: str) -> WorkingPlan:
    """Return a circuit's owed readings, the cautions of each kind, and what each reading is of."""
    code = resolve(registry, circuit, ("circuit",)).code
    site = site_of(registry)
    record, steps = site.one(Circuit, code), owed_tests(registry, code)
    of = {told.name: told for told in map(ToMeasure.of, record.measurable)}
    return WorkingPlan(
        code=code,
        title=record.title,
        steps=tuple(steps),
        cautions={
            kind: cautions_of(site, kind, record)
            for kind in dict.fromkeys(step.kind for step in steps)
        },
        subjects={step.subject: of[step.subject] for step in steps},
    )


def reading_form(registry: Registry, name: str, kind: str = "") -> ReadingForm:
    """Return what is asked before a reading of what is called `name`, of `kind` where it fits."""
    thing = _measurable(registry, name, kind)
    of = ToMeasure.of(thing)
    kinds = tuple(each.name for each in KINDS if of.what in each.subjects)
    kind = kind if kind in kinds else kinds[0]
    gone = retirement(thing) if isinstance(thing, Conductor) else None
    return ReadingForm(kind, kinds, of, cautions_of(site_of(registry), kind, thing), gone)


def _measurable(registry: Registry, name: str, kind: str) -> Thing:
    """Return what is called so, as the kind asked for is read of, else any kind."""
    fault: BadInputError | None = None
    for asked in sorted(BY_NAME, key=lambda one: one != kind):
        try:
            return subject_named(registry, asked, name)
        except BadInputError as error:
            fault = fault or error
    raise fault or NotFoundError("reading", name)


def instrument_codes(registry: Registry) -> list[tuple[str, str | None]]:
    """Return the code and the kind of each instrument, in the order of the record."""
    return [(instrument.code, instrument.kind) for instrument in site_of(registry).all(Instrument)]


def trend(registry: Registry, text: str, kind: str | None = None) -> ConductorTrend:
    """Return the series of a conductor's readings, one for each kind and other thing."""
    if kind is not None and kind not in TRENDED:
        raise BadInputError(f"'{kind}' has no trend. Kinds: {', '.join(TRENDED)}.")
    tag = tag_of(registry, text)
    conductor = Judge(site_of(registry)).conductor(tag)
    found = trend_of(conductor, conductor.readings, [kind] if kind else TRENDED)
    if not found.series:
        raise BadInputError(
            f"{format_tag(tag)} has no dated reading to follow.",
            Hint(job="log", about=format_tag(tag)),
        )
    return found
