# SPDX-License-Identifier: MIT
"""A limit and a reading are shown in the unit of their kind, whatever it is."""

from __future__ import annotations

import pytest

from wiretrack.cli.output import quantity
from wiretrack.electrical.quantities import Measured
from wiretrack.electrical.quantity_text import format_measured


@pytest.mark.parametrize(
    ("value", "unit", "shown"),
    [(0.31, "ohm", "0.31 Ω"), (1e6, "ohm", "1 MΩ"), (230.0, "V", "230 V"), (0.3, "s", "300 ms")],
)
def test_a_limit_is_shown_in_its_unit(value: float, unit: str, shown: str) -> None:
    assert quantity(value, unit) == shown


def test_a_reading_in_no_ohms_is_shown_in_none() -> None:
    assert format_measured(Measured(0.18, "s", False, "180 ms")) == "180 ms"
    assert format_measured(Measured(0.5, "s", True, ">0.5 s")) == ">500 ms"
