# SPDX-License-Identifier: MIT
"""The binder's pages from templates: all text escaped and made safe, links relative."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from textwrap import wrap
from typing import TYPE_CHECKING, Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from wiretrack.render.binder.names import root_of
from wiretrack.render.records import TEMPLATES, RecordsFirst, set_up

if TYPE_CHECKING:
    from collections.abc import Iterator

    from jinja2 import Template

    from wiretrack.render.binder.names import Addresses

HOME = Path(__file__).parent
STATIC = HOME / "static"


@dataclass(frozen=True)
class Paper:
    """A page of the binder as the place where a record is shown; a `render.records.Face`."""

    root: str
    addresses: Addresses
    paper = True
    forms = False

    def address(self, what: str, code: str) -> str | None:
        """Return the way from here to the page of a record; `None` where it has none."""
        page = self.addresses.page(what, code)
        return None if page is None else self.root + page


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
        yield file.name, file.read_text("utf-8")


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
