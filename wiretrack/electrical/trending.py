# SPDX-License-Identifier: MIT
"""Insulation readings brought to one temperature, and the two ratios of timed readings.

A corrected reading is for comparing years; the verdict stays on the raw reading unless the limit
itself holds at a stated temperature (NETA).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from wiretrack.electrical.limits import above, between, check_temperature
from wiretrack.electrical.tables import load_table
from wiretrack.errors import BadInputError
from wiretrack.sources import COMMON_PRACTICE, IEEE_43, NETA_MTS

Material = Literal["solid", "oil"]
MINUTE_S = 60.0  # IEEE 43-2013 (reprint): the test voltage is on so long before readings compare
PI_MEANINGLESS_OHM = 5e9  # IEEE 43-2013 (reprint): above it the index need not be considered


@dataclass(frozen=True)
class Trend:
    """A reading at a reference temperature, with the rule that brought it there."""

    ohms: float
    at_c: float
    factor: float
    source: str
    note: str


@dataclass(frozen=True)
class Absorption:
    """A ratio of two timed insulation readings, with both of them.

    No limit goes with it: for wiring none is published. IEEE 43 sets one for windings of rotating
    machines, and a conductor of the record is never one.
    """

    ratio: float
    early_ohm: float
    late_ohm: float
    source: str
    note: str = ""


def corrected_ieee43(ohms: float, temp_c: float) -> Trend:
    """Return an insulation resistance brought to 40 °C, for comparing readings.

    Parameters
    ----------
    ohms : float
        Reading; 0 or above. [ohm]
    temp_c : float
        Temperature of the insulation. [°C]

    References
    ----------
    .. [1] IEEE 43-2013 (reprint; original not seen): Kt = 0.5 ** ((40 - t) / 10), halving for
       each 10 K; its newer formula for thermosetting insulation isn't used.

    >>> corrected_ieee43(1e9, 30).ohms
    500000000.0
    """
    between(0, 1e18, "Insulation resistance", ohms, "ohm")
    check_temperature(temp_c)
    factor = 0.5 ** ((40 - temp_c) / 10)
    source = IEEE_43.cite("Kt = 0.5**((40 - t)/10)")
    return Trend(
        ohms * factor, 40.0, factor, source, f"times {factor:.3g} from {temp_c:g} to 40 °C"
    )


def corrected_neta(ohms: float, temp_c: float, material: Material = "solid") -> Trend:
    """Return an insulation resistance brought to 20 °C by NETA's table.

    Between two rows the colder one is taken: its factor is the smaller, and no interpolation is
    provided for.

    Raises
    ------
    OutOfRangeError
        If the table doesn't reach the temperature (0 to 75 °C).

    References
    ----------
    .. [1] ANSI/NETA MTS-2019 table 100.14.1 (reprint; original not seen).
    """
    between(0, 1e18, "Insulation resistance", ohms, "ohm")
    between(0, 75, "Temperature of the insulation", temp_c, "°C")
    if material not in ("solid", "oil"):
        raise BadInputError(f"'{material}' is not insulation here. Materials: solid, oil.")
    rows = [r for r in load_table("neta_temperature").rows if float(r["temp_c"]) <= temp_c]
    row = rows[-1]
    factor = float(row[material])
    note = f"times {factor:g} to 20 °C"
    if float(row["temp_c"]) != temp_c:
        note += f" (row of {row['temp_c']} °C, the next colder one)"
    source = NETA_MTS.cite(f"table 100.14.1, {material}")
    if row[f"confidence_{material}"] != "high":
        source += f" (confidence in this row: {row[f'confidence_{material}']})"
    return Trend(ohms * factor, 20.0, factor, source, note)


def polarization_index(ohms_1_min: float, ohms_10_min: float) -> Absorption:
    """Return the resistance after 10 minutes over that after 1 minute (IEEE 43).

    >>> polarization_index(500e6, 2000e6).ratio
    4.0
    """
    note = ""
    if ohms_1_min > PI_MEANINGLESS_OHM:
        note = f"above 5 GΩ after 1 minute the index says little ({IEEE_43.key})"
    return _absorption(ohms_1_min, ohms_10_min, f"defined by {IEEE_43.key}, for windings", note)


def absorption_ratio(ohms_30_s: float, ohms_60_s: float) -> Absorption:
    """Return the resistance after 60 seconds over that after 30 seconds (common practice)."""
    return _absorption(ohms_30_s, ohms_60_s, COMMON_PRACTICE.key)


def _absorption(early_ohm: float, late_ohm: float, source: str, note: str = "") -> Absorption:
    above(0, "Early reading", early_ohm, "ohm")
    above(0, "Late reading", late_ohm, "ohm")
    return Absorption(late_ohm / early_ohm, early_ohm, late_ohm, source, note)
