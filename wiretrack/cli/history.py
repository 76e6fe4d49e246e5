# SPDX-License-Identifier: MIT
"""``history``: who changed what, when, and from what to what."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING

import click

from wiretrack.cli.options import Answer, answers, wants_json
from wiretrack.cli.output import indented, say
from wiretrack.days import minute

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.library import OpenSite
    from wiretrack.tasks.change.history import Touched

_MOST = 20  # records that people are shown unless they ask for more
_AT_ONCE = 6  # records of one change


@click.command()
@click.argument("what", required=False)
@click.option("--since", metavar="DAY", help="Only what was changed on this day or later.")
@click.option("--limit", type=click.IntRange(min=1), metavar="N", help="At most so many records.")
@answers
def history(site: OpenSite, what: str | None, since: str | None, limit: int | None) -> Answer:
    r"""Show who changed what, newest first: of all, or of WHAT and its parts.

    WHAT is a tag, a code, BOX/DEVICE, or site.

    \b
    wiretrack history 0AZ-EMTB
    wiretrack history --since 2026-05-02 --limit 50
    """
    most = limit or (None if wants_json() else _MOST + 1)
    found = site.history(what, since=since, limit=most)
    return Answer(
        found,
        lambda: _show(found if limit else found[:_MOST], what, not limit and len(found) == most),
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
