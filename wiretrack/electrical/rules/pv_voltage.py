# SPDX-License-Identifier: MIT
"""The highest voltage of a PV circuit in the cold, from the data of its modules."""

from __future__ import annotations

from dataclasses import replace
from math import ceil, floor
from typing import TYPE_CHECKING

from wiretrack.electrical.findings import Clause, Finding, circuits, rule
from wiretrack.electrical.limits import above, between
from wiretrack.electrical.strings import STC_C
from wiretrack.electrical.tables import load_table
from wiretrack.errors import TableEntryError
from wiretrack.late import dataclass
from wiretrack.sources import IEC_60364_7_712

if TYPE_CHECKING:
    from collections.abc import Iterator

    from wiretrack.electrical.codes import Code
    from wiretrack.electrical.findings import Built, Case
    from wiretrack.model.entities import Circuit
    from wiretrack.model.parts import SiteFacts

IEC_FACTOR = 1.2  # IEC 60364-7-712 (from memory; confidence low): without a coefficient


@dataclass(frozen=True)
class ColdVoltage:
    """Highest voltage of a string, and by which rule."""

    volts: float
    factor: float
    source: str


def cold_factor(temp_c: float) -> float:
    """Return the factor on Voc of crystalline silicon by lowest ambient temperature.

    The table is in whole degrees; a broken degree is taken down to the colder one.

    Raises `TableEntryError` if the table doesn't reach the temperature (24 to -40 °C).

    Source: NEC table 690.7(A) (reprint; original not seen).

    >>> cold_factor(-10), cold_factor(-10.5)
    (1.14, 1.16)
    """
    between(-273, 100, "Lowest temperature", temp_c, "°C")
    degrees = floor(temp_c)
    for row in load_table("nec_690_7_a").rows:
        if int(row["from_c"]) <= degrees <= int(row["to_c"]):
            return float(row["factor"])
    raise TableEntryError("NEC table 690.7(A)", f"{temp_c:g} °C", ("24 °C", "-40 °C"))


def cold_voltage(
    voc_v: float, modules: int, low_c: float, pct_per_k: float | None, code: Code
) -> ColdVoltage:
    """Return the highest voltage of a string of modules at `low_c`.

    Parameters
    ----------
    voc_v : float
        Open-circuit voltage of a module at STC; above 0. [V]
    modules : int
        Modules in series; 1 or more.
    low_c : float
        Lowest expected ambient temperature. [°C]
    pct_per_k : float or None
        The module's temperature coefficient of Voc, below 0. Unknown: a table. [%/K]

    References
    ----------
    .. [1] NEC 690.7(A)(1) by coefficient, 690.7(A)(2) by table (reprints).
    .. [2] IEC 60364-7-712 (from memory): factor 1.2 without a coefficient.
    """
    above(0, "Open-circuit voltage of a module", voc_v, "V")
    above(0, "Modules in series", modules, "")
    between(-100, 60, "Lowest temperature", low_c, "°C")
    if pct_per_k is not None:
        between(-5, 0, "Temperature coefficient", pct_per_k, "%/K")
        factor = max(1.0, 1 + pct_per_k / 100 * (low_c - STC_C))
        source = code.nec({2014: "690.7(A)", 2017: "690.7(A)(1)"})
        source = source if code.is_nec else IEC_60364_7_712.cite()
    elif code.is_nec:
        factor, source = cold_factor(low_c), code.nec({2014: "690.7(A)", 2017: "690.7(A)(2)"})
    else:
        factor, source = IEC_FACTOR, f"{IEC_60364_7_712.cite()} (confidence in this factor: low)"
    return ColdVoltage(voc_v * modules * factor, factor, source)


def _cases(built: Built) -> Iterator[Case]:
    for subject, (circuit, _, code) in circuits(built):
        yield subject, (circuit, built.document.site, code)


@rule("insulation-type", _cases)
def pv_voltage(circuit: Circuit, site: SiteFacts, code: Code) -> list[Finding]:
    """Return whether a PV circuit's voltage in the cold stays within its stated highest."""
    if circuit.system != "dc-pv" or circuit.module_voc_v is None:
        return []
    source = code.nec("690.7(A)") if code.is_nec else IEC_60364_7_712.cite()
    clause = Clause("insulation-type", circuit.code, source, "V")
    modules, low_c = circuit.modules_in_series, site.record_low_c
    lacking = [
        name
        for name, value in (("modules in series", modules), ("record low temperature", low_c))
        if value is None
    ]
    if modules is None or low_c is None:
        return [clause.lacks(*lacking, limit=circuit.max_voltage_v)]
    try:
        cold = cold_voltage(
            circuit.module_voc_v, modules, low_c, circuit.module_voc_pct_per_k, code
        )
    except TableEntryError as error:
        return [clause.finds("doubt", f"{error} Take the module's coefficient.")]
    return [_judge(circuit, cold, low_c, replace(clause, source=cold.source))]


def _judge(circuit: Circuit, cold: ColdVoltage, low_c: float, clause: Clause) -> Finding:
    volts, limit = round(cold.volts, 1), circuit.max_voltage_v
    if limit is not None:
        above(0, f"Highest voltage of {circuit.code}", limit, "V")
    words = f"{volts:g} V at {low_c:g} °C, {cold.factor:.3f} times the Voc at STC"
    if limit is None:
        words += f"; state at least {ceil(volts)} V as the circuit's highest voltage"
        return clause.finds("doubt", words, volts)
    right = cold.volts <= limit
    reason = f"{words}; {'within' if right else 'above'} the {limit:g} V stated for the circuit"
    return clause.finds("pass" if right else "fail", reason, volts, limit)
