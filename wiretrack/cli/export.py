# SPDX-License-Identifier: MIT
"""``export``: all tables as people read them."""

from __future__ import annotations

from functools import partial
from pathlib import Path

import click

from wiretrack.cli.command import Command
from wiretrack.cli.options import Answer, do_next, opened, prints
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
        book = str(target / "site.xlsx")
        text = lambda: say(f"Wrote {target}.", f"Fill in {book}.")  # noqa: E731
        return Answer(made, text, then=partial(do_next, "load", book))
    with opened(db) as registry:
        done = export_site(registry, target, force=force)
    text = lambda: say(f"Wrote {target}. Correct it there.")  # noqa: E731
    return Answer(done, text, then=partial(do_next, "load", str(target), "--update"))
