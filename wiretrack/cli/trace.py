# SPDX-License-Identifier: MIT
"""``wiretrack trace``: the path from a conductor or terminal, end to end."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from wiretrack.cli.options import json_option, opened
from wiretrack.cli.output import console, heading, print_json, say, text

if TYPE_CHECKING:
    from pathlib import Path


@click.command("trace")
@click.argument("what")
@json_option
@click.pass_obj
def command(db: Path, what: str, as_json: bool) -> None:
    """Follow the path from WHAT: a tag, or a terminal written ENCLOSURE/TERMINAL."""
    from wiretrack.tasks.tracing import trace

    with opened(db) as registry:
        found = trace(registry, what)
    if as_json:
        print_json(found)
    else:
        _show(found)


def _show(found: dict[str, Any]) -> None:
    enclosure = None
    for item in found["path"]:
        if item["enclosure"] and item["enclosure"] != enclosure:
            enclosure = item["enclosure"]
            heading(enclosure)
        console().print(text(f"  {_line(item)}"))
    for side, stop in zip(("one end", "other end"), found["stops"], strict=False):
        say(f"{side}: {stop}.")
    for branch in found["branches"]:
        names = ", ".join([*branch["conductors"], *branch["devices"]])
        say(f"branch at {branch['enclosure']} {branch['terminal']} ({branch['reason']}): {names}")


def _line(item: dict[str, Any]) -> str:
    if "conductor" in item:
        return f"│ {item['conductor']}  {item['circuit']} {item['function']}"
    if "device" in item:
        states = {True: "closed", False: "open", None: "state unknown"}
        return f"○ {item['device']}  {item['kind'] or 'device'}, {states[item['closed']]}"
    return f"● {item['terminal']}"
