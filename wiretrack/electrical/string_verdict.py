# SPDX-License-Identifier: MIT
"""The verdict on a PV string's open-circuit voltage, by the modules that the record counts."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.electrical.accuracy import COVERAGE_FACTOR, standard_uncertainty
from wiretrack.electrical.quantity_text import format_voltage
from wiretrack.electrical.strings import judge_string
from wiretrack.errors import BadInputError
from wiretrack.model.knowledge import Verdict
from wiretrack.sources import COMMON_PRACTICE, IEC_61215_2, IEC_62446_1

if TYPE_CHECKING:
    from wiretrack.electrical.accuracy import Meter
    from wiretrack.electrical.quantities import Measured
    from wiretrack.electrical.strings import Modules, StringReading
    from wiretrack.model.knowledge import Outcome

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

    Parameters
    ----------
    volts, u_v : float
        The reading with its sign, and its standard uncertainty. [V]
    shown : str
        The reading in words, with what the leads touched.
    cell_c : float or None
        Temperature of the cells. Unknown: nothing passes, and what no cell temperature from
        `COLDEST_C` to `HOTTEST_C` explains fails. [°C]

    References
    ----------
    .. [1] IEC 62446-1:2016, 6.4: compared with what the modules should give (reprint).
    .. [2] IEC 61215-2: range of the cell temperature (from memory).
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
