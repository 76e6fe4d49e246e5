# SPDX-License-Identifier: MIT
"""The uncertainty of a located fault: each input shifted by its own, by JCGM 100."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
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
    """One quantity that the place follows from: its name, value and standard uncertainty.

    `half_digit` is half a unit of the last digit that was typed, where no more is known of what
    the instrument showed.
    """

    name: str
    value: float
    u: float
    half_digit: float = 0.0


@dataclass(frozen=True)
class Estimate:
    """A value with its standard uncertainty, and what each input brings to it, largest first.

    `digits` is how far off the value may be by the digits that were typed alone.
    """

    value: float
    u: float
    budget: tuple[tuple[str, float], ...]
    digits: float = 0.0

    @property
    def expanded(self) -> float:
        """The uncertainty with k = 2 (JCGM 100:2008, 6.3.3: about 95 %), at least `digits`."""
        return max(COVERAGE_FACTOR * self.u, self.digits)


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
    u = hypot(*(share for _, share in shares))
    return Estimate(middle, u, tuple(shares), _by_digits(place, values, middle, inputs))


def _by_digits(
    place: Callable[[Mapping[str, float]], float],
    values: Mapping[str, float], middle: float, inputs: Sequence[Input],
) -> float:  # fmt: skip
    """Return how far `place` moves at most while every input still rounds to what was typed."""
    edges = [
        [(i.name, max(i.value - i.half_digit, 0.0)), (i.name, i.value + i.half_digit)]
        for i in inputs
        if i.half_digit > 0
    ]
    return max(abs(place({**values, **dict(edge)}) - middle) for edge in product(*edges))


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
            own = hypot(own, part.half_digit)
            for name, width in ((f"kind {part.kind}", kind), (f"conductor {part.conductor}", own)):
                found[name] = Input(name, 1.0, width * _RECTANGLE)
    return list(found.values())
