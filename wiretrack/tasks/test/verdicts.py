# SPDX-License-Identifier: MIT
"""What a stored reading proves: its conductor, circuit and instrument put to the electrical rules.

Verdicts are never stored. They follow from the reading and from what the record says now, so a
corrected length or size corrects every verdict that rests on it.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cached_property
from typing import TYPE_CHECKING, TypedDict

from wiretrack import days
from wiretrack.electrical.accuracy import UNKNOWN_METER, meter_of
from wiretrack.electrical.continuity import Piece, continuity_verdict, loop_verdict
from wiretrack.electrical.insulation import insulation_verdict
from wiretrack.electrical.polarity import polarity_source, voltage_verdict
from wiretrack.electrical.quantities import parse_reading
from wiretrack.electrical.quantity_text import format_measured
from wiretrack.electrical.strings import Modules
from wiretrack.electrical.supplies import EARTHS, CircuitFacts
from wiretrack.electrical.verdicts import Verdict
from wiretrack.errors import BadInputError, FaultLocationError
from wiretrack.model.entities import Conductor
from wiretrack.model.path import in_series
from wiretrack.model.tags import format_tag, parse_tag
from wiretrack.model.wiring import Wiring
from wiretrack.model.words import READING_KINDS
from wiretrack.store import records
from wiretrack.store.source import site_of

if TYPE_CHECKING:
    from wiretrack.electrical.accuracy import Meter
    from wiretrack.electrical.quantities import Measured
    from wiretrack.model.entities import Circuit, Instrument, Reading, SiteFacts
    from wiretrack.model.site import Site
    from wiretrack.store.store import Registry

OTHER_THINGS = ("raceway", "PE")


def written(against: str | None) -> str | None:
    """Return what a reading was taken against, a tag as people write it."""
    return against if against in (None, *OTHER_THINGS) else format_tag(against)


class _Ohms(TypedDict):
    """What a verdict on a resistance needs beside the path."""

    temp_c: float | None
    leads_ohm: float | None
    meter: Meter


class Judge:
    """Judges the readings of one registry, looking each circuit and instrument up once."""

    def __init__(self, registry: Registry) -> None:
        self._registry, self._records = registry, site_of(registry)
        self._circuits: dict[str, Circuit] = {}
        self._meters: dict[str, Meter] = {}
        self._conductors: dict[str, Conductor] = {}
        self._facts: dict[str, CircuitFacts] = {}

    def verdict(self, reading: Reading, conductor: Conductor | None = None) -> Verdict:
        """Return what a stored reading proves about its conductor.

        One of the future proves nothing, nor does one that no rule can judge.
        """
        try:
            found = self.check(reading, conductor)
        except BadInputError as error:
            found = Verdict("doubt", None, reading.unit, "", f"it can't be judged: {error}")
        if not days.in_future(reading.at):
            return found
        reason = f"dated {reading.at}, in the future: supersede it by one with the time it was read"
        return replace(
            found, outcome="doubt", reason=f"{reason}; {found.reason}", missing=("time",)
        )

    def check(self, reading: Reading, conductor: Conductor | None = None) -> Verdict:
        """Return what a reading that isn't stored yet would prove about its conductor.

        Raises
        ------
        BadInputError
            If no rule can judge such a reading: it mustn't be stored.
        """
        subject = conductor or self._conductor(reading.subject)
        measured = parse_reading(reading.kind, reading.value)
        meter = self._meter(reading.instrument)
        circuit = self.circuit(subject.circuit)
        if reading.kind == "insulation":
            return insulation_verdict(
                measured,
                system=circuit.system,
                max_voltage_v=circuit.max_voltage_v,
                voc_stc_v=voc_stc_v(circuit),
                test_voltage_v=reading.test_voltage_v,
                meter=meter,
                temp_c=reading.temp_c,
            )
        if reading.kind == "voltage":
            return self._voltage(reading, subject, measured, meter)
        facts: _Ohms = {"temp_c": reading.temp_c, "leads_ohm": reading.leads_ohm, "meter": meter}
        if reading.kind == "loop":
            back = self._return(reading, subject)
            return loop_verdict(measured, _piece(subject), back, **facts)
        if reading.kind == "continuity":
            path = self._path(reading, subject)
            return continuity_verdict(measured, path, **facts, joints=len(path) - 1)
        raise BadInputError(
            f"No rule judges a reading of kind '{reading.kind}'. Kinds: {', '.join(READING_KINDS)}."
        )

    def _path(self, reading: Reading, subject: Conductor) -> list[Piece]:
        """Return the conductors measured: to the other one's far end, where the two are joined."""
        other = reading.against
        if other is None or other in OTHER_THINGS:
            return [_piece(subject)]
        wiring = Wiring(self._records)
        one, last = (self._records.one(Conductor, tag) for tag in (subject.tag or "", other))
        found = in_series(wiring, wiring.link(one), wiring.link(last))
        return [_piece(self._conductor(parse_tag(link.name))) for link in found] or [
            _piece(subject)
        ]

    def _return(self, reading: Reading, subject: Conductor) -> Piece | None:
        """Return the conductor that a loop's current comes back on, `None` if it isn't known."""
        other = reading.against
        if other == "PE":
            other = return_of(self._records, subject)
        known = other is not None and other not in OTHER_THINGS
        return _piece(self._conductor(str(other))) if known else None

    def _voltage(
        self, reading: Reading, subject: Conductor, measured: Measured, meter: Meter
    ) -> Verdict:
        """Return the verdict on a voltage, which rests on both functions that the leads touched."""
        facts, against = self.facts(subject.circuit), reading.against
        if against is not None and against not in OTHER_THINGS:
            other = self._conductor(against)
            if not self._one_system(subject, other):
                return _of_two_circuits(measured, facts, subject, other)
            if subject.function in EARTHS:
                facts = self.facts(other.circuit)
            against = other.function
        return voltage_verdict(
            measured, facts, subject.function, against, cell_c=reading.cell_temp_c, meter=meter
        )

    def _one_system(self, one: Conductor, other: Conductor) -> bool:
        """Return whether two conductors belong to one circuit, or share what is earthed."""
        if one.circuit == other.circuit or {one.function, other.function} & set(EARTHS):
            return True
        mine, theirs = self.facts(one.circuit), self.facts(other.circuit)
        alike = (mine.system, mine.supply, mine.max_voltage_v) == (
            theirs.system, theirs.supply, theirs.max_voltage_v
        )  # fmt: skip
        return alike and "N" in (one.function, other.function)

    def facts(self, code: str) -> CircuitFacts:
        """Return what the record says of a circuit's voltages."""
        if code not in self._facts:
            circuit = self.circuit(code)
            members = records.conductors(self._registry, circuits=[code], in_service=True)
            loose = "IT" if circuit.solidly_earthed is False else None
            self._facts[code] = CircuitFacts(
                system=circuit.system,
                max_voltage_v=circuit.max_voltage_v,
                functions=frozenset(member.function for member in members),
                supply=circuit.supply,
                earthing=circuit.earthing or loose or self._site.earthing,
                rules=self._site.rules,
                solidly_earthed=circuit.solidly_earthed,
                modules=modules_of(circuit) if not lacking_of(circuit) else None,
            )
        return self._facts[code]

    @cached_property
    def _site(self) -> SiteFacts:
        return records.site(self._registry)

    def _conductor(self, tag: str) -> Conductor:
        if tag not in self._conductors:
            self._conductors[tag] = records.conductor(self._registry, tag)
        return self._conductors[tag]

    def circuit(self, code: str) -> Circuit:
        """Return the circuit of that code."""
        if code not in self._circuits:
            self._circuits[code] = records.circuit(self._registry, code)
        return self._circuits[code]

    def _meter(self, code: str | None) -> Meter:
        if code is None:
            return UNKNOWN_METER
        if code not in self._meters:
            self._meters[code] = _meter(records.instrument(self._registry, code))
        return self._meters[code]


def return_of(site: Site, conductor: Conductor) -> str | None:
    """Return the tag of the one protective conductor beside a conductor; `None` if none is sure."""
    boxes = {end.enclosure for end in conductor.ends}
    found = [
        c.tag
        for c in site.at(Conductor, "circuit", conductor.circuit)
        if c.function in ("PE", "PEN")
        and c.retired_at is None
        and {end.enclosure for end in c.ends} == boxes
        and c.tag != conductor.tag
    ]
    return found[0] if len(found) == 1 else None


def voc_stc_v(circuit: Circuit) -> float | None:
    """Return the open-circuit voltage of a PV circuit at STC in V, if its modules are known."""
    if circuit.module_voc_v is None or circuit.modules_in_series is None:
        return None
    return circuit.module_voc_v * circuit.modules_in_series


def modules_of(circuit: Circuit) -> Modules:
    """Return the module data of a PV circuit, naming what lacks.

    Raises
    ------
    FaultLocationError
        If a figure isn't recorded.
    """
    lacking = lacking_of(circuit)
    if lacking:
        raise FaultLocationError(
            f"{circuit.code} lacks its modules' {', '.join(lacking)}",
            "Look on the plate at a module's back or in its data sheet, count the modules, and "
            "record it",
        )
    return Modules(
        circuit.module_voc_v or 0.0,
        circuit.module_voc_pct_per_k or 0.0,
        circuit.modules_in_series or 0,
    )


def lacking_of(circuit: Circuit) -> list[str]:
    """Return what the record lacks of a PV circuit's modules."""
    return [
        name
        for name, value in (
            ("Voc at STC", circuit.module_voc_v),
            ("temperature coefficient of Voc", circuit.module_voc_pct_per_k),
            ("number in series", circuit.modules_in_series),
        )
        if value is None
    ]


def _of_two_circuits(
    measured: Measured, facts: CircuitFacts, subject: Conductor, other: Conductor
) -> Verdict:
    reason = (
        f"{format_measured(measured)} on {subject.function} of {subject.circuit} against "
        f"{other.function} of {other.circuit}: read it against a conductor of {subject.circuit}"
    )
    source = polarity_source(facts.system)
    return Verdict("doubt", None, "V", source, reason, measured.number, missing=("against",))


def _meter(instrument: Instrument) -> Meter:
    return meter_of(instrument.accuracy, instrument.resolution, instrument.code, instrument.range)


def _piece(conductor: Conductor) -> Piece:
    return Piece(
        conductor.size,
        conductor.metal,
        conductor.length_m,
        conductor.strands,
        name=format_tag(conductor.tag or ""),
    )
