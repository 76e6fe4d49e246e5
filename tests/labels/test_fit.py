# SPDX-License-Identifier: MIT
from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from wiretrack.errors import OutOfRangeError
from wiretrack.labels.forms import fit
from wiretrack.labels.geometry import arc_limit_deg
from wiretrack.labels.plan import Zone
from wiretrack.labels.stocks import shipped_stocks
from wiretrack.labels.symbol import QUIET_ZONE_MODULES, side_modules

if TYPE_CHECKING:
    from collections.abc import Callable

    from wiretrack.labels.subject import LabelSubject

STOCKS = shipped_stocks()
ADDRESS = "http://192.168.1.20:8080"
# NEC chapter 9 table 5, THHN: approximate diameter in inches.
THHN_12_AWG_MM = 0.130 * 25.4
THHN_1_0_AWG_MM = 0.486 * 25.4


def test_a_code_round_a_thin_conductor_is_never_offered_a_flag_is(
    make_subject: Callable[..., LabelSubject],
) -> None:
    found = fit(make_subject(outer_diameter_mm=THHN_12_AWG_MM), STOCKS["wrap-30x80-300"])
    assert found.form == "flag"
    assert found.printable
    assert found.arc_deg is not None
    # 21 modules of 3 dots at 300 to the inch round 3.302 mm
    assert found.arc_deg == pytest.approx(21 * 3 * 25.4 / 300 / (math.pi * 3.302) * 360)
    assert found.reason == (
        "Round 3.3 mm the smallest code would bend over 185°; up to 50° is read of such a "
        "symbol (arc simulation), so a flag keeps it flat."
    )


def test_a_thick_conductor_gets_a_wrap_with_its_code(
    make_subject: Callable[..., LabelSubject],
) -> None:
    found = fit(make_subject(outer_diameter_mm=THHN_1_0_AWG_MM), STOCKS["wrap-38x90-300"])
    assert (found.form, found.qr_version, found.error_correction) == ("wrap", 1, "H")
    assert found.reason.startswith("The code bends over ")
    assert found.arc_deg is not None
    assert found.arc_deg <= 50


def test_an_unknown_diameter_is_said_to_be_unknown(
    make_subject: Callable[..., LabelSubject],
) -> None:
    found = fit(make_subject(), STOCKS["flag-70x16-300"])
    assert (found.form, found.arc_deg, found.printable) == ("flag", None, True)
    assert found.reason.startswith("The conductor's outer diameter isn't known, so")


@settings(
    max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    name=st.sampled_from(sorted(STOCKS)),
    diameter=st.one_of(st.none(), st.floats(0.5, 60)),
    base=st.sampled_from([None, ADDRESS, "http://a-rather-long-name.some-farm.lan:8080"]),
)
def test_every_fit_keeps_its_own_rules(
    make_subject: Callable[..., LabelSubject], name: str, diameter: float | None, base: str | None
) -> None:
    stock = STOCKS[name]
    found = fit(make_subject(base=base, outer_diameter_mm=diameter), stock)
    assert found.reason.endswith(".")
    if found.plan is None:
        assert found.why_not
        assert found.hint.endswith(".")
        return
    assert found.letter_mm is not None
    assert found.letter_mm >= 1.39
    assert (found.module_dots is None) == (found.form == "sleeve")
    if found.module_dots is None:
        return
    assert found.module_mm is not None
    assert found.qr_version is not None
    assert found.module_dots >= 3
    assert found.module_mm >= 0.25
    assert found.module_mm == pytest.approx(found.module_dots * 25.4 / stock.dpi)
    if found.form == "wrap":
        assert found.arc_deg is not None
        assert found.error_correction is not None
        limit = arc_limit_deg(found.qr_version, found.error_correction, found.module_mm)
        assert found.arc_deg <= limit
    side = found.module_dots * (side_modules(found.qr_version) + 2 * QUIET_ZONE_MODULES)
    width, height = stock.size_dots
    for x0, y0, x1, y1 in found.plan.code_boxes():
        assert (x1 - x0, y1 - y0) == (side, side)
        assert x0 >= 0 <= y0
        assert x1 <= width
        assert y1 <= height


@pytest.mark.parametrize("diameter", [0.0, -3.3, math.nan, math.inf, 200.0])
def test_a_diameter_that_cannot_be_is_refused(
    make_subject: Callable[..., LabelSubject], diameter: float
) -> None:
    with pytest.raises(OutOfRangeError, match="Outer diameter is"):
        fit(make_subject(outer_diameter_mm=diameter), STOCKS["flag-70x16-300"])


def test_a_stock_with_a_clear_tail_is_not_folded_and_says_what_to_take(
    make_subject: Callable[..., LabelSubject],
) -> None:
    found = fit(make_subject(outer_diameter_mm=3.3), STOCKS["wrap-26x40-300"])
    assert (found.form, found.printable) == ("flag", False)
    row = found.as_json()
    assert row["printable"] is False
    assert str(row["reason"]).endswith(
        "This stock has a clear tail and can't be folded to a flag. "
        "Take a flag stock, or print the legend alone (text only) on this one."
    )


def test_the_legend_alone_goes_round_a_thin_conductor(
    make_subject: Callable[..., LabelSubject],
) -> None:
    found = fit(
        make_subject(outer_diameter_mm=3.3),
        STOCKS["wrap-26x40-300"],
        contents="short",
        text_only=True,
    )
    assert (found.form, found.qr_version, found.printable) == ("wrap", None, True)
    assert found.plan is not None
    assert not found.plan.codes


def test_a_legend_is_repeated_round_a_thick_conductor(
    make_subject: Callable[..., LabelSubject],
) -> None:
    found = fit(make_subject(outer_diameter_mm=20), STOCKS["wrap-30x80-300"])
    assert found.plan is not None
    assert [line.text for line in found.plan.lines].count("MDB Q4:1") >= 2


def test_a_payload_too_long_for_the_faces_says_which_address_would_do(
    make_subject: Callable[..., LabelSubject],
) -> None:
    stock = replace(
        STOCKS["flag-70x16-300"], height_mm=9.0, zone=Zone(0.5, 0.25, 69, 8.5), fold_mm=4
    )
    found = fit(make_subject(base="http://a-rather-long-name.some-farm.lan:8080"), stock)
    assert not found.printable
    # 8.5 mm hold version 2 (33 modules of 0.254 mm) whose level L takes 47 characters
    # (ISO/IEC 18004): 47 - len("HTTP:///") - 7 = 32 are left for host and port.
    assert found.why_not.startswith(
        "no code can be made large enough to read: there are 8.5 mm, and the smallest symbol of "
        "'HTTP://A-RATHER-LONG-NAME.SOME-FARM.LAN:8080/7KQ2MBH' needs 9.4 mm with its quiet zone"
    )
    assert found.hint == ("A base address whose host and port have at most 32 characters would do.")
    assert fit(make_subject(base="http://" + "a" * 32), stock, contents="tag").qr_version == 2


def test_a_label_too_small_for_any_code_says_so(
    make_subject: Callable[..., LabelSubject],
) -> None:
    stock = replace(STOCKS["flag-70x16-300"], height_mm=6.0, zone=Zone(0, 0, 70, 6.0))
    found = fit(make_subject(), stock)
    assert found.why_not.startswith("no code can be made large enough to read: there are 6.0 mm")
    assert found.told(str).endswith("Take a larger stock, or print the legend alone (text only).")


def test_a_name_that_goes_on_no_line_is_refused_with_the_width_it_needs(
    make_subject: Callable[..., LabelSubject],
) -> None:
    found = fit(make_subject(this_place="W" * 40), STOCKS["flag-70x16-300"])
    assert not found.printable
    assert "the legend needs a width of " in found.why_not
    assert found.hint == "Take a larger stock, a shorter legend or shorter names."


def test_a_wrap_too_short_for_its_conductor_says_what_would_do(
    make_subject: Callable[..., LabelSubject],
) -> None:
    found = fit(make_subject(outer_diameter_mm=15), STOCKS["wrap-26x40-300"], text_only=True)
    assert found.why_not.startswith("once round is 47.1 mm, which leaves no clear tail")
    assert found.hint == "Take a longer stock."


def test_a_conductor_too_thick_to_fold_round_is_refused(
    make_subject: Callable[..., LabelSubject],
) -> None:
    found = fit(make_subject(outer_diameter_mm=40), STOCKS["flag-70x16-300"])
    assert found.why_not == "the fold round this conductor leaves no face to print on"


def test_a_flag_of_a_wrap_stock_needs_the_diameter(
    make_subject: Callable[..., LabelSubject],
) -> None:
    found = fit(make_subject(), STOCKS["wrap-30x80-300"])
    assert found.hint == "Enter the diameter, or take a flag stock."


def test_an_address_longer_than_any_symbol_holds_is_refused_with_one_that_would_do(
    make_subject: Callable[..., LabelSubject],
) -> None:
    long = "http://" + ".".join(["a" * 60] * 4)
    payload = f"{long.upper()}/" + "A" * 80
    found = fit(make_subject(payload=payload, outer_diameter_mm=3.3), STOCKS["flag-90x25-300"])
    assert found.reason.startswith("No QR symbol up to version 10 holds so long an address.")
    assert "goes into none with its quiet zone" in found.why_not
    assert found.hint.startswith("A base address whose host and port have at most ")


def test_where_not_even_a_short_address_fits_printing_without_one_is_advised(
    make_subject: Callable[..., LabelSubject],
) -> None:
    # 7.4 mm hold version 1 (29 modules of 0.254 mm), which takes 25 characters at level L;
    # 25 - len("HTTP:///") - 15 leaves 2 for a host.
    stock = replace(STOCKS["flag-70x16-300"], height_mm=7.5, zone=Zone(0, 0, 70, 7.5))
    found = fit(make_subject(payload="HTTP://BARN/7KQ2MBH7KQ2MBHX"), stock)
    assert found.hint == "Take a larger stock, or print without a base address."


@pytest.mark.parametrize("name", ["wrap-38x90-300", "flag-70x16-300"])
def test_a_code_is_not_printed_in_colours_that_no_scanner_reads(
    make_subject: Callable[..., LabelSubject], name: str
) -> None:
    stock = replace(STOCKS[name], paper_colour="red", print_colour="white")
    found = fit(make_subject(outer_diameter_mm=12.0), stock)
    assert found.why_not == "a code in white on red isn't read"
    assert fit(make_subject(outer_diameter_mm=12.0), stock, text_only=True).printable


def test_a_legend_too_large_for_its_label_says_what_it_needs(
    make_subject: Callable[..., LabelSubject],
) -> None:
    found = fit(make_subject(outer_diameter_mm=3.3, this_place="W" * 30), STOCKS["wrap-26x40-300"],
                text_only=True)  # fmt: skip
    assert found.why_not.startswith("on this conductor the conductor's circumference leaves 24.0 x")
    assert "the legend needs a width of " in found.why_not
    found = fit(make_subject(this_place="W" * 30), STOCKS["flag-70x16-300"], text_only=True)
    assert found.why_not.startswith("a face has 28.5 x 15.0 mm and the legend needs a width of ")
    found = fit(make_subject(this_place="W" * 60), STOCKS["flat-50x25-300"])
    assert found.why_not.startswith("beside the smallest code the label has 48.0 x 23.0 mm and")
    found = fit(make_subject(this_place="W" * 60), STOCKS["flat-50x25-300"], text_only=True)
    assert found.why_not.startswith("the label has 48.0 x 23.0 mm and the legend needs a width of")
    small = replace(STOCKS["flat-50x25-300"], height_mm=6, zone=Zone(0, 0, 50, 6))
    assert fit(make_subject(), small).why_not.startswith("no code can be made large enough")
    found = fit(
        make_subject(outer_diameter_mm=9.0, this_place="W" * 60), STOCKS["sleeve-50x20-300"]
    )
    assert found.why_not.startswith("the label has 48.0 x 19.0 mm and the legend needs a width of")


def test_a_wrap_with_room_for_no_code_says_how_much_is_left(
    make_subject: Callable[..., LabelSubject],
) -> None:
    found = fit(make_subject(outer_diameter_mm=12.3), STOCKS["wrap-26x40-300"])
    assert found.reason == (
        "Round 12.3 mm what the clear tail covers leaves 0.9 mm for a code that needs 7.4 mm."
    )
