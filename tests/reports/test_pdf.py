# SPDX-License-Identifier: MIT
"""The PDF of a report, read back by an independent reader."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.pdf import dashed_lines, fonts, outline, page_sizes_pt, page_texts, scripts, title
from wiretrack.render.report.asked import SECTIONS, numbered
from wiretrack.render.report.blocks import (
    Blank,
    Facts,
    Heading,
    Paragraph,
    Printed,
    Table,
    Text,
    Ticks,
)
from wiretrack.render.report.pdf import pdf_bytes

if TYPE_CHECKING:
    from pathlib import Path

    from tests.reports.conftest import Written

# A name in each of many Latin scripts, and two beyond; all letters as Unicode has them.
NAMES = [
    "Łódź Gęślą", "Þórunn Æsa", "Žofie Příšerně", "Șerban Țăndărică", "Nguyễn Thị Hằng",
    "Ødegård", "Müßig", "Çağrı İnşaat", "Ŝtefo Ĥoro", "Ólafía", "Ārija Ķēniņa", "Ñandú", "Ẽĩũ",
    "Ελένη", "Живко",
]  # fmt: skip
SIGNS = "12 Ω 20 °C 4 mm² ≥ 1 MΩ ≤ 5 µA ± 3 % × 2 → – ½"


def written(printed: Printed, folder: Path, paper: str = "A4") -> Path:
    file = folder / "made.pdf"
    file.write_bytes(pdf_bytes(printed, paper).data)
    return file


def long_table(rows: int, lines: int) -> Printed:
    """Return a table whose rows have so many lines, the first and the last marked."""
    body = tuple(
        (f"row{n}", "\n".join([f"first{n}", *["…"] * (lines - 2), f"last{n}"])) for n in range(rows)
    )
    return Printed("Long", "foot", (Heading("1 Table"), Table(("head-a", "head-b"), body)))


# ISO 216: A4 is 210 x 297 mm; ANSI/ASME Y14.1: A ("Letter") is 8.5 x 11 in. A point is 1/72 in.
@pytest.mark.parametrize(
    ("paper", "width_pt", "height_pt"),
    [("A4", 210 / 25.4 * 72, 297 / 25.4 * 72), ("Letter", 8.5 * 72, 11 * 72)],
)
def test_a_sheet_has_the_size_of_its_paper(
    tmp_path: Path, paper: str, width_pt: float, height_pt: float
) -> None:
    (size,) = page_sizes_pt(written(long_table(3, 2), tmp_path, paper))
    assert size == pytest.approx((width_pt, height_pt), abs=0.01)


def test_names_in_many_scripts_and_the_signs_of_the_trade_come_out(tmp_path: Path) -> None:
    blocks = (Paragraph(SIGNS), Facts(tuple((name, Text(name, "fail")) for name in NAMES)))
    text = "\n".join(page_texts(written(Printed("Names", "foot", blocks), tmp_path)))
    assert SIGNS in text
    for name in NAMES:
        assert text.count(name) == 2, name


def test_a_letter_that_the_typeface_lacks_is_written_as_its_number(tmp_path: Path) -> None:
    printed = Printed("Café 中", "foot 中", (Paragraph("box 中 and ⚡"),))
    text = page_texts(written(printed, tmp_path))[0]
    assert "box [U+4E2D] and [U+26A1]" in text


def test_every_font_is_in_the_file(site_report: Written) -> None:
    found = fonts(site_report.pdf)
    assert found
    assert all(found.values())
    assert all(re.match(r"[A-Z]{6}\+", name) for name in found)  # a subset: ISO 32000-1, 9.6.4


def test_no_row_is_cut_and_the_head_is_on_every_page(tmp_path: Path) -> None:
    pages = page_texts(written(long_table(60, 7), tmp_path))
    assert len(pages) > 5
    for page in pages:
        assert "head-a" in page
        assert re.findall(r"first(\d+)\b", page) == re.findall(r"last(\d+)\b", page)
    assert re.findall(r"first(\d+)", "".join(pages)) == [str(n) for n in range(60)]


def test_a_row_higher_than_a_page_goes_on_over_pages_and_loses_nothing(tmp_path: Path) -> None:
    lines = [f"line{n}" for n in range(400)]
    table = Table(("a", "b"), (("before", "x"), ("tall", "\n".join(lines)), ("after", "y")))
    text = "".join(page_texts(written(Printed("Tall", "foot", (table,)), tmp_path)))
    assert re.findall(r"line\d+", text) == lines
    assert "after" in text


def test_pages_are_numbered_and_dated(site_report: Written) -> None:
    pages = page_texts(site_report.pdf)
    for number, page in enumerate(pages, 1):
        assert f"page {number} of {len(pages)}" in page
        # The demo's site counts its days in New York.
        assert re.search(
            r"Sallowmere Mill and Boatyard, 20\d\d(-\d\d){2} \d\d:\d\d -0[45]:00", page
        )


def test_the_outline_names_every_section_and_circuit(site_report: Written) -> None:
    found = outline(site_report.pdf)
    for name in SECTIONS:
        assert numbered(name) in found
    assert any(one.startswith("7.15 Circuit EARTH") for one in found)


def test_the_file_says_what_it_is(site_report: Written) -> None:
    assert title(site_report.pdf) == "Verification report: Sallowmere Mill and Boatyard"
    assert scripts(site_report.pdf) == 0


def test_a_heading_is_never_the_last_thing_on_a_page(tmp_path: Path) -> None:
    blocks = [
        part
        for n in range(40)
        for part in (
            Heading(f"Heading {n}", 2),
            Table(("what",), tuple((f"text {n}",) for _ in range(n % 7 + 1))),
        )
    ]
    for page in page_texts(written(Printed("Many", "foot", tuple(blocks)), tmp_path)):
        body = [line.strip() for line in page.splitlines() if line.strip()][:-1]
        assert not re.match(r"Heading|what", body[-1])


def test_room_for_a_hand_and_squares_are_drawn_and_named(tmp_path: Path) -> None:
    blocks = (Facts((("Address", Blank(2)), ("Occasion", Ticks(("new work", "periodic"))))),)
    file = written(Printed("Hand", "foot", blocks), tmp_path)
    text = " ".join(page_texts(file)[0].split())
    assert "Address by hand" in text
    assert "Occasion new work periodic" in text
    assert dashed_lines(file) >= 2


@given(st.lists(st.text(max_size=200), min_size=1, max_size=30))
@settings(max_examples=6, deadline=None, suppress_health_check=list(HealthCheck))
def test_any_text_can_be_printed(texts: list[str]) -> None:
    blocks = [Table(("a", "b"), tuple((text, text) for text in texts))]
    found = pdf_bytes(Printed(texts[0], texts[-1], (*blocks, *map(Paragraph, texts))), "A4")
    assert found.data.startswith(b"%PDF-")
    assert found.pages >= 1
