# SPDX-License-Identifier: MIT
"""An instrument's uncertainty (JCGM 100), and the guard band between figure and limit."""

from __future__ import annotations

import re
from dataclasses import replace
from math import hypot, sqrt
from typing import TYPE_CHECKING

from wiretrack.electrical.limits import shown
from wiretrack.electrical.quantities import parse_resolution
from wiretrack.electrical.quantity_text import format_number
from wiretrack.errors import OutOfRangeError, QuantityError
from wiretrack.late import dataclass, pattern
from wiretrack.sources import JCGM_106

if TYPE_CHECKING:
    from wiretrack.electrical.quantities import Measured
    from wiretrack.model.entity import Outcome


COVERAGE_FACTOR = 2.0  # JCGM 100:2008, 6.3.3: about 95 %
# The most that these testers may be off in use, as a fraction of the reading.
WORST_OPERATING = 0.30  # IEC 61557-2 and -4, clause 4
_COUNTS = 10_000  # common practice: a display has fewer counts, so a larger value has coarser steps
_EXAMPLES = "0.5% + 2 digits, 1% or 3 digits"
_PERCENT = pattern(r"([0-9]+(?:\.[0-9]+)?)\s*%\s*(?:of\s+)?(?:rdg|reading|read|v\.?m\.?)?", re.I)
_DIGITS = pattern(r"([0-9]+)\s*(?:digits?|dgts?|d|counts?|lsd)\.?", re.I)


@dataclass(frozen=True)
class Accuracy:
    """Largest error: `percent` of the reading and so many `digits` of the last place."""

    percent: float
    digits: int
    text: str

    def half_width(self, value: float, step: float | None) -> float | None:
        """Return the largest error at `value`, or None if it needs an unknown `step`."""
        if self.digits and step is None:
            return None
        return abs(value) * self.percent / 100 + self.digits * (step or 0.0)


def parse_accuracy(text: str) -> Accuracy:
    """Return the accuracy that a manual states, such as ``±(0.5% rdg + 2 dgt)``.

    Raises `QuantityError` if `text` isn't such a statement; `OutOfRangeError` if the percentage is
    above 100.

    >>> parse_accuracy("0.5% + 2 digits").digits
    2
    """
    plain = re.sub(r"[±()]|\+/-|\+-", " ", text).strip()
    plain = re.sub(r"(?<=[0-9]),(?=[0-9])", ".", plain)
    parts = [part.strip() for part in plain.split("+")]
    percents = [match for part in parts if (match := _PERCENT.fullmatch(part))]
    digits = [match for part in parts if (match := _DIGITS.fullmatch(part))]
    if (
        not parts
        or len(percents) > 1
        or len(digits) > 1
        or len(percents) + len(digits) < len(parts)
    ):
        raise QuantityError(shown(text), "an accuracy", _EXAMPLES)
    percent = float(percents[0][1]) if percents else 0.0
    if percent > 100:
        raise OutOfRangeError("Accuracy", percent, "%", "at most 100 %")
    return Accuracy(percent, int(digits[0][1]) if digits else 0, text.strip())


@dataclass(frozen=True)
class Meter:
    """What is known of an instrument: accuracy, resolution of its lowest range, top of its highest.

    `top` is what an over-range display is surely above.
    """

    accuracy: Accuracy | None = None
    resolution: float | None = None
    resolution_unit: str = "ohm"
    name: str | None = None
    top: float | None = None
    top_unit: str = "ohm"

    def step_at(self, measured: Measured) -> float | None:
        """Return one unit of the last place of a reading: by the meter, else as typed."""
        if self.resolution is None or self.resolution_unit != measured.unit:
            return measured.step
        if measured.number is None or abs(measured.number) <= _COUNTS * self.resolution:
            return self.resolution
        return max(self.resolution, measured.step or 0.0)


UNKNOWN_METER = Meter()


def meter_of(
    accuracy: str | None = None, resolution: str | None = None, name: str | None = None,
    highest: str | None = None,
) -> Meter:  # fmt: skip
    """Return what is known of an instrument from the texts of its record; `highest`: its range."""
    stated = parse_accuracy(accuracy) if accuracy else None
    step, unit = parse_resolution(resolution) if resolution else (None, "ohm")
    top, top_unit = parse_resolution(highest, "Range") if highest else (None, "ohm")
    return Meter(stated, step, unit, name, top, top_unit)


def bounded(measured: Measured, meter: Meter) -> Measured:
    """Return a reading, a bare ``OL`` as the bound that the top of the meter's range makes it."""
    if measured.number is not None or meter.top is None or meter.top_unit != measured.unit:
        return measured
    return replace(measured, number=meter.top)


def standard_uncertainty(measured: Measured, meter: Meter) -> float | None:
    """Return the standard uncertainty of a reading in its unit, or None if it isn't known.

    Source: JCGM 100:2008, 4.3.7: the stated error is the half-width of a rectangle, divided by √3;
    F.2.2.1: the step of the display is a full width, divided by √12.
    """
    if meter.accuracy is None or measured.number is None:
        return None
    step = meter.step_at(measured)
    half_width = meter.accuracy.half_width(measured.number, step)
    if half_width is None:
        return None
    return hypot(half_width / sqrt(3), (step or 0.0) / sqrt(12))


def largest_part(measured: Measured, meter: Meter) -> str:
    """Return which of a stated meter's figures widens the guard band of a reading most."""
    step, accuracy = meter.step_at(measured) or 0.0, meter.accuracy or Accuracy(0.0, 0, "")
    last = format_number(step, measured.unit)
    percent, digits = accuracy.percent, accuracy.digits
    half_widths = {
        f"{percent:g} % of the reading": abs(measured.number or 0.0) * percent / 100,
        f"{digits} digit{'' if digits == 1 else 's'} of {last}": digits * step,
        f"resolution of {last}": step / 2,
    }
    return max(half_widths, key=lambda what: half_widths[what])


def combined(*parts: float) -> float:
    """Return the combined standard uncertainty of independent parts (JCGM 100:2008, 5.1.2)."""
    return hypot(*parts)


@dataclass(frozen=True)
class Guard:
    """How far from a limit a figure must stay to pass, or be beyond it to fail.

    `most` says which of the instrument's figures widens it most; `None` where they aren't stated.
    """

    accept: float
    reject: float
    why: str
    most: str | None = None

    def because(self, outcome: Outcome) -> str:
        """Return why, and in a doubt also which figure of the instrument leaves it."""
        return f"{self.why}, {self.most}" if outcome == "doubt" and self.most else self.why


def guard_of(
    figure: float, u: float | None, worst: float, tester: str, part: str | None = None
) -> Guard:
    """Return the guard band of a figure in ohm.

    `u` is the figure's standard uncertainty, None where the instrument's accuracy isn't known;
    `part` is what widens it most. `worst` is the most that such a tester may be off, as a
    fraction, by the publication `tester`: a figure of an unknown instrument passes only if it
    would even so; it fails as it stands.

    Source: JCGM 106:2012, 8.3.2: acceptance limit = limit - w, here w = U = 2 u.
    """
    if u is None:
        width = abs(figure) * worst
        why = f"accuracy of the instrument unknown, {worst:.0%} allowed for ({tester})"
        return Guard(width, 0.0, why)
    width = 2 * u
    most = f"mostly from the instrument's {part}" if part else None
    why = f"guard band {format_number(width, 'ohm')} ({JCGM_106.key})"
    return Guard(width, width, why, most)


def at_most(figure: float, limit: float, guard: Guard) -> Outcome:
    """Return the outcome of a figure that must not be above `limit`."""
    if figure <= limit - guard.accept:
        return "pass"
    return "fail" if figure > limit + guard.reject else "doubt"


def at_least(figure: float, limit: float, guard: Guard) -> Outcome:
    """Return the outcome of a figure that must not be below `limit`."""
    if figure >= limit + guard.accept:
        return "pass"
    return "fail" if figure < limit - guard.reject else "doubt"
