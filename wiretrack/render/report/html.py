# SPDX-License-Identifier: MIT
"""A report as one HTML file, readable on a phone, a screen, on A4 and on Letter; or part of a page.

No script, nothing from elsewhere, every text escaped.
"""

from __future__ import annotations

import re
from base64 import b64encode
from functools import cache, lru_cache
from hashlib import sha256
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING

from wiretrack import svg
from wiretrack.late import dataclass
from wiretrack.manner import words
from wiretrack.plain import one_line, safe
from wiretrack.render.anchor import code_of
from wiretrack.render.report.blocks import (
    BY_HAND,
    SHORT,
    Blank,
    Bullets,
    Cell,
    Code,
    Drawing,
    Facts,
    Heading,
    Paragraph,
    Table,
    Ticks,
    text_of,
    tone_of,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from wiretrack.render.report.blocks import Block, Printed


HOME = Path(__file__).parent
_LONGEST_WORD = 24


def html_pieces(printed: Printed, back: Mapping[str, str] | None = None) -> Iterator[str]:
    """Yield the page piece by piece, to be written one after the other.

    `back` names pages that this one belongs to, each with its address; sheets don't show them.
    """
    title = escape(one_line(printed.title))
    sheets = _SHEETS.format(name="", foot=_foot(printed))
    style = f"\n{(HOME / 'page.css').read_text('utf-8')}{style_of()}{sheets}"
    yield (
        f'<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="generator" content="wiretrack">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{_policy(style)}">\n'
        f"<title>{title}</title>\n"
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<style>{style}</style>\n</head>\n<body>\n"
    )
    yield from _back(back or {})
    yield f'<main class="report">\n<h1>{title}</h1>\n'
    yield from _contents(printed.blocks)
    yield from html_blocks(printed.blocks)
    yield "</main>\n</body>\n</html>\n"


@dataclass(frozen=True)
class PagePart:
    """A report as the last part of a page about more: its markup, and the style of its sheets.

    The page has the style of a report under a heading; `allowed` is how its policy names the style
    of the sheets.
    """

    markup: str
    sheets: str
    allowed: str


def page_part(printed: Printed) -> PagePart:
    """Return a report that stands on a page of something else, under a heading of the second level.

    Opened there (``#report``) it prints alone, on sheets with its own foot.
    """
    blocks = "".join(html_blocks(printed.blocks, under=2))
    title = escape(one_line(printed.title))
    head = f'<section class="report" id="report" tabindex="-1">\n<h2>{title}</h2>\n'
    sheets = _SHEETS.format(name=" report", foot=_foot(printed))
    return PagePart(f"{head}{blocks}</section>\n", sheets, _named(sheets))


def _named(style: str) -> str:
    """Return how a policy names a style sheet: by its digest.

    Source: W3C Content Security Policy Level 3, section 2.3.1, hash-source.
    """
    return f"'sha256-{b64encode(sha256(style.encode()).digest()).decode()}'"


def _policy(style: str) -> str:
    """Return what the page may use: its own style sheet and nothing else."""
    own = _named(style)
    return f"default-src 'none'; style-src {own}; base-uri 'none'; form-action 'none'"


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


def html_blocks(blocks: Iterable[Block], under: int = 1) -> Iterator[str]:
    """Yield the blocks as HTML elements, under a heading of that level."""
    for block in blocks:
        yield from _block(block, under)


def _block(block: Block, under: int) -> Iterator[str]:
    if isinstance(block, Heading):
        sheet = ' class="sheet"' if block.new_page else ""
        name = f' id="{anchor(block.text)}"' if _numbered(block) else ""
        level = block.level + under
        yield f"<h{level}{name}{sheet}>{_text(block.text)}</h{level}>\n"
    elif isinstance(block, Paragraph):
        yield f"<p{_class(block.tone)}>{_text(block.text)}</p>\n"
    elif isinstance(block, Bullets):
        lines = "".join(f"<li>{_text(line)}</li>\n" for line in block.lines)
        yield f"<ul{_class(block.tone)}>\n{lines}</ul>\n"
    elif isinstance(block, Facts):
        yield '<table class="facts">\n'
        for name, value in block.rows:
            yield _fact(words(name), value)
        yield "</table>\n"
    elif isinstance(block, Drawing):
        drawing = block.svg.replace(f' xmlns="{svg.NAMESPACE}"', "", 1)  # HTML knows svg
        lines = "\n".join(safe(line) for line in drawing.split("\n"))
        yield f'<div class="drawing" tabindex="0">{lines}</div>\n'
    elif isinstance(block, Code):
        yield _code(block.head)
    else:
        yield from _table(block)


@lru_cache(maxsize=8)
def _code(head: str) -> str:
    symbol = code_of(head)
    box = f"-4 -4 {len(symbol.rows) + 8} {len(symbol.rows) + 8}"
    label = "QR code of the hash that the log ends in"
    svg = f'<svg class="code" viewBox="{box}" role="img" aria-label="{label}">'
    return f'{svg}<path d="{symbol.path()}"/></svg>\n'


def anchor(text: str) -> str:
    """Return the name by which a heading is reached within its page.

    >>> anchor("7.2 Circuit PV-S1")
    's-7-2-circuit-pv-s1'
    """
    return "s-" + re.sub(r"[^a-z0-9]+", "-", text.lower()).strip("-")


def _table(block: Table) -> Iterator[str]:
    heads = tuple([escape(name, quote=True) for name in block.head])
    cells = "".join([f'<th scope="col">{name}</th>' for name in heads])
    yield f'<table class="rows">\n<thead><tr>{cells}</tr></thead>\n<tbody>\n'
    for row in block.rows:
        yield _row(heads, row)
    yield "</tbody>\n</table>\n"


@lru_cache(maxsize=4096)  # reports of one site have most of their rows in common
def _row(heads: tuple[str, ...], row: tuple[Cell, ...]) -> str:
    cells = [
        f'<td data-head="{name}"{_narrow(cell)}>{_cell(cell)}</td>'
        for name, cell in zip(heads, row, strict=True)
    ]
    return f"<tr>{''.join(cells)}</tr>\n"


@lru_cache(maxsize=4096)
def _fact(name: str, value: Cell) -> str:
    return f'<tr><th scope="row">{_text(name)}</th><td>{_cell(value)}</td></tr>\n'


def _cell(cell: Cell) -> str:
    if type(cell) is str:
        return _text(cell)
    if isinstance(cell, Blank):
        more = '<span class="blank"></span>' * (cell.lines - 1)
        return f'<span><span class="blank">{BY_HAND}</span>{more}</span>'
    if isinstance(cell, Ticks):
        ticks = (f'<span class="tick">{_text(word)}</span>' for word in cell.words)
        return f'<span class="ticks">{" ".join(ticks)}</span>'
    tone = tone_of(cell)
    return f"<span{_class(tone)}>{_text(text_of(cell))}</span>" if tone else _text(text_of(cell))


def _narrow(cell: Cell) -> str:
    said = cell if type(cell) is str else text_of(cell)
    return ' class="short"' if len(said) <= SHORT else ""


def _class(tone: str) -> str:
    return f' class="{tone}"' if tone else ""


@lru_cache(maxsize=4096)
def _text(text: str) -> str:
    lines = (" ".join(map(_word, safe(line).split(" "))) for line in text.split("\n"))
    return "<br>".join(lines)


def _word(word: str) -> str:
    """Return a word that may be broken where it is too long for a narrow column."""
    if len(word) <= _LONGEST_WORD:
        return escape(word)
    starts = range(0, len(word), _LONGEST_WORD)
    return "<wbr>".join(escape(word[start : start + _LONGEST_WORD]) for start in starts)


@cache
def style_of(under: int = 0) -> str:
    """Return the style of a report whose title is under a heading of that level."""
    text = (HOME / "report.css").read_text("utf-8")
    return re.sub(r"(?<=\bh)[1-4]\b", lambda level: str(int(level[0]) + under), text)


def _foot(printed: Printed) -> str:
    return _css_text(one_line(printed.foot))


# {name} is that of the sheets, {foot} becomes the text at the foot of each.
_SHEETS = """
@page{name} {{ margin: 14mm 14mm 18mm;
  @bottom-left {{ content: "{foot}"; font: 7.5pt Arial, sans-serif; }}
  @bottom-right {{ content: counter(page) " / " counter(pages); font: 7.5pt Arial, sans-serif; }} }}
"""


def _css_text(text: str) -> str:
    r"""Return any text as the inside of a CSS string that no character can leave.

    >>> _css_text('a"</style>')
    'a\\22 \\3c \\2f style\\3e '
    """
    return re.sub(r"[^A-Za-z0-9 .,:–-]", lambda found: f"\\{ord(found[0]):x} ", text)
