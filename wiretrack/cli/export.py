# SPDX-License-Identifier: MIT
"""``export``: all tables as people read them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from wiretrack.cli.options import Answer, answers
from wiretrack.cli.output import say

if TYPE_CHECKING:
    from wiretrack.library import OpenSite


@click.command()
@click.argument("target", metavar="FILE.xlsx|DIR", type=click.Path(path_type=Path))
@click.option("--force", is_flag=True, help="Replace what is there.")
@answers
def export(site: OpenSite, target: Path, force: bool) -> Answer:
    r"""Write all tables as people read them: a workbook, or a folder of CSV files.

    The workbook has a sheet a table, with lists of the allowed words. It loads again.
    The history is not in it: a dump has that.

    \b
    wiretrack export site.xlsx
    wiretrack export tables/ --force
    """
    from wiretrack.tasks.describe.sheets import export_site

    done = export_site(site.registry, target, force=force)
    return Answer(done, lambda: say(f"Wrote {target}.", f"It loads with: wiretrack load {target}"))
