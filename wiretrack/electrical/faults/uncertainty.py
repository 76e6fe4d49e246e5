# SPDX-License-Identifier: MIT
"""The uncertainty of a located fault: each input shifted by its own, by JCGM 100."""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, sqrt
from typing import TYPE_CHECKING

from wiretrack.electrical.accuracy import COVERAGE_FACTOR

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from wiretrack.electrical.faults.line import Section

KIND_TOLERANCE = 0.05  # common practice: a kind of conductor is within 5 % of its table
PAIR_TOLERANCE = 0.01  # common practice: conductors of one kind agree within 1 %
RETURN_TOLERANCE = 0.05  # common practice: how evenly a raceway's resistance is spread
_RECTANGLE = 1 / sqrt(3)  # JCGM 100:2008, 4.3.7: standard uncertainty of a bound's half-width


@dataclass(frozen=True)
class Input:
    """One quantity that the place follows from: its name, value and standard uncertainty."""

    name: str
    value: float
    u: float


@dataclass(frozen=True)
class Estimate:
    """A value with its standard uncertainty, and what each input brings to it, largest first."""

    value: float
    u: float
    budget: tuple[tuple[str, float], ...]

    @property
    def expanded(self) -> float:
        """The uncertainty with k = 2 (JCGM 100:2008, 6.3.3: about 95 %)."""
        return COVERAGE_FACTOR * self.u


def estimate(place: Callable[[Mapping[str, float]], float], inputs: Sequence[Input]) -> Estimate:
    """Return what `place` gives, with the uncertainty that its inputs bring.

    References
    ----------
    .. [1] JCGM 100:2008, 5.1.3 note 2: each input is shifted up and down by its standard
       uncertainty; the larger change is its share, which errs to the safe side where the formula
       is bent (note to 5.1.2). 5.1.2: the shares are added in squares.
    """
    values = {item.name: item.value for item in inputs}
    middle = place(values)
    shares = [
        (
            item.name,
            max(
                abs(place(values | {item.name: item.value + item.u}) - middle),
                abs(place(values | {item.name: item.value - item.u}) - middle),
            ),
        )
        for item in inputs
        if item.u > 0
    ]
    shares.sort(key=lambda share: -share[1])
    return Estimate(middle, hypot(*(share for _, share in shares)), tuple(shares))


def line_inputs(lines: Sequence[Sequence[Section]]) -> list[Input]:
    """Return what may be off in the record of some lines, each tolerance once."""
    found: dict[str, Input] = {}
    for section in (section for line in lines for section in line):
        longer = section.length_tolerance * _RECTANGLE
        warmer = section.temp_tolerance_k * _RECTANGLE
        found[f"length {section.name}"] = Input(f"length {section.name}", 1.0, longer)
        found[f"temperature {section.name}"] = Input(f"temperature {section.name}", 0.0, warmer)
        for part in section.parts:
            is_return = not part.ohms_per_k
            kind, own = (0.0, RETURN_TOLERANCE) if is_return else (KIND_TOLERANCE, PAIR_TOLERANCE)
            for name, width in ((f"kind {part.kind}", kind), (f"conductor {part.conductor}", own)):
                found[name] = Input(name, 1.0, width * _RECTANGLE)
    return list(found.values())
