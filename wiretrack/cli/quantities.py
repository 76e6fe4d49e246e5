# SPDX-License-Identifier: MIT
"""Quantities as people read them; `None` stays `None`."""

from __future__ import annotations


def length(length_m: float | None) -> str | None:
    """Return a length in metres and feet."""
    from wiretrack.electrical.quantity_text import format_length

    if length_m is None:
        return None
    return f"{format_length(length_m, 'm')} ({format_length(length_m, 'ft')})"


def quantity(value: float, unit: str) -> str:
    """Return what was read, or its limit, in its unit."""
    return resistance(value) or "" if unit == "ohm" else f"{value:g} {unit}"


def resistance(ohms: float | None) -> str | None:
    """Return a resistance with its prefix."""
    from wiretrack.electrical.quantity_text import format_resistance

    return None if ohms is None else format_resistance(ohms)
