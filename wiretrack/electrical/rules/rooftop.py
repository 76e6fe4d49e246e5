# SPDX-License-Identifier: MIT
"""Degrees added to the outdoor temperature for raceways in the sun on a roof (NEC)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from wiretrack.electrical.insulation_types import known_types
from wiretrack.electrical.limits import between
from wiretrack.electrical.tables import load_table
from wiretrack.model.words import NEC_EDITIONS

if TYPE_CHECKING:
    from wiretrack.electrical.codes import Code
    from wiretrack.electrical.runs import Run, Wire

_SPARED = "XHHW-2"
_ROOFS = ("roof-array",)
_FIRST_BELOW = 2017  # NEC 310.15(B)(3)(c) (reprint): until then a table of "up to" heights


@dataclass(frozen=True)
class Roof:
    """Degrees to add in °C: at most, and at least; what would settle it."""

    most_c: float = 0.0
    least_c: float = 0.0
    state: tuple[str, ...] = ()


NO_ROOF = Roof()


def roof_adder(above_roof_m: float, edition: int) -> float:
    """Return what is added in °C to the outdoor temperature at a height above a sunny roof.

    Parameters
    ----------
    above_roof_m : float
        From the roof to the bottom of the raceway or cable; 0 or more. [m]
    edition : int
        Of the NEC.

    References
    ----------
    .. [1] NEC table 310.15(B)(3)(c) of 2014; 310.15(B)(3)(c) of 2017; 310.15(B)(2) of 2020 and
       2023 (reprints; originals not seen).

    >>> roof_adder(0.05, 2014), roof_adder(0.05, 2017), roof_adder(0.02, 2020)
    (22.0, 0.0, 33.0)
    """
    between(0, 1000, "Height above the roof", above_roof_m, "m")
    height_mm = round(above_roof_m * 1000, 3)
    for row in load_table("nec_rooftop").rows:
        if int(row["edition"]) != edition:
            continue
        limit = float(row["below_mm"])
        if height_mm < limit or (edition < _FIRST_BELOW and height_mm == limit):
            return float(row["add_c"])
    return 0.0


def roof_of(wire: Wire, run: Run | None, code: Code) -> Roof:
    """Return what the sun on a roof adds for one conductor; XHHW-2 is spared.

    A raceway lies on a roof where its height above one is recorded, or may where it ends at an
    array on a roof.
    """
    if run is None or run.raceway.sunlight is False:
        return NO_ROOF
    if _SPARED in known_types(wire.conductor.insulation):
        return NO_ROOF
    height_m, name, state = run.raceway.above_roof_m, run.raceway.code, []
    boxes = (run.from_box, run.to_box)
    if height_m is None and not any(box is not None and box.kind in _ROOFS for box in boxes):
        return NO_ROOF
    if height_m is None:
        state.append(f"height above the roof: state above_roof of {name}")
    if run.raceway.sunlight is None:
        state.append(f"whether it lies in the sun: state sunlight of {name}")
    editions = (code.edition,) if code.edition else NEC_EDITIONS
    added = [roof_adder(height_m or 0.0, edition) for edition in editions]
    least = 0.0 if state else min(added)
    if min(added) != max(added):
        state.append("edition of the NEC: state edition of site")
    return Roof(max(added), least, tuple(state)) if max(added) else NO_ROOF
