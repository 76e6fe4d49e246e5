# SPDX-License-Identifier: MIT
"""``wiretrack load``: adds what a site file holds."""

from __future__ import annotations

from pathlib import Path

import click

from wiretrack.cli.options import json_option, opened, person
from wiretrack.cli.output import print_json, say
from wiretrack.electrical.rules.landing import named_shortly


@click.command("load")
@click.argument("file", type=click.Path(path_type=Path))
@json_option
@click.pass_obj
def command(db: Path, file: Path, as_json: bool) -> None:
    """Add what FILE holds (a site file, or a folder of CSV files), all or nothing.

    Every fault in the file is reported at once, each with its place.
    """
    from wiretrack.tasks.describe.sites import load_site

    with opened(db) as registry:
        loaded = load_site(registry, file, who=person())
    if as_json:
        print_json({"file": str(file), **loaded.as_json()})
        return
    told = [f"{number} {table}" for table, number in loaded.added.items() if number]
    told += [f"site {key} {value}" for key, value in loaded.site.items()]
    say(f"Loaded {file}: {', '.join(told) or 'nothing new'}.")
    for bare in loaded.bare_poles:
        near = f" {named_shortly(bare.near)} is on no pole." if bare.near else ""
        empty = named_shortly(bare.terminals)
        say(
            f"{bare.enclosure}: no wire is landed on {empty}.{near}", style="yellow" if near else ""
        )
