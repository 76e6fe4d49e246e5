# SPDX-License-Identifier: MIT
from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
import zxingcpp
from PIL import Image, ImageChops

from tests.pdf import images, is_scaled, made_at, page_sizes_pt, pictures
from wiretrack.errors import BadInputError, GlyphError, LabelError, OutOfRangeError
from wiretrack.labels.draw import draw_label
from wiretrack.labels.forms import fit
from wiretrack.labels.output import Wishes, print_labels
from wiretrack.labels.plan import PAGES_MM
from wiretrack.labels.stocks import shipped_stocks
from wiretrack.model.tags import ALPHABET

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from wiretrack.labels.subject import LabelSubject

STOCKS = shipped_stocks()


def many(make_subject: Callable[..., LabelSubject], count: int) -> list[LabelSubject]:
    bodies = (f"AAA{ALPHABET[n // 32 % 32]}{ALPHABET[n % 32]}A" for n in range(count))
    return [make_subject(body, outer_diameter_mm=3.3) for body in bodies]


def read_all(picture: Image.Image) -> list[str]:
    found = zxingcpp.read_barcodes(picture.convert("L"))
    return sorted(code.text for code in found)


@pytest.mark.parametrize("name", sorted(STOCKS))
def test_pages_of_a_pdf_measure_what_the_stock_says_within_a_tenth_of_a_millimetre(
    make_subject: Callable[..., LabelSubject], tmp_path: Path, name: str
) -> None:
    stock = STOCKS[name]
    file = tmp_path / "labels.pdf"
    subjects = [make_subject(outer_diameter_mm=x) for x in (3.3, 5.5, 8.0, 12.0)]
    subject = next(s for s in subjects if fit(s, stock, contents="tag", text_only=True).printable)
    printed = print_labels([subject], stock, file, Wishes(text_only=True, contents="tag"))
    (size_pt,) = page_sizes_pt(file)
    shown_mm = [points * 25.4 / 72 for points in size_pt]
    wanted = PAGES_MM[stock.sheet.page] if stock.sheet else (stock.width_mm, stock.height_mm)
    assert shown_mm == pytest.approx(wanted, abs=0.1)
    assert printed.pages == 1


@pytest.mark.parametrize("name", ["flag-90x25-a4", "flag-90x25-letter"])
def test_a_rasterised_sheet_shows_every_label_at_its_place_and_every_code_reads(
    make_subject: Callable[..., LabelSubject], tmp_path: Path, name: str
) -> None:
    stock, subjects = STOCKS[name], many(make_subject, 21)
    assert stock.sheet is not None
    file = tmp_path / "labels.pdf"
    printed = print_labels(subjects, stock, file)
    assert (printed.labels, printed.proofread) == (21, 42)
    pages = pictures(file, 600)
    assert printed.pages == len(pages) == -(-21 // stock.sheet.places)
    texts = [text for page in pages for text in read_all(page)]
    assert sorted(texts) == sorted(2 * [subject.payload for subject in subjects])
    ink = ImageChops.invert(pages[0]).getbbox()
    assert ink is not None
    zone = stock.zone
    left, top = stock.sheet.left_mm + zone.left_mm, stock.sheet.top_mm + zone.top_mm
    assert ink[0] * 25.4 / 600 == pytest.approx(left, abs=0.6)
    assert left - 0.1 <= ink[0] * 25.4 / 600
    assert top - 0.1 <= ink[1] * 25.4 / 600 <= top + 2.5


def test_a_pdf_holds_the_very_dots_that_were_drawn(
    make_subject: Callable[..., LabelSubject], tmp_path: Path
) -> None:
    stock, subject = STOCKS["flag-70x16-300"], make_subject(outer_diameter_mm=3.3)
    label = draw_label(subject, fit(subject, stock), stock)
    print_labels([subject], stock, tmp_path / "l.pdf")
    picture = images(tmp_path / "l.pdf")[0]
    assert picture.size == label.size
    assert picture.convert("L").tobytes() == label.convert("L").tobytes()


def test_a_pdf_of_labels_is_printed_without_scaling_and_is_the_same_each_time(
    make_subject: Callable[..., LabelSubject], tmp_path: Path
) -> None:
    stock, subject = STOCKS["flag-70x16-300"], make_subject(outer_diameter_mm=3.3)
    first, second = (print_labels([subject], stock, tmp_path / f"{n}.pdf").file for n in "ab")
    assert not is_scaled(first)
    assert first.read_bytes() == second.read_bytes()
    assert made_at(first).startswith("D:1970")  # it doesn't say when it was made


def test_a_png_has_the_stocks_dots_per_inch_and_codes_that_a_decoder_reads(
    make_subject: Callable[..., LabelSubject], tmp_path: Path
) -> None:
    for name in ("flag-70x16-300", "flag-90x25-203"):
        stock, subject = STOCKS[name], make_subject(outer_diameter_mm=3.3)
        printed = print_labels([subject], stock, tmp_path / "l.png")
        with Image.open(printed.file) as picture:
            assert picture.info["dpi"] == pytest.approx((stock.dpi, stock.dpi), abs=0.02)
            assert picture.size == stock.size_dots
            assert read_all(picture) == 2 * [subject.payload]


def test_a_png_of_a_roll_is_a_strip_with_the_rolls_gaps(
    make_subject: Callable[..., LabelSubject], tmp_path: Path
) -> None:
    stock = STOCKS["flag-70x16-300"]
    printed = print_labels(many(make_subject, 3), stock, tmp_path / "l.png")
    with Image.open(printed.file) as picture:
        height = 3 * stock.size_dots[1] + 2 * stock.dots(stock.gap_mm)
        assert picture.size == (stock.size_dots[0], height)
        assert len(read_all(picture)) == 6
    assert (printed.labels, printed.pages, printed.proofread) == (3, 3, 6)


def test_a_half_used_sheet_is_begun_where_it_is_free(
    make_subject: Callable[..., LabelSubject], tmp_path: Path
) -> None:
    stock = STOCKS["flag-90x25-a4"]
    assert stock.sheet is not None
    printed = print_labels(many(make_subject, 3), stock, tmp_path / "l.png", Wishes(start_at=4))
    with Image.open(printed.file) as picture:
        ink = ImageChops.invert(picture.convert("L"))
        second_row = stock.dots(stock.sheet.top_mm + stock.sheet.pitch_y_mm)
        second_column = stock.dots(stock.sheet.left_mm + stock.sheet.pitch_x_mm)
        assert ink.crop((0, 0, picture.width, second_row)).getbbox() is None
        box = ink.crop((0, second_row, picture.width, second_row + stock.dots(25))).getbbox()
        assert box is not None
        assert box[0] >= second_column
    with pytest.raises(OutOfRangeError) as caught:
        print_labels(many(make_subject, 1), stock, tmp_path / "x.pdf", Wishes(start_at=21))
    assert str(caught.value) == "First label's place is 21; it must be 1 to 20 on this stock."


def test_labels_of_a_roll_can_be_spread_over_plain_paper(
    make_subject: Callable[..., LabelSubject], tmp_path: Path
) -> None:
    stock = STOCKS["flag-70x16-300"]
    printed = print_labels(many(make_subject, 30), stock, tmp_path / "l.pdf", Wishes(page="Letter"))
    assert (printed.labels, printed.pages, printed.proofread) == (30, 2, 60)
    sheet = STOCKS["flag-90x25-a4"]
    assert (
        print_labels(many(make_subject, 1), sheet, tmp_path / "s.pdf", Wishes(page="A4")).pages == 1
    )
    with pytest.raises(BadInputError, match=r"comes on A4 sheets, not Letter\. Leave the page"):
        print_labels(
            many(make_subject, 1),
            STOCKS["flag-90x25-a4"],
            tmp_path / "x.pdf",
            Wishes(page="Letter"),
        )
    with pytest.raises(BadInputError, match=r"Page 'A3' is not known\. Take A4 or Letter\."):
        print_labels(many(make_subject, 1), stock, tmp_path / "x.pdf", Wishes(page="A3"))
    wide = replace(stock, width_mm=300)
    with pytest.raises(BadInputError, match=r"A label of 300 x 16 mm is larger than what A4"):
        print_labels(many(make_subject, 1), wide, tmp_path / "x.pdf", Wishes(page="A4"))


def test_two_processes_write_the_same_file_as_one(
    make_subject: Callable[..., LabelSubject], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("wiretrack.labels.output.PAGES_A_BATCH", 8)
    subjects, stock = many(make_subject, 70), STOCKS["flag-70x16-300"]
    alone = print_labels(subjects, stock, tmp_path / "a.pdf")
    both = print_labels(iter(subjects), stock, tmp_path / "b.pdf", workers=2)
    assert alone.file.read_bytes() == both.file.read_bytes()
    assert (both.labels, both.pages, both.proofread) == (70, 70, 140)


def test_one_bad_label_among_many_leaves_no_file_and_an_old_one_untouched(
    make_subject: Callable[..., LabelSubject], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("wiretrack.labels.output.PAGES_A_BATCH", 8)
    subjects = many(make_subject, 50)
    subjects[4] = make_subject("BADBAD", this_place="W" * 60)
    for workers in (1, 2):
        file = tmp_path / "l.pdf"
        file.write_text("%PDF-1.3 /Creator (wiretrack)")
        with pytest.raises(LabelError, match=r"The label of BAD-BAD., from end, can't be made"):
            print_labels(subjects, STOCKS["flag-70x16-300"], file, workers=workers)
        assert file.read_text() == "%PDF-1.3 /Creator (wiretrack)"
        assert [path.name for path in tmp_path.iterdir()] == ["l.pdf"]


def test_a_code_that_reads_as_something_else_stops_the_print(
    make_subject: Callable[..., LabelSubject], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    wrong = draw_label(
        other := make_subject("AAAAAA", outer_diameter_mm=3.3),
        fit(other, STOCKS["flag-70x16-300"]),
        STOCKS["flag-70x16-300"],
    )
    monkeypatch.setattr("wiretrack.labels.output.draw_label", lambda *_: wrong)
    with pytest.raises(LabelError, match="its code reads 'WT:AAAAAA"):
        print_labels(
            [make_subject(outer_diameter_mm=3.3)], STOCKS["flag-70x16-300"], tmp_path / "l.pdf"
        )
    assert not list(tmp_path.iterdir())


def test_control_characters_in_a_name_are_refused(
    make_subject: Callable[..., LabelSubject], tmp_path: Path
) -> None:
    with pytest.raises(GlyphError, match="control character"):
        print_labels(
            [make_subject(this_place="MDB\x07")], STOCKS["flag-70x16-300"], tmp_path / "l.pdf"
        )
    assert not list(tmp_path.iterdir())


def test_bad_files_and_nothing_to_print_are_refused_in_words(
    make_subject: Callable[..., LabelSubject], tmp_path: Path
) -> None:
    stock, one = STOCKS["flag-70x16-300"], [make_subject()]
    with pytest.raises(BadInputError, match=r"There are no labels to print\."):
        print_labels([], stock, tmp_path / "l.pdf")
    with pytest.raises(BadInputError, match=r"l.doc' is none of .pdf, .png and .svg\."):
        print_labels(one, stock, tmp_path / "l.doc")
    with pytest.raises(BadInputError, match=r"can't be written: No such file or directory\."):
        print_labels(one, stock, tmp_path / "none" / "l.pdf")
    (tmp_path / "d.pdf").mkdir()
    with pytest.raises(BadInputError, match=r"can't be written: Is a directory\."):
        print_labels(one, stock, tmp_path / "d.pdf")
    with pytest.raises(BadInputError, match=r"holds one page; there is more to print\."):
        print_labels(many(make_subject, 21), STOCKS["flag-90x25-a4"], tmp_path / "l.png")
    assert [path.name for path in tmp_path.iterdir()] == ["d.pdf"]


def test_a_full_disk_leaves_nothing_behind(
    make_subject: Callable[..., LabelSubject], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(BadInputError, match=r"can't be written: No space left on device\."):
        print_labels([make_subject()], STOCKS["flag-70x16-300"], tmp_path / "l.pdf")
    assert not list(tmp_path.iterdir())
