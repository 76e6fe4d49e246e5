# SPDX-License-Identifier: MIT
"""``wiretrack land``: lands an end on a terminal, caps it, or sets it loose."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from wiretrack.cli.options import json_option, opened, person
from wiretrack.cli.output import print_json, say

if TYPE_CHECKING:
    from pathlib import Path


@click.command("land")
@click.argument("tag")
@click.argument("enclosure")
@click.option("--terminal", help="The terminal that the end is landed on.")
@click.option("--capped", "state", flag_value="capped", help="The end is capped as a spare.")
@click.option("--loose", "state", flag_value="loose", help="The end hangs loose.")
@json_option
@click.pass_obj
def command(
    db: Path, tag: str, enclosure: str, terminal: str | None, state: str | None, as_json: bool
) -> None:
    """Land the end of conductor TAG in ENCLOSURE on a terminal, cap it, or set it loose."""
    from wiretrack.tasks.landing import land

    with opened(db) as registry:
        now = land(registry, tag, enclosure, terminal=terminal, state=state, who=person())
    if as_json:
        print_json(now)
    else:
        place = f"on {now['terminal']}" if now["terminal"] else "no terminal"
        say(f"{now['tag']} in {now['enclosure']}: {now['state']}, {place}.")
