# SPDX-License-Identifier: MIT
"""``wiretrack marking``: what must be stuck on raceways and boxes, where, in which words."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from wiretrack.cli.options import json_option, opened
from wiretrack.cli.output import indented, print_json, say, table
from wiretrack.cli.quantities import length

if TYPE_CHECKING:
    from pathlib import Path


@click.command("marking")
@click.argument("what", required=False)
@json_option
@click.pass_obj
def command(db: Path, what: str | None, as_json: bool) -> None:
    """List the markings that the code demands on WHAT, by place along each run."""
    from wiretrack.tasks.report.checking import counted, markings

    with opened(db) as registry:
        rows = markings(registry, what)
    if as_json:
        print_json(rows)
        return
    if not rows:
        say("No marking is demanded here by the rules of this site.")
        return
    table(
        ("on", "at", "wording"),
        ((row["on"], length(row["at_m"]) or "its cover", row["wording"]) for row in rows),
    )
    for wording, number in counted(rows).items():
        say(f"Order {number}: {wording}")
    say("By:", style="dim")
    indented(*dict.fromkeys(f"{row['source']}: {row['note']}" for row in rows), style="dim")
