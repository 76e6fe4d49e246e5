# SPDX-License-Identifier: MIT
"""The verdict on an insulation reading, against the limit of its circuit's system and voltage."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from wiretrack.electrical.accuracy import (
    UNKNOWN_METER,
    WORST_OPERATING,
    Meter,
    bounded,
    largest_part,
    standard_uncertainty,
)
from wiretrack.electrical.insulation_limits import (
    Requirement,
    basis_source,
    insulation_requirements,
)
from wiretrack.electrical.limits import between
from wiretrack.electrical.quantity_text import format_measured, format_resistance
from wiretrack.electrical.trending import corrected_neta
from wiretrack.electrical.verdicts import Guard, at_least, guard_of
from wiretrack.model.knowledge import Verdict
from wiretrack.sources import IEC_61557_2

if TYPE_CHECKING:
    from wiretrack.electrical.insulation_limits import Basis
    from wiretrack.electrical.quantities import Measured
    from wiretrack.electrical.trending import Material

# IEC 61557-2, clause 4: the tester's own voltage lies between its nominal value and so much of it
# (reprint; the 1.25 of the later edition is from memory).
HIGHEST_OUTPUT = 1.25
_LOW_OHM = 1e4  # a bare number this low was likely meant as megohms
_TYPED = re.compile(r"([>\u2265=\s+]*[0-9.]+(?:[eE][+-]?[0-9]+)?)\s*(.*)")


@dataclass(frozen=True)
class InsulationTest:
    """How an insulation reading was taken.

    `test_voltage_v` is the DC voltage; with less than the limit asks for a reading is no evidence;
    with more it can show that the limit is met, but not that it isn't. `temp_c` and `material`
    are those of the insulation.
    """

    test_voltage_v: float | None
    meter: Meter = UNKNOWN_METER
    temp_c: float | None = None
    material: Material = "solid"


def insulation_verdict(
    measured: Measured, test: InsulationTest, *, system: str | None,
    max_voltage_v: float | None, voc_stc_v: float | None = None, basis: Basis = "IEC",
) -> Verdict:  # fmt: skip
    """Return the verdict on an insulation reading, in ohm.

    Parameters
    ----------
    measured : Measured
        The reading; an over-range display is a bound.
    test : InsulationTest
        How it was taken.
    system, max_voltage_v, voc_stc_v
        Of the circuit; `voc_stc_v` is the open-circuit voltage of a PV array at STC. [V]
    basis : {"IEC", "NETA MTS", "NETA ATS"}
        Which limits; those of NETA hold at 20 °C and need the temperature and the material.

    References
    ----------
    .. [1] IEC 60364-6:2016 table 6.1; IEC 62446-1:2016, 6.7; ANSI/NETA table 100.1 (reprints).
    .. [2] JCGM 106:2012, 8.3.2.
    """
    choices, missing = insulation_requirements(
        system, max_voltage_v, voc_stc_v=voc_stc_v, basis=basis
    )
    if not choices:
        reason = f"no limit can be chosen; missing: {' and '.join(missing)}"
        verdict = _doubt(measured, None, reason, missing)
        return replace(verdict, source=basis_source(system, basis))
    test_voltage_v = test.test_voltage_v
    if test_voltage_v is None:
        reason = f"test voltage not stated; {_asked(choices)}: no evidence for the limit"
        return _doubt(measured, choices[0], reason, ("test voltage",))
    between(1, 50_000, "Test voltage", test_voltage_v, "V")
    measured = bounded(measured, test.meter)
    required = next((r for r in choices if _serves(test_voltage_v, r)), None)
    if required is not None:
        return _judge(measured, required, test_voltage_v, test)
    below = [r for r in choices if r.test_voltage_v < test_voltage_v]
    if not below:
        reason = f"taken with {test_voltage_v:g} V; {_asked(choices)}: no evidence for the limit"
        return _doubt(measured, choices[0], reason + _exception(choices[0], test_voltage_v), ())
    verdict = _judge(measured, below[-1], test_voltage_v, test)
    return _harder(verdict, below[-1], test_voltage_v)


def _serves(test_voltage_v: float, required: Requirement) -> bool:
    low = required.test_voltage_v
    return low <= test_voltage_v <= low * HIGHEST_OUTPUT


def _harder(verdict: Verdict, required: Requirement, test_voltage_v: float) -> Verdict:
    """Return the verdict on a reading with more than the limit's test voltage.

    Insulation that holds it at the higher voltage holds it at the lower one; what it lacks at the
    higher one it may have at the lower (IEC 60364-6, 6.4.3.3 asks for the table's voltage).
    """
    more = (
        f"taken with {test_voltage_v:g} V, more than the {required.test_voltage_v:g} V asked for: "
        "all equipment that stays connected must stand it"
    )
    if verdict.outcome == "pass":
        return replace(verdict, reason=f"{verdict.reason}; {more}")
    if verdict.outcome == "fail":
        again = f"disconnect equipment and read again with {required.test_voltage_v:g} V"
        return replace(verdict, outcome="doubt", reason=f"{verdict.reason}; {more}; {again}")
    return replace(verdict, reason=f"{verdict.reason}; {more}")


def _asked(choices: tuple[Requirement, ...]) -> str:
    return "the limit asks for " + " or ".join(f"{r.test_voltage_v:g} V" for r in choices)


def _exception(required: Requirement, test_voltage_v: float) -> str:
    """Return the words on the one exception of IEC 60364-6, 6.4.3.3."""
    if test_voltage_v == 250 and required.test_voltage_v == 500:
        return (
            "; 250 V with 1 MΩ serves only where surge protective devices can't be disconnected"
            " (IEC 60364-6 6.4.3.3)"
        )
    return ""


def _judge(
    measured: Measured, required: Requirement, test_voltage_v: float, test: InsulationTest
) -> Verdict:
    meter, temp_c, material = test.meter, test.temp_c, test.material
    if measured.number is None:
        reason = (
            "OL shows no bound: write what the display goes up to, such as >2000M, or record the "
            "range of the instrument"
        )
        return _doubt(measured, required, reason, ("top of the range",))
    figure, note, source = measured.number, "", required.source
    if required.at_c is not None:
        if temp_c is None:
            reason = f"the limit holds at {required.at_c:g} °C and the temperature isn't stated"
            return _doubt(measured, required, reason, ("temperature",))
        trend = corrected_neta(figure, temp_c, material)
        figure, note = trend.ohms, f"; {trend.note}"
        source = f"{source}; {trend.source}"
    guard = _guard(measured, meter, figure)
    outcome = at_least(figure, required.limit_ohm, guard)
    if measured.over_range and outcome != "pass":
        reason = "this bound doesn't clear the limit: use a higher range"
        return replace(_doubt(measured, required, reason, ("top of the range",)), source=source)
    because = guard.because(outcome)
    reason = (
        f"{_compared(measured, figure, required, test_voltage_v)}; {because}{note}{_hint(measured)}"
    )
    return Verdict(outcome, required.limit_ohm, "ohm", source, reason + required.note, figure,
                   guard.accept)  # fmt: skip


def _guard(measured: Measured, meter: Meter, figure: float) -> Guard:
    """Return the guard band, scaled where the figure was brought to another temperature."""
    u = standard_uncertainty(measured, meter)
    scale = figure / measured.number if measured.number else 1.0
    worst, tester = WORST_OPERATING, IEC_61557_2.key
    if u is None:
        return guard_of(figure, None, "ohm", worst, tester)
    return guard_of(figure, u * scale, "ohm", worst, tester, largest_part(measured, meter))


def _compared(
    measured: Measured, figure: float, required: Requirement, test_voltage_v: float
) -> str:
    shown = format_measured(measured)
    if figure != measured.number:
        shown = f"{shown}, {format_resistance(figure)} at {required.at_c:g} °C"
    return (
        f"{shown} with {test_voltage_v:g} V; at least "
        f"{format_resistance(required.limit_ohm)} for {required.circuit}"
    )


def meant_otherwise(measured: Measured) -> tuple[str, str] | None:
    """Return how megohms and ohms are written, where a reading's unit was likely another.

    A bare number, or one in milliohms or less, that is too low for insulation.

    >>> from wiretrack.electrical.quantities import parse_resistance
    >>> meant_otherwise(parse_resistance("550 mohm"))
    ('550M', '0.55ohm')
    """
    match = _TYPED.fullmatch(measured.text)
    if match is None or measured.number is None or not 0 < measured.number < _LOW_OHM:
        return None
    number, unit = match[1].replace(" ", ""), match[2]
    if unit and (unit[0] not in "m\u00b5\u03bcun" or unit.startswith("meg")):
        return None
    sign = ">" if measured.over_range else ""
    plain = f"{measured.number:.12f}".rstrip("0").rstrip(".")
    return f"{number}M", f"{sign}{plain}ohm" if unit else f"{number}ohm"


def _hint(measured: Measured) -> str:
    bare = measured.text.replace(".", "").isdigit()
    if bare and measured.number is not None and measured.number < _LOW_OHM:
        return f"; a bare number is in ohms: {measured.text} MΩ is written {measured.text}M"
    return ""


def _doubt(
    measured: Measured, required: Requirement | None, reason: str, missing: tuple[str, ...]
) -> Verdict:
    shown = f"{format_measured(measured)}: {reason}"
    if required is None:
        return Verdict("doubt", None, "ohm", "", shown, missing=missing)
    return Verdict(
        "doubt", required.limit_ohm, "ohm", required.source, shown + required.note,
        measured.number, None, missing,
    )  # fmt: skip
