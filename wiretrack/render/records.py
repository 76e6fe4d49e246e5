# SPDX-License-Identifier: MIT
"""One set of templates that shows a record, on pages and on paper: their folder, words and rules.

Each face has a ``base.html`` of its own, which the templates extend, and gives them two things:
`face` (a `Face`), and `more`, what only a binder says of a record (`None` elsewhere).
"""

from __future__ import annotations

from functools import lru_cache, partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

from jinja2 import Environment
from jinja2.compiler import CodeGenerator
from jinja2.runtime import Context, Macro
from markupsafe import Markup, escape

from wiretrack.days import day, minute, moment
from wiretrack.electrical.colours import colour_parts
from wiretrack.electrical.quantity_text import (
    format_length,
    format_number,
    format_resistance,
    shown,
)
from wiretrack.errors import BadInputError
from wiretrack.manner import words
from wiretrack.model.tags import looks_like_tag
from wiretrack.plain import safe
from wiretrack.readings import told
from wiretrack.render.route import route_drawn

if TYPE_CHECKING:
    from collections.abc import Mapping

    from jinja2.compiler import Frame
    from jinja2.nodes import Expr

    from wiretrack.model.entity import Attachment

TEMPLATES = Path(__file__).parent / "templates"


class Face(Protocol):
    """Where a record is shown: whether on paper, whether with forms, and where the others are."""

    @property
    def paper(self) -> bool:
        """Whether it can be printed and says all, as a binder does."""

    @property
    def forms(self) -> bool:
        """Whether the reader may change the record."""

    @property
    def notes(self) -> bool:
        """Whether the reader may add notes."""

    def file(self, attached: Attachment) -> str:
        """Return the address of what was attached."""

    def address(self, what: str, code: str) -> str | None:
        """Return the address of the page of a record; `None` where it has none."""


class _AtOnce(CodeGenerator):
    """Has what is shown made harmless and escaped in one call, where Jinja has two.

    Should Jinja call these methods no more, templates show the same by its own two.
    """

    def _output_child_pre(self, node: Expr, frame: Frame, finalize: Any) -> None:
        if frame.eval_ctx.autoescape is True and not frame.eval_ctx.volatile:
            self.write("environment.escaped(")
        else:
            super()._output_child_pre(node, frame, finalize)

    def _output_child_post(self, node: Expr, frame: Frame, finalize: Any) -> None:
        if frame.eval_ctx.autoescape is True and not frame.eval_ctx.volatile:
            self.write(")")
        else:
            super()._output_child_post(node, frame, finalize)


class _Direct(Context):
    """What calls a macro at once, where Jinja first asks twice what it wants to be given."""

    def call(self, called: Any, /, *args: Any, **named: Any) -> Any:
        """Call what a template calls."""
        if type(called) is not Macro:
            return super().call(called, *args, **named)
        named.pop("_loop_vars", None)
        named.pop("_block_vars", None)
        return called(self.eval_ctx, *args, **named)


class RecordsFirst(Environment):
    """Templates that look a name up in a record before among a dictionary's methods."""

    code_generator_class, context_class = _AtOnce, _Direct

    def escaped(self, value: object) -> str:
        """Return what a template shows of a value, as markup."""
        if type(value) is str:
            return _escaped(value)
        if type(value) is Markup:
            return value
        return escape(self.finalize(value) if self.finalize else value)

    def getattr(self, obj: Any, attribute: str) -> Any:
        """Return what `obj.attribute` means in a template."""
        if type(obj) is dict and attribute in obj:
            return obj[attribute]
        try:
            return getattr(obj, attribute)
        except AttributeError:  # the names of what isn't a record, and what is undefined
            return super().getattr(obj, attribute)


def set_up(environment: Environment, unknown: str) -> None:
    """Give templates what records are written with; `unknown` stands for an unknown value."""
    environment.trim_blocks = environment.lstrip_blocks = True
    environment.finalize = partial(_harmless, unknown)
    environment.globals["places"] = places_words
    environment.filters.update(
        colour_parts=single_colours,
        day=day,
        drawing=drawing_markup,
        figure=figure,
        legend=legend_words,
        metres=length_text,
        looks_like_tag=looks_like_tag,
        minute=minute,
        moment=partial(moment, seconds=True),
        ohms=format_resistance,
        quantity=quantity,
        route_drawn=route_drawn,
        shown=shown,
        text=str,
        told=told,
        words=words,
        yes=yes_no,
    )


def _harmless(unknown: str, value: object) -> object:
    """Return what a template shows: a text that can't mislead, an unknown value as `unknown`."""
    if value is None:
        return unknown
    return safe(value) if isinstance(value, str) and not isinstance(value, Markup) else value


@lru_cache(maxsize=4096)
def _escaped(text: str) -> Markup:
    return escape(safe(text))


def drawing_markup(svg: str) -> Markup:
    """Return a drawing made by this program, whose texts are escaped already, as markup."""
    return Markup("\n".join(safe(line) for line in svg.split("\n")))


def single_colours(colour: str) -> tuple[str, ...]:
    """Return the single colours of a colour code; none of a text that isn't one."""
    try:
        return colour_parts(colour)
    except BadInputError:
        return ()


def length_text(length_m: float | None) -> str:
    """Return a length in both units.

    >>> length_text(8.8392)
    '8.84 m (29 ft)'
    """
    return "unknown" if length_m is None else format_length(length_m)


def yes_no(value: bool | None) -> str | None:
    """Return a truth in words; what isn't known stays so."""
    return None if value is None else "yes" if value else "no"


def quantity(value: float | None, unit: str) -> str | None:
    """Return a number with its unit; what isn't known stays so."""
    return None if value is None else format_number(value, unit)


def figure(value: float | None, unit: str = "") -> str:
    """Return a number with its unit, as people write it."""
    return "unknown" if value is None else format_number(value, unit)


def legend_words(legend: Mapping[str, object] | None) -> str:
    """Return what a label said."""
    if not isinstance(legend, dict):
        return "not noted"
    return ", ".join(str(value) for value in legend.values() if value)


def places_words(wet: bool | None, sunlight: bool | None, indoors: bool | None) -> str:
    """Return what kind of place something is in.

    >>> places_words(True, None, False)
    'Wet place. Outdoors.'
    """
    words = [
        {True: "Wet place.", False: "Dry place."}.get(wet) if wet is not None else None,
        "In the sun." if sunlight else None,
        {True: "Indoors.", False: "Outdoors."}[indoors] if indoors is not None else None,
    ]
    return " ".join(filter(None, words))
