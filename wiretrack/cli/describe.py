# SPDX-License-Identifier: MIT
"""``new``, ``load``, ``dump`` and ``verify``: a registry and its site files."""

from __future__ import annotations

import re
import sys
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import click

from wiretrack.cli.command import Command
from wiretrack.cli.keeping import suggest_backup
from wiretrack.cli.options import (
    Answer,
    answers,
    do_next,
    force_option,
    json_option,
    opened,
    prints,
    say_next,
)
from wiretrack.cli.output import counted, few, say, table
from wiretrack.cli.sheets import as_said, sheet_options
from wiretrack.encoding import document

if TYPE_CHECKING:
    from collections.abc import Iterable

    from wiretrack.exchange.layout import SheetRules
    from wiretrack.library import OpenSite
    from wiretrack.tasks.describe.sites import ChangedRecord, Loaded, Verified

FILE = click.Path(path_type=Path)


@click.command(cls=Command)
@click.option("--name", required=True, help="The site's name.")
@click.option("--time-zone", metavar="ZONE", help="Where days are counted, like Europe/Lisbon.")
@prints
def new(db: Path, name: str, time_zone: str | None) -> Answer:
    """Make an empty registry; refuses to overwrite one."""
    from wiretrack.tasks.describe.sites import new_site

    new_site(db, name, time_zone)
    return Answer(
        {"registry": str(db), "name": name},
        lambda: say(f"Made {db} for {name}.", "Box by box: wiretrack add enclosure CODE"),
        then=("fill",),
    )


@click.command(cls=Command)
@click.argument("file", type=FILE)
@click.option("--update", is_flag=True, help="Change records that are there already.")
@click.option("--look", is_flag=True, help="Write nothing; tell what would change.")
@sheet_options
@answers
def load(site: OpenSite, file: Path, rules: SheetRules, *, update: bool, look: bool) -> Answer:
    """Add what FILE holds, all or nothing: a site file, a workbook, or CSV files.

    A record that is there with other content is refused, unless you --update it: then what the
    file says of it becomes so, and what it leaves out stays. Every fault in the file is reported
    at once, each with its place.
    """
    again = ("load", str(file), "--update" if update else None, *as_said(rules))
    loaded = site.load_file(file, rules, update=update, look=look)
    is_new = any((*loaded.added.values(), loaded.changed, loaded.site))
    then = again if look and is_new else None
    result = {"file": str(file), **document(loaded)}
    return Answer(result, lambda: _show_loaded(file, loaded, look=look), then=then)


def _show_loaded(file: Path, loaded: Loaded, *, look: bool) -> None:
    from wiretrack.electrical.rules.landing import named_shortly

    say(*loaded.notes, *loaded.rows)
    told = [
        counted(number, re.sub(r"(?<=ch)es$|s$", "", table))
        for table, number in loaded.added.items()
        if number
    ]
    told += [f"site {key} {value}" for key, value in loaded.site.items()]
    say(f"{'Looked at' if look else 'Loaded'} {file}: {', '.join(told) or 'nothing new'}.")
    show_changed(loaded.changed, None if look else "wiretrack history")
    same = sum(loaded.unchanged.values())
    if same:
        say(f"Already there and the same: {counted(same, 'record')}.")
    for bare in loaded.bare_poles:
        near = f" {named_shortly(bare.near)} is on no pole." if bare.near else ""
        empty = named_shortly(bare.terminals)
        say(
            f"{bare.enclosure}: no wire is landed on {empty}.{near}", style="yellow" if near else ""
        )
    if look:
        say("Nothing was written.")
    elif loaded.tags:
        say(f"Tags made: {named_shortly(loaded.tags)}")


def show_changed(changed: Iterable[ChangedRecord], for_all: str | None) -> None:
    """Write which fields of which records changed, from what to what; a `few`, or all."""
    rows = [
        (each.what, each.code, key, *as_read(each.what, key, pair))
        for each in changed
        for key, pair in each.fields.items()
    ]
    heads = ("what", "code", "field", "was", "is")
    if for_all:
        few(heads, rows, for_all)
    elif rows:
        table(heads, rows)


def as_read(what: str, key: str, values: Iterable[object]) -> list[str | None]:
    """Return values of a field as people read them; what is unknown stays `None`."""
    from wiretrack.tasks.change.history import value_told

    return [None if value is None else value_told(what, key, value) for value in values]


@click.command(cls=Command)
@click.option("--out", type=FILE, help="A file; else standard output.")
@force_option
@json_option
@click.pass_obj
def dump(db: Path, out: Path | None, as_json: bool) -> None:
    """Write the whole registry as a site file (JSON, with or without --json)."""
    from wiretrack.tasks.describe.sites import dump_site

    with opened(db) as registry:
        dump_site(registry, out or sys.stdout)
    say_next(do_next("copy", str(out or "site.json")), with_data=as_json or not out)


@click.command(cls=Command)
@click.option(
    "--anchor",
    metavar="HASH",
    help="A hash from a printed report or binder: was what it stands for the past of this record?",
)
@prints
def verify(db: Path, anchor: str | None) -> Answer:
    """Check that the registry is OK; exit status 1 and the reasons if it is not.

    The file, the records and the log are checked, and the records against the log.
    """
    from wiretrack.tasks.describe.sites import verify_file

    found = verify_file(db, anchor)
    then = partial(suggest_backup, db) if found.ok else ("rescue", str(db))
    return Answer(found, lambda: _show_verified(db, found), int(not found.ok), then)


def _show_verified(db: Path, found: Verified) -> None:
    if found.ok:
        say(f"{db} is OK: {counted(found.readings, 'reading')}. The records follow from the log.")
        say(f"The log ends in {found.head}")
    else:
        say(f"{db} is damaged:", style="bold red")
        for problem in found.problems:
            affects = f" (affects {', '.join(problem.affects)})" if problem.affects else ""
            say(f" - {problem}{affects}")
    if found.anchor is not None:
        past = found.anchor
        say(
            f"{past.hash[:16]} of {past.at} is its past: {past.entries} entries until then,"
            f" {past.since} since. They were signed with"
        )
        say(*(f" - key {key.key[:16]}, to entry {key.signed_to}" for key in past.keys))
