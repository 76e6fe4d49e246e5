# SPDX-License-Identifier: MIT
"""``wiretrack swap``: puts right the record of two ends found crossed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from wiretrack.cli.changed import by_option, show_left
from wiretrack.cli.options import json_option, opened, person
from wiretrack.cli.output import print_json, say, table
from wiretrack.days import day

if TYPE_CHECKING:
    from pathlib import Path


@click.command("swap")
@click.argument("tag")
@click.argument("other")
@click.option("--at", "box", required=True, metavar="BOX", help="The box where they are crossed.")
@click.option("--marks", is_flag=True, help="Exchange their end marks too.")
@click.option("--on", "moment", help="The day or time it was found; now if left out.")
@by_option
@json_option
@click.pass_obj
def command(
    db: Path, tag: str, other: str, box: str, marks: bool, moment: str | None,
    by: str | None, as_json: bool,
) -> None:  # fmt: skip
    """Exchange what is recorded of the ends of TAG and OTHER in BOX: they were found crossed.

    With --marks it was the ring-out that took one for the other, and their end marks change
    places too. Readings stay with their conductor; those that rest on the landing are owed again.
    """
    from wiretrack.tasks.change.swapping import swap

    with opened(db) as registry:
        done = swap(registry, (tag, other), box, marks=marks, at=moment, who=by or person())
    if as_json:
        print_json(done)
    else:
        _show(done)


def _show(done: dict[str, Any]) -> None:
    say(f"In {done['box']} now:", style="bold")
    table(
        ("tag", "circuit", "function", "terminal", "state", "mark"),
        (
            (e["tag"], e["circuit"], e["function"], e["terminal"], e["state"], e["mark"])
            for e in done["ends"]
        ),
    )
    stale = done["stale_readings"]
    if stale:
        say("Judged by the old landing, so owed again:", style="bold")
        table(
            ("date", "tag", "reading", "value"),
            ((day(r["at"], ""), r["tag"], r["kind"], r["value"]) for r in stale),
        )
    show_left(done)
