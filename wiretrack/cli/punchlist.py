# SPDX-License-Identifier: MIT
"""``wiretrack punchlist``: what is still open on the site."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING

import click

from wiretrack.cli.options import json_option, opened
from wiretrack.cli.output import heading, print_json, say, table
from wiretrack.days import day

if TYPE_CHECKING:
    from pathlib import Path


@click.command("punchlist")
@json_option
@click.pass_obj
def command(db: Path, as_json: bool) -> None:
    """List what is still open: ends to identify, land and label, tests owed or failed."""
    from wiretrack.tasks.report.punchlist import punch_list

    with opened(db) as registry:
        rows = punch_list(registry)
    if as_json:
        print_json(rows)
        return
    for what, group in groupby(rows, key=lambda row: row["what"]):
        members = list(group)
        heading(what, str(len(members)))
        table(
            ("tag", "", "since"),
            ((r["subject"], r["detail"], day(r["since"], "") or None) for r in members),
        )
    if not rows:
        say("Nothing is open.")
