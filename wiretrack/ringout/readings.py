# SPDX-License-Identifier: MIT
"""What a meter's number means while ringing out: closed, open, or neither.

A path through two conductors of an installation reads a few ohms; a path that isn't there reads
over-range. What lies between (moisture, a coil, a lamp) proves nothing. The bounds are
common practice, from memory: continuity sounders respond below some 50 Ω, and insulation
worth the name is above 1 MΩ.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from wiretrack.ringout.bundle import Bundle

Verdict = Literal["closed", "open", "unclear"]

CLOSED_OHM = 50.0  # common practice
OPEN_OHM = 1e6  # common practice
LONG_PATH_FACTOR = 3.0  # common practice: room for poor twists on a path that is long anyway


def closed_limit(bundle: Bundle) -> float:
    """Return the highest reading that counts as closed, in Ω.

    50 Ω, or three times the longest loop that is expected (plus the leads) if that is more;
    both common practice. A bundle's own `closed_below_ohm` goes first.
    """
    if bundle.closed_below_ohm is not None:
        return bundle.closed_below_ohm
    known = sorted(end.expected_ohm for end in bundle.near if end.expected_ohm is not None)
    loop = sum(known[-2:]) * LONG_PATH_FACTOR + (bundle.leads_ohm or 0.0)
    return max(CLOSED_OHM, loop)


def judge(ohms: float | None, limit_ohm: float) -> Verdict:
    """Return what a reading says about its path; `None` is over-range.

    >>> judge(0.43, 50.0), judge(None, 50.0), judge(4700.0, 50.0)
    ('closed', 'open', 'unclear')
    """
    if ohms is None or ohms >= max(OPEN_OHM, limit_ohm):
        return "open"
    return "closed" if ohms <= limit_ohm else "unclear"
