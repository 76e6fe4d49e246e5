# SPDX-License-Identifier: MIT
"""Open-circuit voltage of a PV string: what it should be, what a wrong one looks like."""

from __future__ import annotations

from math import hypot, log
from typing import TYPE_CHECKING

from wiretrack.electrical.accuracy import COVERAGE_FACTOR, standard_uncertainty
from wiretrack.electrical.limits import above, between
from wiretrack.electrical.quantity_text import format_voltage
from wiretrack.errors import BadInputError, FaultLocationError
from wiretrack.late import dataclass
from wiretrack.model.entity import Verdict
from wiretrack.sources import CEC_MODULES, COMMON_PRACTICE, IEC_61215_2, IEC_62446_1

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.electrical.accuracy import Meter
    from wiretrack.electrical.quantities import Measured
    from wiretrack.model.entities import Circuit
    from wiretrack.model.entity import Outcome


STC_W_M2, STC_C = 1000.0, 25.0  # standard test conditions: irradiance, cell temperature
CELL_C = (-60.0, 100.0)  # common practice: cells of modules are never colder nor hotter
ZERO_C_K = 273.15  # exact
# Voc falls by so much of itself for each factor e of irradiance at 25 °C: CEC module data, median
# of a_ref / V_oc over its 20,946 crystalline modules (0.0384 to 0.0460 for nine in ten).
LIGHT_SLOPE = 0.0421
MODULE_TOLERANCE = 0.03  # common practice: a module's Voc is within 3 % of its data sheet
LIKE_TOLERANCE = 0.015  # common practice: strings of one make and moment agree within 1.5 %
CELL_TOLERANCE_K = 5.0  # common practice: a cell temperature taken at a module's back
MODEL_TOLERANCE = 0.02  # CEC module data: the straight line from -10 to 45 °C, nine in ten
_RECTANGLE = 3**-0.5  # JCGM 100:2008, 4.3.7


@dataclass(frozen=True)
class Modules:
    """The modules of a string: open-circuit voltage at STC, its coefficient, and how many."""

    voc_v: float
    pct_per_k: float
    series: int

    def volts(self, cell_c: float, irradiance_w_m2: float = STC_W_M2) -> float:
        """Return the string's open-circuit voltage in V; see `string_voc`."""
        return string_voc(self.voc_v, self.series, self.pct_per_k, cell_c, irradiance_w_m2)


@dataclass(frozen=True)
class Guess:
    """One explanation of a reading: what it would be then, and whether it fits."""

    what: str
    volts: float
    fits: bool
    is_recorded: bool = False


@dataclass(frozen=True)
class StringReading:
    """A reading against every explanation, the nearest first; `u_v` is for the recorded one."""

    volts: float
    expected_v: float
    uncertainty_v: float
    guesses: tuple[Guess, ...]
    is_reversed: bool
    source: str

    @property
    def fits(self) -> bool:
        """Whether it fits the string as it is recorded."""
        return not self.is_reversed and any(g.fits and g.is_recorded for g in self.guesses)


def string_voc(
    voc_v: float, series: int, pct_per_k: float, cell_c: float, irradiance_w_m2: float = STC_W_M2
) -> float:
    """Return the open-circuit voltage of a string in V.

    `voc_v` is that of one module at STC, above 0; 1 module or more in series; the coefficient
    of Voc from -5 to 0 %/K, the cells from -60 to 100 °C, 50 to 1500 W/m² in the modules'
    plane.

    Source: the data sheet's coefficient, in a straight line from 25 °C, as NEC 690.7(A)(1) uses
    it; CEC module data (original): Voc falls with ln(G), see `LIGHT_SLOPE`.

    >>> string_voc(49.5, 10, -0.27, 25)
    495.0
    """
    above(0, "Open-circuit voltage of a module", voc_v, "V")
    above(0, "Modules in series", series, "")
    between(-5, 0, "Temperature coefficient", pct_per_k, "%/K")
    between(*CELL_C, "Cell temperature", cell_c, "°C")
    between(50, 1500, "Irradiance", irradiance_w_m2, "W/m²")
    warm = 1 + pct_per_k / 100 * (cell_c - STC_C)
    kelvin = (cell_c + ZERO_C_K) / (STC_C + ZERO_C_K)
    light = LIGHT_SLOPE * kelvin * log(irradiance_w_m2 / STC_W_M2)
    return voc_v * series * (warm + light)


def judge_string(
    reading_v: float,
    u_v: float,
    modules: Modules,
    cell_c: float,
    irradiance_w_m2: float | None = None,
    neighbours: Sequence[tuple[str, Modules]] = (),
) -> StringReading:
    """Return which explanations a reading fits, by the data sheet and the cell temperature.

    The reading is L+ against L-, with its sign, `u_v` its standard uncertainty. Unknown
    irradiance: from 400 to 1000 W/m² is allowed for. `neighbours` are the other strings, by
    their names, that this one might have been mistaken for.
    """
    known = irradiance_w_m2 is not None
    low = modules.volts(cell_c, irradiance_w_m2 or 400.0) / modules.volts(cell_c)
    high = 1.0 if not known else low
    factor, dim = (low + high) / 2, (high - low) / 2 / ((low + high) / 2)
    warm = abs(modules.pct_per_k) / 100 * CELL_TOLERANCE_K
    relative = hypot(MODULE_TOLERANCE, MODEL_TOLERANCE, warm, dim) * _RECTANGLE

    def volts(of: Modules) -> float:
        return of.volts(cell_c) * factor

    source = (
        f"data sheet from 25 to {cell_c:g} °C; {CEC_MODULES.cite('for light')}; modules within "
        f"3 %, cell temperature within 5 K ({COMMON_PRACTICE.key}); k = 2, JCGM 100:2008"
    )
    expected = [(what, volts(of), what == RECORDED) for what, of in _explanations(modules)]
    expected += [(f"the string of {name}", volts(of), False) for name, of in neighbours]
    return _judged(reading_v, u_v, expected, relative, source)


def judge_by_like_strings(
    reading_v: float, u_v: float, modules: Modules, others: Sequence[tuple[Modules, float]]
) -> StringReading:
    """Return which explanations a reading fits beside strings that were read at the same moment.

    Temperature and light drop out, so fewer modules can be told apart than by the data sheet.

    `others` are like strings and what they read. [V]
    """
    shares = [abs(volts) / (of.voc_v * of.series) for of, volts in others]
    factor = sum(shares) / len(shares)
    expected = [
        (what, of.voc_v * of.series * factor, what == RECORDED)
        for what, of in _explanations(modules)
    ]
    relative = hypot(LIKE_TOLERANCE * _RECTANGLE, u_v / abs(others[0][1]) if others[0][1] else 0)
    source = (
        f"strings read at the same moment, within 1.5 % ({COMMON_PRACTICE.key}); k = 2, "
        "JCGM 100:2008"
    )
    return _judged(reading_v, u_v, expected, relative, source)


RECORDED = "as recorded"


def _explanations(modules: Modules) -> list[tuple[str, Modules]]:
    """Return what a string of N modules may be in truth, by the modules that count."""

    def counting(count: int) -> Modules:
        return Modules(modules.voc_v, modules.pct_per_k, count)

    found = [(RECORDED, modules), ("one module more", counting(modules.series + 1))]
    if modules.series > 1:
        found.append(("one module fewer", counting(modules.series - 1)))
    if modules.series > 2:
        found.append(("one module reversed, or two modules fewer", counting(modules.series - 2)))
    return found


def _judged(
    reading_v: float, u_v: float, expected: Sequence[tuple[str, float, bool]], relative: float,
    source: str,
) -> StringReading:  # fmt: skip
    between(-1e6, 1e6, "Voltage of the string", reading_v, "V")
    size = abs(reading_v)
    guesses = []
    for what, volts, is_recorded in expected:
        width = COVERAGE_FACTOR * hypot(u_v, relative * volts)
        guesses.append(Guess(what, volts, abs(size - volts) <= width, is_recorded))
    own = next(g for g in guesses if g.is_recorded)
    width = COVERAGE_FACTOR * hypot(u_v, relative * own.volts)
    guesses.append(Guess("dark, open or shorted", 0.0, size <= width))
    ordered = tuple(sorted(guesses, key=lambda g: (not g.fits, abs(size - g.volts))))
    return StringReading(reading_v, own.volts, width, ordered, reading_v < 0, source)


def voc_stc_v(circuit: Circuit) -> float | None:
    """Return the open-circuit voltage of a PV circuit at STC in V, if its modules are known."""
    if circuit.module_voc_v is None or circuit.modules_in_series is None:
        return None
    return circuit.module_voc_v * circuit.modules_in_series


def modules_of(circuit: Circuit) -> Modules:
    """Return the module data of a PV circuit, naming what lacks.

    Raises `FaultLocationError` if a figure isn't recorded.
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


# IEC 61215-2, MQT 11 (from memory): modules are cycled between these cell temperatures.
COLDEST_C, HOTTEST_C = -40.0, 85.0
DMM_WORST = 0.01  # common practice: a voltmeter nobody named is within 1 % of a DC voltage
SOURCE = IEC_62446_1.cite("6.4")


def string_uncertainty(measured: Measured, meter: Meter) -> float:
    """Return the standard uncertainty of a string's voltage in V, of an unnamed meter as well."""
    u_v = standard_uncertainty(measured, meter)
    return abs(measured.number or 0.0) * DMM_WORST / 3**0.5 if u_v is None else u_v


def string_verdict(
    volts: float, shown: str, u_v: float, modules: Modules, cell_c: float | None
) -> Verdict:
    """Return the verdict on a string read from L+ to L-, in V.

    `volts` has its sign, `u_v` is its standard uncertainty; `shown` is the reading in words,
    with what the leads touched. With cells of unknown temperature nothing passes, and what no
    temperature from `COLDEST_C` to `HOTTEST_C` explains fails.

    Source: IEC 62446-1:2016, 6.4: compared with what the modules should give (reprint); IEC
    61215-2: range of the cell temperature (from memory).
    """
    try:
        if cell_c is None:
            return _at_any_temperature(volts, shown, u_v, modules)
        found = judge_string(volts, u_v, modules, cell_c)
    except BadInputError as error:
        return Verdict("doubt", None, "V", SOURCE, f"{shown}: {error}", volts, missing=("module",))
    low, high = (round(found.expected_v + sign * found.uncertainty_v, 1) for sign in (-1, 1))
    limit = low if volts < found.expected_v else high
    right = f"{format_voltage(low)} to {format_voltage(high)}"
    reason = (
        f"{shown}: {right} is right for {modules.series} modules at {cell_c:g} °C; "
        f"{_explained(found)}"
    )
    outcome: Outcome = "pass" if found.fits else "fail"
    width = COVERAGE_FACTOR * u_v
    return Verdict(outcome, limit, "V", f"{SOURCE}; {found.source}", reason, volts, width)


def any_temperature(modules: Modules, u_v: float = 0.0) -> tuple[float, float]:
    """Return the least and the most that a string may give with cells of any temperature, in V."""
    hot, cold = (judge_string(0.0, u_v, modules, cell_c) for cell_c in (HOTTEST_C, COLDEST_C))
    low, high = hot.expected_v - hot.uncertainty_v, cold.expected_v + cold.uncertainty_v
    return round(low, 1), round(high, 1)


def _at_any_temperature(volts: float, shown: str, u_v: float, modules: Modules) -> Verdict:
    low, high = any_temperature(modules, u_v)
    outside = not low <= volts <= high
    right = f"{format_voltage(low)} to {format_voltage(high)}"
    reason = (
        f"{shown}: {modules.series} modules give {right} with cells from {COLDEST_C:g} to "
        f"{HOTTEST_C:g} °C"
    )
    if not outside:
        reason += "; measure the cells' temperature and state it with the reading"
    source = (
        f"{SOURCE}; data sheet; cells from {COLDEST_C:g} to {HOTTEST_C:g} °C, "
        f"{IEC_61215_2.cite()}; tolerances {COMMON_PRACTICE.key}"
    )
    limit = low if abs(volts - low) < abs(volts - high) else high
    missing = () if outside else ("cell temperature",)
    outcome: Outcome = "fail" if outside else "doubt"
    return Verdict(outcome, limit, "V", source, reason, volts, COVERAGE_FACTOR * u_v, missing)


def _explained(found: StringReading) -> str:
    others = [guess.what for guess in found.guesses if guess.fits and not guess.is_recorded]
    if found.fits and not others:
        return "it fits as recorded"
    if found.fits:
        return f"it fits as recorded, but also {' or '.join(others)}; read a like string beside it"
    if others:
        return f"it fits {' or '.join(others)}"
    return "it fits no number of modules near; was the string open, and in daylight?"
