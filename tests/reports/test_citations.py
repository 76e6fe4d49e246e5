# SPDX-License-Identifier: MIT
"""A report that is signed cites what was read, and says once, at its end, what was not."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest

from tests.reports.conftest import by_section, html_text, pdf_text
from wiretrack.sources import cited_unread

if TYPE_CHECKING:
    from tests.reports.conftest import Written

TITLE = "What of the citations was not checked"
LAST = "Origin of this report"
# From the tables of items and points, by hand: known from memory alone.
UNCHECKED = {
    "IEC 60364-6:2016": [*(f"6.4.2.3 {letter}" for letter in "abcdefghijklmnop"), "6.4.3.1"],
    "IEC 62446-1:2016": [
        *(f"5.2.{number}" for number in range(2, 11)), "9.1", "9.2", "9.3", "4.2", "4.3", "6.1",
    ],
}  # fmt: skip


@pytest.fixture(params=["html", "pdf"])
def text(request: pytest.FixtureRequest, site_report: Written) -> str:
    """The text of the demo site's report, on the page or on the sheets."""
    if request.param == "html":
        return html_text(site_report.html.read_text("utf-8"))
    return pdf_text(site_report.pdf)


def test_no_citation_is_marked_as_remembered(text: str) -> None:
    assert "memory" not in text


def test_what_was_not_checked_is_said_once_and_last(text: str) -> None:
    on_one_line = " ".join(text.split())
    assert on_one_line.count(TITLE) == 1
    note = by_section(text)[LAST].partition(TITLE)[2]
    assert "The points of sections 3, 7, 11 are in our own words" in note
    assert "IEC 60364-6:2016: 6.4.2.3 a to 6.4.2.3 p, 6.4.3.1" in note
    assert "IEC 62446-1:2016: 5.2.2 to 5.2.10, 9.1, 9.2, 9.3, 4.2, 4.3, 6.1, annex" in note
    assert on_one_line.endswith(note.strip())


def test_no_clause_that_was_not_checked_is_cited(text: str) -> None:
    before = " ".join(text.split()).partition(TITLE)[0]
    for standard, numbers in UNCHECKED.items():
        assert standard in before
        for number in numbers:
            assert not re.search(rf"{re.escape(f'{standard} {number}')}(?![\w.])", before), number


def test_clauses_that_were_read_are_still_cited(site_report: Written) -> None:
    text = html_text(site_report.html.read_text("utf-8"))
    for cited in ("IEC 60364-6:2016 6.4.4", "IEC 60364-6:2016 table 6.1", "IEC 62446-1:2016 6.7"):
        assert cited in text


@pytest.mark.parametrize(
    ("texts", "unread"),
    [
        (["NEC 2023 250.122", "IEC 60038 within 10 %", "common practice"], []),
        (["NEC 2023 250.122", "IEC 60364-7-712 (confidence in this factor: low)"],
         ["IEC 60364-7-712"]),
        (["at least 25 MΩ; IEC 60364-7-712", "taken as PELV (IEC 60364-4-41)"],
         ["IEC 60364-4-41", "IEC 60364-7-712"]),
    ],
)  # fmt: skip
def test_a_publication_of_which_nothing_was_read_is_found_in_what_is_said(
    texts: list[str], unread: list[str]
) -> None:
    assert cited_unread(texts) == unread
