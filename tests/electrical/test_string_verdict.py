# SPDX-License-Identifier: MIT
"""A PV string's voltage is judged by the modules that the record counts."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from wiretrack.electrical.accuracy import meter_of
from wiretrack.electrical.strings import Modules, any_temperature
from wiretrack.electrical.supplies import CircuitFacts
from wiretrack.electrical.voltage import voltage_verdict
from wiretrack.readings import parse_reading

if TYPE_CHECKING:
    from wiretrack.model.entity import Verdict

METER = meter_of("0.5% + 2 digits", "0.1 V")
TEN = Modules(49.5, -0.27, 10)
TWELVE = Modules(40.0, -0.30, 12)


def verdict(
    text: str, cell_c: float | None, modules: Modules | None = TEN, pair: str = "L+ L-"
) -> Verdict:
    facts = CircuitFacts("dc-pv", 600, frozenset(("L+", "L-", "PE")), modules=modules)
    one, other = pair.split()
    return voltage_verdict(
        parse_reading("voltage", text), facts, one, other, cell_c=cell_c, meter=METER
    )


# By the data sheet's straight line: 10 · 49.5 V · (1 - 0.0027 · (c - 25)), and 12 · 40 V · (1 -
# 0.003 · (c - 25)), worked by hand.
@pytest.mark.parametrize(
    ("text", "cell_c", "modules"),
    [
        ("495 V", 25, TEN), ("465.6 V", 47, TEN), ("535.1 V", -5, TEN),
        ("480 V", 25, TWELVE), ("429.6 V", 60, TWELVE), ("516 V", 0, TWELVE),
    ],
)  # fmt: skip
def test_a_string_that_reads_as_its_data_sheet_says_passes(
    text: str, cell_c: float, modules: Modules
) -> None:
    found = verdict(text, cell_c, modules)
    assert found.outcome == "pass", found.reason
    assert found.source.startswith("IEC 62446-1")
    reverse = verdict(f"-{text}", cell_c, modules, "L- L+")
    assert reverse.outcome == "pass"


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("200 V", "fits no number"), ("13 V", "dark, open or shorted"),
        ("445.5 V", "one module fewer"), ("396 V", "one module reversed"),
        ("544.5 V", "one module more"), ("-495 V", "polarity is reversed"),
        ("650 V", "above the 600 V"),
    ],
)  # fmt: skip
def test_another_number_of_modules_fails_and_is_named(text: str, why: str) -> None:
    found = verdict(text, 25)
    assert found.outcome == "fail"
    assert why in found.reason


def test_without_the_cell_temperature_nothing_passes() -> None:
    # From -40 °C, 10 · 49.5 V · 1.1755 = 582 V, to 85 °C, 415 V, in the light of 400 to 1000 W/m².
    low, high = any_temperature(TEN)
    assert low < 415 < 582 < high
    for text in ("495 V", "440 V", "550 V"):
        found = verdict(text, None)
        assert found.outcome == "doubt"
        assert found.missing == ("cell temperature",)
        assert "-40 to 85 °C" in found.reason
        assert "IEC 61215-2" in found.source
    for text in ("200 V", "13 V", "-495 V"):
        assert verdict(text, None).outcome == "fail"
    for volts in range(-620, 620, 7):
        assert verdict(f"{volts} V", None).outcome != "pass"


def test_without_its_modules_nothing_passes_and_they_are_asked_for() -> None:
    found = verdict("495 V", 25, None)
    assert found.outcome == "doubt"
    assert "record the string's modules" in found.reason
    assert verdict("-495 V", 25, None).outcome == "fail"
    # How many of the modules lie between a pole and a midpoint isn't in the record.
    assert verdict("247 V", 25, TEN, "L+ M").outcome == "doubt"


def test_a_pole_to_earth_says_nothing_of_the_modules() -> None:
    for text, pair in (("247 V", "L+ PE"), ("-247 V", "L- PE"), ("495 V", "L+ raceway")):
        found = verdict(text, 25, TEN, pair)
        assert found.outcome == "doubt"
        assert "read L+ against L-" in found.reason
    assert verdict("-247 V", 25, TEN, "L+ PE").outcome == "fail"


def test_a_dark_string_proves_nothing() -> None:
    for cell_c in (None, 25):
        assert verdict("3 V", cell_c).outcome == "doubt"


def test_module_data_that_can_not_be_leave_a_doubt_and_no_crash() -> None:
    found = verdict("495 V", 25, Modules(49.5, 27.0, 10))
    assert found.outcome == "doubt"
    assert "Temperature coefficient" in found.reason
    assert verdict("495 V", 400).outcome == "doubt"
