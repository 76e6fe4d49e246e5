# SPDX-License-Identifier: MIT
from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageChops

from wiretrack.errors import BadInputError
from wiretrack.labels.draw import draw_label
from wiretrack.labels.forms import fit
from wiretrack.labels.forms.card import CARD, BoxCard, CardRow
from wiretrack.labels.forms.marking import Marking
from wiretrack.labels.forms.plate import Plate
from wiretrack.labels.forms.sleeve import Tube
from wiretrack.labels.forms.strip import STRIP, TerminalStrip
from wiretrack.labels.output import print_labels
from wiretrack.labels.plan import Zone
from wiretrack.labels.scan import decode
from wiretrack.labels.stocks import shipped_stocks
from wiretrack.labels.subject import PullNumber, Subject

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from wiretrack.labels.subject import LabelSubject

STOCKS = shipped_stocks()
BOX_PAYLOAD = "HTTP://192.168.1.20:8080/BOX/MDB"
ROWS = tuple(
    CardRow(f"TB1:{number}", "7KQ2MBH", "PUMP L1", f"PH{number} X1:2") for number in range(40)
)
# NEC 2020, 690.31(D)(2): capitals at least 3/8 in (9.5 mm) high, white on red.
PV_MARKING = Marking(
    wording="Photovoltaic power source",
    letter_mm=3 / 8 * 25.4,
    letters="white",
    background="red",
    source="NEC 2020 690.31(D)(2)",
)


def ink_box(picture: Image.Image) -> tuple[int, int, int, int]:
    box = ImageChops.invert(picture.convert("L")).getbbox()
    assert box is not None
    return box


# --- sleeves -------------------------------------------------------------------------------------


def test_a_tube_lies_half_its_way_round_wide() -> None:
    assert Tube(6.4, 2).flattened_mm == pytest.approx(math.pi * 6.4 / 2)
    assert (Tube(6.4, 2).smallest_mm, Tube(6.4, 2).largest_mm) == pytest.approx((3.2, 5.76))


def test_letters_on_a_sleeve_are_drawn_higher_by_what_shrinking_takes(
    make_subject: Callable[..., LabelSubject],
) -> None:
    stock = STOCKS["sleeve-50x20-300"]
    found = fit(make_subject(outer_diameter_mm=9.0), stock)
    assert (found.form, found.qr_version, found.printable) == ("sleeve", None, True)
    assert found.plan is not None
    assert found.letter_mm is not None
    drawn_mm = stock.mm(min(line.capital_dots for line in found.plan.lines))
    assert found.letter_mm == pytest.approx(drawn_mm * 9.0 / 12.7)
    assert found.letter_mm >= 1.39


@pytest.mark.parametrize(
    ("diameter", "why"),
    [
        (
            8.0,
            "This sleeve takes 3.2 to 5.8 mm (common practice), not 8 mm. Take another sleeve.",
        ),
        (
            3.0,
            "This sleeve takes 3.2 to 5.8 mm (common practice), not 3 mm. Take another sleeve.",
        ),
        (
            None,
            "The conductor's outer diameter isn't known, and this sleeve takes 3.2 to 5.8 mm "
            "(common practice). Enter the diameter.",
        ),
    ],
)
def test_a_sleeve_that_does_not_suit_the_conductor_is_refused(
    make_subject: Callable[..., LabelSubject], diameter: float | None, why: str
) -> None:
    found = fit(make_subject(outer_diameter_mm=diameter), STOCKS["sleeve-40x10-300"])
    assert not found.printable
    assert str(found.as_json()["reason"]).endswith(why)


# --- plates --------------------------------------------------------------------------------------


def test_a_plate_carries_the_boxs_code_large_and_a_symbol_that_reads() -> None:
    plate = Plate(code="MDB", title="main board", where="barn, east wall", payload=BOX_PAYLOAD)
    stock = STOCKS["flat-50x25-300"]
    found = fit(plate, stock)
    label = draw_label(plate, found, stock)
    assert found.plan is not None
    (box,) = found.plan.code_boxes()
    assert decode(label.crop(box)) == [BOX_PAYLOAD]
    heights = {line.text: line.capital_dots for line in found.plan.lines}
    assert heights["MDB"] > 2 * heights["main board"]


def test_a_plate_without_a_payload_has_no_code() -> None:
    found = fit(Plate(code="PV-DISC", lines=("600 V DC",)), STOCKS["flat-50x25-300"])
    assert found.plan is not None
    assert (found.form, found.plan.codes) == ("plate", ())


def test_a_code_in_colours_that_no_scanner_reads_is_refused() -> None:
    found = fit(Plate(code="MDB", payload=BOX_PAYLOAD), STOCKS["flat-130x50-red"])
    assert found.why_not == "a code in white on red isn't read"
    assert not found.printable


# --- terminal strips -----------------------------------------------------------------------------


@settings(max_examples=60, deadline=None)
@given(
    count=st.integers(1, 30),
    pitch_mm=st.sampled_from([4.0, 5.0, 6.0, 8.0, 12.0]),
    width=st.integers(1, 4),
)
def test_terminals_stand_in_the_middle_of_their_pitch(
    count: int, pitch_mm: float, width: int
) -> None:
    stock = STOCKS["flat-200x9-300"]
    strip = TerminalStrip(enclosure="TB1", terminals=("8" * width,) * count, pitch_mm=pitch_mm)
    if count * pitch_mm > stock.zone.width_mm:
        assert not fit(strip, stock).printable
        return
    found = fit(strip, stock)
    if found.plan is None:
        assert width * 1.3 > pitch_mm - 0.8 or "goes neither" in found.why_not
        return
    bare = replace(found, plan=replace(found.plan, bars=()))
    label = draw_label(strip, bare, stock)
    assert label.size == stock.size_dots
    ink = ImageChops.invert(label.convert("L"))
    for number in range(count):
        left = stock.dots(stock.zone.left_mm + number * pitch_mm)
        right = stock.dots(stock.zone.left_mm + (number + 1) * pitch_mm)
        box = ink.crop((left, 0, right, label.height)).getbbox()
        assert box is not None
        assert (box[0] + box[2]) / 2 == pytest.approx((right - left) / 2, abs=3)
        assert (box[1] + box[3]) / 2 == pytest.approx(label.height / 2, abs=4)


def test_a_long_row_is_cut_between_terminals_and_none_is_lost() -> None:
    names = tuple(str(number) for number in range(1, 101))
    strips = STRIP.split(
        TerminalStrip(enclosure="TB1", terminals=names, pitch_mm=6.0), STOCKS["flat-200x9-300"]
    )
    assert sum((strip.terminals for strip in strips), ()) == names
    assert all(fit(strip, STOCKS["flat-200x9-300"]).printable for strip in strips)


def test_a_row_too_long_or_a_name_too_wide_is_refused_in_words() -> None:
    stock = STOCKS["flat-200x9-300"]
    found = fit(TerminalStrip(enclosure="T", terminals=("1",) * 40, pitch_mm=6.0), stock)
    assert found.why_not == "40 terminals take 240 mm of 198 mm"
    found = fit(TerminalStrip(enclosure="T", terminals=("PUMP L1:22",), pitch_mm=6.0), stock)
    assert found.why_not == "'PUMP L1:22' goes neither along nor across a terminal of 6 mm"
    assert found.hint == "Shorten it, or take a wider strip."


# --- box cards -----------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["flat-180x130-a4", "flat-180x115-letter"])
def test_a_box_card_tells_every_conductor_over_as_many_cards_as_it_takes(name: str) -> None:
    stock = STOCKS[name]
    card = BoxCard(
        code="MDB",
        title="main board",
        hazards=("two supplies",),
        rows=ROWS,
        payload=BOX_PAYLOAD,
    )
    parts = CARD.split(card, stock)
    assert sum((part.rows for part in parts), ()) == ROWS
    told: list[str] = []
    for part in parts:
        found = fit(part, stock)
        label = draw_label(part, found, stock)
        assert found.plan is not None
        (box,) = found.plan.code_boxes()
        assert decode(label.crop(box)) == [BOX_PAYLOAD]
        texts = [line.text for line in found.plan.lines]
        assert texts[:2] == ["MDB", "two supplies"]
        assert f"card {part.part[0]} of {len(parts)}" in texts
        told += [text for text in texts if text.startswith("PH")]
        ink = ink_box(label)
        assert ink[2] <= label.width - stock.dots(stock.zone.left_mm) + 2
    assert told == [row.other_place for row in ROWS]


def test_a_card_with_too_many_rows_or_too_long_names_is_refused_in_words() -> None:
    stock = STOCKS["flat-180x115-letter"]
    found = fit(BoxCard(code="MDB", rows=ROWS), stock)
    assert found.why_not == "40 rows don't fit the 25 that it has room for"
    rows = (CardRow("1", "7KQ2MBH", "C" * 80, "P" * 80),)
    assert fit(BoxCard(code="MDB", rows=rows), stock).why_not == (
        "the names in its rows don't fit side by side"
    )
    narrow = replace(stock, width_mm=12, zone=Zone(0, 0, 12, 100))
    found = fit(BoxCard(code="M", payload=BOX_PAYLOAD), replace(stock, zone=Zone(0, 0, 45, 100)))
    assert found.printable
    tight = replace(stock, zone=Zone(0, 0, 45, 100), dpi=100)
    found = fit(BoxCard(code="M", payload="HTTP://" + "A" * 300), tight)
    assert found.why_not == f"the heading has no room for a code of 'HTTP://{'A' * 300}'"
    assert fit(BoxCard(code="M"), narrow).why_not == "the names in its rows don't fit side by side"
    found = fit(BoxCard(code="MDB"), STOCKS["flat-50x25-300"])
    assert found.why_not == "a card's print zone is at least 33.5 mm high"
    red = replace(stock, paper_colour="red", print_colour="white")
    found = fit(BoxCard(code="MDB", payload=BOX_PAYLOAD), red)
    assert found.why_not == "a code in white on red isn't read"
    found = fit(BoxCard(code="M" * 60), stock)
    assert found.why_not == "the heading doesn't fit 172 x 26 mm"
    assert fit(BoxCard(code="MDB"), STOCKS["flag-70x16-300"]).why_not == (
        "a card needs a flat stock, and 'flag-70x16-300' is a flag"
    )


# --- raceway markings ----------------------------------------------------------------------------


def test_a_marking_has_the_codes_letter_height_in_capitals() -> None:
    # NEC 2020, 690.31(D)(2): letters at least 3/8 in high.
    stock = STOCKS["flat-130x50-red"]
    found = fit(PV_MARKING, stock)
    assert found.letter_mm is not None
    assert found.letter_mm >= 3 / 8 * 25.4
    assert found.reason == "NEC 2020 690.31(D)(2)."
    assert found.plan is not None
    words = " ".join(line.text for line in found.plan.lines)
    assert words == "PHOTOVOLTAIC POWER SOURCE"
    first = found.plan.lines[0]
    one = replace(found, plan=replace(found.plan, lines=(replace(first, text="H"),)))
    box = ink_box(draw_label(PV_MARKING, one, stock))
    assert (box[3] - box[1]) * 25.4 / stock.dpi >= 3 / 8 * 25.4


def test_white_letters_on_red_come_from_red_stock_or_from_red_ink(tmp_path: Path) -> None:
    printed = print_labels([PV_MARKING], STOCKS["flat-180x50-a4"], tmp_path / "m.png")
    with Image.open(printed.file) as picture:
        colours = {colour for _, colour in picture.convert("RGB").getcolors() or ()}
    assert colours == {(255, 255, 255), (200, 16, 46)}
    red_stock = fit(PV_MARKING, STOCKS["flat-130x50-red"])
    assert red_stock.plan is not None
    assert (red_stock.plan.ink, red_stock.plan.inverted) == ("white", False)
    found = fit(PV_MARKING, STOCKS["flat-180x130-a4"])
    assert found.why_not == (
        "white letters on red are required, and this stock prints black on white"
    )


def test_wording_that_does_not_fit_at_its_height_is_refused() -> None:
    wide = replace(PV_MARKING, wording="W" * 40)
    assert fit(wide, STOCKS["flat-130x50-red"]).why_not == (
        f"'{'W' * 40}' in letters of 9.525 mm doesn't fit 124 x 44 mm"
    )


# --- pull numbers --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("stock", "diameter"),
    [("flag-70x16-300", None), ("wrap-26x40-300", 3.3), ("flat-50x25-300", None)],
)
def test_a_pull_number_is_by_far_the_largest_thing_on_its_label(
    stock: str, diameter: float | None
) -> None:
    number = PullNumber(number="12", pull="P1", this_place="MDB", outer_diameter_mm=diameter)
    found = fit(number, STOCKS[stock])
    assert found.plan is not None
    assert found.qr_version is None
    heights = {line.text: line.capital_dots for line in found.plan.lines}
    others = [height for text, height in heights.items() if text != "12"]
    assert heights["12"] >= 2 * max(others)


def test_labels_of_two_inks_share_neither_page_nor_picture(tmp_path: Path) -> None:
    strip = TerminalStrip(enclosure="T", terminals=("1",), pitch_mm=6.0)
    with pytest.raises(BadInputError, match=r"^Labels in black and red can't share a page\."):
        print_labels([PV_MARKING, strip], STOCKS["flat-180x50-a4"], tmp_path / "l.pdf")
    roll = replace(STOCKS["flat-180x50-a4"], sheet=None)
    with pytest.raises(BadInputError, match=r"^Labels in black and red can't share a picture\."):
        print_labels([PV_MARKING, strip], roll, tmp_path / "l.png")
    assert not list(tmp_path.iterdir())


def test_every_form_goes_into_one_pdf_of_its_kind(tmp_path: Path) -> None:
    kinds: list[tuple[Subject, str]] = [
        (PV_MARKING, "flat-180x50-a4"),
        (Plate(code="MDB"), "flat-50x25-300"),
        (TerminalStrip(enclosure="T", terminals=("1", "2"), pitch_mm=6.0), "flat-200x9-300"),
        (BoxCard(code="MDB", rows=ROWS[:3], payload=BOX_PAYLOAD), "flat-180x130-a4"),
        (PullNumber(number="1"), "flag-70x16-300"),
    ]
    for number, (subject, stock) in enumerate(kinds):
        printed = print_labels([subject, subject], STOCKS[stock], tmp_path / f"{number}.pdf")
        assert printed.labels == 2
        assert printed.proofread == (2 if isinstance(subject, BoxCard) else 0)
