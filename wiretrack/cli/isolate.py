# SPDX-License-Identifier: MIT
"""``wiretrack isolate``: what goes dead and what stays live when a device is opened."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from wiretrack.cli.options import json_option, opened
from wiretrack.cli.output import cautions, heading, print_json, say, table

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path


@click.command("isolate")
@click.argument("device")
@click.option(
    "--source", "sources", metavar="ENCLOSURE/TERMINAL", multiple=True, help="Also live; repeat it."
)
@json_option
@click.pass_obj
def command(db: Path, device: str, sources: tuple[str, ...], as_json: bool) -> None:
    """Say what goes dead and what stays live when DEVICE (ENCLOSURE/DEVICE) is opened.

    It follows the record alone: prove dead whatever you touch.
    """
    from wiretrack.tasks.find.topology import isolation

    with opened(db) as registry:
        found = isolation(registry, [device], sources)
    if as_json:
        print_json(found)
        return
    cautions(found["cautions"])
    _show(found)


def _show(found: dict[str, Any]) -> None:
    heading(f"{found['enclosure']} {found['device']}", "opened")
    _list("Goes dead:", "Nothing goes dead.", found["goes_dead"])
    _list("Stays live:", "Nothing that it joined stays live.", found["stays_live"], "from", "why")
    _list("Unknown, may be live:", "", found["unknown"], "why")
    for device in found["state_unknown"]:
        say(f"Whether {device} is open or closed isn't recorded.", style="yellow")
    if found["unused"]:
        say(f"Assumed unused, no wire is recorded on them: {', '.join(found['unused'])}.",
            style="yellow")  # fmt: skip
    if found["abandoned"]:
        say(f"Abandoned in these boxes, perhaps live: {', '.join(found['abandoned'])}.",
            style="yellow")  # fmt: skip
    say("Neutrals and protective conductors aren't followed. The record is not a test.")


def _list(title: str, none: str, rows: Sequence[dict[str, Any]], *more: str) -> None:
    """Show conductors under a title, each with `more` of its keys; if there are none, say so."""
    if rows or none:
        say(title if rows else none)
    if rows:
        table(
            ("conductor", "circuit", "", "between", *more),
            (
                (row["conductor"], row["circuit"], row["function"], " – ".join(row["between"]),
                 *(row[key] for key in more))
                for row in rows
            ),
        )  # fmt: skip
