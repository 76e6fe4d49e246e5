# SPDX-License-Identifier: MIT
"""Verdicts: a figure against a limit with a guard band, and where the limit comes from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from wiretrack.electrical.quantity_text import format_number
from wiretrack.sources import JCGM_106

if TYPE_CHECKING:
    from wiretrack.model.knowledge import Outcome


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
    figure: float, u: float | None, unit: str, worst: float, tester: str,
    part: str | None = None,
) -> Guard:  # fmt: skip
    """Return the guard band of a figure in its unit.

    Parameters
    ----------
    figure : float
        What was measured.
    u : float or None
        Its standard uncertainty; None where the instrument's accuracy isn't known.
    worst : float
        The most that such a tester may be off, as a fraction, by the publication `tester`. A
        figure of an unknown instrument passes only if it would even so; it fails as it stands.
    part : str, optional
        The figure of the instrument that widens it most.

    References
    ----------
    .. [1] JCGM 106:2012, 8.3.2: acceptance limit = limit - w, here w = U = 2 u.
    """
    if u is None:
        width = abs(figure) * worst
        why = f"accuracy of the instrument unknown, {worst:.0%} allowed for ({tester})"
        return Guard(width, 0.0, why)
    width = 2 * u
    most = f"mostly from the instrument's {part}" if part else None
    why = f"guard band {format_number(width, unit)} ({JCGM_106.key})"
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
