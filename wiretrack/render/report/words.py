# SPDX-License-Identifier: MIT
"""Values as a report writes them; what isn't recorded is called unknown, never left out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.electrical.quantity_text import (
    format_current,
    format_length,
    format_number,
    format_resistance,
    format_temperature,
    format_voltage,
)
from wiretrack.render.report.blocks import Cell, Text

if TYPE_CHECKING:
    from wiretrack.model.parts import End
    from wiretrack.render.report.blocks import Tone

UNKNOWN = Text("unknown", "dim")
_OUTCOMES: dict[str, Tone] = {"pass": "pass", "fail": "fail", "doubt": "doubt"}
_CODES = {True: "yes", False: "no"}


def known(value: object) -> Cell:
    """Return a value as it stands, or that it is unknown."""
    if value is None or value == "":
        return UNKNOWN
    return _CODES[value] if isinstance(value, bool) else str(value)


def volts(value: float | None) -> Cell:
    """Return a voltage, or that it is unknown."""
    return UNKNOWN if value is None else format_voltage(value)


def amperes(value: float | None) -> Cell:
    """Return a current, or that it is unknown."""
    return UNKNOWN if value is None else format_current(value)


def metres(value: float | None) -> Cell:
    """Return a length in metres and feet, or that it is unknown."""
    return UNKNOWN if value is None else format_length(value)


def ohms(value: float | None) -> str:
    """Return a resistance, or a dash where there is none."""
    return "–" if value is None else format_resistance(value)


def celsius(value: float | None) -> str:
    """Return a temperature, or a dash where none was taken."""
    return "–" if value is None else format_temperature(value)


def limit_of(value: float | None, unit: str) -> str:
    """Return a figure or a limit with its unit, or a dash."""
    return "–" if value is None else format_number(value, unit)


def outcome(word: str) -> Text:
    """Return an outcome in its tone."""
    return Text(word.upper() if word == "fail" else word, _OUTCOMES[word])


def place(end: End) -> str:
    """Return where an end is: enclosure, terminal, and its state unless it is landed."""
    mark = f", mark {end.mark}" if end.mark else ""
    state = "" if end.state == "landed" else f", {end.state or 'state unknown'}"
    return f"{end.enclosure} {end.terminal or ''}".rstrip() + state + mark


def counted(number: int, noun: str, several: str | None = None) -> str:
    """Return a number of things.

    >>> counted(1, "reading"), counted(2, "reading"), counted(0, "entry", "entries")
    ('1 reading', '2 readings', '0 entries')
    """
    return f"{number} {noun if number == 1 else several or noun + 's'}"
