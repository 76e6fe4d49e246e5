# SPDX-License-Identifier: MIT
"""What a stored reading proves: its conductor, circuit and instrument put to the electrical rules.

Verdicts are never stored. They follow from the reading and from what the record says now, so a
corrected length or size corrects every verdict that rests on it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.electrical.accuracy import UNKNOWN_METER, meter_of
from wiretrack.electrical.continuity import Piece, continuity_verdict
from wiretrack.electrical.insulation import insulation_verdict
from wiretrack.electrical.polarity import voltage_verdict
from wiretrack.electrical.quantities import parse_reading
from wiretrack.registry.dumping import circuits, conductors, instruments
from wiretrack.tags import format_tag

if TYPE_CHECKING:
    from wiretrack.electrical.accuracy import Meter
    from wiretrack.electrical.verdicts import Verdict
    from wiretrack.records import Circuit, Conductor, Instrument, Reading
    from wiretrack.registry.store import Registry

OTHER_THINGS = ("raceway", "PE")


def written(against: str | None) -> str | None:
    """Return what a reading was taken against, a tag as people write it."""
    return against if against in (None, *OTHER_THINGS) else format_tag(against)


class Judge:
    """Judges the readings of one registry, looking each circuit and instrument up once."""

    def __init__(self, registry: Registry) -> None:
        self._registry = registry
        self._circuits: dict[str, Circuit] = {}
        self._meters: dict[str, Meter] = {}
        self._conductors: dict[str, Conductor] = {}

    def verdict(self, reading: Reading, conductor: Conductor | None = None) -> Verdict:
        """Return what `reading` proves about its conductor."""
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
            return voltage_verdict(
                measured,
                system=circuit.system,
                function=subject.function,
                against=self._function_of(reading.against),
                max_voltage_v=circuit.max_voltage_v,
                meter=meter,
            )
        return continuity_verdict(
            measured,
            self._path(reading, subject),
            temp_c=reading.temp_c,
            leads_ohm=reading.leads_ohm,
            meter=meter,
        )

    def _path(self, reading: Reading, subject: Conductor) -> list[Piece]:
        """Return the conductors measured: for a loop, the one it was joined with as well."""
        path = [_piece(subject)]
        if reading.kind == "loop":
            other = reading.against
            known = other and other not in OTHER_THINGS
            path.append(_piece(self._conductor(str(other))) if known else _UNKNOWN_RETURN)
        return path

    def _function_of(self, against: str | None) -> str | None:
        if against is None or against in OTHER_THINGS:
            return against
        return self._conductor(against).function

    def _conductor(self, tag: str) -> Conductor:
        if tag not in self._conductors:
            self._conductors[tag] = conductors(self._registry, "c.tag = ?", [tag])[0]
        return self._conductors[tag]

    def circuit(self, code: str) -> Circuit:
        """Return the circuit of that code."""
        if code not in self._circuits:
            self._circuits[code] = circuits(self._registry, "code = ?", [code])[0]
        return self._circuits[code]

    def _meter(self, code: str | None) -> Meter:
        if code is None:
            return UNKNOWN_METER
        if code not in self._meters:
            self._meters[code] = _meter(instruments(self._registry, "code = ?", [code])[0])
        return self._meters[code]


def voc_stc_v(circuit: Circuit) -> float | None:
    """Return the open-circuit voltage of a PV circuit at STC in V, if its modules are known."""
    if circuit.module_voc_v is None or circuit.modules_in_series is None:
        return None
    return circuit.module_voc_v * circuit.modules_in_series


_UNKNOWN_RETURN = Piece(None, None, None, name="the return conductor")


def _meter(instrument: Instrument) -> Meter:
    return meter_of(instrument.accuracy, instrument.resolution, instrument.code)


def _piece(conductor: Conductor) -> Piece:
    return Piece(
        conductor.size,
        conductor.metal,
        conductor.length_m,
        conductor.strands,
        name=format_tag(conductor.tag or ""),
    )
