# SPDX-License-Identifier: MIT
"""The current that a conductor must be able to carry."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from wiretrack.electrical.limits import above
from wiretrack.sources import IEC_60364_4_43, IEC_60364_7_712

if TYPE_CHECKING:
    from wiretrack.electrical.codes import Code
    from wiretrack.model.entities import Circuit

PV_ISC_FACTOR = 1.25  # NEC 690.8(A)(1) (reprint); IEC 60364-7-712 (from memory)
# NEC 690.8(B)(1), 210.19(A) and 215.2(A) for continuous loads, 430.22 for motors (reprints).
CONTINUOUS_FACTOR = MOTOR_FACTOR = 1.25


@dataclass(frozen=True)
class Load:
    """A current to carry: `derated_a` where conditions are allowed for, `plain_a` where not.

    `most_a` is what `plain_a` would be if the load were continuous; it is the same where that is
    known. `device_a` and `device_most_a` are the least ratings of the overcurrent device.
    """

    derated_a: float
    plain_a: float
    why: str
    source: str
    most_a: float
    device_a: float
    device_most_a: float


def load_of(circuit: Circuit, code: Code) -> Load | None:
    """Return the current to size a circuit's conductors and device for, or None if unknown.

    PV: 1.25 Isc per string in parallel, and another 1.25 where no correction is applied (NEC
    690.8(B)(1)) and for the device (690.9(B)). NEC, other circuits: 1.25 times a continuous load
    before corrections and for the device; 1.25 times a motor's current for its conductors (430.22).
    """
    if circuit.system == "dc-pv":
        return _pv(circuit, code)
    amperes = circuit.max_current_a
    if amperes is None:
        return None
    above(0, f"Current of {circuit.code}", amperes, "A")
    if not code.is_nec:
        source = IEC_60364_4_43.cite("433.1")
        return Load(amperes, amperes, f"{amperes:g} A", source, amperes, amperes, amperes)
    if circuit.motor:
        needed = MOTOR_FACTOR * amperes
        why = f"motor of {amperes:g} A: {needed:.4g} A"
        return Load(needed, needed, why, code.at("motor-load"), needed, amperes, amperes)
    most = amperes if circuit.continuous is False else CONTINUOUS_FACTOR * amperes
    plain = most if circuit.continuous else amperes
    why = f"{amperes:g} A"
    if circuit.continuous:
        why += f" continuous; {plain:.4g} A before corrections"
    elif circuit.continuous is None:
        why += "; 1.25 times as much if it flows for 3 h or more"
    return Load(amperes, plain, why, code.at("load"), most, plain, most)


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
        return Load(maximum, maximum, why, source, maximum, maximum, maximum)
    plain = CONTINUOUS_FACTOR * maximum
    why += f"; {plain:.4g} A before corrections"
    return Load(maximum, plain, why, code.at("pv-load"), plain, plain, plain)
