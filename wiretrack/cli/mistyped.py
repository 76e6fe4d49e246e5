# SPDX-License-Identifier: MIT
"""What was meant by a command, an option or a word that click doesn't know."""

from __future__ import annotations

import re

import click

from wiretrack.model.words import also
from wiretrack.plain import near

_QUOTED = re.compile(r"'(.*?)'")


def worded(error: click.UsageError) -> str:
    """Return the message for what was typed wrongly: what is near to it, and where to look."""
    path = error.ctx.command_path if error.ctx else "wiretrack"
    see = f"See: {path} --help"
    if isinstance(error, click.NoSuchOption):
        return f"{error.format_message()} {see}"
    close = _near_command(error) or _near_word(error)
    message = error.message if close else error.format_message()
    if close and isinstance(error, click.BadParameter):
        message = f"Invalid value for {_named(error)}: {message}"
    meant = f" Did you mean {' or '.join(close)}?" if close else ""
    return f"{message}{meant} {see}" if error.ctx else f"{message}{meant}"


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
