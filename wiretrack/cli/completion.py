# SPDX-License-Identifier: MIT
"""``completion``: the script by which a shell asks what to complete."""

from __future__ import annotations

import click
from click.shell_completion import get_completion_class

from wiretrack.cli.command import Command
from wiretrack.cli.options import do_next, json_option, say_next
from wiretrack.cli.output import show
from wiretrack.cli.wording import COMPLETING

SHELLS = ("bash", "zsh", "fish")
_SPACE = "    return 0\n}"  # ends the function of the script for bash
_NO_SPACE = "    [[ ${COMPREPLY[0]} == *= ]] && compopt -o nospace 2>/dev/null\n"


@click.command(cls=Command)
@click.argument("shell", type=click.Choice(SHELLS))
@json_option
def completion(shell: str, as_json: bool) -> None:
    """Print the script by which SHELL completes commands, codes, tags and fields."""
    whole = click.get_current_context().find_root().command
    made = get_completion_class(shell)
    assert made is not None
    script = made(whole, {}, "wiretrack", COMPLETING).source()
    if shell == "bash":
        script = script.replace(_SPACE, _NO_SPACE + _SPACE)
    show({"shell": shell, "script": script}, as_json, lambda: click.echo(script))
    say_next(do_next("completed", shell), with_data=True)
