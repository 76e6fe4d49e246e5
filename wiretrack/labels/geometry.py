# SPDX-License-Identifier: MIT
"""How a label lies on a round conductor: how far print goes round, and what bends too much.

Lengths in millimetres, arcs in degrees of the conductor's circumference.
"""

from __future__ import annotations

import math
from functools import lru_cache
from importlib.resources import files
from itertools import takewhile
from typing import TYPE_CHECKING

from wiretrack.electrical.tables import rows_of
from wiretrack.errors import OutOfRangeError
from wiretrack.labels.symbol import side_modules
from wiretrack.late import dataclass
from wiretrack.sources import ARC_SIMULATION, COMMON_PRACTICE, NUREG_0700

if TYPE_CHECKING:
    from wiretrack.labels.plan import Stock
    from wiretrack.labels.symbol import Level

ENOUGH_READ = 0.95  # the share of photographs that the better decoder must read
BY_LUCK = 0.05  # the chance that a worse one passes for enough
MIN_MODULE_MM = 0.25  # common practice for phones held close
MIN_MODULE_DOTS = 3  # common practice; the symbology's inventor advises four or more
MAX_MODULE_MM = 0.6
MAX_DIAMETER_MM = 150.0
LETTER_ARC_MINUTES = 16  # NUREG-0700 rev. 2, 1.3.1-4
ARMS_LENGTH_MM = 600.0  # common practice
HAND_HELD_MM = 300.0  # common practice: a wire end taken in the hand
SEEN_ARC_DEG = 120.0  # common practice: what is read of a round face without turning it

MODULE_SOURCE = COMMON_PRACTICE.key
ARC_SOURCE = ARC_SIMULATION.cite()
LETTER_SOURCE = NUREG_0700.cite("1.3.1-4")


@dataclass(frozen=True)
class Band:
    """The part of a wrap label that stays in sight: from `top_mm` down, `height_mm` high."""

    top_mm: float
    height_mm: float
    limited_by: str


def check_diameter(outer_diameter_mm: float) -> float:
    """Return the diameter if a conductor can have it.

    Raises `OutOfRangeError` if it is not above 0 and at most 150 mm.
    """
    if not 0 < outer_diameter_mm <= MAX_DIAMETER_MM:
        allowed = f"above 0 and at most {MAX_DIAMETER_MM:g} mm"
        raise OutOfRangeError("Outer diameter", outer_diameter_mm, "mm", allowed)
    return outer_diameter_mm


def circumference_mm(outer_diameter_mm: float) -> float:
    """Return the way once round the conductor, in mm."""
    return math.pi * check_diameter(outer_diameter_mm)


def arc_deg(length_mm: float, outer_diameter_mm: float) -> float:
    """Return over how many degrees of the conductor a length laid round it bends."""
    return 360.0 * length_mm / circumference_mm(outer_diameter_mm)


def arc_limit_deg(version: int, level: Level, module_mm: float) -> float:
    """Return over how many degrees a symbol of that kind may bend and still be read.

    It is the largest arc up to which it is as good as sure that the better of two decoders reads
    95 % of simulated photographs, taken by a hand that doesn't hold the camera square. Of the
    modules simulated the largest that isn't larger counts. A kind that was not simulated gets the
    least of all limits.

    >>> arc_limit_deg(1, "H", 0.339)
    50.0
    """
    limits = _arc_limits()
    known = {module: limit for (*kind, module), limit in limits.items() if kind == [version, level]}
    sizes = [module for module in known if module <= module_mm + 1e-9]
    return known[max(sizes)] if sizes else min(limits.values())


@lru_cache(maxsize=1)
def _arc_limits() -> dict[tuple[int, str, float], float]:
    text = (files("wiretrack.labels") / "data" / "arc_success.csv").read_text(encoding="utf-8")
    enough: dict[tuple[int, str, float], dict[float, bool]] = {}
    for row in rows_of(text.splitlines()):
        trials, share = int(row["trials"]), float(row["read_share"])
        kind = enough.setdefault((int(row["version"]), row["level"], float(row["module_mm"])), {})
        arc = float(row["arc_deg"])
        kind[arc] = kind.get(arc, False) or _is_enough(round(share * trials), trials)
    return {kind: _last_enough(by_arc) for kind, by_arc in enough.items()}


def _is_enough(read: int, trials: int) -> bool:
    """Return whether so many read would come by luck in at most one of twenty cases.

    That is, if the share that is read of all photographs were `ENOUGH_READ` (the exact lower bound
    of a binomial share; C. J. Clopper and E. S. Pearson, Biometrika 26 (1934), 404).
    """
    chances = (
        math.comb(trials, k) * ENOUGH_READ**k * (1 - ENOUGH_READ) ** (trials - k)
        for k in range(read, trials + 1)
    )
    return sum(chances) <= BY_LUCK


def _last_enough(enough_by_arc: dict[float, bool]) -> float:
    return max(takewhile(lambda arc: enough_by_arc[arc], sorted(enough_by_arc)), default=0.0)


def letter_height_mm(distance_mm: float) -> float:
    """Return the least height of capitals that are read with ease from a distance, in mm.

    Source: NUREG-0700 rev. 2, 1.3.1-4: at least 16 minutes of arc, height = 6.283 D MA / 21600.
    """
    return 2 * math.pi * distance_mm * LETTER_ARC_MINUTES / 21600


TAG_LETTER_MM = letter_height_mm(ARMS_LENGTH_MM)
TEXT_LETTER_MM = letter_height_mm(HAND_HELD_MM)


def wrap_band(stock: Stock, outer_diameter_mm: float) -> Band:
    """Return the part of the print zone that may be used on this conductor.

    With a clear tail: no more than once round, and no more than the tail covers when it is wound
    over the print. Without one the label's end hides its start, and only the last turn shows.
    """
    around, zone = circumference_mm(outer_diameter_mm), stock.zone
    if not stock.clear_tail_mm:
        top = max(zone.top_mm, stock.height_mm - around)
        bottom = zone.top_mm + zone.height_mm
        return Band(top, max(0.0, bottom - top), "the print zone")
    limits = {
        "the print zone": zone.height_mm,
        "the conductor's circumference": around - zone.top_mm,
        "what the clear tail covers": stock.height_mm - around - zone.top_mm,
    }
    name = min(limits, key=lambda key: limits[key])
    return Band(zone.top_mm, max(0.0, limits[name]), name)


def fold_mm(stock: Stock, outer_diameter_mm: float | None) -> float:
    """Return the width to leave blank at a flag's fold: the way round the conductor, in mm.

    Where the diameter isn't known the stock's own fold width is all there is.
    """
    if outer_diameter_mm is None:
        return stock.fold_mm
    return max(stock.fold_mm, circumference_mm(outer_diameter_mm))


def smallest_module_dots(dpi: int) -> int:
    """Return the fewest printer dots that a module may have at that resolution."""
    return max(MIN_MODULE_DOTS, math.ceil(MIN_MODULE_MM * dpi / 25.4 - 1e-9))


def largest_module_dots(dpi: int) -> int:
    """Return the most printer dots that a module is drawn with; more only takes room from text."""
    return max(smallest_module_dots(dpi), math.floor(MAX_MODULE_MM * dpi / 25.4))


def module_sizes(dpi: int) -> range:
    """Return the printer dots that a module may have, the most first."""
    return range(largest_module_dots(dpi), smallest_module_dots(dpi) - 1, -1)


def smallest_arc_deg(stock: Stock, outer_diameter_mm: float, version: int) -> float:
    """Return over how many degrees a symbol bends at its smallest module."""
    module_mm = stock.mm(smallest_module_dots(stock.dpi))
    return arc_deg(module_mm * side_modules(version), outer_diameter_mm)
