# SPDX-License-Identifier: MIT
"""Pages from templates: all text escaped and made safe, drawings let through, links relative."""

from __future__ import annotations

from functools import cache, partial
from pathlib import Path
from textwrap import wrap
from typing import TYPE_CHECKING, Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from wiretrack.days import day, moment
from wiretrack.electrical.colours import colour_parts
from wiretrack.electrical.quantity_text import format_length, format_number, format_resistance
from wiretrack.errors import BadInputError
from wiretrack.plain import safe
from wiretrack.render.binder.names import root_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from jinja2 import Template

HOME = Path(__file__).parent
STATIC = HOME / "static"


def page(template: str, path: str, /, **context: Any) -> str:
    """Return the page that lies at `path`, from the binder's folder."""
    found: str = _template(template).render(root=root_of(path), here=path, **context)
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
    made = Environment(
        loader=FileSystemLoader(HOME / "templates"),
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
        undefined=StrictUndefined,
        finalize=_shown,
        auto_reload=False,
    )
    made.filters |= {
        "colour_parts": wires,
        "drawing": drawing,
        "length": length_text,
        "ohms": format_resistance,
        "day": day,
        "moment": partial(moment, seconds=True),
        "yes": yes_no,
        "figure": figure,
    }
    return made


@cache
def _text_environment() -> Environment:
    return Environment(
        loader=FileSystemLoader(HOME / "templates"),
        trim_blocks=True,
        undefined=StrictUndefined,
        finalize=_shown,
        keep_trailing_newline=True,
    )


def _shown(value: object) -> object:
    """Return a value as it may stand in a page: control signs written out, unknown as a dash."""
    if isinstance(value, Markup):
        return value
    if value is None:
        return "–"
    return safe(value) if isinstance(value, str) else value


def drawing(svg: str) -> Markup:
    """Return a drawing made by this program, whose texts are escaped already, as markup."""
    return Markup("\n".join(safe(line) for line in svg.split("\n")))


def wires(colour: str) -> tuple[str, ...]:
    """Return the single colours of a colour code; none of a text that isn't one."""
    try:
        return colour_parts(colour)
    except BadInputError:
        return ()


def length_text(length_m: float | None) -> str:
    """Return a length in both units.

    >>> length_text(8.8392)
    '8.839 m (29 ft)'
    """
    if length_m is None:
        return "unknown"
    return f"{format_length(length_m)} ({format_length(length_m, 'ft')})"


def yes_no(value: bool | None) -> str:
    """Return a truth in words; what isn't known stays so."""
    return "unknown" if value is None else "yes" if value else "no"


def figure(value: float | None, unit: str = "") -> str:
    """Return a number with its unit, as people write it."""
    return "unknown" if value is None else format_number(value, unit)
