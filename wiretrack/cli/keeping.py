# SPDX-License-Identifier: MIT
"""``backup``, ``rescue``, ``merge`` and ``same``: copies of a registry, joined or damaged."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from wiretrack.cli import asking
from wiretrack.cli.command import Command
from wiretrack.cli.options import Answer, answers, do_next, opened, person, prints
from wiretrack.cli.output import counted, heading, say, table, to_be_copied
from wiretrack.days import day, minute

if TYPE_CHECKING:
    from wiretrack.library import OpenSite
    from wiretrack.store.health import Backup
    from wiretrack.store.rescue import LostRow, Rescued
    from wiretrack.store.undecided import Undecided
    from wiretrack.tasks.change.merging import Joined, MergeResult, SaidSame
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
    proved = "It is OK" if not made.problems else "It is as damaged as the registry"
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
    return Answer(found, lambda: _show_rescued(damaged, found), status, ("verify", str(new)))


def _show_rescued(damaged: Path, found: Rescued) -> None:
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


SHOWN = 40
LATER = "later"


@click.command(cls=Command)
@click.argument("file", type=click.Path(path_type=Path), required=False)
@click.option(
    "--same",
    is_flag=True,
    help="Records that both loaded from one file are the same, begun apart or not.",
)
@click.option("--look", is_flag=True, help="Show what would come, and write nothing.")
@click.option(
    "--decide",
    "decisions",
    multiple=True,
    metavar="KEY=NUMBER",
    help="Say which of the values listed holds; of two of one name KEY=NAME.",
)
@answers
def merge(
    site: OpenSite, file: Path | None, same: bool, look: bool, decisions: tuple[str, ...]
) -> Answer:
    """Take the work in FILE, a copy of this registry that was changed apart, into this one.

    FILE is only read: a copy made by backup, or another laptop's registry. Nothing is lost: where
    both copies changed one field, both values are kept, and it is undecided until somebody says
    which one holds. Without FILE, what is undecided is listed. With --same, two registries that
    loaded one file apart get one record of each thing in it, with the work of both.
    """
    from wiretrack.store.tails import Taken
    from wiretrack.store.undecided import undecided
    from wiretrack.tasks.change.merging import MergeResult, decided
    from wiretrack.tasks.change.merging import merge as merge_file

    registry = site.registry
    if look and decisions:
        raise click.UsageError("--look writes nothing, --decide does. Give one of them.")
    if same and not file:
        raise click.UsageError("--same needs the other registry's file.")
    found = MergeResult(None, Taken(), [])
    if file:
        asked = _is_one_site if same else None
        found = merge_file(registry, file, look=look, same=asked, who=site.who)
    decided(registry, decisions, who=site.who)
    found = replace(found, undecided=undecided(registry))
    if found.undecided and not look and asking.can_ask():
        return Answer(found, lambda: _ask(site, found))
    return Answer(found, lambda: _show(found))


def _is_one_site(joined: Joined) -> bool:
    """Ask, where somebody can be asked, whether what both loaded is the same."""
    if not asking.can_ask():
        return True
    say(f"Both loaded {', '.join(joined.files)} apart: {_told(joined.records)}.")
    if joined.sites:
        say(f"They were begun apart, as {joined.sites[0]} and {joined.sites[1]}.")
    return asking.confirm("Are they of one site, and these records the same", default=False)


def _told(records: dict[str, int]) -> str:
    return ", ".join(counted(number, what) for what, number in records.items()) or "nothing new"


def _show(found: MergeResult) -> None:
    """Write what came, and what is undecided, with how it is decided."""
    _show_taken(found)
    for each in found.undecided[:SHOWN]:
        _show_undecided(each)
    if len(found.undecided) > SHOWN:
        say(f"And {len(found.undecided) - SHOWN} more; all of them with --json.")
    if found.undecided:
        say(f"Undecided: {len(found.undecided)}. The record shows the first value.", style="yellow")
        say(f"Decide with: wiretrack merge --decide {found.undecided[0].key}=1")
    elif found.file is None:
        say("Nothing is undecided.")
    if found.file is not None and found.written and not found.nothing_new:
        say("Merge this copy into the other to have all of it there too.")


def _show_taken(found: MergeResult) -> None:
    if found.file is None:
        return
    for refused in found.taken.refused:
        say(f"Refused: {refused}. Nothing that rests on it was taken.", style="red")
    if found.same.files:
        are = "Said to be the same" if found.written else "Would be the same"
        say(f"{are}, of {', '.join(found.same.files)}: {_told(found.same.records)}.")
    if found.same.change:
        say(f"Take that back with: wiretrack undo {found.same.change}")
    if found.nothing_new:
        say(f"{found.file} has nothing that isn't here already.")
        return
    heading("Merged" if found.written else "To merge", str(found.file))
    if found.taken.filled:
        say(f"Entries that damage had taken, and that came back: {found.taken.filled}.")
    added, changed = found.taken.added, found.taken.changed
    rows = [
        (name.replace("_", " "), added.get(name) or None, changed.get(name) or None)
        for name in dict.fromkeys([*added, *changed])
    ]
    if rows and not found.same.records:  # else they are no new ones
        table(("", "new", "changed"), rows)
    say(f"{counted(found.taken.changes, 'change')}, with who made them and when.")


def _show_undecided(each: Undecided) -> None:
    if each.field == "same":
        say(f"{each.key}: another one is called {each.values[0].value} too. Give one a new name.")
        say(f"Or is it one and the same? {_same_command(each)}")
        return
    heading(each.key)
    values = enumerate(each.values, 1)
    table(
        ("", "says", "by", "on"),
        ((number, said.value, said.by, minute(said.at) or None) for number, said in values),
    )


def _ask(site: OpenSite, found: MergeResult) -> None:
    """Ask about one after the other which value holds; what is left is undecided still."""
    from wiretrack.store.undecided import decide
    from wiretrack.tasks.change.merging import same as same_records

    _show_taken(found)
    for each in found.undecided:
        _show_undecided(each)
        if each.field == "same":
            name = asking.ask("New name, or = if it is the same one (Enter: later)", default="")
            if name == "=":
                same_records(site.registry, each.values[0].value, _name(each), who=site.who)
                continue
            if name:
                decide(site.registry, each.key, name, who=site.who)
            continue
        values = [said.value for said in each.values]
        holds = asking.choose("Which holds", [*values, LATER])
        if holds != LATER:
            number = values.index(holds) + 1
            decide(site.registry, each.key, str(number), who=site.who)


def _name(each: Undecided) -> str:
    """Return what a record is called that bears another one's name."""
    return each.key.partition("/")[2].removesuffix("/same")


def _same_command(each: Undecided) -> str:
    name = each.values[0].value
    box = _name(each).rpartition("/")[0] if each.table in ("devices", "terminals") else ""
    return f'wiretrack same "{box + "/" if box else ""}{name}" "{_name(each)}"'


@click.command(cls=Command)
@click.argument("one")
@click.argument("other")
@answers
def same(site: OpenSite, one: str, other: str) -> Answer:
    """Say that ONE and OTHER, that came in apart, are records of one and the same thing.

    They become one record with the work of both; either tag leads to it. What they differ in is
    undecided. Of boxes, what is in both under one code is the same too.
    """
    from wiretrack.tasks.change.merging import same as same_records

    found = same_records(site.registry, one, other, who=site.who)
    return Answer(found, lambda: _show_same(found))


def _show_same(found: SaidSame) -> None:
    say(f"{found.same[0]} and {found.same[1]} are one {found.what} now: {found.code}.")
    for each in found.undecided:
        _show_undecided(each)
    say(f"Take that back with: wiretrack undo {found.change}")
