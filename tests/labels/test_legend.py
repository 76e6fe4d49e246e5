# SPDX-License-Identifier: MIT
from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wiretrack.errors import GlyphError
from wiretrack.labels.fonts import face
from wiretrack.labels.geometry import TAG_LETTER_MM, TEXT_LETTER_MM
from wiretrack.labels.legend import (
    Paragraph,
    letter_limits,
    make_legend,
    set_legend,
    smallest_room,
)
from wiretrack.labels.stocks import shipped_stocks

if TYPE_CHECKING:
    from collections.abc import Callable

    from wiretrack.labels.subject import Contents, LabelSubject

LIMITS = letter_limits(shipped_stocks()["flag-70x16-300"])
words = st.text("ABCXYZ0189abgj.-/", min_size=1, max_size=9)
names = st.lists(words, min_size=1, max_size=5).map(" ".join)


@pytest.mark.parametrize(
    ("contents", "texts"),
    [
        ("tag", ["7KQ-2MBH"]),
        ("short", ["7KQ-2MBH", "PUMP L1", "MDB Q4:1"]),
        ("full", ["7KQ-2MBH", "PUMP L1", "MDB Q4:1", "→ PH1 X1:2"]),
        (
            "long",
            ["7KQ-2MBH", "PUMP L1", "bore pump", "MDB Q4:1", "→ PH1 X1:2", "4 mm2 BN"],
        ),
    ],
)
def test_a_legend_tells_the_tag_first_and_this_end_before_the_other(
    make_subject: Callable[..., LabelSubject], contents: Contents, texts: list[str]
) -> None:
    assert [item.text for item in make_legend(make_subject(), contents)] == texts


def test_a_core_tells_its_cable_in_a_long_legend_alone(
    make_subject: Callable[..., LabelSubject],
) -> None:
    subject = make_subject(core="CBL-7 core 2")
    assert make_legend(subject, "long")[-1].text == "CBL-7 core 2"
    assert "CBL-7 core 2" not in [item.text for item in make_legend(subject)]
    assert subject.said("long")["core"] == "CBL-7 core 2"
    assert "core" not in make_subject().said("long")


def test_what_is_unknown_is_left_out(make_subject: Callable[..., LabelSubject]) -> None:
    subject = make_subject(function=None, other_place=None)
    assert [item.text for item in make_legend(subject)] == ["7KQ-2MBH", "PUMP", "MDB Q4:1"]


def test_a_name_that_cannot_be_printed_is_refused(
    make_subject: Callable[..., LabelSubject],
) -> None:
    with pytest.raises(GlyphError, match="cyrillic"):
        make_legend(make_subject(this_place="Щит 1"))


@settings(max_examples=150, deadline=None)
@given(
    texts=st.lists(names, min_size=0, max_size=4),
    width=st.integers(60, 500),
    height=st.integers(30, 300),
)
def test_whatever_is_set_keeps_every_character_inside_the_room(
    texts: list[str], width: int, height: int
) -> None:
    legend = (Paragraph("7KQ-2MBH", is_tag=True), *(Paragraph(text) for text in texts))
    setting = set_legend(legend, width, height, LIMITS)
    if setting is None:
        return
    wanted = "".join(item.text for item in legend).replace(" ", "")
    assert "".join(line.text for line in setting.lines).replace(" ", "") == wanted
    assert setting.height <= height
    for line in setting.lines:
        assert face(line.capital_dots, bold=line.is_tag).length(line.text) <= width
        assert line.capital_dots >= (LIMITS.tag_min if line.is_tag else LIMITS.text_min)


@settings(max_examples=100, deadline=None)
@given(
    texts=st.lists(names, min_size=0, max_size=4),
    width=st.integers(100, 500),
)
def test_a_legend_fits_into_the_smallest_room_that_is_told(texts: list[str], width: int) -> None:
    legend = (Paragraph("7KQ-2MBH", is_tag=True), *(Paragraph(text) for text in texts))
    least, height = smallest_room(legend, width, LIMITS)
    if height is None:
        assert width < least or set_legend(legend, width, 10_000, LIMITS) is None
    else:
        assert set_legend(legend, width, height, LIMITS) is not None


def test_a_break_comes_at_a_space_before_it_comes_at_a_sign() -> None:
    legend = (Paragraph("7KQ-2MBH", is_tag=True), Paragraph("WELL-HOUSE Q4:1"))
    setting = set_legend(legend, 280, 130, LIMITS)
    assert setting is not None
    assert [line.text for line in setting.lines] == ["7KQ-2MBH", "WELL-HOUSE", "Q4:1"]


def test_the_limits_are_the_published_letter_heights_in_whole_dots() -> None:
    # NUREG-0700 rev. 2, 1.3.1-4: 16 minutes of arc, at 600 mm and at 300 mm.
    for stock in shipped_stocks().values():
        limits = letter_limits(stock)
        assert stock.mm(limits.tag_min) >= TAG_LETTER_MM > stock.mm(limits.tag_min - 1)
        assert stock.mm(limits.text_min) >= TEXT_LETTER_MM > stock.mm(limits.text_min - 1)
