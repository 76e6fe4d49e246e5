# SPDX-License-Identifier: MIT
from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import pytest

from wiretrack.cli.wording import told
from wiretrack.errors import StockFileError, TableEntryError
from wiretrack.labels.forms import FORMS
from wiretrack.labels.plan import PAGES_MM
from wiretrack.labels.stocks import get_stock, load_stocks, shipped_stocks

if TYPE_CHECKING:
    from pathlib import Path

ROLL: dict[str, Any] = {
    "name": "mine",
    "form": "flag",
    "width_mm": 60,
    "height_mm": 20,
    "dpi": 300,
    "fold_mm": 10,
    "roll": {"gap_mm": 2},
}
SHEET = {
    "page": "A4",
    "columns": 2,
    "rows": 3,
    "left_mm": 10,
    "top_mm": 10,
    "pitch_x_mm": 70,
    "pitch_y_mm": 30,
}


def write(path: Path, *stocks: dict[str, Any]) -> Path:
    path.write_text(json.dumps({"format": "wiretrack-stocks/1", "stocks": stocks}))
    return path


def without(key: str) -> dict[str, Any]:
    return {name: value for name, value in ROLL.items() if name != key}


def test_pages_measure_what_their_standards_say() -> None:
    # ISO 216: A4 is 210 x 297 mm; ANSI/ASME Y14.1: size A is 8.5 x 11 in.
    assert PAGES_MM["A4"] == (210, 297)
    assert PAGES_MM["Letter"] == pytest.approx((8.5 * 25.4, 11 * 25.4))


def test_shipped_stocks_cover_rolls_at_both_resolutions_and_both_pages() -> None:
    stocks = shipped_stocks().values()
    assert {stock.dpi for stock in stocks if stock.sheet is None} >= {203, 300}
    assert {stock.sheet.page for stock in stocks if stock.sheet} == {"A4", "Letter"}
    assert {stock.form for stock in stocks} == {form.stock_form for form in FORMS}


def test_rows_for_people_hold_the_measures_by_name() -> None:
    rows = [stock.as_json() for _, stock in sorted(load_stocks().items())]
    assert [row["name"] for row in rows] == sorted(shipped_stocks())
    assert {"name", "form", "width_mm", "height_mm", "dpi"} <= set(rows[0])


def test_a_users_stock_joins_the_shipped_ones_and_replaces_its_namesake(tmp_path: Path) -> None:
    file = write(tmp_path / "s.json", ROLL, {**ROLL, "name": "flag-70x16-300"})
    stocks = load_stocks(file)
    assert stocks["mine"].width_mm == 60
    assert stocks["flag-70x16-300"].width_mm == 60
    assert len(stocks) == len(shipped_stocks()) + 1
    assert stocks["mine"].zone.height_mm == 20


def test_a_stock_is_found_by_name_among_those_given(tmp_path: Path) -> None:
    assert get_stock("flag-70x16-300", shipped_stocks()).width_mm == 70
    assert get_stock("mine", load_stocks(write(tmp_path / "s.json", ROLL))).height_mm == 20


def test_an_unknown_stock_is_named_with_its_nearest() -> None:
    with pytest.raises(TableEntryError) as caught:
        get_stock("flag-70x16-30", shipped_stocks())
    assert str(caught.value).startswith(
        "The list of label stocks has no entry 'flag-70x16-30'. Nearest in it: flag-70x16-300"
    )
    with pytest.raises(TableEntryError) as caught:
        get_stock("zzz", shipped_stocks())
    assert told(caught.value) == (
        "The list of label stocks has no entry 'zzz'. See all: wiretrack label stocks"
    )


@pytest.mark.parametrize(
    ("stock", "fault"),
    [
        (
            {**without("roll"), "sheet": {**SHEET, "pitch_x_mm": 50}},
            "stocks[0].sheet.pitch_x_mm: labels of 60 mm overlap at a pitch of 50 mm",
        ),
        (
            {**without("roll"), "sheet": {**SHEET, "rows": 12}},
            "stocks[0].sheet: the labels reach to 360 mm; the A4 page ends at 297 mm",
        ),
        (
            {**without("roll"), "width_mm": 220, "sheet": {**SHEET, "columns": 1}},
            "stocks[0].sheet: the labels reach to 230 mm; the A4 page ends at 210 mm",
        ),
        (
            {
                **ROLL,
                "print_zone": {"left_mm": 1, "top_mm": 1, "width_mm": 60, "height_mm": 18},
            },
            "stocks[0].print_zone: it reaches to 61 x 19 mm, beyond the label of 60 x 20 mm",
        ),
        (
            {
                **without("fold_mm"),
                "form": "wrap",
                "clear_tail_mm": 15,
                "print_zone": {"left_mm": 1, "top_mm": 1, "width_mm": 50, "height_mm": 8},
            },
            "stocks[0].clear_tail_mm: print zone and tail take 24 mm of the label of 60 x 20 mm",
        ),
        ({**ROLL, "fold_mm": 60}, "stocks[0].fold_mm: 60 mm leaves no face"),
        ({**ROLL, "clear_tail_mm": 5}, "stocks[0].clear_tail_mm: a flag label has no clear tail"),
        ({**ROLL, "form": "wrap"}, "stocks[0].fold_mm: a wrap label has no fold"),
        (
            {**without("fold_mm"), "form": "wrap", "clear_tail_mm": 20},
            "stocks[0].clear_tail_mm: it leaves no height to print on",
        ),
        (
            {**without("fold_mm"), "form": "sleeve"},
            "stocks[0]: a sleeve needs inner_diameter_mm and a shrink_ratio above 1",
        ),
        (
            {**without("fold_mm"), "form": "sleeve", "inner_diameter_mm": 6.4, "shrink_ratio": 2},
            "stocks[0].height_mm: a tube of 6.4 mm lies 10.1 mm wide when flat, not 20 mm",
        ),
        (
            {**ROLL, "colours": {"paper_colour": "plaid"}},
            "stocks[0].colours.paper_colour: 'plaid' is not one of",
        ),
        ({**ROLL, "width_mm": 0}, "stocks[0].width_mm: 0 is less than or equal to the minimum"),
        ({**ROLL, "height_mm": -1}, "stocks[0].height_mm: -1 is less than or equal"),
        ({**ROLL, "dpi": 20}, "stocks[0].dpi: 20 is less than the minimum of 100"),
        ({**ROLL, "colour": "red"}, "stocks[0]: Additional properties are not allowed ('colour'"),
        (without("dpi"), "stocks[0]: 'dpi' is a required property"),
        (without("roll"), "stocks[0]: it must have either 'roll' or 'sheet'"),
        ({**ROLL, "name": "A b"}, "stocks[0].name: 'A b' does not match"),
    ],
)
def test_a_label_that_cannot_be_is_named_with_its_place(
    tmp_path: Path, stock: dict[str, Any], fault: str
) -> None:
    file = write(tmp_path / "bad.json", stock)
    with pytest.raises(StockFileError) as caught:
        load_stocks(file)
    assert str(caught.value).startswith(f"{file} was not loaded, ")
    assert fault in str(caught.value)


def test_every_fault_of_a_file_is_told_at_once(tmp_path: Path) -> None:
    bad = {**ROLL, "fold_mm": 60}
    file = write(tmp_path / "bad.json", bad, {**bad, "clear_tail_mm": 1})
    with pytest.raises(StockFileError) as caught:
        load_stocks(file)
    assert "4 faults" in str(caught.value)
    assert "stocks[1].name: 'mine' is there twice" in str(caught.value)


@pytest.mark.parametrize(
    ("content", "why"),
    [
        (b"", "line 1, column 1: The file breaks off here. It looks cut off; fetch or write it"),
        (b'{"format": "wiretrack-stocks/1", "stocks": [', "The file breaks off here."),
        (
            b'{"format":\n "x" "y"}',
            "line 2, column 6: The file is not JSON. A comma or a closing bracket is missing here.",
        ),
        (b'{"stocks": ' + b"9" * 5000 + b"}", "It is not JSON: a number in it is too long."),
        (b"\xff\xfe{", "it is not UTF-8 text"),
        (b"[" * 100_000, "It nests lists or objects too deeply."),
        (b'{"format": "wiretrack-stocks/1", "stocks": NaN}', "NaN is not a number"),
        (b"[]", "[] is not of type 'object'"),
        (b'{"stocks": []}', "'format' is a required property"),
        (b" " * 2_000_001, "it is over 2000000 bytes"),
    ],
)
def test_a_file_that_is_no_stock_file_is_refused(tmp_path: Path, content: bytes, why: str) -> None:
    file = tmp_path / "s.json"
    file.write_bytes(content)
    with pytest.raises(StockFileError) as caught:
        load_stocks(file)
    assert why in str(caught.value)


def test_a_missing_file_is_refused(tmp_path: Path) -> None:
    with pytest.raises(StockFileError, match="No such file"):
        load_stocks(tmp_path / "none.json")
