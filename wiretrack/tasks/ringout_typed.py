# SPDX-License-Identifier: MIT
"""Answers to the steps of a ring-out as people type them, and as they are said."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from wiretrack.electrical.quantities import parse_resistance, parse_voltage
from wiretrack.errors import BadInputError
from wiretrack.ringout.steps import HIGHEST_DIODE_VOLT, OVER_RANGE

if TYPE_CHECKING:
    from collections.abc import Mapping

    from wiretrack.ringout.steps import Step


def typed_answer(step: Step, typed: str) -> dict[str, Any]:
    """Return the answer that a person typed: nothing, ``c``, ``o``, ohms, or volts of a diode.

    Raises
    ------
    BadInputError
        If it is no reading, or might be one of two.
    """
    asked = step.to_json()
    if asked["step"] != "probe":
        return {"done": True}
    key = typed.lower()
    if key in ("c", "closed"):
        return {"closed": True}
    if key in ("o", "open"):
        return {"ohms": OVER_RANGE}
    if "plus" in asked and _is_voltage(typed):
        return {"volts": parse_voltage(typed)}
    measured = parse_resistance(typed)
    return {"ohms": OVER_RANGE if measured.over_range else measured.number}


def _is_voltage(typed: str) -> bool:
    """Return whether a reading taken on the diode range is in volts: it has a V, or no unit."""
    try:
        number = float(typed)
    except ValueError:
        return typed.strip().lower().endswith("v")
    if not math.isfinite(number):
        return False
    if number > HIGHEST_DIODE_VOLT:
        raise BadInputError(
            f"'{typed}' could be millivolts of the diode range, or ohms. Write {number:g}mV or"
            f" {number:g}ohm, or c for closed."
        )
    return True


def said(given: Mapping[str, Any]) -> str:
    """Return an answer in words.

    >>> said({"ohms": "OL"}), said({"volts": 0.62}), said({"closed": True})
    ('open', '0.62 V', 'closed')
    """
    if "closed" in given:
        return "closed" if given["closed"] else "open"
    for key, unit in (("ohms", "Ω"), ("volts", "V")):
        if key in given:
            return "open" if given[key] == OVER_RANGE else f"{given[key]:g} {unit}"
    return "done"
