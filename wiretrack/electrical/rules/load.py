# SPDX-License-Identifier: MIT
"""The current that a conductor must be able to carry."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from wiretrack.electrical.limits import above
from wiretrack.sources import IEC_60364_4_43, IEC_60364_7_712

if TYPE_CHECKING:
    from wiretrack.electrical.codes import Code
    from wiretrack.records import Circuit

PV_ISC_FACTOR = 1.25  # NEC 690.8(A)(1) (reprint); IEC 60364-7-712 (from memory)
CONTINUOUS_FACTOR = 1.25  # NEC 690.8(B)(1) (reprint): PV currents are continuous


@dataclass(frozen=True)
class Load:
    """A current to carry: `derated_a` where conditions are allowed for, `plain_a` where not."""

    derated_a: float
    plain_a: float
    why: str
    source: str


def load_of(circuit: Circuit, code: Code) -> Load | None:
    """Return the current to size a circuit's conductors for, or None if it isn't known.

    PV: 1.25 Isc per string in parallel, and another 1.25 where no correction is applied (NEC
    690.8(B)(1)). Other circuits: the stated current; whether it is continuous isn't recorded.
    """
    if circuit.system == "dc-pv":
        return _pv(circuit, code)
    amperes = circuit.max_current_a
    if amperes is None:
        return None
    above(0, f"Current of {circuit.code}", amperes, "A")
    source = code.nec("210.19(A) and 215.2(A)") if code.is_nec else IEC_60364_4_43.cite("433.1")
    why = f"{amperes:g} A"
    why += "; 1.25 times as much if it flows for 3 h or more" if code.is_nec else ""
    return Load(amperes, amperes, why, source)


def _pv(circuit: Circuit, code: Code) -> Load | None:
    isc, strings = circuit.module_isc_a, circuit.strings_in_parallel
    if isc is not None and strings is not None:
        maximum = PV_ISC_FACTOR * isc * strings
        why = f"{PV_ISC_FACTOR:g} x {isc:g} A x {strings} = {maximum:.4g} A"
    elif circuit.max_current_a is not None:
        maximum = circuit.max_current_a
        why = f"{maximum:g} A as stated, taken as 1.25 Isc"
    else:
        return None
    above(0, f"Current of {circuit.code}", maximum, "A")
    if not code.is_nec:
        source = f"{IEC_60364_7_712.cite()} (confidence in this factor: medium)"
        return Load(maximum, maximum, why, source)
    plain = CONTINUOUS_FACTOR * maximum
    why += f"; {plain:.4g} A before corrections"
    return Load(maximum, plain, why, code.nec("690.8(A) and (B)"))
