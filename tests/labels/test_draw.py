# SPDX-License-Identifier: MIT
from __future__ import annotations

import random
from dataclasses import replace
from itertools import product
from typing import TYPE_CHECKING

import pytest
import segno
from PIL import Image, ImageChops

from wiretrack.errors import LabelError
from wiretrack.labels.draw import draw_label, draw_symbol
from wiretrack.labels.forms import fit
from wiretrack.labels.plan import CodeSpot
from wiretrack.labels.scan import as_printed, decode, proofread
from wiretrack.labels.stocks import shipped_stocks
from wiretrack.labels.symbol import make_symbol

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from wiretrack.labels.plan import Fit, Stock
    from wiretrack.labels.subject import LabelSubject

STOCKS = shipped_stocks()
CASES = [(name, base) for name in sorted(STOCKS) for base in (None, "http://192.168.1.20:8080")]
DIAMETERS_MM = (3.302, 5.5, 7.0, 12.34, 18.0)


def printable(
    make: Callable[..., LabelSubject], stock: Stock, base: str | None
) -> Iterator[tuple[LabelSubject, Fit, Image.Image]]:
    """Yield the labels that this stock can carry, and see to it that there are any."""
    subjects = [make(base=base, outer_diameter_mm=diameter) for diameter in DIAMETERS_MM]
    whole = [(s, found) for s in subjects if (found := fit(s, stock)).printable]
    tags = [(s, fit(s, stock, contents="tag", text_only=True)) for s in subjects]
    alone = [(s, found) for s, found in tags if found.printable]
    assert whole or alone
    for subject, found in whole or alone:
        yield subject, found, draw_label(subject, found, stock)


@pytest.mark.parametrize(("name", "base"), CASES)
def test_a_label_has_its_true_size_and_codes_that_read_back_with_white_around(
    make_subject: Callable[..., LabelSubject], name: str, base: str | None
) -> None:
    stock = STOCKS[name]
    size = tuple(round(x * stock.dpi / 25.4) for x in (stock.width_mm, stock.height_mm))
    for subject, found, label in printable(make_subject, stock, base):
        assert (label.mode, label.size) == ("1", size)
        assert found.plan is not None
        boxes = found.plan.code_boxes()
        assert proofread(label, found, (0, 0), subject.payload) == len(boxes)
        for box in boxes:
            code = ImageChops.invert(label.crop(box).convert("L"))
            quiet = 4 * (found.module_dots or 0)  # ISO/IEC 18004: four modules on each side
            side = box[2] - box[0]
            assert code.getbbox() == (quiet, quiet, side - quiet, side - quiet)


@pytest.mark.parametrize(("name", "base"), CASES)
def test_print_stays_inside_the_print_zone(
    make_subject: Callable[..., LabelSubject], name: str, base: str | None
) -> None:
    stock = STOCKS[name]
    zone, slack = stock.zone, 2
    for _, _, label in printable(make_subject, stock, base):
        ink = ImageChops.invert(label.convert("L")).getbbox()
        assert ink is not None
        assert ink[0] >= stock.dots(zone.left_mm) - slack
        assert ink[1] >= stock.dots(zone.top_mm) - slack
        assert ink[2] <= stock.dots(zone.left_mm + zone.width_mm) + slack
        assert ink[3] <= stock.dots(zone.top_mm + zone.height_mm) + slack


def test_both_faces_of_a_flag_say_the_same_and_stand_upright(
    make_subject: Callable[..., LabelSubject],
) -> None:
    stock, subject = STOCKS["flag-90x25-300"], make_subject(outer_diameter_mm=3.3)
    found = fit(subject, stock)
    assert found.plan is not None
    middle = found.plan.width / 2
    left = [line.text for line in found.plan.lines if line.left < middle]
    right = [line.text for line in found.plan.lines if line.left >= middle]
    assert sorted(left) == sorted(right)
    (x0, _, _, _), (_, _, x1, _) = found.plan.code_boxes()
    assert x0 - stock.dots(stock.zone.left_mm) == pytest.approx(
        stock.dots(stock.zone.left_mm + stock.zone.width_mm) - x1, abs=2
    )


def test_nothing_is_printed_where_the_conductor_lies(
    make_subject: Callable[..., LabelSubject],
) -> None:
    stock = STOCKS["flag-90x25-300"]
    label = draw_label(subject := make_subject(outer_diameter_mm=6.0), fit(subject, stock), stock)
    half = stock.dots(6.0 * 3.14159 / 2)
    top = stock.dots(stock.zone.top_mm + 1.2)  # below the fold's tick
    fold = label.crop((label.width // 2 - half, top, label.width // 2 + half, label.height - top))
    assert ImageChops.invert(fold.convert("L")).getbbox() is None


def test_a_drawn_symbol_is_segnos_symbol_dot_by_dot() -> None:
    picture = draw_symbol(make_symbol("WT:7KQ2MBH", 1, "H", 3), 4)
    theirs = segno.make_qr("WT:7KQ2MBH", version=1, error="H", mask=3, boost_error=False)
    for row in range(21):
        for column in range(21):
            cell = picture.crop((4 * column, 4 * row, 4 * column + 4, 4 * row + 4)).convert("L")
            assert cell.getextrema() == ((0, 0) if theirs.matrix[row][column] else (255, 255))


def test_a_label_that_does_not_fit_is_refused_with_reason_and_hint(
    make_subject: Callable[..., LabelSubject],
) -> None:
    subject, stock = make_subject(outer_diameter_mm=3.3), STOCKS["wrap-26x40-300"]
    with pytest.raises(LabelError) as caught:
        draw_label(subject, fit(subject, stock), stock)
    assert str(caught.value) == (
        "The label of 7KQ-2MBH, from end, can't be made: this stock has a clear tail and can't be "
        "folded to a flag. Take a flag stock, or print the legend alone (text only) on "
        "this one."
    )


def test_a_spoilt_code_fails_proof_reading_by_name(
    make_subject: Callable[..., LabelSubject],
) -> None:
    subject, stock = make_subject(), STOCKS["flag-70x16-300"]
    found = fit(subject, stock)
    label = draw_label(subject, found, stock)
    assert found.plan is not None
    x0, y0, x1, y1 = found.plan.code_boxes()[1]
    spoilt = label.copy()
    spoilt.paste(0, (x0, y0, (x0 + x1) // 2, y1))
    with pytest.raises(LabelError, match="its code can't be read back, should be 'WT:7KQ2MBH'"):
        proofread(spoilt, found, (0, 0), subject.payload)
    with pytest.raises(LabelError, match="its code reads 'WT:7KQ2MBH', should be 'WT:OTHER'"):
        proofread(label, found, (0, 0), "WT:OTHER")


def test_a_code_that_would_not_survive_the_printer_is_refused_though_its_dots_read(
    make_subject: Callable[..., LabelSubject],
) -> None:
    """One dot a module reads as drawn; half a dot of ink at each edge closes every gap."""
    stock = STOCKS["flag-70x16-300"]
    found = fit(make_subject(), stock)
    symbol = draw_symbol(make_symbol("WT:7KQ2MBH", 1, "H"), 1)
    side = symbol.width + 8
    tiny = Image.new("1", (side, side), 1)
    tiny.paste(symbol, (4, 4))
    assert decode(tiny) == ["WT:7KQ2MBH"]
    assert found.plan is not None
    plan = replace(found.plan, codes=(CodeSpot(0, 0, side),))
    with pytest.raises(LabelError, match="its code printed with more ink can't be read back"):
        proofread(tiny, replace(found, plan=plan), (0, 0), "WT:7KQ2MBH")


def test_gain_and_loss_move_each_edge_by_half_a_dot() -> None:
    picture = Image.new("1", (20, 20), 1)
    picture.paste(0, (6, 6, 12, 12))
    more, less = as_printed(picture)
    for printed, moved in ((more, 1), (less, -1)):  # in half dots, the picture being twice as large
        box = ImageChops.invert(printed).getbbox()
        assert box == (12 - moved, 12 - moved, 24 + moved, 24 + moved)


def test_a_dot_is_gained_where_one_beside_it_is_black_and_lost_where_one_is_white() -> None:
    """Counted dot by dot over the picture drawn twice as large, its edge going on beyond it."""
    rng = random.Random(18004)
    side = 12
    dots = bytes(rng.choice((0, 255)) for _ in range(side * side))
    small = Image.frombytes("L", (side, side), dots)
    more, less = as_printed(small.convert("1", dither=Image.Dither.NONE))
    last = 2 * side - 1
    for x, y in product(range(2 * side), repeat=2):
        near = [
            dots[min(max(y + down, 0), last) // 2 * side + min(max(x + across, 0), last) // 2]
            for across, down in product((-1, 0, 1), repeat=2)
        ]
        assert more.getpixel((x, y)) == min(near)
        assert less.getpixel((x, y)) == max(near)


def test_the_decoder_is_not_ours_and_reads_what_segno_draws() -> None:
    code = segno.make_qr("WT:7KQ2MBH", version=1, error="H")
    side = 21 + 8
    picture = Image.new("L", (side, side), 255)
    for row, line in enumerate(code.matrix):
        for column, dark in enumerate(line):
            if dark:
                picture.putpixel((column + 4, row + 4), 0)
    assert decode(picture.resize((5 * side, 5 * side), Image.Resampling.NEAREST)) == ["WT:7KQ2MBH"]
