# SPDX-License-Identifier: MIT
"""The HTML of a report: one file that needs nothing else, in which no text can act."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wiretrack.plain import safe
from wiretrack.render.report.blocks import (
    Blank,
    Bullets,
    Facts,
    Heading,
    Paragraph,
    Printed,
    Table,
    Text,
    Ticks,
)
from wiretrack.render.report.html import html_pieces, page_part

if TYPE_CHECKING:
    from tests.reports.conftest import Written

HOSTILE = "</style><script>alert(1)</script>\"'><img src=x onerror=alert(1)>&amp; \\"
KNOWN_TAGS = {"div", "svg", "path", "text", "rect", "circle"} | {
    "html", "head", "meta", "title", "style", "body", "main", "nav", "details", "summary", "h1",
    "h2", "h3", "h4", "p", "ul", "li", "a", "table", "thead", "tbody", "tr", "th", "td", "span",
    "br", "wbr",
}  # fmt: skip
OPEN = {"meta", "br", "wbr"}


class Reader(HTMLParser):
    """Sees to it that every element is closed in order, and keeps what it saw."""

    def __init__(self) -> None:
        super().__init__()
        self.stack: list[str] = []
        self.tags: set[str] = set()
        self.ids: list[str] = []
        self.links: list[str] = []
        self.names: set[str] = set()
        self.cells: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self.names |= {name for name, _ in attrs}
        self.ids += [value or "" for name, value in attrs if name == "id"]
        self.links += [value or "" for name, value in attrs if name == "href"]
        if tag == "td":
            self.cells.append("")
        if tag == "br":
            self.cells[-1:] = [f"{self.cells[-1]}\n"] if self.cells else []
        if tag not in OPEN:
            self.stack.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.stack.pop() == tag

    def handle_data(self, data: str) -> None:
        if "td" in self.stack:
            self.cells[-1] += data


def read(page: str) -> Reader:
    reader = Reader()
    reader.feed(page)
    reader.close()
    assert reader.stack == []
    return reader


def everywhere(text: str) -> Printed:
    """Return a report that has a text in every place where a text can be."""
    return Printed(
        title=text,
        foot=text,
        blocks=(
            Heading(text),
            Heading(f"1 {text}", 2, new_page=True),
            Paragraph(text, "caution"),
            Bullets((text,)),
            Facts(((text, text), (text, Blank(2)))),
            Table((text, "b"), ((Text(text, "fail"), Ticks((text,))),)),
        ),
    )


@given(st.text(max_size=60))
def test_no_text_becomes_an_element_or_an_attribute(text: str) -> None:
    reader = read("".join(html_pieces(everywhere(text))))
    assert reader.tags <= KNOWN_TAGS
    assert reader.names <= {
        "lang", "charset", "name", "content", "class", "id", "href", "scope", "data-head",
        "http-equiv", "aria-label",
    }  # fmt: skip


@given(st.text(max_size=60))
def test_a_text_stays_one_where_the_report_is_part_of_a_page(text: str) -> None:
    part = page_part(everywhere(text))
    assert read(part.markup).tags <= KNOWN_TAGS | {"section", "h5"}
    assert "<" not in part.sheets


def test_what_looks_like_an_element_is_shown_as_it_is_written() -> None:
    page = "".join(html_pieces(everywhere(HOSTILE)))
    assert "<script" not in page
    assert "<img" not in page
    assert page.count("</style>") == 1
    assert read(page).cells[0] == HOSTILE


@given(st.text(st.characters(exclude_categories=["Cs"]), max_size=90))
def test_a_cell_says_what_it_was_given(text: str) -> None:
    printed = Printed("t", "f", (Table(("a",), ((text,),)),))
    shown = read("".join(html_pieces(printed))).cells[0]
    assert shown == "\n".join(safe(line) for line in text.split("\n"))


def test_the_page_has_no_script_and_asks_no_host(site_report: Written) -> None:
    page = site_report.html.read_text("utf-8")
    reader = read(page)
    assert reader.tags <= KNOWN_TAGS
    assert "script" not in reader.tags
    assert not re.search(r"https?:|url\(|@import|\bsrc=", page)
    assert all(link.startswith("#") for link in reader.links)


def test_the_contents_lead_to_every_section_and_circuit(site_report: Written) -> None:
    reader = read(site_report.html.read_text("utf-8"))
    assert len(reader.ids) == len(set(reader.ids))
    assert [link[1:] for link in reader.links] == reader.ids
    assert len(reader.ids) == 12 + 15


@given(st.text(max_size=60), st.text(max_size=60))
def test_a_way_back_is_a_link_whatever_it_is_called(words: str, address: str) -> None:
    printed = Printed("t", "f", (Paragraph("p"),))
    reader = read("".join(html_pieces(printed, {words: address})))
    assert reader.tags <= KNOWN_TAGS
    assert len(reader.links) == 1
    assert read("".join(html_pieces(printed))).links == []


@pytest.mark.parametrize("name", ["A\nB", "a" * 500, ""])
def test_odd_names_make_a_whole_page(name: str) -> None:
    read("".join(html_pieces(everywhere(name))))
