# SPDX-License-Identifier: MIT
"""What a reading in ohms says: closed or open, the path that it fits, and through which resistor.

A path through two conductors of an installation reads a few ohms; a path that isn't there reads
over-range. What lies between (moisture, a coil, a lamp) proves nothing. The bounds are common
practice, from memory: continuity sounders respond below some 50 Ω, and good insulation
is above 1 MΩ. A touch runs through two conductors in series, a join and the leads: a sound twist or
clip adds up to 0.1 Ω; a conductor's true length and temperature make up to 20 %; leads that weren't
measured have up to 0.5 Ω.

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
from itertools import pairwise
from typing import TYPE_CHECKING, Literal

from wiretrack.late import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from wiretrack.ringout.bundle import Bundle

Verdict = Literal["closed", "open", "unclear"]

CLOSED_OHM = 50.0  # common practice
OPEN_OHM = 1e6  # common practice
LONG_PATH_FACTOR = 3.0  # common practice: room for poor twists on a path that is long anyway
CONTACT_OHM = 0.1  # common practice
PATH_SHARE = 0.2  # common practice
LEADS_OHM = 0.5  # common practice
METER_SHARE = 0.02  # common practice: a hand meter's ohm ranges, with the digits
UNKNOWN_LOOP_OHM = 10.0  # common practice: the longest loop where no length is known
LEAST_READ, USUAL_FACTOR, USUAL_MORE_OHM = 3, 10.0, 5.0  # common practice
LARGEST_OHM = 220e3  # common practice: above, damp insulation spoils the reading
E12 = (10, 12, 15, 18, 22, 27, 33, 39, 47, 56, 68, 82)
E24 = tuple(sorted((*E12, 11, 13, 16, 20, 24, 30, 36, 43, 51, 62, 75, 91)))
_E96 = [round(10 ** (2 + i / 96)) / 10 for i in range(96)]


def closed_limit(bundle: Bundle) -> float:
    """Return the highest reading that counts as closed, in Ω.

    50 Ω, or three times the longest loop that is expected (plus the leads) if that is more;
    both common practice. A bundle's own `closed_below_ohm` goes first.
    """
    if bundle.closed_below_ohm is not None:
        return bundle.closed_below_ohm
    loop = sum(_longest(bundle)) * LONG_PATH_FACTOR + (bundle.leads_ohm or 0.0)
    return max(CLOSED_OHM, loop)


def _longest(bundle: Bundle) -> list[float]:
    known = sorted(end.expected_ohm for end in bundle.near if end.expected_ohm is not None)
    return known[-2:]


def judge(ohms: float | None, limit_ohm: float) -> Verdict:
    """Return what a reading says about its path; `None` is over-range.

    >>> judge(0.43, 50.0), judge(None, 50.0), judge(4700.0, 50.0)
    ('closed', 'open', 'unclear')
    """
    if ohms is None or ohms >= max(OPEN_OHM, limit_ohm):
        return "open"
    return "closed" if ohms <= limit_ohm else "unclear"


def allowed_range(bundle: Bundle, low_ohm: float, high_ohm: float) -> Range:
    """Return the readings that fit a path of `low_ohm` to `high_ohm`."""
    leads = bundle.leads_ohm
    return Range(
        low_ohm * (1 - PATH_SHARE) - CONTACT_OHM + (0.0 if leads is None else leads),
        high_ohm * (1 + PATH_SHARE) + CONTACT_OHM + (LEADS_OHM if leads is None else leads),
    )


def usual_range(read_ohm: Sequence[float]) -> Range | None:
    """Return what most paths have, and one can have, where no length is known, in Ω.

    `read_ohm` are the readings of other paths, lowest first; with fewer than three, `None`.
    Conductors of one pull run the same way, in sizes that may differ tenfold; a path may also have
    5 Ω more than most. Both are common practice.

    >>> usual_range([0.3, 0.4, 0.5])
    Range(low_ohm=0.4, high_ohm=5.4)
    >>> usual_range([0.3, 0.4])
    """
    if len(read_ohm) < LEAST_READ:
        return None
    middle = read_ohm[len(read_ohm) // 2]
    return Range(middle, max(middle * USUAL_FACTOR, middle + USUAL_MORE_OHM))


@dataclass(frozen=True, order=True)
class Range:
    """The readings that a path, or a resistor, can give, in Ω."""

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
    digits = value_ohm / 10.0 ** (math.floor(math.log10(value_ohm)) - 1)  # 10 up to 100
    if any(math.isclose(digits, one) for one in E12):
        return 0.10
    if any(math.isclose(digits, one) for one in E24):
        return 0.05
    return 0.01 if any(math.isclose(digits, one, rel_tol=1e-6) for one in _E96) else 0.10


def reading_range(bundle: Bundle, values_ohm: Iterable[float]) -> Range:
    """Return what resistors in series read through the bundle, in Ω; none stands for a contact."""
    low = high = 0.0
    for value in values_ohm:
        low += value * (1 - tolerance(value))
        high += value * (1 + tolerance(value))
    return Range(low * (1 - METER_SHARE), (high + _loop_high(bundle)) * (1 + METER_SHARE))


def _loop_high(bundle: Bundle) -> float:
    """Return the most, in Ω, that two conductors, a contact and the leads add to a reading."""
    whole = all(e.expected_ohm is not None for e in bundle.near) and not bundle.references
    loop = sum(_longest(bundle)) * (1 + PATH_SHARE) if whole else UNKNOWN_LOOP_OHM
    leads = bundle.leads_ohm if bundle.leads_ohm is not None else LEADS_OHM
    return loop + leads + CONTACT_OHM


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
        wider = sorted([*ranges, *new])
        fits = new[-1].high_ohm < OPEN_OHM and value <= LARGEST_OHM
        if fits and not any(one.meets(two) for one, two in pairwise(wider)):
            chosen.append(value)
            ranges = wider
    return tuple(chosen)
