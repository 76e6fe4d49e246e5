# SPDX-License-Identifier: MIT
"""``wiretrack dump``: the whole registry as a site file."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from wiretrack.cli.options import json_option, opened


@click.command("dump")
@click.option("--out", type=click.Path(path_type=Path), help="A file; else standard output.")
@json_option
@click.pass_obj
def command(db: Path, out: Path | None, as_json: bool) -> None:
    """Write the whole registry as a site file (JSON, with or without --json)."""
    from wiretrack.tasks.describe.sites import dump_site

    with opened(db) as registry:
        dump_site(registry, out or sys.stdout)
