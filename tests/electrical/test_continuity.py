# SPDX-License-Identifier: MIT
"""Continuity: verdicts on a real pull, against figures worked out by hand from the tables."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from wiretrack.electrical.accuracy import UNKNOWN_METER, Meter, meter_of
from wiretrack.electrical.continuity import Piece, continuity_verdict
from wiretrack.electrical.quantities import parse_resistance
from wiretrack.errors import OutOfRangeError

if TYPE_CHECKING:
    from wiretrack.electrical.verdicts import Verdict

METER = meter_of("0.5% + 2 digits", "0.01 ohm")
# 46 m of 12 AWG stranded copper: 1.98 ohm per 1000 ft at 75 °C (NEC chapter 9 table 8), so by hand
# 1.98 / 304.8 x 46 x (1 - 0.00323 x 55) = 0.2457 ohm at 20 °C.
PULL = [Piece("12 AWG", "Cu", 46, 7)]
BY_HAND = 1.98 / 304.8 * 46 * (1 - 0.00323 * 55)


def judge(
    text: str, path: list[Piece] | None = None, *, temp_c: float | None = 20,
    leads_ohm: float | None = 0.20, meter: Meter = METER,
) -> Verdict:  # fmt: skip
    return continuity_verdict(
        parse_resistance(text), PULL if path is None else path, temp_c=temp_c,
        leads_ohm=leads_ohm, meter=meter,
    )  # fmt: skip


def test_the_leads_are_subtracted_and_a_sound_conductor_passes() -> None:
    verdict = judge("0.45")
    assert verdict.outcome == "pass"
    assert verdict.figure == pytest.approx(0.25)
    assert "expected 0.246 Ω at 20 °C" in verdict.reason
    assert BY_HAND == pytest.approx(0.2457, abs=5e-5)


def test_the_limit_is_expectation_tolerance_and_contacts() -> None:
    # Length 5 %, wire 5 %, temperature 3 K x 0.004: rectangles (JCGM 100, 4.3.7), twice the root of
    # their squares' sum; and 0.1 ohm for contacts (common practice).
    spread = 2 * ((0.05**2 + 0.05**2 + 0.012**2) / 3) ** 0.5
    limit = judge("0.45").limit
    assert limit == pytest.approx(BY_HAND * (1 + spread) + 0.1)


def test_the_guard_band_is_twice_the_uncertainty_of_reading_and_leads() -> None:
    # 0.5 % and 2 digits of 0.01 ohm, as rectangles, and the step of the display, for both readings.
    def u(value: float) -> float:
        return float((((0.005 * value + 0.02) ** 2) / 3 + 0.01**2 / 12) ** 0.5)

    assert judge("0.45").guard_band == pytest.approx(2 * (u(0.45) ** 2 + u(0.20) ** 2) ** 0.5)


@pytest.mark.parametrize(
    ("text", "outcome", "words"),
    [
        ("0.75", "fail", "make the contacts good"),  # a bad twist
        ("0.57", "doubt", "guard band"),  # the limit lies within the uncertainty
        ("0.30", "doubt", "a shorter path or another conductor"),
        ("0.10", "doubt", "less than the leads alone"),
        ("OL", "fail", "open"),
        (">2k", "fail", "open"),
        (">0.2", "doubt", "use a higher range"),
    ],
)
def test_strange_readings_are_named(text: str, outcome: str, words: str) -> None:
    verdict = judge(text)
    assert verdict.outcome == outcome
    assert words in verdict.reason


def test_a_loop_is_the_sum_of_its_two_conductors() -> None:
    loop = judge("0.69", PULL * 2)
    assert loop.outcome == "pass"
    assert f"expected {2 * BY_HAND:.3f} Ω" in loop.reason


def test_unknown_facts_are_named_and_make_a_doubt() -> None:
    verdict = judge("0.45", [Piece(None, "Cu", None, name="ABC-DEFG")])
    assert verdict.outcome == "doubt"
    assert verdict.missing == ("size of ABC-DEFG", "length of ABC-DEFG")
    assert verdict.limit is None
    assert judge("0.45", []).missing == ("path",)


def test_an_open_conductor_fails_even_if_its_length_is_unknown() -> None:
    assert judge("OL", [Piece(None, None, None)]).outcome == "fail"


def test_an_unknown_temperature_matters_only_where_it_could_change_the_verdict() -> None:
    near = judge("0.43", temp_c=None)
    assert near.outcome == "pass"
    assert "temperature not stated" in near.reason
    long = judge("2.35", [Piece("12 AWG", "Cu", 400, 7)], temp_c=None)
    assert long.outcome == "doubt"
    assert long.missing == ("temperature",)


def test_unknown_leads_never_turn_a_sound_conductor_into_a_failure() -> None:
    verdict = judge("0.45", leads_ohm=None)
    assert verdict.outcome == "doubt"
    assert "leads' resistance" in verdict.missing
    assert judge("5", leads_ohm=None).outcome == "fail"  # no test lead has that much


def test_a_meter_of_unknown_accuracy_is_given_the_30_percent_of_iec_61557_4() -> None:
    verdict = judge("0.30", leads_ohm=0, meter=UNKNOWN_METER)
    assert verdict.outcome == "doubt"
    assert "30% allowed for (IEC 61557-4)" in verdict.reason
    assert judge("0.26", leads_ohm=0, meter=UNKNOWN_METER).outcome == "pass"


def test_a_size_that_no_table_holds_is_a_doubt_and_not_an_error() -> None:
    verdict = judge("0.45", [Piece("0.25 mm2", "Cu", 10)])
    assert verdict.outcome == "doubt"
    assert "no published resistance" in verdict.reason


def test_the_source_names_table_and_every_allowance() -> None:
    source = judge("0.45").source
    for part in ("IEC 60364-6:2016", "NEC chapter 9 table 8", "JCGM 100:2008", "common practice"):
        assert part in source


@pytest.mark.parametrize("leads", [-0.1, float("nan"), 1e9])
def test_impossible_leads_are_refused(leads: float) -> None:
    with pytest.raises(OutOfRangeError):
        judge("0.45", leads_ohm=leads)


def test_an_impossible_temperature_is_refused() -> None:
    with pytest.raises(OutOfRangeError):
        judge("0.45", temp_c=float("nan"))
