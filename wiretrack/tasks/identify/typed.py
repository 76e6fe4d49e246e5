# SPDX-License-Identifier: MIT
"""Answers to the steps of a ring-out as people type them, and as they are said."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING, Any

from wiretrack.electrical.quantities import parse_resistance, parse_voltage
from wiretrack.errors import BadInputError
from wiretrack.ringout.parsing import HIGHEST_DIODE_VOLT, parse_answer, parse_step
from wiretrack.ringout.steps import OVER_RANGE, PROVE_DEAD, Live

if TYPE_CHECKING:
    from collections.abc import Mapping

    from wiretrack.ringout.steps import Step


UNDO, HELP, QUIT = ("u", "undo"), ("h", "help", "?"), ("q", "quit")
DONE, DEAD = ("", "d", "done"), ("dead",)
CLOSED, OPEN, SKIP, LIVE = ("c", "closed"), ("o", "open"), ("s", "skip"), ("live", "v", "voltage")


def typed_answer(step: Step, typed: str) -> dict[str, Any]:
    """Return the answer that a person typed.

    To a touch that is ``c``, ``o``, ohms, volts of a diode, ``s`` for one that can't be made now,
    or ``live`` or volts where a voltage is on it; to other steps nothing, ``d`` or ``done``.

    Raises
    ------
    BadInputError
        If it is none of these, or might be one of two.
    """
    asked, key = step.to_json(), typed.strip().lower()
    if asked["step"] == "prove-dead":
        return _dead(key, typed)
    if asked["step"] != "probe":
        return _done(key, typed)
    if key in CLOSED:
        return {"closed": True}
    if key in OPEN:
        return {"ohms": OVER_RANGE}
    if key in SKIP:
        return {"skip": True}
    if key in LIVE:
        return {"volts": None}
    if _VOLTS.fullmatch(key) or ("plus" in asked and _is_voltage(typed)):
        return {"volts": _volts(typed)}
    measured = parse_resistance(typed)
    return {"ohms": OVER_RANGE if measured.over_range else measured.number}


_VOLTS = re.compile(r".*[0-9].*(v|volts?|v *[ad]c)")


def _volts(typed: str) -> float | None:
    """Return the volts typed; `None` where the number can't be read: it is still a voltage."""
    try:
        return parse_voltage(typed)
    except BadInputError:
        return None


def _done(key: str, typed: str) -> dict[str, Any]:
    if key not in DONE:
        raise BadInputError(
            f"'{typed.strip()}' is not an answer to this step. Type d when it is done."
        )
    return {"done": True}


def _dead(key: str, typed: str) -> dict[str, Any]:
    if key in DEAD:
        return {"dead": True}
    if key in LIVE:
        return {"volts": None}
    if _VOLTS.fullmatch(key):
        return {"volts": _volts(typed)}
    raise BadInputError(f"{PROVE_DEAD} Type dead when it is, not '{typed.strip()}'.")


def is_live(step: Mapping[str, Any], answer: Mapping[str, Any]) -> bool:
    """Return whether a stored answer to a touch says that a voltage was on it."""
    asked = parse_step(step)
    return isinstance(parse_answer(asked, answer), Live)


def _is_voltage(typed: str) -> bool:
    """Return whether a reading taken on the diode range is in volts: it has a V, or no unit."""
    try:
        number = float(typed)
    except ValueError:
        return False
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

    >>> said({"ohms": "OL"}), said({"volts": 0.62}), said({"closed": True}), said({"skip": True})
    ('open', '0.62 V', 'closed', 'not made')
    """
    if "closed" in given:
        return "closed" if given["closed"] else "open"
    if "skip" in given:
        return "not made"
    for key, unit in (("ohms", "Ω"), ("volts", "V")):
        if key in given:
            return _number_said(given[key], unit)
    return "done"


def _number_said(number: object, unit: str) -> str:
    if number is None:
        return "a voltage"
    return "open" if number == OVER_RANGE else f"{number:g} {unit}"
