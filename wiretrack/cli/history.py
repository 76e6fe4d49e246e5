# SPDX-License-Identifier: MIT
"""``history`` and ``undo``: who changed what, and taking it back."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING

import click

from wiretrack.cli.asking import StoppedError, can_ask, confirm
from wiretrack.cli.command import Command
from wiretrack.cli.options import Answer, answers, wants_json
from wiretrack.cli.output import counted, indented, say
from wiretrack.days import minute
from wiretrack.errors import RestsOnError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.library import OpenSite
    from wiretrack.tasks.change.history import Touched
    from wiretrack.tasks.change.undoing import TakenBack, Undone

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
        then=("undo", found[0].change) if found and found[0].change else None,
    )


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
