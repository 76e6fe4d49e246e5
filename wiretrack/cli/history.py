# SPDX-License-Identifier: MIT
"""``note`` and ``attach``, ``history`` and ``undo``: what is kept with a record, and taken back."""

from __future__ import annotations

from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING

import click

from wiretrack.cli.asking import StoppedError, ask, can_ask, confirm
from wiretrack.cli.command import Command
from wiretrack.cli.options import Answer, answers, do_next, wants_json
from wiretrack.cli.output import counted, indented, say
from wiretrack.days import minute
from wiretrack.errors import RestsOnError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.library import OpenSite
    from wiretrack.tasks.change.history import Touched
    from wiretrack.tasks.change.undoing import TakenBack, Undone
    from wiretrack.tasks.report.standing import NextStep

_MOST = 20  # records that people are shown unless they ask for more
_AT_ONCE = 6  # records of one change


@click.command(cls=Command)
@click.argument("what", required=False)
@click.option("--since", metavar="DAY", help="Only what was changed on this day or later.")
@click.option("--limit", type=click.IntRange(min=1), metavar="N", help="At most so many records.")
@answers
def history(site: OpenSite, what: str | None, since: str | None, limit: int | None) -> Answer:
    """Show who changed what, newest first: of all, or of WHAT and its parts.

    WHAT is a tag, a code, BOX/DEVICE, or site.
    """
    most = limit or (None if wants_json() else _MOST + 1)
    found = site.history(what, since=since, limit=most)
    return Answer(
        found,
        lambda: _show(found if limit else found[:_MOST], what, not limit and len(found) == most),
        then=lambda: _way_back(site, found),
    )


def _way_back(site: OpenSite, found: Sequence[Touched]) -> NextStep | None:
    """Return how the newest change that is shown is taken back, if it can be."""
    from wiretrack.tasks.change.undoing import ways_back

    name = found[0].change if found else None
    way = ways_back(site.registry, [name])[name] if name else None
    return do_next(way.job, *way.about.split("\n")) if way and way.job else None


def _show(found: Sequence[Touched], what: str | None, more: bool) -> None:
    for (change, at, by), touched in groupby(found, lambda t: (t.change, t.at, t.by)):
        rows = list(touched)
        say("  ".join(filter(None, (minute(at), by or "nobody known", change))), style="bold")
        told = [row.in_full if what else row.words for row in rows[:_AT_ONCE]]
        if len(rows) > _AT_ONCE:
            told.append(f"and {len(rows) - _AT_ONCE} more")
        first = rows[0]
        told += [f"why: {first.why}"] if first.why else []
        told += [f"on: {first.on}"] if first.on else []
        told += [f"takes back {first.undoes}"] if first.undoes else []
        indented(*told)
    if not found:
        say("No change is noted.")
    elif more:
        say(f"The newest {len(found)}. For more, give --limit {10 * len(found)}.", style="dim")


@click.command(cls=Command)
@click.argument("change", required=False, metavar="[ID]")
@answers
def undo(site: OpenSite, change: str | None) -> Answer:
    """Take back the last change made, or the one with that ID, by a new change.

    Where later work rests on it, nothing is taken back, and that work is named. A reading stays:
    supersede it. An undo can be undone.
    """
    try:
        done = site.undo(change)
    except RestsOnError as error:
        if not error.changes or not can_ask():
            raise
        _ask(site, error)
        done = site.undo(str(error.value), together=True)
    return Answer(done, lambda: _show_undone(done))


def _ask(site: OpenSite, error: RestsOnError) -> None:
    """Ask whether what rests on a change may be taken back with it; it is listed."""
    say(error.what)
    told = {row.change: row for row in reversed(site.history())}
    for name in error.changes:
        row = told[name]
        indented(f"{name}  {minute(row.at)}  {row.by or 'nobody known'}: {row.words}")
    if not confirm(f"Take {counted(len(error.changes), 'later change')} back too", default=False):
        raise StoppedError


def _show_undone(done: Undone) -> None:
    from wiretrack.cli.change import show_left

    for each in (done.undone, *done.along):
        _show_taken_back(each)
    show_left(done)
    say(f"To do it again: wiretrack undo {done.change}", style="dim")


def _show_taken_back(undone: TakenBack) -> None:
    by = f" by {undone.by}" if undone.by else ""
    say(f"Taken back: change {undone.change} of {minute(undone.at)}{by}", style="bold")
    words = [row.words for row in undone.records]
    more = [f"and {len(words) - _AT_ONCE} more"] if len(words) > _AT_ONCE else []
    indented(*words[:_AT_ONCE], *more)


FILE = click.Path(path_type=Path)


@click.command(cls=Command)
@click.argument("what", required=False)
@click.argument("text", required=False)
@click.option("--take-back", metavar="ID", help="The note or attachment that is no longer true.")
@answers
def note(site: OpenSite, what: str | None, text: str | None, take_back: str | None) -> Answer:
    """Keep the remark TEXT with any record: WHAT is a tag, a code, BOX/CODE, or site."""
    if what is not None and text is None and can_ask():
        text = ask("Note")
    if text is not None and what is not None:
        kept = site.note(what, text, instead=take_back)
        return Answer(kept, lambda: say(f"Noted with {what}."), then=("show", what))
    if take_back is None or what is not None:
        raise click.UsageError("Give WHAT it is of and the TEXT, or --take-back ID.")
    kept = site.take_back(take_back)
    return Answer(kept, lambda: say(f"{take_back} is taken back. It stays in the log."))


@click.command(cls=Command)
@click.argument("what", required=False)
@click.argument("file", type=FILE, required=False)
@click.option("--get", metavar="ID", help="Give back what was attached, as it is kept.")
@click.option("--out", type=FILE, help="The new file to write it to.")
@answers
def attach(
    site: OpenSite, what: str | None, file: Path | None, get: str | None, out: Path | None
) -> Answer:
    """Keep the picture or PDF FILE with any record: WHAT is a tag, a code, BOX/CODE, or site.

    A picture is turned upright and scaled to 2048 dots; what its file says beside it is dropped.
    """
    from wiretrack.tasks.describe.remarks import give_back

    if what is not None and file is not None and get is None and out is None:
        kept = site.attach(what, file)
        told = f"Attached to {what}. Get it back: wiretrack attach --get {kept.id[:8]} --out FILE"
        return Answer(kept, lambda: say(told), then=("show", what))
    if get is None or out is None or what is not None:
        raise click.UsageError("Give WHAT and the FILE, or --get ID and --out FILE.")
    found = give_back(site.registry, get, out)
    size = out.stat().st_size
    return Answer(
        {"id": found.id, "name": found.name, "type": found.type, "file": str(out), "bytes": size},
        lambda: say(f"Wrote {found.name} ({size / 1024:.0f} kB) to {out}."),
    )
