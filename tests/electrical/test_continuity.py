# SPDX-License-Identifier: MIT
"""Continuity: verdicts on a real pull, against figures worked out by hand from the tables."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from wiretrack.electrical.accuracy import UNKNOWN_METER, Meter, meter_of
from wiretrack.electrical.continuity import Piece, continuity_verdict, loop_verdict
from wiretrack.electrical.quantities import parse_resistance
from wiretrack.errors import OutOfRangeError

if TYPE_CHECKING:
    from wiretrack.model.entity import Verdict

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


COARSE = meter_of("0.5% + 2 digits", "0.1 ohm")


@pytest.mark.parametrize("length_m", [5, 10, 20, 40, 60])
def test_a_coarse_meter_leaves_a_sound_conductor_in_doubt_and_says_that_it_is_the_meter(
    length_m: float,
) -> None:
    # 12 AWG stranded has 5.34 mohm/m at 20 °C (NEC chapter 9 table 8, as above); its contacts add
    # about 0.05 ohm. A display of 0.1 ohm rounds that; 2 digits and the step are 0.24 ohm, k = 2.
    sound = BY_HAND / 46 * length_m + 0.05
    path = [Piece("12 AWG", "Cu", length_m, 7)]
    shown = max(round(sound, 1), 0.1)
    verdict = judge(f"{shown:.1f}", path, leads_ohm=0, meter=COARSE)
    assert verdict.outcome == "doubt"
    assert "the meter can't tell: continuous, and no more than" in verdict.reason
    assert "mostly from the instrument's 2 digits of 0.1 Ω" in verdict.reason
    assert "a resolution of 0.01 Ω would tell" in verdict.reason
    assert "contacts" not in verdict.reason
    bound = 2 * (((0.005 * shown + 0.2) ** 2) / 3 + 0.1**2 / 12) ** 0.5 + shown
    assert f"no more than {bound:.3g} Ω" in verdict.reason
    assert verdict.missing == ("resolution",)
    assert judge(f"{sound:.2f}", path, leads_ohm=0).outcome == "pass"  # what it says, is so


def test_a_coarse_meter_still_finds_a_bad_contact_and_passes_a_long_conductor() -> None:
    assert judge("1.2", leads_ohm=0, meter=COARSE).outcome == "fail"
    long = [Piece("12 AWG", "Cu", 600, 7)]  # by hand 3.2 ohm, give or take a twelfth, and contacts
    assert judge("3.2", long, leads_ohm=0, meter=COARSE).outcome == "pass"


def test_less_than_the_leads_is_no_alarm_where_the_digits_allow_it_and_no_pass() -> None:
    verdict = judge("0.1", leads_ohm=0.2, meter=COARSE)
    assert verdict.outcome == "doubt"
    assert "the meter can't tell" in verdict.reason
    assert "less than the leads alone" in judge("0.10", leads_ohm=0.2).reason


@pytest.mark.parametrize(
    ("meter", "text", "leads", "figure"),
    [
        (COARSE, "0.3", 0.0, "2 digits of 0.1 Ω"),
        (COARSE, "0.4", 0.1, "2 digits of 0.1 Ω, once for the reading and once for the leads"),
        (meter_of("1 digit", "0.1 ohm"), "0.3", 0.0, "1 digit of 0.1 Ω"),
        (meter_of("0.1%", "1 ohm"), "0.3", 0.0, "resolution of 1 Ω"),
        (meter_of("40% + 1 digit", "0.001 ohm"), "0.250", 0.0, "40 % of the reading"),
        (meter_of("2 digits"), "0.3", 0.0, "2 digits of 0.1 Ω"),
    ],
)
def test_a_doubt_names_the_figure_of_the_instrument_that_leaves_it(
    meter: Meter, text: str, leads: float, figure: str
) -> None:
    verdict = judge(text, leads_ohm=leads, meter=meter)
    assert verdict.outcome == "doubt"
    assert f"mostly from the instrument's {figure}" in verdict.reason


def test_where_no_resolution_would_do_a_more_accurate_meter_is_asked_for() -> None:
    verdict = judge("0.300", leads_ohm=0, meter=meter_of("90%", "0.001 ohm"))
    assert "a more accurate meter" in verdict.reason
    assert "resolution of" not in verdict.reason.split("can't tell")[1]


def test_digits_that_were_not_typed_are_asked_for_where_the_resolution_is_not_recorded() -> None:
    assert "type every digit" in judge("0.3", leads_ohm=0, meter=meter_of("2 digits")).reason
    assert judge("0.30", leads_ohm=0, meter=meter_of("2 digits")).outcome == "pass"


def test_a_fine_meter_sends_people_to_the_contacts() -> None:
    assert "make the contacts good" in judge("0.57").reason


def test_an_unnamed_meter_is_asked_for() -> None:
    verdict = judge("0.30", leads_ohm=0, meter=UNKNOWN_METER)
    assert "name the instrument" in verdict.reason
    assert verdict.missing == ("accuracy",)


def test_each_joint_of_the_path_has_its_allowance() -> None:
    # Common practice: 20 mohm each.
    limits = [
        continuity_verdict(
            parse_resistance("0.60"), PULL * 3, temp_c=20, leads_ohm=0, meter=METER, joints=joints
        )
        for joints in (0, 1, 2)
    ]
    assert limits[1].limit == pytest.approx((limits[0].limit or 0) + 0.02)
    assert limits[2].limit == pytest.approx((limits[0].limit or 0) + 0.04)
    assert "0.02 Ω for each of 2 joints (common practice)" in limits[2].source
    assert "0.02 Ω for the joint (common practice)" in limits[1].source


def test_a_loop_has_its_own_rule_out_and_back() -> None:
    piece = PULL[0]
    sound = loop_verdict(
        parse_resistance("0.52"), piece, piece, temp_c=20, leads_ohm=0, meter=METER
    )
    assert sound.outcome == "pass"
    assert f"expected {2 * BY_HAND:.3f} Ω" in sound.reason
    # R1 + R2: a return of twice the length has twice as much.
    longer = Piece("12 AWG", "Cu", 92, 7)
    r1_r2 = loop_verdict(
        parse_resistance("0.76"), piece, longer, temp_c=20, leads_ohm=0, meter=METER
    )
    assert f"expected {3 * BY_HAND:.3f} Ω" in r1_r2.reason
    assert r1_r2.outcome == "pass"
    once = loop_verdict(parse_resistance("0.25"), piece, piece, temp_c=20, leads_ohm=0, meter=METER)
    assert once.outcome == "doubt"
    assert "too low" in once.reason


def test_a_loop_without_a_known_return_is_no_continuity() -> None:
    verdict = loop_verdict(parse_resistance("0.25"), PULL[0], None, temp_c=20, leads_ohm=0)
    assert (verdict.outcome, verdict.missing) == ("doubt", ("return conductor",))
    assert loop_verdict(parse_resistance("OL"), PULL[0], None).outcome == "fail"


def test_over_range_is_open_unless_the_meter_does_not_reach_so_far() -> None:
    short = meter_of("0.5% + 2 digits", "0.0001 ohm", None, "0.2 ohm")
    assert judge("OL", meter=short).outcome == "doubt"
    assert "use a higher range" in judge("OL", meter=short).reason
    assert judge("OL", meter=meter_of("0.5%", "0.01 ohm", None, "2000 ohm")).outcome == "fail"


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
