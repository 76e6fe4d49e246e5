# SPDX-License-Identifier: MIT
"""The reading to hope for, of a conductor or a PV string, and the reverse: what a reading means.

How long a conductor is that reads so much, and what a string's voltage says of its modules.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from wiretrack.electrical.accuracy import UNKNOWN_METER, meter_of
from wiretrack.electrical.limits import METALS
from wiretrack.electrical.quantities import (
    parse_length_m,
    parse_resistance,
    parse_resistance_ohm,
    parse_temperature,
    parse_voltage,
)
from wiretrack.electrical.resistance import (
    REFERENCE_C,
    compare_length,
    expected_resistance,
    likely_length,
)
from wiretrack.electrical.strings import (
    STC_W_M2,
    Modules,
    judge_by_like_strings,
    judge_string,
    lacking_of,
    modules_of,
    string_uncertainty,
)
from wiretrack.errors import BadInputError, FaultLocationError, Hint
from wiretrack.late import dataclass
from wiretrack.model.entities import Circuit
from wiretrack.model.parts import Instrument
from wiretrack.readings.voltage import VOLTAGE
from wiretrack.store.searching import resolve
from wiretrack.store.source import site_of
from wiretrack.tasks.change.retired import conductor_in_service, refuse_retired_circuit
from wiretrack.tasks.test.cautions import cautions_at

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.electrical.accuracy import Meter
    from wiretrack.electrical.resistance import Expected, LengthComparison, LikelyLength
    from wiretrack.electrical.strings import Guess
    from wiretrack.store.store import Registry

COPPER_ASSUMED = "metal not stated, copper assumed"
REFERENCE_ASSUMED = "temperature not stated, 20 °C of IEC 60228 assumed"


def expect(
    size: str,
    length: str,
    *,
    temp: str | None = None,
    metal: str | None = None,
    strands: int | None = None,
) -> Expected:
    """Return what a meter should read along such a conductor, and out and back.

    What isn't stated and was taken is named in ``assumed`` and in ``source``.
    """
    temp_c = parse_temperature(temp) if temp else REFERENCE_C
    expected = expected_resistance(size, parse_length_m(length), temp_c, metal or "Cu", strands)
    notes = ((metal, COPPER_ASSUMED), (temp, REFERENCE_ASSUMED))
    taken = tuple(note for stated, note in notes if not stated)
    source = "; ".join((expected.source, *taken))
    return replace(expected, source=source, assumed=(*expected.assumed, *taken))


def length_from(
    size: str,
    ohms: str,
    *,
    temp: str | None = None,
    metal: str | None = None,
    strands: int | None = None,
    leads: str | None = None,
) -> LikelyLength:
    """Return the length that a measured resistance means, with its range."""
    temp_c = parse_temperature(temp) if temp else REFERENCE_C
    return likely_length(_less(ohms, leads), size, temp_c, metal or "Cu", strands)


def compare_with_route(
    registry: Registry, text: str, ohms: str, *, temp: str | None = None, leads: str | None = None
) -> LengthComparison:
    """Return whether a conductor that reads `ohms` can lie on the route that its record gives."""
    conductor = conductor_in_service(registry, text)
    tag = str(conductor.tag)
    if conductor.metal is None:
        raise BadInputError(f"The metal of {tag} is unknown. Record it: {' or '.join(METALS)}.")
    temp_c = parse_temperature(temp) if temp else REFERENCE_C
    likely = likely_length(
        _less(ohms, leads), conductor.size, temp_c, conductor.metal, conductor.strands
    )
    route_m = conductor.route.length_m if conductor.length_m is None else conductor.length_m
    if route_m is None:
        raise BadInputError(
            f"Neither {tag} nor every raceway of its route has a length. Record one of them."
        )
    return compare_length(likely, route_m, tag)


def _less(ohms: str, leads: str | None) -> float:
    measured = parse_resistance(ohms)
    if measured.number is None or measured.over_range:
        raise BadInputError(f"'{ohms}' is open, so it says nothing of a length. Give the ohms.")
    less = measured.number - (parse_resistance_ohm(leads) if leads else 0.0)
    if less <= 0:
        raise BadInputError(
            f"The leads ({leads}) exceed the reading ({ohms}). Read both again, leads first."
            if leads
            else f"A reading of {ohms} says nothing of a length. Read it again with a finer range."
        )
    return less


READ_AS = VOLTAGE.name  # a string's reading is of this kind
BY_DATA_SHEET = "data sheet, straight line from 25 °C; CEC module data for light"


@dataclass(frozen=True, kw_only=True)
class StringMeasured:
    """What was measured at a string, as typed; `None` is not measured."""

    cell_temp: str | None = None
    irradiance: str | None = None
    reading: str | None = None
    beside: Sequence[str] = ()
    instrument: str | None = None


@dataclass(frozen=True, kw_only=True)
class StringVoltage:
    """What a string should read at STC and now, and what its reading fits."""

    circuit: str
    modules: Modules
    stc_v: float
    cell_c: float | None
    irradiance_w_m2: float | None
    expected_v: float | None
    uncertainty_v: float | None = None
    reading_v: float | None = None
    fits: bool | None = None
    reversed: bool | None = None
    explanations: tuple[Guess, ...] = ()
    source: str = BY_DATA_SHEET
    cautions: tuple[str, ...]


def string_voltage(registry: Registry, circuit: str, measured: StringMeasured) -> StringVoltage:
    """Return what a PV circuit's string should read, and what a reading fits."""
    record = _circuit(registry, circuit)
    modules = modules_of(record)
    cell_c = parse_temperature(measured.cell_temp) if measured.cell_temp else None
    light = _irradiance(measured.irradiance) if measured.irradiance else None
    told = StringVoltage(
        circuit=record.code,
        modules=modules,
        stc_v=modules.voc_v * modules.series,
        cell_c=cell_c,
        irradiance_w_m2=light,
        expected_v=None if cell_c is None else modules.volts(cell_c, light or STC_W_M2),
        cautions=cautions_at(site_of(registry), READ_AS, record.in_service, [record.code]),
    )
    if not measured.reading:
        return told
    volts, u_v = _measured(registry, measured.reading, measured.instrument)
    others = [_like_string(registry, text) for text in measured.beside]
    if others:
        found = judge_by_like_strings(volts, u_v, modules, others)
    elif cell_c is None:
        raise FaultLocationError(
            "What the string should read depends on its cells' temperature, which isn't stated",
            Hint(
                "Measure it at the back of a module and give {cell_temp}, or read a like "
                "string at the same moment and give {beside}."
            ),
        )
    else:
        found = judge_string(volts, u_v, modules, cell_c, light, _neighbours(registry, record))
    return replace(
        told,
        expected_v=found.expected_v,
        uncertainty_v=found.uncertainty_v,
        reading_v=found.volts,
        fits=found.fits,
        reversed=found.is_reversed,
        explanations=found.guesses,
        source=found.source,
    )


def _circuit(registry: Registry, word: str) -> Circuit:
    code = resolve(registry, word, ("circuit",)).code
    record = site_of(registry).one(Circuit, code)
    refuse_retired_circuit(record)
    if record.system != "dc-pv":
        raise BadInputError(
            f"{code} is no PV circuit: its system is {record.system or 'unknown'}. "
            "Name a circuit of system dc-pv."
        )
    return record


def _neighbours(registry: Registry, record: Circuit) -> list[tuple[str, Modules]]:
    own = modules_of(record)
    found = []
    for other in site_of(registry).all(Circuit):
        if other.system != "dc-pv" or other.retired_at is not None:
            continue
        if other.code != record.code and not lacking_of(other) and modules_of(other) != own:
            found.append((other.code, modules_of(other)))
    return found


def _measured(registry: Registry, text: str, instrument: str | None) -> tuple[float, float]:
    measured = VOLTAGE.parse(text)
    if measured.number is None or measured.over_range:
        raise BadInputError(f"'{text}' is over-range. Use a meter for the string's voltage.")
    return measured.number, string_uncertainty(measured, meter_named(registry, instrument))


def meter_named(registry: Registry, word: str | None) -> Meter:
    """Return what is recorded of an instrument's accuracy; nothing of one that isn't named."""
    if not word:
        return UNKNOWN_METER
    code = resolve(registry, word, ("instrument",)).code
    record = site_of(registry).one(Instrument, code)
    return meter_of(record.accuracy, record.resolution, record.code)


def _like_string(registry: Registry, text: str) -> tuple[Modules, float]:
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
