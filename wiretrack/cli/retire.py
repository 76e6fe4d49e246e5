# SPDX-License-Identifier: MIT
"""``wiretrack retire``: takes a conductor or a circuit out of the work, and keeps its record."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from wiretrack.cli.changed import more_options, show_left
from wiretrack.cli.options import json_option, one_of, opened, person
from wiretrack.cli.output import print_json, say, table

if TYPE_CHECKING:
    from pathlib import Path


@click.command("retire")
@click.argument("what")
@click.option("--removed", is_flag=True, help="It is drawn out.")
@click.option("--abandoned", is_flag=True, help="It is left in its raceway.")
@click.option("--take-back", is_flag=True, help="It was a mistake: it is in service again.")
@more_options
@json_option
@click.pass_obj
def command(
    db: Path, what: str, removed: bool, abandoned: bool, take_back: bool, at: str | None,
    by: str | None, as_json: bool,
) -> None:  # fmt: skip
    """Retire WHAT, a tag or a circuit with all its conductors; nothing of its record is lost.

    An abandoned conductor still takes its room in the raceway, and may still be live.
    """
    from wiretrack.tasks.change import retiring

    if one_of(removed=removed, abandoned=abandoned, take_back=take_back) is None:
        raise click.UsageError(
            "What became of the conductors isn't said. Give --removed or --abandoned."
        )
    with opened(db) as registry:
        if take_back:
            done = retiring.take_back(registry, what, who=by or person())
        else:
            done = retiring.retire(registry, what, abandoned=abandoned, at=at, who=by or person())
    if as_json:
        print_json(done)
    else:
        _show(done)


def _show(done: dict[str, Any]) -> None:
    say(_told(done), style="bold")
    table(
        ("tag", "circuit", "function", "from", "to", "route"),
        (
            (c["tag"], c["circuit"], c["function"], *c["ends"], " → ".join(c["route"]))
            for c in done["conductors"]
        ),
    )
    show_left(done)


def _told(done: dict[str, Any]) -> str:
    """Return the first line: what became of the conductor or circuit."""
    if "because" not in done:
        whole = "Circuit " if done["what"] == "circuit" else ""
        return f"{whole}{done['code']} is in service again."
    if done["what"] == "conductor":
        how = "left in its raceway" if done["because"] == "abandoned" else "drawn out"
        return f"{done['code']}: {how}."
    if done["stays"]:
        return f"Circuit {done['code']}: what no other circuit needs is retired."
    return f"Circuit {done['code']} is retired."
