# SPDX-License-Identifier: MIT
"""The report's page in a real browser: on a phone, and printed on both papers."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

import pytest

from tests.pdf import page_texts
from tests.web.browsing import PHONE, until

if TYPE_CHECKING:
    from pathlib import Path

    from tests.reports.conftest import Written


def test_nothing_lies_beside_the_screen_of_a_phone(chromium: Any, site_report: Written) -> None:
    page = chromium.new_context(offline=True, **PHONE).new_page()
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(site_report.html.as_uri())
    assert page.evaluate("document.documentElement.scrollWidth") == 360
    assert asked == [site_report.html.as_uri()]
    page.click("summary")
    page.click("text=7.9 Circuit HOIST")
    until(page, "scrollY > 1000")


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_page_prints_with_numbered_sheets_and_repeated_heads(
    chromium: Any, site_report: Written, tmp_path: Path, paper: str
) -> None:
    page = chromium.new_page()
    page.goto(site_report.html.as_uri())
    file = tmp_path / "printed.pdf"
    page.pdf(path=str(file), format=paper, prefer_css_page_size=True)
    sheets = page_texts(file)
    for number, sheet in enumerate(sheets, 1):
        assert f"{number} / {len(sheets)}" in sheet
    heads = sum(bool(re.search(r"no\.\s+taken\s+read of\s+test\s+as read", s)) for s in sheets)
    assert heads > 15  # 15 circuits, some with readings on two sheets
