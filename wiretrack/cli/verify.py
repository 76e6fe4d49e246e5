# SPDX-License-Identifier: MIT
"""``wiretrack verify``: proves the registry whole."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from wiretrack.cli.options import json_option
from wiretrack.cli.output import print_json, say

if TYPE_CHECKING:
    from pathlib import Path


@click.command("verify")
@json_option
@click.pass_context
def command(ctx: click.Context, as_json: bool) -> None:
    """Prove the registry whole; exit status 1 and the reasons if it is not."""
    from wiretrack.tasks.describe.sites import verify_file

    db: Path = ctx.obj
    found = verify_file(db)
    if as_json:
        print_json(found)
    elif found["ok"]:
        say(f"{db} is whole: {found['readings']} readings, nothing missing, nothing loose.")
    else:
        say(f"{db} is broken:", style="bold red")
        say(*(f" - {problem}" for problem in found["problems"]))
    ctx.exit(0 if found["ok"] else 1)
