# SPDX-License-Identifier: MIT
from __future__ import annotations

import json
import math
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from PIL import Image, ImageChops

from tests.pdf import pictures
from wiretrack.errors import BadInputError, OutOfRangeError, StockFileError
from wiretrack.labels.output import print_labels
from wiretrack.labels.stocks import (
    load_stocks,
    print_calibration,
    save_stock,
    shipped_stocks,
    stock_row,
    with_measured_cross,
)

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from wiretrack.labels.subject import LabelSubject

STOCKS = shipped_stocks()


@pytest.mark.parametrize("name", sorted(STOCKS))
def test_a_ruler_on_the_page_finds_the_cross_and_the_bar_where_they_are_stated(
    tmp_path: Path, name: str
) -> None:
    page = print_calibration(STOCKS[name], tmp_path / "c.pdf")
    (picture,) = pictures(page.file, 600)
    dots = ImageChops.invert(picture).point(lambda level: 255 * (level > 127))
    x, y = (round(mm * 600 / 25.4) for mm in (page.cross_x_mm, page.cross_y_mm))
    arm = round(1.5 * 600 / 25.4)
    for offset in (-arm, 0, arm):
        assert dots.crop((x + offset - 4, y - 6, x + offset + 4, y + 6)).getbbox() is not None
        assert dots.crop((x - 6, y + offset - 4, x + 6, y + offset + 4)).getbbox() is not None
    row = round((page.bar_y_mm + 0.1) * 600 / 25.4)
    longest = _longest_run(dots.crop((0, row, dots.width, row + 1)).tobytes())
    assert longest * 25.4 / 600 == pytest.approx(page.bar_mm, abs=0.15)


def _longest_run(line: bytes) -> int:
    return max(map(len, line.split(b"\0")))


def test_a_measured_offset_is_taken_back_in_the_print(
    make_subject: Callable[..., LabelSubject], tmp_path: Path
) -> None:
    stock, subjects = STOCKS["flag-90x25-a4"], [make_subject(outer_diameter_mm=3.3)]
    page = print_calibration(stock, tmp_path / "c.pdf")
    off = with_measured_cross(stock, page, page.cross_x_mm + 1.5, page.cross_y_mm - 0.8)
    assert (off.offset_x_mm, off.offset_y_mm) == (1.5, -0.8)
    save_stock(off, tmp_path / "mine.json")
    loaded = load_stocks(tmp_path / "mine.json")[stock.name]
    assert loaded == off
    boxes = []
    for kind in (stock, loaded):
        print_labels(subjects, kind, tmp_path / "l.png")
        with Image.open(tmp_path / "l.png") as picture:
            boxes.append(ImageChops.invert(picture.convert("L")).getbbox())
    before, after = boxes
    assert before is not None
    assert after is not None
    assert (before[0] - after[0]) * 25.4 / 300 == pytest.approx(1.5, abs=0.1)
    assert (after[1] - before[1]) * 25.4 / 300 == pytest.approx(0.8, abs=0.1)


def test_an_offset_on_a_roll_keeps_its_codes_readable(
    make_subject: Callable[..., LabelSubject], tmp_path: Path
) -> None:
    stock = replace(STOCKS["flag-70x16-300"], offset_x_mm=0.9, offset_y_mm=0.4)
    printed = print_labels([make_subject(outer_diameter_mm=3.3)], stock, tmp_path / "l.pdf")
    assert printed.proofread == 2


@pytest.mark.parametrize("measured", [60.0, -5.0, math.nan, math.inf])
def test_a_cross_measured_far_off_is_questioned(tmp_path: Path, measured: float) -> None:
    stock = STOCKS["flag-70x16-300"]
    page = print_calibration(stock, tmp_path / "c.pdf")
    with pytest.raises(OutOfRangeError, match=r"Offset to the right is .* it must be within 20 mm"):
        with_measured_cross(stock, page, measured, page.cross_y_mm)


@pytest.mark.parametrize("name", sorted(STOCKS))
def test_every_stock_goes_into_a_file_and_comes_back_equal(tmp_path: Path, name: str) -> None:
    save_stock(replace(STOCKS[name], name="mine"), tmp_path / "s.json")
    save_stock(STOCKS[name], tmp_path / "s.json")
    save_stock(STOCKS[name], tmp_path / "s.json")
    document = json.loads((tmp_path / "s.json").read_text())
    assert [row["name"] for row in document["stocks"]] == ["mine", name]
    assert document["stocks"][1] == stock_row(STOCKS[name])
    loaded = load_stocks(tmp_path / "s.json")
    assert loaded[name] == STOCKS[name]
    assert loaded["mine"] == replace(STOCKS[name], name="mine")


def test_a_stock_file_that_cannot_be_read_or_written_is_left_as_it_is(tmp_path: Path) -> None:
    file = tmp_path / "s.json"
    file.write_text("{broken")
    with pytest.raises(StockFileError):
        save_stock(STOCKS["flag-70x16-300"], file)
    assert file.read_text() == "{broken"
    with pytest.raises(BadInputError, match="can't be written"):
        save_stock(STOCKS["flag-70x16-300"], tmp_path / "none" / "s.json")
