# SPDX-License-Identifier: MIT
"""``wiretrack land``: lands an end on a terminal, caps it, or sets it loose."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from wiretrack.cli.options import json_option, one_of, opened, person
from wiretrack.cli.output import print_json, say

if TYPE_CHECKING:
    from pathlib import Path


@click.command("land")
@click.argument("tag")
@click.argument("enclosure")
@click.option("--terminal", help="The terminal that the end is landed on.")
@click.option("--capped", is_flag=True, help="The end is capped as a spare.")
@click.option("--loose", is_flag=True, help="The end hangs loose.")
@json_option
@click.pass_obj
def command(
    db: Path, tag: str, enclosure: str, terminal: str | None, capped: bool, loose: bool,
    as_json: bool,
) -> None:  # fmt: skip
    """Land the end of conductor TAG in ENCLOSURE on a terminal, cap it, or set it loose."""
    from wiretrack.tasks.landing import land

    state = one_of(capped=capped, loose=loose)
    with opened(db) as registry:
        now = land(registry, tag, enclosure, terminal=terminal, state=state, who=person())
    if as_json:
        print_json(now)
    else:
        place = f"on {now['terminal']}" if now["terminal"] else "no terminal"
        say(f"{now['tag']} in {now['enclosure']}: {now['state']}, {place}.")
