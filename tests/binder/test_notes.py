# SPDX-License-Identifier: MIT
"""Notes stand on a binder's pages, and what was attached lies beside them once."""

from __future__ import annotations

import shutil
from datetime import date
from html.parser import HTMLParser
from typing import TYPE_CHECKING

from tests.binder.crawling import records
from tests.tasks.test_remarks import PDF
from tests.test_pictures import photo
from wiretrack.store.store import open_registry
from wiretrack.tasks.binder.binder import write_binder
from wiretrack.tasks.binder.folder import differences
from wiretrack.tasks.describe.remarks import add_note, attach, take_back

if TYPE_CHECKING:
    from pathlib import Path


class Links(HTMLParser):
    """The links and pictures of a page."""

    def __init__(self, page: Path) -> None:
        super().__init__()
        self.found: list[Path] = []
        self._page = page
        self.feed(page.read_text("utf-8"))

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        to = dict(attrs).get("href" if tag == "a" else "src")
        if to and "files/" in to:
            self.found.append((self._page.parent / to).resolve())


def test_notes_and_files_are_in_the_binder(demo_db: Path, tmp_path: Path) -> None:
    shutil.copy(demo_db, tmp_path / "site.db")
    with open_registry(tmp_path / "site.db") as registry:
        add_note(registry, "0AZ-EMTB", "kink <2 m> from the box")
        gone = add_note(registry, "SLC", "never mind")
        take_back(registry, gone.id)
        add_note(registry, "site", "gate code is with the farmer")
        attach(registry, "SLC/Q1", "lid.jpg", photo())
        for what in ("SLUICE", "W10", "site"):
            attach(registry, what, f"{what}.pdf", PDF)
        write_binder(registry, tmp_path / "binder", date(2026, 11, 28))
    book = tmp_path / "binder"
    assert "kink &lt;2 m&gt; from the box" in records(book)["0AZ-EMTB"]
    assert "gate code" in (book / "index.html").read_text()
    box = (book / "enclosures/SLC.html").read_text()
    assert "never mind" not in box
    assert "SLC/Q1" in box
    assert differences(book) == []
    kept = {file.resolve(): file.read_bytes() for file in (book / "files").iterdir()}
    assert sorted(file.suffix for file in kept) == [".jpg", ".pdf"]
    assert PDF in kept.values()
    for page, count in (("enclosures/SLC.html", 3), ("circuits/SLUICE.html", 1),
                        ("raceways/W10.html", 1), ("index.html", 1)):  # fmt: skip
        links = Links(book / page).found
        assert len(links) == count, page
        assert set(links) <= kept.keys(), page
