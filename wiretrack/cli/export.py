# SPDX-License-Identifier: MIT
"""``export``: all tables as people read them."""

from __future__ import annotations

from pathlib import Path

import click

from wiretrack.cli.command import Command
from wiretrack.cli.options import Answer, opened, prints
from wiretrack.cli.output import say


@click.command(cls=Command)
@click.argument("target", metavar="FILE.xlsx|DIR", type=click.Path(path_type=Path))
@click.option("--example", is_flag=True, help="A small invented site to start from, into DIR.")
@click.option("--force", is_flag=True, help="Replace what is there.")
@prints
def export(db: Path, target: Path, *, example: bool, force: bool) -> Answer:
    """Write all tables as people read them: a workbook, or a folder of CSV files.

    The workbook has a sheet a table, with lists of the allowed words. It loads again.
    The history is not in it: a dump has that.
    """
    from wiretrack.tasks.describe.sheets import export_site, write_example

    if example:
        made = write_example(target)
        then = ("filled", str(target / "site.xlsx"))
        return Answer(made, lambda: say(f"Wrote {target}."), then=then)
    with opened(db) as registry:
        done = export_site(registry, target, force=force)
    then = ("corrected", str(target))
    return Answer(done, lambda: say(f"Wrote {target}."), then=then)
