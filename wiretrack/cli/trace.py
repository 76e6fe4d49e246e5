# SPDX-License-Identifier: MIT
"""``wiretrack trace``: the path from a conductor or terminal, end to end."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from wiretrack.cli.options import json_option, opened
from wiretrack.cli.output import console, heading, print_json, say, text
from wiretrack.files import write_file

if TYPE_CHECKING:
    from wiretrack.store.store import Registry


@click.command("trace")
@click.argument("what")
@click.option("--tree", is_flag=True, help="All that is joined with it, as a tree.")
@click.option("--svg", type=click.Path(path_type=Path), help="Draw that tree into a file.")
@json_option
@click.pass_obj
def command(db: Path, what: str, tree: bool, svg: Path | None, as_json: bool) -> None:
    """Follow the path from WHAT: a tag, or a terminal written ENCLOSURE/TERMINAL."""
    from wiretrack.tasks.find.tracing import trace

    with opened(db) as registry:
        if svg:
            _draw(registry, what, svg)
        found = _tree(registry, what) if tree else trace(registry, what)
    if as_json:
        print_json({**found, "file": str(svg)} if svg else found)
    elif tree:
        _show_tree(found)
    else:
        _show(found)
    if svg and not as_json:
        say(f"Drawn in {svg}.")


def _tree(registry: Registry, what: str) -> dict[str, Any]:
    from wiretrack.tasks.find.topology import tree_of

    return tree_of(registry, what)


def _draw(registry: Registry, what: str, file: Path) -> None:
    from wiretrack.tasks.find.topology import tree_picture

    write_file(file, [tree_picture(registry, what)])


def _show_tree(found: dict[str, Any]) -> None:
    for line in found["lines"]:
        console().print(text(line), no_wrap=True, overflow="ignore", crop=False)
    if found["loop"]:
        say(f"There is a loop through {', '.join(found['loop'])}.", style="yellow")


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
