# SPDX-License-Identifier: MIT
"""The binder's pages from templates: all text escaped and made safe, links relative; their names.

FAT and NTFS know no difference of case, forbid some signs, and keep some words for devices; a code
may hold anything. A code that is safe names its file itself; any other becomes its safe letters
and a piece of its SHA-256, so that the same codes always give the same names.
"""

from __future__ import annotations

import hashlib
import re
import unicodedata
from collections import Counter
from functools import cache
from html import escape
from pathlib import Path
from textwrap import wrap
from typing import TYPE_CHECKING, Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from wiretrack.labels.symbol import QUIET_ZONE_MODULES
from wiretrack.late import dataclass
from wiretrack.pictures import SUFFIXES
from wiretrack.render.records import TEMPLATES, RecordsFirst, set_up
from wiretrack.render.report.html import style_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from jinja2 import Template

    from wiretrack.labels.symbol import Symbol
    from wiretrack.model.entity import Attachment
    from wiretrack.model.tags import Tag


HOME = Path(__file__).parent
STATIC = HOME / "static"


@dataclass(frozen=True)
class Paper:
    """A page of the binder as the place where a record is shown; a `render.records.Face`."""

    root: str
    addresses: Addresses
    paper = True
    forms = False
    notes = False

    def file(self, attached: Attachment) -> str:
        """Return the way from here to what was attached."""
        return self.root + file_of(attached)

    def address(self, what: str, code: str) -> str | None:
        """Return the way from here to the page of a record; `None` where it has none."""
        page = self.addresses.page(what, code)
        return None if page is None else self.root + page


def file_of(attached: Attachment) -> str:
    """Return where what was attached lies: by its content, once however often it was attached."""
    return f"files/{attached.sha256[:16]}{SUFFIXES[attached.type]}"


def page(template: str, path: str, addresses: Addresses, /, **context: Any) -> str:
    """Return the page that lies at `path`, from the binder's folder."""
    root = root_of(path)
    found: str = _template(template).render(
        root=root, here=path, face=Paper(root, addresses), **context
    )
    return found


def plain_text(template: str, **context: Any) -> str:
    """Return a plain text from a template, its lines ended as the plainest editors need them."""
    found: str = _text_environment().get_template(template).render(wrap=wrap, **context)
    return found.replace("\n", "\r\n")


def static_files() -> Iterator[tuple[str, str]]:
    """Yield the name and the text of each file that every binder has."""
    for file in sorted(STATIC.iterdir()):
        text = file.read_text("utf-8")
        yield file.name, text + style_of(under=1) if file.suffix == ".css" else text


@cache
def _template(name: str) -> Template:
    return _environment().get_template(name)


@cache
def _environment() -> Environment:
    made = RecordsFirst(
        loader=FileSystemLoader([HOME / "templates", TEMPLATES]),
        autoescape=True,
        undefined=StrictUndefined,
        auto_reload=False,
    )
    set_up(made, unknown="–")
    return made


@cache
def _text_environment() -> Environment:
    made = Environment(
        loader=FileSystemLoader(HOME / "templates"),
        undefined=StrictUndefined,
        keep_trailing_newline=True,
    )
    set_up(made, unknown="–")
    made.lstrip_blocks = False
    return made


SUBJECTS = ("raceway", "circuit", "enclosure")  # that rules and markings are about
FOLDERS = {
    "circuit": "circuits",
    "spare": "spares",
    "enclosure": "enclosures",
    "raceway": "raceways",
    "pull": "pulls",
}
_UNSAFE = re.compile(r"[^A-Za-z0-9_+-]+")
_LONGEST = 48
# The names of devices, which Windows gives to no file whatever its ending.
_RESERVED = {"con", "prn", "aux", "nul", "conin$", "conout$"} | {
    f"{port}{number}" for port in ("com", "lpt") for number in range(10)
}


def safe_names(codes: Iterable[str]) -> dict[str, str]:
    """Return a file name without its ending for each code, no two alike but for case.

    >>> safe_names(["MDB", "QF1/2", "con"])["MDB"]
    'MDB'
    """
    wanted = sorted(set(codes))
    slugs = {code: _slug(code) for code in wanted}
    often = Counter(code.casefold() for code in wanted if slugs[code] == code)
    plain = {c for c in wanted if slugs[c] == c and often[c.casefold()] == 1 and not _reserved(c)}
    names, used = {code: code for code in plain}, {code.casefold() for code in plain}
    for code in wanted:
        if code not in plain:
            names[code] = _told_apart(code, slugs[code], used)
            used.add(names[code].casefold())
    return names


def numbered(stem: str, number: int) -> str:
    """Return the name of one page of several; the first has no number.

    >>> numbered("tags", 1), numbered("tags", 2)
    ('tags.html', 'tags-2.html')
    """
    return f"{stem}.html" if number == 1 else f"{stem}-{number}.html"


def part_of(page: str, number: int) -> str:
    """Return one of the pages that a record is parted into; a dot is in no other page's name.

    >>> part_of("circuits/PUMP.html", 1), part_of("circuits/PUMP.html", 2)
    ('circuits/PUMP.html', 'circuits/PUMP.2.html')
    """
    return page if number == 1 else f"{page.removesuffix('.html')}.{number}.html"


def pager(pages: Sequence[tuple[str, str]], at: int) -> dict[str, Any]:
    """Return the ways between pages, each with its words, from the one at a place among them."""
    return {
        "number": at + 1,
        "total": len(pages),
        "before": pages[at - 1][0] if at else None,
        "after": pages[at + 1][0] if at + 1 < len(pages) else None,
        "all": pages,
    }


def root_of(page: str) -> str:
    """Return the way from a page up to the binder's folder.

    >>> root_of("index.html"), root_of("circuits/PUMP.html")
    ('', '../')
    """
    return "../" * page.count("/")


class Addresses:
    """Where the page of each record is, from the binder's folder."""

    def __init__(self, codes: Mapping[str, Iterable[str]]) -> None:
        self._names = {what: safe_names(found) for what, found in codes.items()}
        self._records: dict[str, str] = {}

    def place(self, tag: Tag, page: str) -> None:
        """Note the page that has a conductor's record, under the written tag."""
        self._records[tag.plain] = self._records[str(tag)] = f"{page}#{tag}"

    def page(self, what: str, code: str) -> str | None:
        """Return the page of a record; `None` where the binder has none.

        A ``subject`` is what a rule or a marking is about: a tag, or a code of any kind.
        """
        if what == "conductor":
            return self._records.get(code)
        if what == "instrument":
            return "instruments.html"
        if what == "report":
            return f"{self.page('circuit', code)}#report"
        if what == "subject":
            kinds = ("conductor",) if "-" in code and code in self._records else SUBJECTS
            return next(filter(None, (self.page(kind, code) for kind in kinds)), None)
        name = self._names.get(what, {}).get(code)
        return None if name is None else f"{FOLDERS[what]}/{name}.html"


def _slug(code: str) -> str:
    plain = unicodedata.normalize("NFKD", code).encode("ascii", "ignore").decode("ascii")
    return _UNSAFE.sub("-", plain).strip("-")[:_LONGEST]


def _reserved(name: str) -> bool:
    return name.casefold() in _RESERVED


def _told_apart(code: str, slug: str, used: set[str]) -> str:
    digest = hashlib.sha256(code.encode("utf-8", "surrogatepass")).hexdigest()
    for length in range(6, len(digest) + 1):
        name = f"{slug}-{digest[:length]}" if slug else f"x-{digest[:length]}"
        if name.casefold() not in used:
            return name
    raise AssertionError(f"two codes share a SHA-256: {code!r}")


def code_svg(symbol: Symbol, text: str) -> str:
    """Return the drawing of a symbol, its quiet zone around it; `text` is what it says."""
    side = len(symbol.rows) + 2 * QUIET_ZONE_MODULES
    return (
        f'<svg class="code" viewBox="0 0 {side} {side}" role="img" '
        f'aria-label="QR code: {escape(text)}" shape-rendering="crispEdges">'
        f'<path fill="#fff" d="M0 0h{side}v{side}H0z"/>'
        f'<path fill="#000" d="{symbol.path(QUIET_ZONE_MODULES)}"/></svg>'
    )
