# SPDX-License-Identifier: MIT
"""A high resistance in a conductor: how much too much it reads, by its record or by its like."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

from wiretrack.electrical.continuity import CONTACT_OHM, JOINT_OHM
from wiretrack.electrical.faults.line import shifted, total_ohms
from wiretrack.electrical.faults.uncertainty import Estimate, Input, estimate, line_inputs
from wiretrack.errors import BadInputError
from wiretrack.sources import COMMON_PRACTICE

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from wiretrack.electrical.faults.line import Line


def contacts(joints: int = 0) -> Input:
    """Return what good clips and terminals add, and each joint between conductors of the path.

    Common practice: from nothing to `CONTACT_OHM`, and to `JOINT_OHM` for each joint.
    """
    half = (CONTACT_OHM + joints * JOINT_OHM) / 2
    return Input("contacts", half, half / 3**0.5)


@dataclass(frozen=True)
class Excess:
    """How far a reading is above what it should be; `word` says whether that proves anything."""

    method: Literal["excess", "parallel"]
    ohms: Estimate
    expected_ohm: float
    word: Literal["high", "not proved", "too low"]
    source: str

    def heat_w(self, current_a: float) -> float:
        """Return the heat in W that a current makes at the excess resistance."""
        return float(max(self.ohms.value, 0.0) * current_a**2)


def excess(line: Line, reading: Input, allowed: Input | None = None) -> Excess:
    """Return how much more a conductor reads than its size, length and temperature explain.

    Parameters
    ----------
    line : Line
        The conductors that were read one after the other.
    reading : Input
        End to end, leads subtracted, with its standard uncertainty. [ohm]
    allowed : Input, optional
        What good terminals and clips may add; else 0 to 0.1 ohm (common practice).
    """
    allowed = allowed or contacts()

    def too_much(values: Mapping[str, float]) -> float:
        return values["reading"] - total_ohms(shifted(line, values)) - values["contacts"]

    given = [replace(reading, name="reading"), replace(allowed, name="contacts")]
    found = estimate(too_much, [*given, *line_inputs([line])])
    source = f"{allowed.value * 2:.2g} ohm for contacts ({COMMON_PRACTICE.key}); JCGM 100:2008"
    return Excess("excess", found, total_ohms(line), _word(found), source)


def compared(line: Line, reading: Input, others: Sequence[tuple[Line, Input]]) -> Excess:
    """Return how much more a conductor reads than like ones beside it, lengths allowed for.

    What all of them share (kind of conductor, temperature, leads) drops out of the comparison.

    Raises
    ------
    BadInputError
        If there is no other conductor, or one is of another kind.
    """
    if not others:
        raise BadInputError("Nothing to compare with. Name a like conductor and its reading.")
    kinds = {part.kind for section in line for part in section.parts}
    for other, _ in others:
        strange = {part.kind for section in other for part in section.parts} - kinds
        if strange:
            raise BadInputError(
                f"{other[0].parts[0].conductor} is {', '.join(sorted(strange))}, not "
                f"{', '.join(sorted(kinds))}. Compare conductors of one kind."
            )

    def too_much(values: Mapping[str, float]) -> float:
        own = total_ohms(shifted(line, values))
        shares = [
            values[f"other {n}"] * own / total_ohms(shifted(other, values))
            for n, (other, _) in enumerate(others)
        ]
        return values["reading"] - sum(shares) / len(shares)

    given = [replace(reading, name="reading")]
    given += [replace(item, name=f"other {n}") for n, (_, item) in enumerate(others)]
    found = estimate(too_much, [*given, *line_inputs([line, *(other for other, _ in others)])])
    source = f"like conductors agree within 1 % ({COMMON_PRACTICE.key}); JCGM 100:2008"
    return Excess("parallel", found, reading.value - found.value, _word(found), source)


def _word(found: Estimate) -> Literal["high", "not proved", "too low"]:
    if found.value > found.expanded:
        return "high"
    return "too low" if found.value < -found.expanded else "not proved"
