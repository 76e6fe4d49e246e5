# SPDX-License-Identifier: MIT
"""A PV string's voltage: what it should be now, and what a reading says of its modules."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from wiretrack.electrical.accuracy import UNKNOWN_METER, meter_of
from wiretrack.electrical.quantities import parse_temperature, parse_voltage
from wiretrack.electrical.string_verdict import string_uncertainty
from wiretrack.electrical.strings import (
    Modules,
    judge_beside,
    judge_string,
    lacking_of,
    modules_of,
)
from wiretrack.errors import BadInputError, FaultLocationError, Hint
from wiretrack.readings.voltage import VOLTAGE
from wiretrack.store import records
from wiretrack.store.searching import resolve
from wiretrack.tasks.change.retired import refuse_retired_circuit

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.electrical.strings import StringReading
    from wiretrack.model.entities import Circuit
    from wiretrack.store.store import Registry

READ_AS = VOLTAGE.name  # a string's reading is of this kind


def string_voltage(
    registry: Registry,
    circuit: str,
    *,
    cell_temp: str | None = None,
    irradiance: str | None = None,
    reading: str | None = None,
    beside: Sequence[str] = (),
    instrument: str | None = None,
) -> dict[str, Any]:
    """Return what a PV circuit's string should read, and what a reading fits.

    Raises
    ------
    BadInputError
        If a quantity can't be understood, or the circuit isn't PV.
    FaultLocationError
        If the record lacks module data, or the cell temperature is needed and unknown.
    """
    record = _circuit(registry, circuit)
    modules = modules_of(record)
    cell_c = parse_temperature(cell_temp) if cell_temp else None
    light = _irradiance(irradiance) if irradiance else None
    found: StringReading | None = None
    if reading:
        volts, u_v = _measured(registry, reading, instrument)
        others = [_beside(registry, text) for text in beside]
        if others:
            found = judge_beside(volts, u_v, modules, others)
        elif cell_c is None:
            raise FaultLocationError(
                "What the string should read depends on its cells' temperature, which isn't stated",
                Hint(
                    "Measure it at the back of a module and give {cell_temp}, or read a like "
                    "string at the same moment and give {beside}."
                ),
            )
        else:
            neighbours = _neighbours(registry, record)
            found = judge_string(volts, u_v, modules, cell_c, light, neighbours)
    return _document(registry, record, modules, (cell_c, light), found)


def _circuit(registry: Registry, word: str) -> Circuit:
    code = resolve(registry, word, ("circuit",)).code
    record = records.circuit(registry, code)
    refuse_retired_circuit(record)
    if record.system != "dc-pv":
        raise BadInputError(
            f"{code} is no PV circuit: its system is {record.system or 'unknown'}. "
            "Name a circuit of system dc-pv."
        )
    return record


def _neighbours(registry: Registry, record: Circuit) -> list[tuple[str, Modules]]:
    """Return the other strings whose voltage differs from this one's."""
    own = modules_of(record)
    found = []
    for other in records.circuits(registry, system="dc-pv", in_service=True):
        if other.code != record.code and not lacking_of(other) and modules_of(other) != own:
            found.append((other.code, modules_of(other)))
    return found


def _measured(registry: Registry, text: str, instrument: str | None) -> tuple[float, float]:
    measured = VOLTAGE.parse(text)
    if measured.number is None or measured.over_range:
        raise BadInputError(f"'{text}' is over-range. Use a meter for the string's voltage.")
    meter = UNKNOWN_METER
    if instrument:
        code = resolve(registry, instrument, ("instrument",)).code
        record = records.instrument(registry, code)
        meter = meter_of(record.accuracy, record.resolution, record.code)
    return measured.number, string_uncertainty(measured, meter)


def _beside(registry: Registry, text: str) -> tuple[Modules, float]:
    word, equals, value = text.rpartition("=")
    if not equals:
        raise BadInputError(f"'{text}' is no circuit with its voltage. Write CIRCUIT=VOLTS.")
    volts = parse_voltage(value)
    if volts == 0:
        raise BadInputError(f"{word} reads 0 V. Compare with a string that is in order.")
    return modules_of(_circuit(registry, word)), volts


def _irradiance(text: str) -> float:
    number = text.strip().removesuffix("W/m2").removesuffix("W/m²").strip()
    try:
        return float(number)
    except ValueError:
        raise BadInputError(
            f"'{text}' is not an irradiance. Write it like 850 or 850 W/m2."
        ) from None


def _document(
    registry: Registry, record: Circuit, modules: Modules,
    now: tuple[float | None, float | None], found: StringReading | None,
) -> dict[str, Any]:  # fmt: skip
    cell_c, light = now
    found_in = records.conductors(registry, circuits=[record.code], in_service=True)
    boxes = {end.enclosure for c in found_in for end in (c.from_end, c.to_end)}
    kinds = sorted({e.kind for e in records.enclosures(registry, boxes) if e.kind})
    expected = None if cell_c is None else modules.volts(cell_c, light or 1000.0)
    return {
        "circuit": record.code,
        "modules": asdict(modules),
        "stc_v": modules.voc_v * modules.series,
        "cell_c": cell_c,
        "irradiance_w_m2": light,
        "expected_v": found.expected_v if found else expected,
        "uncertainty_v": found.uncertainty_v if found else None,
        "reading_v": found.volts if found else None,
        "fits": found.fits if found else None,
        "reversed": found.is_reversed if found else None,
        "explanations": [asdict(guess) for guess in found.guesses] if found else [],
        "source": found.source
        if found
        else "data sheet, straight line from 25 °C; CEC module data for light",
        "cautions": list(VOLTAGE.cautions("dc-pv", tuple(kinds))),
    }
