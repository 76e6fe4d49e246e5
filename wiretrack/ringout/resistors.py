# SPDX-License-Identifier: MIT
"""A resistor kit: which values can be used at once, and what each of them will read.

A resistor from an end to a common return is read through the end's conductor from the other
place. Two values can be used together when their ranges of possible readings don't meet. A
range spans the resistor's tolerance, the meter's accuracy, the loop of two conductors, and the
leads.

References
----------
.. [1] IEC 60063:2015, preferred number series for resistors: E6, E12, E24 (from memory; original
   not seen). Their classical tolerances are 20, 10 and 5 %; E48 and E96 go with 2 and 1 %.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

from wiretrack.ringout.ohms import CONTACT_OHM, LEADS_OHM, PATH_SHARE
from wiretrack.ringout.stage import OPEN_OHM

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from wiretrack.ringout.bundle import Bundle

METER_SHARE = 0.02  # common practice: a hand meter's ohm ranges, with the digits
UNKNOWN_LOOP_OHM = 10.0  # common practice: the longest loop where no length is known
LARGEST_OHM = 220e3  # common practice: above, damp insulation spoils the reading
E12 = (10, 12, 15, 18, 22, 27, 33, 39, 47, 56, 68, 82)
E24 = (
    10,
    11,
    12,
    13,
    15,
    16,
    18,
    20,
    22,
    24,
    27,
    30,
    33,
    36,
    39,
    43,
    47,
    51,
    56,
    62,
    68,
    75,
    82,
    91,
)


@dataclass(frozen=True, order=True)
class Range:
    """The readings that a value can give, in Ω."""

    low_ohm: float
    high_ohm: float

    def __contains__(self, ohms: float) -> bool:
        return self.low_ohm <= ohms <= self.high_ohm

    def meets(self, other: Range) -> bool:
        """Return whether some reading is in both ranges."""
        return self.low_ohm <= other.high_ohm and other.low_ohm <= self.high_ohm


def tolerance(value_ohm: float) -> float:
    """Return the tolerance to reckon with, as a share: by the coarsest series of the value.

    Values of no series, which are trimmed or measured, are taken like those of E12.

    >>> tolerance(470.0), tolerance(510.0), tolerance(1020.0)
    (0.1, 0.05, 0.01)
    """
    digits = _significant(value_ohm)
    if any(math.isclose(digits, one) for one in E12):
        return 0.10
    if any(math.isclose(digits, one) for one in E24):
        return 0.05
    if any(math.isclose(digits, one, rel_tol=1e-6) for one in _rounded(96)):
        return 0.01
    return 0.10


def _significant(value_ohm: float) -> float:
    """Return the value scaled to 10 up to 100."""
    return value_ohm / 10.0 ** (math.floor(math.log10(value_ohm)) - 1)


def _rounded(steps: int) -> list[float]:
    """Return the values of a fine series: ten to the n-th parts, rounded to three digits."""
    return [round(10 ** (2 + i / steps)) / 10 for i in range(steps)]


def loop_high(bundle: Bundle) -> float:
    """Return the most, in Ω, that two conductors, a contact and the leads add to a reading."""
    known = sorted(end.expected_ohm for end in bundle.near if end.expected_ohm is not None)
    whole = len(known) == bundle.size and not bundle.references
    loop = sum(known[-2:]) * (1 + PATH_SHARE) if whole else UNKNOWN_LOOP_OHM
    leads = bundle.leads_ohm if bundle.leads_ohm is not None else LEADS_OHM
    return loop + leads + CONTACT_OHM


def reading_range(bundle: Bundle, values_ohm: Iterable[float]) -> Range:
    """Return what resistors in series read through the bundle, in Ω; none stands for a contact."""
    low = high = 0.0
    for value in values_ohm:
        low += value * (1 - tolerance(value))
        high += value * (1 + tolerance(value))
    return Range(low * (1 - METER_SHARE), (high + loop_high(bundle)) * (1 + METER_SHARE))


def usable(bundle: Bundle, *, hidden_common: bool = False) -> tuple[float, ...]:
    """Return the most values of the kit that can't be confused with each other or a contact.

    With a `hidden_common`, an end that nobody knows at the other place, the sums of two values
    must be told apart as well.
    """
    chosen: list[float] = []
    ranges = [reading_range(bundle, ())]
    for value in sorted(set(bundle.resistors), key=lambda v: reading_range(bundle, (v,)).high_ohm):
        new = [reading_range(bundle, (value,))]
        if hidden_common:
            new += [reading_range(bundle, (value, other)) for other in chosen]
        wider = [*ranges, *new]
        fits = new[-1].high_ohm < OPEN_OHM and value <= LARGEST_OHM
        if fits and not any(_clash(wider)):
            chosen.append(value)
            ranges = wider
    return tuple(chosen)


def _clash(ranges: Sequence[Range]) -> list[bool]:
    return [one.meets(two) for one, two in pairwise(sorted(ranges))]
