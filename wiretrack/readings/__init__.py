# SPDX-License-Identifier: MIT
"""The kinds of reading, a file a kind: each file here that has a `KIND` is one."""

from __future__ import annotations

import os
from importlib import import_module
from typing import TYPE_CHECKING, Any

from wiretrack.errors import BadInputError
from wiretrack.model.kinds import READING_KIND, UNIT
from wiretrack.readings.base import written

if TYPE_CHECKING:
    from wiretrack.electrical.quantities import Measured
    from wiretrack.model.entities import Reading
    from wiretrack.readings.base import ReadingKind

_NO_KINDS = ("__init__", "base", "judging", "trending")
KINDS: tuple[ReadingKind, ...] = tuple(
    sorted(
        (
            import_module(f"{__name__}.{name}").KIND
            for name, is_code, _ in (file.partition(".py") for file in os.listdir(__path__[0]))
            if is_code and name not in _NO_KINDS
        ),
        key=lambda kind: kind.order,
    )
)
BY_NAME = {kind.name: kind for kind in KINDS}
# The kinds that are followed over the years, those that are followed by logarithm first.
TRENDED = tuple(
    kind.name
    for kind in sorted(KINDS, key=lambda kind: not (kind.trend and kind.trend.is_log))
    if kind.trend
)
READING_KIND.allow(BY_NAME)
UNIT.allow(kind.unit for kind in KINDS)


def kind_of(name: str) -> ReadingKind:
    """Return the kind of reading called `name`.

    Raises `BadInputError` if there is none.
    """
    if name not in BY_NAME:
        raise BadInputError(f"'{name}' is not a kind of reading. Kinds: {', '.join(BY_NAME)}.")
    return BY_NAME[name]


_OF_A_READING = (
    "id", "kind", "unit", "over_range", "at", "instrument", "leads_ohm", "temp_c", "cell_temp_c",
    "test_voltage_v", "after_s", "at_reference", "by", "note", "verdict",
    "entered_at", "entered_by",
)  # fmt: skip


def reading_json(reading: Reading) -> dict[str, Any]:
    """Return a reading as scripts read it."""
    return {
        **{name: getattr(reading, name) for name in _OF_A_READING},
        "value": reading.number,
        "as_read": reading.value,
        "against": written(reading.against),
        "superseded": reading.superseded_by is not None,
    }


def told(reading: Reading) -> str:
    """Return what was read, in words: against what, at which test voltage, after how long."""
    volts = f" at {reading.test_voltage_v:g} V" if reading.test_voltage_v else ""
    after = f" after {reading.after_s:g} s" if reading.after_s else ""
    cells = reading.cell_temp_c
    warm = "" if cells is None else f", cells at {cells:g} °C"
    return f"{kind_of(reading.kind).told(written(reading.against))}{volts}{after}{warm}"


def parse_reading(kind: str, text: str) -> Measured:
    """Return what was read for a reading of `kind`, in the unit of that kind.

    Raises `BadInputError` if there is no such kind; `QuantityError` or `OutOfRangeError` if `text`
    is not such a quantity, or an impossible one.
    """
    return kind_of(kind).parse(text)
