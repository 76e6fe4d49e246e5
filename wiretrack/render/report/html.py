# SPDX-License-Identifier: MIT
"""A report as one HTML file: no script, nothing from elsewhere, every text escaped."""

from __future__ import annotations

import re
from base64 import b64encode
from hashlib import sha256
from html import escape
from typing import TYPE_CHECKING

from wiretrack.plain import one_line, safe
from wiretrack.render.report.blocks import (
    BY_HAND,
    SHORT,
    Blank,
    Bullets,
    Cell,
    Facts,
    Heading,
    Paragraph,
    Table,
    Ticks,
    text_of,
    tone_of,
)
from wiretrack.render.report.style import style_sheet

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from wiretrack.render.report.blocks import Block, Printed


_LONGEST_WORD = 24


def html_pieces(printed: Printed, back: Mapping[str, str] | None = None) -> Iterator[str]:
    """Yield the page piece by piece, to be written one after the other.

    `back` names pages that this one belongs to, each with its address; sheets don't show them.
    """
    title = escape(one_line(printed.title))
    style = style_sheet(one_line(printed.foot))
    yield (
        f'<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{_policy(style)}">\n'
        f"<title>{title}</title>\n"
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<style>{style}</style>\n</head>\n<body>\n"
    )
    yield from _back(back or {})
    yield f"<main>\n<h1>{title}</h1>\n"
    yield from _contents(printed.blocks)
    yield from html_blocks(printed.blocks)
    yield "</main>\n</body>\n</html>\n"


def _policy(style: str) -> str:
    """Return what the page may use: its own style sheet, known by its digest, and nothing else.

    References
    ----------
    .. [1] W3C Content Security Policy Level 3, section 2.3.1, hash-source.
    """
    digest = b64encode(sha256(style.encode()).digest()).decode()
    return f"default-src 'none'; style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"


def _back(pages: Mapping[str, str]) -> Iterator[str]:
    if pages:
        links = (f'<a href="{escape(page)}">{_text(words)}</a>' for words, page in pages.items())
        yield f'<nav class="back" aria-label="Back">\n{" ".join(links)}\n</nav>\n'


def _contents(blocks: Iterable[Block]) -> Iterator[str]:
    """Yield links to the numbered headings; nothing where there are none."""
    found = [block for block in blocks if isinstance(block, Heading) and _numbered(block)]
    if not found:
        return
    yield '<nav aria-label="Contents">\n<details><summary>Contents</summary>\n<ul>\n'
    for block in found:
        name = anchor(block.text)
        yield f'<li class="level{block.level}"><a href="#{name}">{_text(block.text)}</a></li>\n'
    yield "</ul>\n</details>\n</nav>\n"


def _numbered(block: Heading) -> bool:
    """Return whether a heading has a number, which makes it the only one of its kind."""
    return block.text[:1].isdigit()


def html_blocks(blocks: Iterable[Block]) -> Iterator[str]:
    """Yield the blocks as HTML elements, headings from ``h2`` on, for a page of one's own."""
    for block in blocks:
        yield from _block(block)


def _block(block: Block) -> Iterator[str]:
    if isinstance(block, Heading):
        sheet = ' class="sheet"' if block.new_page else ""
        name = f' id="{anchor(block.text)}"' if _numbered(block) else ""
        level = block.level + 1
        yield f"<h{level}{name}{sheet}>{_text(block.text)}</h{level}>\n"
    elif isinstance(block, Paragraph):
        yield f"<p{_class(block.tone)}>{_text(block.text)}</p>\n"
    elif isinstance(block, Bullets):
        lines = "".join(f"<li>{_text(line)}</li>\n" for line in block.lines)
        yield f"<ul{_class(block.tone)}>\n{lines}</ul>\n"
    elif isinstance(block, Facts):
        yield '<table class="facts">\n'
        for name, value in block.rows:
            yield f'<tr><th scope="row">{_text(name)}</th><td>{_cell(value)}</td></tr>\n'
        yield "</table>\n"
    else:
        yield from _table(block)


def anchor(text: str) -> str:
    """Return the name by which a heading is reached within its page.

    >>> anchor("7.2 Circuit PV-S1")
    's-7-2-circuit-pv-s1'
    """
    return "s-" + re.sub(r"[^a-z0-9]+", "-", text.lower()).strip("-")


def _table(block: Table) -> Iterator[str]:
    heads = [escape(name, quote=True) for name in block.head]
    cells = "".join(f'<th scope="col">{name}</th>' for name in heads)
    yield f'<table class="rows">\n<thead><tr>{cells}</tr></thead>\n<tbody>\n'
    for row in block.rows:
        cells = "".join(
            f'<td data-head="{name}"{_narrow(cell)}>{_cell(cell)}</td>'
            for name, cell in zip(heads, row, strict=True)
        )
        yield f"<tr>{cells}</tr>\n"
    yield "</tbody>\n</table>\n"


def _cell(cell: Cell) -> str:
    if isinstance(cell, Blank):
        more = '<span class="blank"></span>' * (cell.lines - 1)
        return f'<span><span class="blank">{BY_HAND}</span>{more}</span>'
    if isinstance(cell, Ticks):
        ticks = (f'<span class="tick">{_text(word)}</span>' for word in cell.words)
        return f'<span class="ticks">{" ".join(ticks)}</span>'
    tone = tone_of(cell)
    return f"<span{_class(tone)}>{_text(text_of(cell))}</span>" if tone else _text(text_of(cell))


def _narrow(cell: Cell) -> str:
    return ' class="short"' if len(text_of(cell)) <= SHORT else ""


def _class(tone: str) -> str:
    return f' class="{tone}"' if tone else ""


def _text(text: str) -> str:
    lines = (" ".join(map(_word, safe(line).split(" "))) for line in text.split("\n"))
    return "<br>".join(lines)


def _word(word: str) -> str:
    """Return a word that may be broken where it is too long for a narrow column."""
    if len(word) <= _LONGEST_WORD:
        return escape(word)
    starts = range(0, len(word), _LONGEST_WORD)
    return "<wbr>".join(escape(word[start : start + _LONGEST_WORD]) for start in starts)
