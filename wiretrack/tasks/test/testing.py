# SPDX-License-Identifier: MIT
"""Tests: which readings a circuit still owes, storing one, and what it proves."""

from __future__ import annotations

from dataclasses import asdict, dataclass, replace
from typing import TYPE_CHECKING, Any

from wiretrack import days
from wiretrack.days import not_after
from wiretrack.electrical.limits import between
from wiretrack.electrical.quantities import (
    parse_duration_s,
    parse_resistance_ohm,
    parse_temperature,
    parse_voltage,
)
from wiretrack.electrical.quantity_text import format_measured
from wiretrack.electrical.strings import CELL_C
from wiretrack.errors import (
    BadInputError,
    NotFoundError,
    OutOfRangeError,
    TagError,
    UnlikelyValueError,
)
from wiretrack.model.entities import Circuit, Conductor, Enclosure, Reading
from wiretrack.model.entity import Point, Subject, devices_in
from wiretrack.model.parts import Device, Instrument
from wiretrack.model.tags import format_tag, looks_like_tag, parse_tag
from wiretrack.readings import kind_of, parse_reading
from wiretrack.readings.base import OTHER_THINGS, written
from wiretrack.readings.judging import Judge
from wiretrack.store import reading_log
from wiretrack.store.searching import resolve, tag_of
from wiretrack.store.source import site_of
from wiretrack.tasks.change.retired import (
    ABANDONED,
    ABANDONED_CAUTION,
    refuse_retired,
    refuse_retired_circuit,
)
from wiretrack.tasks.free_text import check_text
from wiretrack.tasks.test.moments import time_of

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from wiretrack.electrical.quantities import Measured
    from wiretrack.model.site import Site
    from wiretrack.store.store import Registry

    Thing = Conductor | Device | Circuit


@dataclass(frozen=True, kw_only=True)
class ReadingText:
    """A reading as somebody typed it; `None` is not stated."""

    subject: str
    kind: str
    value: str
    leads: str | None = None
    temp: str | None = None
    cell_temp: str | None = None
    instrument: str | None = None
    at: str | None = None
    against: str | None = None
    test_voltage: str | None = None
    after: str | None = None
    by: str | None = None
    note: str | None = None
    supersedes: str | None = None
    id: str | None = None


def owed_tests(registry: Registry, circuit: str) -> list[dict[str, Any]]:
    """Return the readings that a circuit still owes, in working order.

    A reading is owed until one that isn't superseded passes, and again once the landing that it
    rests on was found crossed. A retired circuit owes none.
    """
    code = resolve(registry, circuit, ("circuit",)).code
    judge = Judge(site_of(registry))
    record = judge.site.one(Circuit, code)
    functions: dict[str | None, str] = {c.tag: c.function for c in record.in_service}
    return [
        {
            **step.as_json(),
            "subject": format_tag(step.subject),
            "against": written(step.against),
            "expected": expected and asdict(expected),
        }
        for step in judge.owed(record)
        for expected in [kind_of(step.kind).expected(step, judge.facts(code), functions)]
    ]


def log_reading(registry: Registry, text: ReadingText, *, who: str | None = None) -> dict[str, Any]:
    """Store a reading; return its id, its verdict and the cautions for the next of its kind.

    Raises
    ------
    BadInputError
        If a field can't be understood; nothing is stored.
    """
    judge = Judge(site_of(registry))
    reading = check_reading(registry, text, judge)
    record = reading_log.add_reading(registry, reading, who=who)
    return what_it_proves(replace(reading, id=record), judge)


def what_it_proves(reading: Reading, judge: Judge) -> dict[str, Any]:
    """Return a stored reading's id, its verdict and the cautions for the next of its kind."""
    subject = judge.subject(reading)
    return {
        "id": reading.id,
        "verdict": judge.verdict(reading).as_json(),
        "cautions": list(_cautions_of(judge.site, reading.kind, subject)),
    }


def check_reading(registry: Registry, text: ReadingText, judge: Judge) -> Reading:
    """Return the reading that `text` says, every field of it checked, and a rule to judge it by.

    Raises
    ------
    UnlikelyValueError
        If insulation was likely read in megohms, and the value says ohms.
    BadInputError
        If a field can't be understood, the time lies in the future, or no rule can judge it.
    """
    measured = parse_reading(text.kind, text.value)
    measured_at = subject_of(registry, text, judge)
    subject = subject_named(measured_at)
    at = time_of(text.at) if text.at else days.now()
    refuse_future(at)
    check_subject(registry, measured_at, at)
    reading = Reading(
        kind=text.kind,
        subject=subject,
        value=text.value.strip(),
        number=measured.number,
        unit=measured.unit,
        over_range=measured.over_range,
        at=at,
        instrument=_instrument(registry, text.instrument, judge),
        leads_ohm=_leads(text.leads),
        temp_c=parse_temperature(text.temp) if text.temp else None,
        cell_temp_c=_cell_temp(text.cell_temp),
        against=_against(registry, text.against, subject),
        test_voltage_v=_test_voltage(text.test_voltage),
        after_s=parse_duration_s(text.after) if text.after else None,
        by=check_text("The name", text.by),
        note=check_text("The note", text.note),
        supersedes=_superseded(registry, text.supersedes),
        id=text.id,
    )
    refuse_unlikely(text.kind, measured)
    judge.check(reading)
    return reading


def refuse_future(at: str | None) -> None:
    """Refuse a moment that lies ahead of this machine's clock.

    Raises
    ------
    BadInputError
        If it does, by more than clocks differ.
    """
    if days.in_future(at):
        raise BadInputError(
            f"{at} lies in the future: it is {days.moment(days.now())} here."
            " Give the time when it was read."
        )


def refuse_unlikely(kind: str, measured: Measured) -> None:
    """Refuse insulation in ohms or less where megohms were likely meant.

    Raises
    ------
    UnlikelyValueError
        If the unit was left out or slipped.
    """
    choices = kind_of(kind).meant_otherwise(measured)
    if choices:
        raise UnlikelyValueError(measured.text, format_measured(measured), choices)


def subject_of(registry: Registry, text: ReadingText, judge: Judge) -> Thing:
    """Return what a reading is of: a conductor by its tag, or what else its kind is read of.

    A code wins over a tag.

    Raises
    ------
    NotFoundError, TagError
        If there is none; what is a slip away is named.
    """
    kind, name = kind_of(text.kind), text.subject
    if "device" in kind.subjects:
        for place in devices_in(name):
            for device in judge.site.at(Device, "place", Point(*place)):
                return device
    if "circuit" in kind.subjects:
        for circuit in judge.site.at(Circuit, "code", name):
            return circuit
    if "conductor" not in kind.subjects:
        raise BadInputError(
            f"'{name}' is no {kind.read_of}: {kind.name} is read of one. Write a device as"
            " BOX/DEVICE, a circuit as its code."
        )
    try:
        return judge.conductor(parse_tag(name))
    except (NotFoundError, TagError):
        return judge.conductor(tag_of(registry, name))


def subject_named(measured_at: Thing) -> str:
    """Return the name by which a reading is of a conductor, a device or a circuit."""
    if isinstance(measured_at, Conductor):
        return measured_at.tag
    if isinstance(measured_at, Device):
        return Subject.of_device(measured_at.enclosure, measured_at.code)
    return Subject(measured_at.code)


def check_subject(registry: Registry, measured_at: Thing, at: str) -> None:
    """Refuse a reading of a conductor or circuit that was gone by then.

    One taken before may come late, from a phone that had no signal. An abandoned conductor is
    still there and may be tested.

    Raises
    ------
    RetiredError
        If it was retired before `at`, and isn't in its place any more.
    """
    retired_at = None if isinstance(measured_at, Device) else measured_at.retired_at
    if retired_at is None or not_after(at, retired_at):
        return
    if isinstance(measured_at, Circuit):
        refuse_retired_circuit(measured_at)
    elif isinstance(measured_at, Conductor) and measured_at.retired_because != ABANDONED:
        refuse_retired(registry, measured_at)


def cautions_for(registry: Registry, kind: str, what: str) -> tuple[str, ...]:
    """Return what to read before a reading of `kind` on the conductor or circuit `what`."""
    named, site = resolve(registry, what, ("conductor", "circuit")), site_of(registry)
    of: type[Conductor | Circuit] = Conductor if named.what == "conductor" else Circuit
    return _cautions_of(site, kind, site.one(of, named.code))


def _cautions_of(site: Site, kind: str, measured_at: Thing) -> tuple[str, ...]:
    if isinstance(measured_at, Conductor):
        return cautions_at(site, kind, [measured_at], measured_at.circuits)
    if isinstance(measured_at, Circuit):
        found = site.find(Conductor, "circuit", [measured_at.code])
        return cautions_at(site, kind, found, [measured_at.code])
    places = {Point(measured_at.enclosure, name) for pole in measured_at.poles for name in pole}
    found = site.find(Conductor, "terminal", places)
    circuits = [code for conductor in found for code in conductor.circuits]
    return cautions_at(site, kind, found, circuits, {measured_at.enclosure})


def cautions_at(
    site: Site, kind: str, found: Sequence[Conductor], circuits: Collection[str],
    boxes: Collection[str] | None = None,
) -> tuple[str, ...]:  # fmt: skip
    """Return what to read before a reading of `kind` at the ends of conductors of circuits.

    `boxes` are the enclosures to be opened, where they aren't those of the ends.
    """
    systems = {c.system: None for c in site.find(Circuit, "code", circuits)} or {None: None}
    if boxes is None:
        boxes = {end.enclosure for c in found for end in c.ends}
    kinds = {e.kind for e in site.find(Enclosure, "code", boxes) if e.kind}
    warned = (kind_of(kind).cautions(system, tuple(sorted(kinds))) for system in systems)
    found_cautions = tuple(dict.fromkeys(caution for each in warned for caution in each))
    abandoned = any(c.retired_because == ABANDONED for c in found)
    return (ABANDONED_CAUTION, *found_cautions) if abandoned else found_cautions


def _instrument(registry: Registry, code: str | None, judge: Judge) -> str | None:
    if not code or judge.site.at(Instrument, "code", code):
        return code or None
    return resolve(registry, code, ("instrument",)).code


def _leads(text: str | None) -> float | None:
    if not text:
        return None
    ohms = parse_resistance_ohm(text)
    if not 0 <= ohms < 1000:
        raise OutOfRangeError("Leads' resistance", ohms, "ohm", "from 0 to below 1000 ohm")
    return ohms


def _cell_temp(text: str | None) -> float | None:
    if not text:
        return None
    cell_c = parse_temperature(text)
    between(*CELL_C, "Cell temperature", cell_c, "°C")
    return cell_c


def _test_voltage(text: str | None) -> float | None:
    if not text:
        return None
    volts = parse_voltage(text)
    if not 0 < volts <= 50_000:
        raise OutOfRangeError("Test voltage", volts, "V", "above 0 and at most 50000 V")
    return volts


def _against(registry: Registry, text: str | None, subject: str) -> str | None:
    if not text:
        return None
    for thing in OTHER_THINGS:
        if text.strip().casefold() == thing.casefold():
            return thing
    if not looks_like_tag(text):
        raise BadInputError(f"'{text}' is nothing to read against. Give a tag, raceway or PE.")
    tag = tag_of(registry, text)
    if tag == subject:
        raise BadInputError(
            f"{format_tag(tag)} can't be read against itself. Name the other conductor."
        )
    return tag


def _superseded(registry: Registry, record: str | None) -> str | None:
    if not record:
        return None
    site = site_of(registry)
    if site.at(Reading, "supersedes", record):
        raise BadInputError(f"Reading {record} is superseded already. Supersede the later one.")
    if not site.at(Reading, "id", record):
        raise NotFoundError("reading", record)
    return record
