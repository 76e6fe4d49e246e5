# SPDX-License-Identifier: MIT
"""The hash that the log ends in, on paper: what is printed is what `verify` takes."""

from __future__ import annotations

import re
from datetime import date
from typing import TYPE_CHECKING

import pytest
import zxingcpp
from PIL import Image, ImageDraw

from tests.pdf import page_texts, pictures
from wiretrack.model.parts import SiteFacts
from wiretrack.render.anchor import code_of
from wiretrack.store.loading import create_registry
from wiretrack.store.store import open_registry
from wiretrack.tasks.binder.binder import write_binder
from wiretrack.tasks.describe.sites import verify_file
from wiretrack.tasks.report.report import write_report

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from wiretrack.store.store import Registry


@pytest.fixture
def registry(tmp_path: Path) -> Iterator[Registry]:
    create_registry(tmp_path / "site.db", SiteFacts(name="Mill"))
    with open_registry(tmp_path / "site.db") as opened:
        yield opened


def head_of(registry: Registry) -> str:
    head = verify_file(registry.path).head
    assert head is not None
    return head


def printed_in(text: str) -> str:
    found = re.search(r"(?:[0-9a-f]{8}\s+){7}[0-9a-f]{8}", re.sub(r"<[^>]+>", "", text))
    assert found is not None
    return found[0]


def test_the_code_is_read_by_an_independent_decoder() -> None:
    head = "0c76d6dbac78fcd83dd526661ae92c697d468f8bbc7af91d461670b8d4c7b779"
    symbol = code_of(head)
    side, dark = len(symbol.rows), [*symbol.runs]
    picture = Image.new("L", (8 * (side + 8),) * 2, 255)
    draw = ImageDraw.Draw(picture)
    for x, y, length in dark:
        left, top = 8 * (x + 4), 8 * (y + 4)
        draw.rectangle((left, top, left + 8 * length - 1, top + 7), fill=0)
    (read,) = zxingcpp.read_barcodes(picture)
    assert read.text == f"WT-LOG:{head.upper()}"


def test_a_report_bears_the_hash_as_text_and_as_a_code(registry: Registry, tmp_path: Path) -> None:
    head = head_of(registry)
    write_report(registry, None, tmp_path / "report.pdf", paper="A4")
    texts = page_texts(tmp_path / "report.pdf")
    (at,) = [number for number, text in enumerate(texts) if head[:8] in text]
    assert head[-8:] in texts[at]
    read = zxingcpp.read_barcodes(pictures(tmp_path / "report.pdf", 300)[at])
    assert [each.text for each in read] == [f"WT-LOG:{head.upper()}"]


def test_what_a_page_bears_is_what_is_checked(registry: Registry, tmp_path: Path) -> None:
    write_report(registry, None, tmp_path / "report.html")
    write_binder(registry, tmp_path / "binder", date(2026, 11, 28))
    with registry.write("later") as db:
        db.execute("UPDATE site SET name = 'Other'")
    for page in (tmp_path / "report.html", tmp_path / "binder" / "index.html"):
        found = verify_file(registry.path, printed_in(page.read_text("utf-8")))
        assert found.ok
        assert found.anchor is not None
        assert found.anchor.since == 1
