# SPDX-License-Identifier: MIT
"""A report as one HTML file, readable on a phone, a screen, on A4 and on Letter.

No script, nothing from elsewhere, every text escaped.
"""

from __future__ import annotations

import re
from base64 import b64encode
from functools import lru_cache
from hashlib import sha256
from html import escape
from typing import TYPE_CHECKING

from wiretrack import svg
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


_LONGEST_WORD = 24


def html_pieces(printed: Printed, back: Mapping[str, str] | None = None) -> Iterator[str]:
    """Yield the page piece by piece, to be written one after the other.

    `back` names pages that this one belongs to, each with its address; sheets don't show them.
    """
    title = escape(one_line(printed.title))
    style = _SHEET.format(foot=_css_text(one_line(printed.foot)))
    yield (
        f'<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="generator" content="wiretrack">\n'
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

    Source: W3C Content Security Policy Level 3, section 2.3.1, hash-source.
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


# {foot} becomes the text at the foot of each sheet.
_SHEET = """
* {{ box-sizing: border-box; }}
html {{ -webkit-text-size-adjust: 100%; }}
body {{ font: 11pt/1.35 "Arimo", "Liberation Sans", Arial, sans-serif; color: #000;
  background: #fff; margin: 0 auto; padding: 1rem; max-width: 62rem;
  overflow-wrap: break-word; }}
h1 {{ font-size: 1.5em; margin: 0 0 .4em; }}
h2 {{ font-size: 1.2em; margin: 1.6em 0 .4em; border-bottom: .15em solid #000; }}
h3 {{ font-size: 1.05em; margin: 1.3em 0 .3em; border-bottom: .08em solid #000; }}
h4 {{ font-size: 1em; margin: 1em 0 .2em; }}
nav ul {{ list-style: none; padding: 0; }} nav .level2 {{ padding-left: 1.2em; }}
summary {{ padding: .5em 0; font-weight: bold; cursor: pointer; }}
nav a {{ display: inline-block; padding: .25em 0; color: #063b82; }}
.back {{ margin-bottom: 1em; }} .back a {{ line-height: 44px; padding: 0 1em 0 0; }}
p {{ margin: .4em 0; }}
ul {{ margin: .4em 0; padding-left: 1.3em; }}
table {{ border-collapse: collapse; width: 100%; margin: .4em 0 .8em; font-size: .88em; }}
th, td {{ text-align: left; vertical-align: top; padding: .15em .6em .15em 0;
  border-bottom: .06em solid #888; }}
thead th {{ border-bottom: .12em solid #000; }}
.short {{ white-space: nowrap; }}
.drawing {{ overflow-x: auto; margin: .4em 0; break-inside: avoid; }}
.drawing svg {{ display: block; max-width: 100%; min-width: 34rem; height: auto; }}
.code {{ width: 24mm; display: block; background: #fff; }}
.facts th {{ font-weight: normal; color: #333; width: 32%; }}
.fail {{ font-weight: bold; color: #900; }} .doubt {{ font-weight: bold; color: #6b4200; }}
.gone {{ text-decoration: line-through; color: #444; }} .strong {{ font-weight: bold; }}
.dim {{ color: #444; font-size: .92em; }}
.large {{ font-size: 1.6em; font-weight: bold; border: .12em solid #900; color: #900;
  padding: .3em .5em; }}
.caution {{ border-left: .4em solid #b35900; padding: .2em .6em; background: #fff6d6; }}
ul.caution {{ padding-left: 1.7em; }}
.blank {{ display: block; min-width: 11em; min-height: 1.7em; border-bottom: .1em dotted #000;
  color: #666; font-size: .75em; font-style: italic; line-height: 2.2; }}
.rows .ticks {{ white-space: nowrap; }}
.tick {{ display: inline-block; white-space: nowrap; margin-right: .9em; }}
.tick::before {{ content: ""; display: inline-block; width: .85em; height: .85em;
  border: .1em solid #000; margin-right: .35em; vertical-align: -.1em; }}
@media screen and (max-width: 45rem) {{
  body {{ padding: .6rem; }}
  nav li a {{ padding: .85em 0; }} summary {{ padding: .85em 0; }}
  .rows thead {{ position: absolute; clip-path: inset(50%); width: 1px; height: 1px;
    overflow: hidden; }}
  .rows tr {{ display: block; border-bottom: .12em solid #000; padding: .3em 0; }}
  .rows td {{ display: grid; grid-template-columns: 8.2em 1fr; border: 0; padding: .05em 0; }}
  .rows td::before {{ content: attr(data-head); color: #333; padding-right: .6em; }}
  .rows td:empty {{ display: none; }}
  .rows .short {{ white-space: normal; }}
  .facts th {{ width: 38%; }}
}}
@page {{ margin: 14mm 14mm 18mm;
  @bottom-left {{ content: "{foot}"; font: 7.5pt Arial, sans-serif; }}
  @bottom-right {{ content: counter(page) " / " counter(pages); font: 7.5pt Arial, sans-serif; }} }}
@media print {{
  nav {{ display: none; }}
  body {{ font-size: 9pt; padding: 0; max-width: none; }}
  h1, h2, h3, h4 {{ break-after: avoid; }}
  .sheet {{ break-before: page; }}
  thead {{ display: table-header-group; }}
  tr, .caution, .large {{ break-inside: avoid; }}
  .caution {{ background: #fff; border: .1em solid #b35900; border-left-width: .4em; }}
}}
"""


def _css_text(text: str) -> str:
    r"""Return any text as the inside of a CSS string that no character can leave.

    >>> _css_text('a"</style>')
    'a\\22 \\3c \\2f style\\3e '
    """
    return re.sub(r"[^A-Za-z0-9 .,:–-]", lambda found: f"\\{ord(found[0]):x} ", text)
