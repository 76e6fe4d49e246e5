# SPDX-License-Identifier: MIT
"""The reverse of an expected resistance: how long the conductor must be that reads so much."""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot
from typing import TYPE_CHECKING

from wiretrack.electrical.limits import above, between, check_length
from wiretrack.electrical.resistance import unit_resistance
from wiretrack.sources import COMMON_PRACTICE

if TYPE_CHECKING:
    from wiretrack.electrical.sizes import Size

# How far a sound conductor's resistance lies from its table, as a fraction: common practice.
CONDUCTOR_TOLERANCE = 0.05
# Slack that a stated route length leaves out or in, as a fraction: common practice.
ROUTE_TOLERANCE = 0.10
_COVERAGE = 2.0  # JCGM 100, 6.3.3: about 95 %
_RECTANGLE = 3**-0.5  # JCGM 100, 4.3.7: standard uncertainty of a bound's half-width


@dataclass(frozen=True)
class LikelyLength:
    """How long a conductor is by its resistance, with the range for about 95 % coverage."""

    length_m: float
    low_m: float
    high_m: float
    source: str


@dataclass(frozen=True)
class LengthComparison:
    """A measured length against the route's: `ratio` above 1 is longer than the route."""

    agrees: bool
    ratio: float
    low_m: float
    high_m: float
    route_m: float
    source: str
    reason: str


def likely_length(
    ohms: float, size: Size | str, temp_c: float, metal: str,
    strands: int | None = None, u_ohms: float = 0.0,
) -> LikelyLength:  # fmt: skip
    """Return the length in m of a conductor that measures `ohms`, leads' resistance subtracted.

    Parameters
    ----------
    ohms : float
        Resistance along the conductor, one way; above 0. [ohm]
    u_ohms : float, default 0
        Standard uncertainty of `ohms`. [ohm]

    References
    ----------
    .. [1] JCGM 100:2008, 4.3.7, 5.1.2 and 6.3.3; a conductor lies within 5 % of its table
       (common practice).
    """
    above(0, "Resistance", ohms, "ohm")
    between(0, 1e12, "Uncertainty", u_ohms, "ohm")
    unit = unit_resistance(size, temp_c, metal, strands)
    length_m = ohms / unit.ohm_per_km * 1000
    relative = hypot(u_ohms / ohms, CONDUCTOR_TOLERANCE * _RECTANGLE)
    spread = min(_COVERAGE * relative, 0.99)
    source = (
        f"{unit.source}; conductor within {CONDUCTOR_TOLERANCE:.0%} of it "
        f"({COMMON_PRACTICE.key}); JCGM 100:2008, 5.1.2"
    )
    return LikelyLength(length_m, length_m * (1 - spread), length_m / (1 - spread), source)


def compare_length(likely: LikelyLength, route_m: float) -> LengthComparison:
    """Return whether a measured length agrees with the route's, slack allowed for, and in words."""
    check_length(route_m, "Route length")
    low, high = route_m * (1 - ROUTE_TOLERANCE), route_m * (1 + ROUTE_TOLERANCE)
    ratio = likely.length_m / route_m
    agrees = likely.high_m >= low and likely.low_m <= high
    percent = f"{abs(ratio - 1):.0%} {'longer' if ratio > 1 else 'shorter'}"
    measured = f"by its resistance it is {likely.length_m:.3g} m ({likely.low_m:.3g} to "
    measured += f"{likely.high_m:.3g} m), its route is {route_m:.3g} m"
    if agrees:
        reason = f"{measured}: they agree"
    elif ratio > 1:
        reason = f"{measured}: {percent}, so it is on another route, or a joint in it is bad"
    else:
        reason = f"{measured}: {percent}, so it is on another route, or another path carries part"
    source = f"{likely.source}; route within {ROUTE_TOLERANCE:.0%} ({COMMON_PRACTICE.key})"
    return LengthComparison(agrees, ratio, likely.low_m, likely.high_m, route_m, source, reason)
