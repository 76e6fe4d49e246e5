# SPDX-License-Identifier: MIT
"""``add`` and ``set``: one record, field by field."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from wiretrack.cli.change import show_due
from wiretrack.cli.describe import show_changed
from wiretrack.cli.options import Answer, answers
from wiretrack.cli.output import say, table
from wiretrack.tasks.describe.entering import Beside

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.library import OpenSite
    from wiretrack.tasks.describe.correcting import Corrected

_SAID_SO = (
    click.option("--on", metavar="DAY", help="The day it is of: 2026-05-02, or yesterday."),
    click.option("--why", metavar="TEXT", help="Why; the history keeps it."),
)


def pairs(words: Sequence[str]) -> dict[str, str]:
    """Return fields by their names, of words like ``length=67 m``."""
    found: dict[str, str] = {}
    for word in words:
        key, sign, value = word.partition("=")
        if not sign or not key.strip():
            raise click.UsageError(f"'{word}' is no FIELD=VALUE.")
        if key.strip() in found:
            raise click.UsageError(f"{key.strip()} is given twice.")
        found[key.strip()] = value
    return found


def _beside(on: str | None, why: str | None) -> Beside:
    from wiretrack.days import typed_day

    return Beside(typed_day(on).isoformat() if on else None, why)


@click.command()
@click.argument("what")
@click.argument("fields", nargs=-1, required=True, metavar="FIELD=VALUE...")
@_SAID_SO[0]
@_SAID_SO[1]
@answers
def set_(
    site: OpenSite, what: str, fields: tuple[str, ...], on: str | None, why: str | None
) -> Answer:
    r"""Correct or complete the record of WHAT: a tag, a code, BOX/DEVICE, BOX/TERMINAL, or site.

    FIELD is a field of the site file, VALUE is written as there; FIELD= makes it unknown again.
    A new code keeps every reference. What becomes due is listed.

    \b
    wiretrack set 0AZ-EMTB length=31.5m colour=BN
    wiretrack set MDP/Q4 code=Q6 --why "as the label in the door says"
    """
    done = site.set(what, pairs(fields), beside=_beside(on, why))
    return Answer(done, lambda: _show_corrected(done))


def _show_corrected(done: Corrected) -> None:
    name = "The site" if done.what == "site" else f"{done.what.capitalize()} {done.code}"
    if not done.changed:
        say(f"{name} says that already. Nothing was changed.")
        return
    say(f"{name}:", style="bold")
    table(
        ("field", "was", "is"),
        ((key, *pair) for key, pair in done.changed.items()),
    )
    if done.follows:
        say("Changed with it:", style="bold")
        show_changed(done.follows)
    show_due(done.labels_due, done.tests_owed)
    say(f"To take it back: wiretrack undo {done.change}")
