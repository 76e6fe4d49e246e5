# SPDX-License-Identifier: MIT
"""``rescue``: what is left of a damaged registry."""

from __future__ import annotations

from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING

import click

from wiretrack.cli.options import Answer, person, prints
from wiretrack.cli.output import say, to_be_copied

if TYPE_CHECKING:
    from wiretrack.store.rescue import LostRow, Rescued

FILE = click.Path(path_type=Path)
_MOST = 20  # lines of what is gone; --json has them all


@click.command()
@click.argument("damaged", type=FILE)
@click.argument("new", type=FILE)
@click.option("--unproved", is_flag=True, help="Take records too that the log doesn't prove.")
@prints
def rescue(db: Path, damaged: Path, new: Path, unproved: bool) -> Answer:
    """Save into NEW what the log proves in the registry DAMAGED.

    DAMAGED is only read. NEW keeps the entries as they are and goes on under a new key. What is
    gone is listed; exit status 1 if anything is.
    """
    from wiretrack.tasks.keep.rescuing import rescue

    found = rescue(damaged, new, who=person(), face="cli", unproved=unproved)
    is_whole = not (found.lost or found.unproved or found.homeless)
    return Answer(found, lambda: _show(damaged, found), status=0 if is_whole else 1)


def _show(damaged: Path, found: Rescued) -> None:
    say(f"Saved {found.entries} entries of {damaged} in {found.file}: {found.readings} readings.")
    if found.lost:
        say("Gone from the log, or not proved:", style="bold red")
        say(*(f" - {lost}" for lost in found.lost[:_MOST]))
    if found.unproved:
        say(f"Not proved by the log: {_counted(found.unproved)}.", style="bold red")
        if found.taken:
            say("They are taken. Compare them with your papers.")
        else:
            to_be_copied(f"To take them too: wiretrack rescue {damaged} OTHER --unproved")
    if found.homeless:
        say(f"Left out, as what they belong to is gone: {_counted(found.homeless)}.")
    hidden = max(0, len(found.lost) - _MOST)
    if hidden:
        say(f"{hidden} more lines: see --json.")


def _counted(rows: tuple[LostRow, ...]) -> str:
    tables = Counter(row.table for row in rows)
    return ", ".join(f"{number} {table}" for table, number in tables.items())
