# SPDX-License-Identifier: MIT
"""Reports of the demo site, written once, and their texts by section."""

from __future__ import annotations

import re
from dataclasses import dataclass
from html.parser import HTMLParser
from typing import TYPE_CHECKING

import pytest

from tests.pdf import page_texts
from wiretrack import manner
from wiretrack.render.report.asked import SECTIONS, numbered
from wiretrack.store.store import open_registry
from wiretrack.tasks.report.report import write_report

if TYPE_CHECKING:
    from pathlib import Path


@dataclass(frozen=True)
class Written:
    """The files of one report."""

    html: Path
    pdf: Path


class _Text(HTMLParser):
    """Collects what a browser shows, a line for each heading, cell and paragraph."""

    def __init__(self) -> None:
        super().__init__()
        self.parts: list[str] = []
        self._hidden = 0

    def handle_starttag(self, tag: str, attrs: object) -> None:
        self._hidden += tag in ("style", "title", "nav")
        if tag in ("h1", "h2", "h3", "h4", "p", "li", "td", "th", "tr"):
            self.parts.append("\n")

    def handle_endtag(self, tag: str) -> None:
        self._hidden -= tag in ("style", "title", "nav")
        if tag in ("h1", "h2", "h3", "h4"):
            self.parts.append("\n")

    def handle_data(self, data: str) -> None:
        if not self._hidden:
            self.parts.append(data)


def html_text(page: str) -> str:
    """Return the text of an HTML page."""
    parser = _Text()
    parser.feed(page)
    parser.close()
    return "".join(parser.parts)


def pdf_text(file: Path) -> str:
    """Return the text of a PDF, its feet left out."""
    return re.sub(r"^.*page \d+ of \d+\s*$", "", "\n".join(page_texts(file)), flags=re.M)


def by_section(text: str) -> dict[str, str]:
    """Return the text of each section on one line, by the section's name."""
    found: dict[str, str] = {}
    lines = [line.strip() for line in text.splitlines()]
    starts = [(lines.index(numbered(name)), name) for name in SECTIONS]
    ends = [start for start, _ in starts[1:]] + [len(lines)]
    for (start, name), end in zip(starts, ends, strict=True):
        found[name] = " ".join(" ".join(lines[start + 1 : end]).split())
    return found


@pytest.fixture(scope="session")
def site_report(demo_db: Path, tmp_path_factory: pytest.TempPathFactory) -> Written:
    """The report of the whole demo site."""
    folder = tmp_path_factory.mktemp("report")
    files = Written(folder / "site.html", folder / "site.pdf")
    with open_registry(demo_db) as registry:
        manner.use(registry.manner())  # as each face does that opens one
        for file in (files.html, files.pdf):
            write_report(registry, None, file, by="site electrician")
    return files
