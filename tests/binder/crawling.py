# SPDX-License-Identifier: MIT
"""Reading a folder of pages with the standard library's parser, as any later program could."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from typing import TYPE_CHECKING
from urllib.parse import unquote, urldefrag, urljoin, urlsplit

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

_VOID = {"meta", "link", "input", "br", "wbr", "img", "hr"}


class Page(HTMLParser):
    """One page: its links, its identifiers, its elements, its text."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.links: list[str] = []
        self.ids: set[str] = set()
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.texts: list[str] = []
        self.open: list[str] = []
        self.mismatched: list[str] = []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        found = dict(attrs)
        self.elements.append((tag, found))
        if tag not in _VOID:
            self.open.append(tag)
        if found.get("id"):
            self.ids.add(str(found["id"]))
        for name in ("href", "src"):
            if found.get(name) is not None:
                self.links.append(str(found[name]))

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        if not self.open or self.open.pop() != tag:
            self.mismatched.append(tag)

    def handle_data(self, data: str) -> None:
        self.texts.append(data)

    @property
    def text(self) -> str:
        """All that a reader sees, spaces folded."""
        return " ".join(" ".join(self.texts).split())


def pages(folder: Path) -> Iterator[tuple[str, Page]]:
    """Yield every page of a folder by its path in it."""
    for file in sorted(folder.rglob("*.html")):
        yield file.relative_to(folder).as_posix(), Page(file.read_text("utf-8"))


_RECORD = re.compile(r'<article class="record" id="(.+?)"[^>]*>(.*?)</article>', re.DOTALL)


def records(folder: Path) -> dict[str, str]:
    """Return the markup of each conductor's record by its written tag, on whatever page it is."""
    found = [
        pair for file in folder.rglob("*.html") for pair in _RECORD.findall(file.read_text("utf-8"))
    ]
    assert len(found) == len(dict(found)), "a record stands twice"
    return dict(found)


def target(page: str, link: str) -> tuple[str, str]:
    """Return where a link on a page leads, from the folder, and to which identifier there."""
    assert not urlsplit(link).scheme, f"{page} leads out of the folder: {link}"
    path, mark = urldefrag(urljoin(f"http://binder/{page}", link).removeprefix("http://binder/"))
    return unquote(path), unquote(mark)
