# SPDX-License-Identifier: MIT
"""``wiretrack load``: adds what a site file holds."""

from __future__ import annotations

from pathlib import Path

import click

from wiretrack.cli.options import json_option, opened, person
from wiretrack.cli.output import print_json, say


@click.command("load")
@click.argument("file", type=click.Path(path_type=Path))
@json_option
@click.pass_obj
def command(db: Path, file: Path, as_json: bool) -> None:
    """Add what FILE holds (a site file, or a folder of CSV files), all or nothing.

    Every fault in the file is reported at once, each with its place.
    """
    from wiretrack.tasks.sites import load_site

    with opened(db) as registry:
        added = load_site(registry, file, who=person())
    if as_json:
        print_json({"file": str(file), "added": added})
    else:
        told = ", ".join(f"{number} {table}" for table, number in added.items() if number)
        say(f"Loaded {file}: {told or 'nothing new'}.")
