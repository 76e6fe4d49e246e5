# SPDX-License-Identifier: MIT
"""``wiretrack isolate``: what goes dead and what stays live when a device is opened."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from wiretrack.cli.options import json_option, opened
from wiretrack.cli.output import cautions, heading, print_json, say, table
from wiretrack.encoding import document

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from wiretrack.tasks.trouble.isolation import OpenedDevice, Wire


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
    from wiretrack.tasks.trouble.isolation import isolation

    with opened(db) as registry:
        found = isolation(registry, [device], sources)
    if as_json:
        print_json(document(found))
        return
    cautions(found.cautions)
    _show(found)


def _show(found: OpenedDevice) -> None:
    heading(f"{found.enclosure} {found.device}", "opened")
    _list("Goes dead:", "Nothing goes dead.", found.goes_dead)
    _list("Stays live:", "Nothing that it joined stays live.", found.stays_live, "from_", "why")
    _list("Unknown, may be live:", "", found.unknown, "why")
    for device in found.state_unknown:
        say(f"Whether {device} is open or closed isn't recorded.", style="yellow")
    if found.unused:
        say(f"Assumed unused, no wire is recorded on them: {', '.join(found.unused)}.",
            style="yellow")  # fmt: skip
    if found.abandoned:
        say(f"Abandoned in these boxes, perhaps live: {', '.join(found.abandoned)}.",
            style="yellow")  # fmt: skip
    say("Neutrals and protective conductors aren't followed. The record is not a test.")


def _list(title: str, none: str, wires: Sequence[Wire], *more: str) -> None:
    """Show conductors under a title, each with `more` of its facts; if there are none, say so."""
    if wires or none:
        say(title if wires else none)
    if wires:
        table(
            ("conductor", "circuit", "", "between", *(name.rstrip("_") for name in more)),
            (
                (wire.conductor, wire.circuit, wire.function, " – ".join(wire.between),
                 *(getattr(wire, name) for name in more))
                for wire in wires
            ),
        )  # fmt: skip
