# SPDX-License-Identifier: MIT
"""``backup`` and ``rescue``: copies of a registry, and what is left of a damaged one."""

from __future__ import annotations

from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING

import click

from wiretrack.cli.command import Command
from wiretrack.cli.options import Answer, answers, do_next, opened, person, prints
from wiretrack.cli.output import counted, say, to_be_copied
from wiretrack.days import day

if TYPE_CHECKING:
    from wiretrack.library import OpenSite
    from wiretrack.store.health import Backup
    from wiretrack.store.rescue import LostRow, Rescued
    from wiretrack.tasks.report.standing import NextStep

FILE = click.Path(path_type=Path)
_MOST = 20  # lines of what is gone; --json has them all


@click.command(cls=Command)
@click.argument("file", type=FILE)
@click.option(
    "--keep",
    type=click.IntRange(1, 1000),
    metavar="N",
    help="Put the day into the name, and keep the newest N copies of that name.",
)
@answers
def backup(site: OpenSite, file: Path, keep: int | None) -> Answer:
    """Copy the registry to FILE while it is in use; FILE must be new.

    The copy is proved before it gets its name. Exit status 1 if what was copied isn't whole.
    """
    made = site.backup(file, keep=keep)
    db = site.registry.path
    then = ("rescue", str(db)) if made.problems else None
    return Answer(made, lambda: _show_backup(db, made), int(bool(made.problems)), then)


def _show_backup(db: Path, made: Backup) -> None:
    proved = "It is whole" if not made.problems else "It is as damaged as the registry"
    say(f"Copied {db} to {made.file} ({made.bytes / 1024:.0f} kB). {proved}.")
    say(*(f" - {problem}" for problem in made.problems[:_MOST]))
    say(*(f"Removed {file}." for file in made.removed))


def suggest_backup(db: Path) -> NextStep:
    """Say how many readings were entered since the last copy known here; return what to do next."""
    from wiretrack.store.health import uncopied
    from wiretrack.tasks.report.standing import next_on_site

    with opened(db) as registry:
        found = uncopied(registry)
        if found.readings:
            last = f"since the copy of {day(found.last.at)}" if found.last else "and no copy known"
            say(f"{counted(found.readings, 'reading')} {last}.")
        return do_next("backup") if found.readings else next_on_site(registry)


@click.command(cls=Command)
@click.argument("damaged", type=FILE)
@click.argument("new", type=FILE)
@click.option("--unproved", is_flag=True, help="Take records too that the log doesn't prove.")
@prints
def rescue(db: Path, damaged: Path, new: Path, unproved: bool) -> Answer:
    """Save into NEW what the log proves in the registry DAMAGED.

    DAMAGED is only read. NEW keeps the entries as they are and goes on under a new key. What is
    gone is listed; exit status 1 if anything is.
    """
    from wiretrack.store.rescue import rescue

    found = rescue(damaged, new, who=person(), face="cli", unproved=unproved)
    status = int(bool(found.lost or found.unproved or found.homeless))
    return Answer(found, lambda: _show(damaged, found), status, ("verify", str(new)))


def _show(damaged: Path, found: Rescued) -> None:
    readings = counted(found.readings, "reading")
    say(f"Saved {found.entries} entries of {damaged} in {found.file}: {readings}.")
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
