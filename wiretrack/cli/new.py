# SPDX-License-Identifier: MIT
"""``wiretrack new``: makes an empty registry."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from wiretrack.cli.options import json_option
from wiretrack.cli.output import print_json, say

if TYPE_CHECKING:
    from pathlib import Path


@click.command("new")
@click.option("--name", required=True, help="The site's name.")
@click.option("--time-zone", metavar="ZONE", help="Where days are counted, like Europe/Lisbon.")
@json_option
@click.pass_obj
def command(db: Path, name: str, time_zone: str | None, as_json: bool) -> None:
    """Make an empty registry; refuses to overwrite one."""
    from wiretrack.tasks.describe.sites import new_site

    new_site(db, name, time_zone)
    if as_json:
        print_json({"registry": str(db), "name": name})
    else:
        say(f"Made {db} for {name}.", "Fill it with: wiretrack load FILE")
