# SPDX-License-Identifier: MIT
"""``wiretrack isolate``: what goes dead and what stays live when a device is opened."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from wiretrack.cli.options import json_option, opened
from wiretrack.cli.output import cautions, heading, print_json, say, table

if TYPE_CHECKING:
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
    from wiretrack.tasks.topology import isolation

    with opened(db) as registry:
        found = isolation(registry, [device], sources)
    if as_json:
        print_json(found)
        return
    cautions(found["cautions"])
    _show(found)


def _show(found: dict[str, Any]) -> None:
    heading(f"{found['enclosure']} {found['device']}", "opened")
    say("Stays live:" if found["stays_live"] else "Nothing that it joined stays live, by record.")
    if found["stays_live"]:
        table(
            ("conductor", "circuit", "", "between", "from", "why"),
            ((*_cells(row), row["from"], row["why"]) for row in found["stays_live"]),
        )
    say("Goes dead:" if found["goes_dead"] else "Nothing goes dead.")
    if found["goes_dead"]:
        table(("conductor", "circuit", "", "between"), map(_cells, found["goes_dead"]))
    if found["unfed"]:
        say("Fed by nothing in the record, before or after; it may be live all the same:")
        table(("conductor", "circuit", "", "between"), map(_cells, found["unfed"]))
    for device in found["state_unknown"]:
        say(f"Whether {device} is open isn't recorded; it is taken to be closed.", style="yellow")
    if found["abandoned"]:
        say(f"Abandoned in these boxes, perhaps live: {', '.join(found['abandoned'])}.",
            style="yellow")  # fmt: skip
    say("Neutrals and protective conductors aren't followed. The record is not a test.")


def _cells(row: dict[str, Any]) -> tuple[str, str, str, str]:
    return row["conductor"], row["circuit"], row["function"], " – ".join(row["between"])
