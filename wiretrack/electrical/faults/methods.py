# SPDX-License-Identifier: MIT
"""The bridge and meter methods: from readings to the resistance between the test end and a fault.

All of them give a resistance in ohm, counted from the end that is called near. What stands here
follows from the balance of the bridge or from Ohm's law; the books named show the same formulas.
"""

from __future__ import annotations

from math import sqrt

from wiretrack.electrical.limits import above, between
from wiretrack.errors import BadInputError
from wiretrack.sources import HAWKINS_3, LOOP_TESTS

METHODS = {
    "one-end": "Ohm's law from one end, the fault's own resistance bounded",
    "both-ends": "half the difference of both ends' readings: the fault's resistance cancels out",
    "blavier": "Blavier's test, far end open, then joined: from Ohm's law",
    "murray": HAWKINS_3.cite("Murray loop"),
    "varley": LOOP_TESTS.cite("Principles of Power System example 11.24, Varley loop"),
    "excess": "the reading above what the conductor should have",
    "parallel": "the reading above what a like conductor beside it has",
    "capacitance": "break by capacitance, both ends: each metre of the conductor has as much",
}


def one_end_ohms(reading_ohm: float, fault_ohm: float = 0.0) -> float:
    """Return the resistance to a fault read from one end: what the fault itself has is taken off.

    The reading has the far end open, and the leads subtracted.
    """
    _reading("Reading at one end", reading_ohm)
    _reading("Resistance of the fault", fault_ohm)
    return reading_ohm - fault_ohm


def both_ends_ohms(near_ohm: float, far_ohm: float, total_ohm: float) -> float:
    """Return the resistance from the near end to a fault read from both ends.

    At each end the other one is open; `total_ohm` is out and back, without the fault, above 0.
    near = z + f and far = (total - z) + f, so the fault's own f drops out of their difference.

    >>> both_ends_ohms(4.0, 8.0, 8.0)
    2.0
    """
    _reading("Reading at the near end", near_ohm)
    _reading("Reading at the far end", far_ohm)
    above(0, "Resistance end to end", total_ohm, "ohm")
    return (total_ohm + near_ohm - far_ohm) / 2


def fault_ohms(near_ohm: float, far_ohm: float, total_ohm: float) -> float:
    """Return the fault's own resistance in ohm from the readings at both ends."""
    return (near_ohm + far_ohm - total_ohm) / 2


def blavier_ohms(open_ohm: float, joined_ohm: float, total_ohm: float) -> float:
    """Return the resistance to a fault read twice from one end, far end open and then joined.

    `joined_ohm` is at most `open_ohm`, and the total out and back without the fault at least as
    much: raises `BadInputError` if no fault can give these readings.

    open = z + f and joined = z + f (total - z) / (f + total - z). Without f that is (joined -
    z)² = (open - joined) (total - joined), and z is at most what was read.

    >>> blavier_ohms(4.0, 3.5, 8.0)
    2.0
    """
    _reading("Reading with the far end open", open_ohm)
    _reading("Reading with the far end joined", joined_ohm)
    above(0, "Resistance end to end", total_ohm, "ohm")
    if joined_ohm > min(open_ohm, total_ohm):
        raise BadInputError(
            f"{joined_ohm:.4g} Ω with the far end joined can't be: it must be at most the "
            f"{open_ohm:.4g} Ω with it open and the {total_ohm:.4g} Ω end to end. "
            "Read both again, and the leads."
        )
    return joined_ohm - sqrt((open_ohm - joined_ohm) * (total_ohm - joined_ohm))


def murray_ohms(good_arm: float, bad_arm: float, loop_ohm: float) -> float:
    """Return the resistance to a fault by the Murray loop.

    The ratio arms are those at balance, `loop_ohm` both conductors joined at the far end; above
    0.

    Source: Hawkins Electrical Guide vol. 3, 1914, Murray loop (reprint).

    >>> murray_ohms(3, 1, 1.6)
    0.4
    """
    above(0, "Ratio arm on the good conductor", good_arm, "")
    above(0, "Ratio arm on the faulty conductor", bad_arm, "")
    above(0, "Loop resistance", loop_ohm, "ohm")
    return bad_arm / (good_arm + bad_arm) * loop_ohm


def varley_ohms(good_arm: float, bad_arm: float, set_ohm: float, loop_ohm: float) -> float:
    """Return the resistance to a fault by the Varley loop.

    The fixed ratio arms are on the good conductor and on the resistance that is set in series
    with the faulty one at balance; `loop_ohm` is both conductors joined at the far end. Above
    0.

    >>> varley_ohms(250, 250, 1848, 2240)
    196.0
    """
    above(0, "Ratio arm on the good conductor", good_arm, "")
    above(0, "Ratio arm on the set resistance", bad_arm, "")
    _reading("Set resistance", set_ohm)
    above(0, "Loop resistance", loop_ohm, "ohm")
    return (bad_arm * loop_ohm - good_arm * set_ohm) / (good_arm + bad_arm)


def open_fraction(near_farad: float, far_farad: float) -> float:
    """Return which part of an open conductor lies before the break, by capacitance at both ends.

    Both are to the same return, and above 0 together. With c the capacitance of each metre, C1
    = c d is read at the near end of a conductor of the length L, and C2 = c (L - d) at its far
    end. So d = L C1 / (C1 + C2), and c drops out. It holds where c is the same everywhere, and
    for a clean break.

    >>> 50 * open_fraction(30e-12, 120e-12)
    10.0
    """
    between(0, 1, "Capacitance at the near end", near_farad, "F")
    between(0, 1, "Capacitance at the far end", far_farad, "F")
    above(0, "Capacitance of both ends together", near_farad + far_farad, "F")
    return near_farad / (near_farad + far_farad)


def _reading(name: str, ohms: float) -> None:
    """Refuse what no meter can have shown."""
    between(0, 1e16, name, ohms, "ohm")
