# SPDX-License-Identifier: MIT
"""What was meant by a command, an option or a word that click doesn't know."""

from __future__ import annotations

import re
from contextlib import suppress
from typing import TYPE_CHECKING

import click

from wiretrack.cli.completing import words_of
from wiretrack.errors import WiretrackError
from wiretrack.model.words import also
from wiretrack.plain import few, near

if TYPE_CHECKING:
    from collections.abc import Iterator

_MOST = 24  # words that a line names
_QUOTED = re.compile(r"'(.*?)'")


def worded(error: click.UsageError) -> str:
    """Return the message for what was typed wrongly: what is near to it, and where to look."""
    path = error.ctx.command_path if error.ctx else "wiretrack"
    see = f"See: {path} --help"
    if isinstance(error, click.MissingParameter):
        return _missing(error, see)
    if isinstance(error, click.NoSuchOption):
        return f"{error.format_message()} {see}"
    close = _near_command(error) or _near_word(error)
    message = error.message if close else error.format_message()
    if close and isinstance(error, click.BadParameter):
        message = f"Invalid value for {_named(error)}: {message}"
    meant = f" Did you mean {' or '.join(close)}?" if close else ""
    return f"{message}{meant} {see}" if error.ctx else f"{message}{meant}"


def _missing(error: click.MissingParameter, see: str) -> str:
    """Return what is missing, what may be given where that is a list, and where to look."""
    param = error.param
    words = [*_words(error.ctx, param)] if param and error.ctx else []
    choice = param is not None and isinstance(param.type, click.Choice)
    if choice and isinstance(param, click.Argument):
        missing = f"Missing argument '{str(param.name).upper()}'."  # its choices follow
    else:
        missing = error.format_message().partition(" Choose from:")[0]
    may = f" Give one of: {few(words, _MOST)}." if words else ""
    if param and param.name == "stock":
        see = "What each is: wiretrack label stocks"
    return f"{missing}{may} {see}"


def _words(ctx: click.Context, param: click.Parameter) -> Iterator[str]:
    """Yield what may be given, of an option or a choice; an argument may be too many things."""
    if isinstance(param.type, click.Choice):
        yield from map(str, param.type.choices)
    elif isinstance(param, click.Option) and (words := words_of(param)):
        with suppress(WiretrackError):
            yield from (word for word, _ in words(ctx, ""))


def _near_command(error: click.UsageError) -> list[str]:
    group, quoted = error.ctx and error.ctx.command, _QUOTED.search(error.message)
    if not (isinstance(group, click.Group) and quoted and "command" in error.message):
        return []
    assert error.ctx
    return near(quoted[1], group.list_commands(error.ctx))


def _near_word(error: click.UsageError) -> list[str]:
    """Return the allowed words that one is near to, by what people say for them too."""
    param, quoted = getattr(error, "param", None), _QUOTED.search(error.message)
    if not (param and isinstance(param.type, click.Choice) and quoted):
        return []
    said = {name: str(word) for word in param.type.choices
            for name in (str(word), *also().get(str(word), ()))}  # fmt: skip
    return [*dict.fromkeys(said[name] for name in near(quoted[1], said, 2))]


def _named(error: click.BadParameter) -> str:
    return error.param.get_error_hint(error.ctx) if error.param and error.ctx else "an argument"
